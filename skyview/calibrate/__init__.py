"""The pose of a picture from the marks in it, with its covariance.

In come a projection, priors and sights (pixel against known direction); out comes the pose that
explains them best, the covariance of its parameters and the residual of every sight. Angles are
radians, pixels continuous, azimuth clockwise from true north.
"""
