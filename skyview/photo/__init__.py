"""Pictures of the view, from any phone.

In comes a picture file; out go its facts (`facts.read_header`), what they say about its
projection (`projection.projection_guess`) and its upright pixels (`pixels.read_pixels`).
Angles are degrees, lengths metres, focal lengths 35 mm equivalents in millimetres and pixels
uint8 RGB; whatever is missing or absurd in a file is None, with a sentence that says so.
"""
