"""One panorama with true angles from overlapping frames of one camera.

In come the frames' pixels (read small, then once more at full size), their focal length, tilt
and compass as priors; out go each frame's turn against the others with its covariance, which way
is up, how far the photographer moved, and one equirectangular picture. Angles are radians,
lengths pixels of the frames at full size; whatever was noticed is a code with its figures.
"""
