"""Where the sun stands, to 0.01 degrees.

PSA algorithm with its 2020 coefficients: Blanco et al., Updating the PSA sun position algorithm,
Solar Energy 212 (2020), 339-341; fitted for 2020 to 2050. Refraction: Saemundsson, Sky and
Telescope 72 (1986), 70, as in Meeus, Astronomical Algorithms, chapter 16.
"""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from numpy.typing import ArrayLike

from skyview.angles import Array
from skyview.errors import InputError

FIRST_YEAR, LAST_YEAR = 2020, 2050
"""Years that the coefficients were fitted to."""

_A = (
    2.267127827,
    -9.300339267e-4,
    4.895036035,
    1.720279602e-2,
    6.239468336,
    1.720200135e-2,
    3.338320972e-2,
    3.497596876e-4,
    -1.544353226e-4,
    -8.689729360e-6,
    4.090904909e-1,
    -6.213605399e-9,
    4.418094944e-5,
    6.697096103,
    6.570984737e-2,
)
_PARALLAX = 6371.01 / 149597890.0
_J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)
_LOWEST_REFRACTED_DEG = -1.0


def sun_position(
    moment: datetime,
    latitude_deg: float,
    longitude_deg: float,
    later_s: ArrayLike = 0.0,
) -> tuple[Array, Array]:
    """Azimuth in [0, 2 pi) and apparent elevation of the sun's centre, refraction applied. [rad]

    ``moment`` must carry its offset from UTC; ``later_s`` adds seconds to it (any shape).
    Refraction is for 1010 mbar and 10 C; parallax is applied. Raises InputError for a moment
    without an offset.

    >>> from datetime import timedelta, timezone
    >>> at = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    >>> azimuth, _ = sun_position(at, 39.742476, -105.1786)
    >>> round(float(np.degrees(azimuth)), 1)
    194.3
    """
    azimuth, elevation = true_sun_position(moment, latitude_deg, longitude_deg, later_s)
    return azimuth, elevation + refraction(elevation)


def true_sun_position(
    moment: datetime,
    latitude_deg: float,
    longitude_deg: float,
    later_s: ArrayLike = 0.0,
) -> tuple[Array, Array]:
    """The same without air. [rad]"""
    if moment.tzinfo is None:
        raise InputError(
            "the time does not say its offset from UTC",
            field="taken",
            mend="write it as 2026-06-01T14:05:00+02:00",
        )
    days = (moment - _J2000).total_seconds() / 86400.0 + np.asarray(later_s, float) / 86400.0
    hour = 24.0 * np.mod(days + 0.5, 1.0)
    node, anomaly = _A[0] + _A[1] * days, _A[4] + _A[5] * days
    longitude = (_A[2] + _A[3] * days + _A[6] * np.sin(anomaly) + _A[7] * np.sin(2.0 * anomaly)) + (
        _A[8] + _A[9] * np.sin(node)
    )
    obliquity = _A[10] + _A[11] * days + _A[12] * np.cos(node)
    ascension = np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude))
    declination = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    sidereal = np.radians(15.0 * (_A[13] + _A[14] * days + hour) + longitude_deg)
    turn, latitude = sidereal - ascension, np.radians(latitude_deg)
    up = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(
        turn
    )
    east = -np.sin(turn) * np.cos(declination)
    north = np.cos(latitude) * np.sin(declination) - np.sin(latitude) * np.cos(
        declination
    ) * np.cos(turn)
    level = np.hypot(east, north)
    azimuth = np.mod(np.arctan2(east, north), 2.0 * np.pi)
    return azimuth, np.arctan2(up, level) - _PARALLAX * level


def refraction(true_elevation: ArrayLike) -> Array:
    """How much higher the air shows a thing beyond it. [rad]

    1.02'/tan(h + 10.3/(h + 5.11)), h in degrees; below -1 deg the value there.

    >>> round(float(np.degrees(refraction(0.0)) * 60.0), 2)
    28.98
    """
    h = np.maximum(np.degrees(np.asarray(true_elevation, float)), _LOWEST_REFRACTED_DEG)
    result: Array = np.radians(1.02 / np.tan(np.radians(h + 10.3 / (h + 5.11))) / 60.0)
    return result
