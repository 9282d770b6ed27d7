"""Pixels against directions, without any knowledge of files.

In come pixel coordinates (after EXIF rotation, x right, y down, continuous: pixel i spans
[i, i+1)) and out go unit rays, either in the camera's axes (x right, y down, z forward) or, once
the camera's pose is applied, as east, north, up; all angles are radians. Whatever a projection
cannot show is NaN, never a guess.
"""
