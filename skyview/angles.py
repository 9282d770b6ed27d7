"""Angles: wrapping, and the pair azimuth/elevation against unit vectors.

Azimuth runs clockwise from true north, elevation up from the horizontal. Radians here unless
a name ends in ``_deg``. Vectors are east, north, up in the last axis.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def wrap_360_deg(angle_deg: ArrayLike) -> Array:
    """The same direction in [0, 360). [deg]

    >>> float(wrap_360_deg(-10.0))
    350.0
    """
    wrapped = np.mod(np.asarray(angle_deg, dtype=float), 360.0)
    return np.where(wrapped >= 360.0, 0.0, wrapped)[()]


def wrap_180_deg(angle_deg: ArrayLike) -> Array:
    """The same difference of directions in [-180, 180). [deg]

    >>> float(wrap_180_deg(350.0))
    -10.0
    """
    return wrap_360_deg(np.asarray(angle_deg, dtype=float) + 180.0) - 180.0


def wrap_turn(angle: ArrayLike) -> Array:
    """The same direction in [0, 2 pi). [rad]

    >>> float(wrap_turn(-1e-20))
    0.0
    """
    wrapped = np.mod(np.asarray(angle, dtype=float), 2.0 * np.pi)
    return np.where(wrapped >= 2.0 * np.pi, 0.0, wrapped)[()]


def unit_from_azimuth_elevation(azimuth: ArrayLike, elevation: ArrayLike) -> Array:
    """Unit vectors (..., 3) as east, north, up. Angles in radians.

    >>> unit_from_azimuth_elevation(0.0, 0.0).round(6).tolist()
    [0.0, 1.0, 0.0]
    """
    az, el = np.broadcast_arrays(np.asarray(azimuth, float), np.asarray(elevation, float))
    return np.stack([np.sin(az) * np.cos(el), np.cos(az) * np.cos(el), np.sin(el)], axis=-1)


def azimuth_elevation_of(vector: ArrayLike) -> tuple[Array, Array]:
    """Azimuth in [0, 2 pi) and elevation of vectors (..., 3) of any length. [rad]

    >>> azimuth, elevation = azimuth_elevation_of([-1.0, 0.0, 0.0])
    >>> float(azimuth.round(6)), float(elevation)
    (4.712389, 0.0)
    """
    v = np.asarray(vector, dtype=float)
    azimuth = wrap_turn(np.arctan2(v[..., 0], v[..., 1]))
    elevation = np.arctan2(v[..., 2], np.hypot(v[..., 0], v[..., 1]))
    return azimuth, elevation
