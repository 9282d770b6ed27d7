"""Marked outlines as upright screens in the site's metres.

In come the rays of an outline's vertices, the camera's place and the distance to what carries
the silhouette; out goes a flat upright screen that can be looked at from anywhere on the roof.
Metres east, north and up from the site's reference point; angles in radians.
"""
