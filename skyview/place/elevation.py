"""Elevation of a distant point over the curved earth, and the smooth horizon. Radians, metres.

The ray is drawn straight over an earth of radius k R, R = 6371 km: k = 4/3 for the signal,
k = 7/6 for light.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.angles import Array
from skyview.constants import EARTH_RADIUS_M, OPTICAL_K, RADIO_K

MINIMUM_STATION_HEIGHT_M = 10.0
"""Least height of a transmitting antenna above its own ground: common practice, no source."""


def elevation_over_earth(
    from_amsl_m: ArrayLike, to_amsl_m: ArrayLike, distance_m: ArrayLike, k: float = RADIO_K
) -> Array:
    """Elevation at which a point stands, heights above sea level. [rad]

    Exact on a sphere of radius R' = k R:
    tan e = ((R' + h2) cos t - (R' + h1)) / ((R' + h2) sin t), t = d / R'.
    The parabola (h2 - h1)/d - d/(2 R') of Rec. ITU-R P.1812-6, eqs (77) and (78), agrees within
    0.001 deg beyond 5 km. A distance of 0 gives straight up or down.

    >>> round(float(np.degrees(elevation_over_earth(10.0, 510.0, 20e3))), 4)
    1.3646
    """
    radius = k * EARTH_RADIUS_M
    h1, h2, d = np.broadcast_arrays(
        np.asarray(from_amsl_m, float), np.asarray(to_amsl_m, float), np.asarray(distance_m, float)
    )
    t = d / radius
    rise = (h2 - h1) - 2.0 * (radius + h2) * np.sin(t / 2.0) ** 2
    result: Array = np.arctan2(rise, (radius + h2) * np.sin(t))
    return result


def optical_elevation(from_amsl_m: ArrayLike, to_amsl_m: ArrayLike, distance_m: ArrayLike) -> Array:
    """The same as an eye sees it, k = 7/6. [rad]

    >>> round(float(np.degrees(optical_elevation(10.0, 510.0, 20e3))), 4)
    1.355
    """
    return elevation_over_earth(from_amsl_m, to_amsl_m, distance_m, OPTICAL_K)


def horizon_dip(height_m: ArrayLike, k: float = RADIO_K) -> Array:
    """How far below level the smooth horizon lies, from a height above it. [rad, positive]

    arccos(k R / (k R + h)); heights below 0 count as 0.

    >>> round(float(np.degrees(horizon_dip(50.0, 7 / 6))), 3)
    0.21
    """
    h = np.maximum(np.asarray(height_m, float), 0.0)
    result: Array = np.arctan2(np.sqrt(h * (2.0 * k * EARTH_RADIUS_M + h)), k * EARTH_RADIUS_M)
    return result


def horizon_distance_m(height_m: ArrayLike, k: float = RADIO_K) -> Array:
    """Distance along the smooth earth to the horizon. [m]

    >>> round(float(horizon_distance_m(10.0, 7 / 6)) / 1000, 1)
    12.2
    """
    return k * EARTH_RADIUS_M * horizon_dip(height_m, k)


def smooth_level_amsl_m(
    ground_amsl_m: float, station_amsl_m: ArrayLike, haat_m: ArrayLike
) -> Array:
    """Level of the smooth earth between a site and its stations. [m above sea level]

    Without a terrain profile the earth is taken smooth at the lower of the site's ground and the
    station's average terrain (its antenna less its height above average terrain; where that is
    NaN, less 10 m). Our own choice: sea level would let an inland station look over a plateau
    that is in truth in its way.

    >>> float(smooth_level_amsl_m(412.0, 600.0, np.nan))
    412.0
    """
    haat = np.asarray(haat_m, float)
    height = np.where(np.isnan(haat), MINIMUM_STATION_HEIGHT_M, haat)
    height = np.maximum(height, MINIMUM_STATION_HEIGHT_M)
    result: Array = np.minimum(ground_amsl_m, np.asarray(station_amsl_m, float) - height)
    return result


def beyond_horizon(
    from_amsl_m: ArrayLike, to_amsl_m: ArrayLike, distance_m: ArrayLike, level_amsl_m: ArrayLike
) -> NDArray[np.bool_]:
    """Whether the smooth earth at a level hides one point from the other (bool), k = 4/3.

    >>> bool(beyond_horizon(10.0, 100.0, 60e3, 0.0)), bool(beyond_horizon(10.0, 100.0, 50e3, 0.0))
    (True, False)
    """
    level = np.asarray(level_amsl_m, float)
    reach = horizon_distance_m(np.asarray(from_amsl_m, float) - level) + horizon_distance_m(
        np.asarray(to_amsl_m, float) - level
    )
    return np.asarray(distance_m, float) > reach
