"""What an antenna at any spot and height has before it.

In come points of upright screens in site metres, antenna positions and the directions of
arrival; out go the shapes in the plane square to each ray, clearances and edges. Metres and
radians; nothing here knows a decibel.
"""
