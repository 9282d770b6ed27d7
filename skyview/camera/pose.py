"""Where a camera looks: yaw, pitch, roll against east, north, up. Radians.

    F  = (sin y cos p, cos y cos p, sin p)      the optical axis
    r0 = (cos y, -sin y, 0)                     level, to its right
    u0 = r0 x F                                 square to both
    right = cos r r0 - sin r u0
    up    = sin r r0 + cos r u0

Yaw is the azimuth of the axis, pitch its elevation; roll is positive when the camera turns
clockwise as the photographer sees it, so that the picture's content turns counter-clockwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from skyview.angles import Array, azimuth_elevation_of
from skyview.camera.projections import Projection


def axes(yaw: ArrayLike, pitch: ArrayLike, roll: ArrayLike) -> Array:
    """Rotation (..., 3, 3): its rows are the camera's right, down and forward in east, north, up.

    >>> axes(0.0, 0.0, 0.0)[2].tolist()
    [0.0, 1.0, 0.0]
    """
    y, p, r = np.broadcast_arrays(
        np.asarray(yaw, float), np.asarray(pitch, float), np.asarray(roll, float)
    )
    forward = np.stack([np.sin(y) * np.cos(p), np.cos(y) * np.cos(p), np.sin(p)], axis=-1)
    level = np.stack([np.cos(y), -np.sin(y), np.zeros_like(y)], axis=-1)
    above = np.cross(level, forward)
    cos_r, sin_r = np.cos(r)[..., None], np.sin(r)[..., None]
    right = cos_r * level - sin_r * above
    up = sin_r * level + cos_r * above
    return np.stack([right, -up, forward], axis=-2)


@dataclass(frozen=True)
class Camera:
    """A projection with a pose: pixels against azimuth and elevation.

    >>> from skyview.camera.projections import Rectilinear
    >>> camera = Camera(Rectilinear(1000.0, (500.0, 400.0)), yaw=1.0, pitch=0.1, roll=0.0)
    >>> azimuth, elevation = camera.directions(500.0, 400.0)
    >>> float(azimuth.round(9)), float(elevation.round(9))
    (1.0, 0.1)
    """

    projection: Projection
    yaw: float
    pitch: float
    roll: float

    def rays(self, x_px: ArrayLike, y_px: ArrayLike) -> Array:
        """Unit rays (..., 3) in east, north, up; NaN where the projection shows nothing."""
        return self.projection.rays(x_px, y_px) @ axes(self.yaw, self.pitch, self.roll)

    def pixels(self, rays: ArrayLike) -> tuple[Array, Array]:
        """Pixels of rays (..., 3) in east, north, up; NaN where the projection shows nothing."""
        turned = np.asarray(rays, float) @ axes(self.yaw, self.pitch, self.roll).T
        return self.projection.pixels(turned)

    def directions(self, x_px: ArrayLike, y_px: ArrayLike) -> tuple[Array, Array]:
        """Azimuth in [0, 2 pi) and elevation of pixels. [rad]"""
        return azimuth_elevation_of(self.rays(x_px, y_px))
