"""Geodesic azimuth and distance, and the site's plane.

Points near the site are metres east and north on the azimuthal equidistant plane about it: the
geodesic's azimuth and length there are exact, so that the site may lie at the antimeridian or on
a pole. Source: Karney, Algorithms for geodesics, J. Geodesy 87 (2013), through pyproj's ``Geod``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from pyproj import Geod

from skyview.angles import Array, wrap_turn

_WGS84 = Geod(ellps="WGS84")


def geodesic(
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    to_latitude_deg: ArrayLike,
    to_longitude_deg: ArrayLike,
) -> tuple[Array, Array]:
    """Azimuth [rad, 0..2 pi) at the first points and distance [m] to the others; all broadcast.

    >>> azimuth, distance_m = geodesic(0.0, 0.0, 0.0, 1.0)
    >>> round(float(np.degrees(azimuth)), 6), round(float(distance_m), 3)
    (90.0, 111319.491)
    """
    given = (latitude_deg, longitude_deg, to_latitude_deg, to_longitude_deg)
    lat, lon, to_lat, to_lon = (
        a.copy() for a in np.broadcast_arrays(*(np.asarray(x, float) for x in given))
    )
    azimuth_deg, _, distance_m = _WGS84.inv(lon, lat, to_lon, to_lat)
    return wrap_turn(np.radians(np.asarray(azimuth_deg))), np.asarray(distance_m)


def east_north_m(
    latitude_deg: float,
    longitude_deg: float,
    to_latitude_deg: ArrayLike,
    to_longitude_deg: ArrayLike,
) -> Array:
    """Points (..., 2) on the site's plane, metres east and north of it.

    >>> east_north_m(0.0, 20.0, 0.0, 20.001).round(3).tolist()
    [111.319, 0.0]
    """
    azimuth, distance_m = geodesic(latitude_deg, longitude_deg, to_latitude_deg, to_longitude_deg)
    return np.stack([distance_m * np.sin(azimuth), distance_m * np.cos(azimuth)], axis=-1)


def bearing_from(points_m: ArrayLike, origin_m: ArrayLike) -> tuple[Array, Array]:
    """Azimuth [rad, 0..2 pi) and distance [m] from origins (..., 2) to points (..., 2).

    Both lie on the site's plane, the origins within some hundred metres of the site. Azimuths
    count from the site's north: an antenna's own north differs by east tan(latitude) / R, which
    for 10 m is 1e-4 deg at 50 deg of latitude. The plane stretches lengths across the line of
    sight by d^2 / (6 R^2), 4e-5 of the offset at 100 km.

    >>> azimuth, distance_m = bearing_from([0.0, -5.0], [0.0, 5.0])
    >>> round(float(np.degrees(azimuth))), float(distance_m)
    (180, 10.0)
    """
    offset = np.asarray(points_m, float) - np.asarray(origin_m, float)
    azimuth = wrap_turn(np.arctan2(offset[..., 0], offset[..., 1]))
    return azimuth, np.hypot(offset[..., 0], offset[..., 1])


def destination_deg(
    latitude_deg: float, longitude_deg: float, azimuth: ArrayLike, distance_m: ArrayLike
) -> tuple[Array, Array]:
    """Latitude and longitude [deg] at an azimuth [rad] and distance [m] from a point.

    >>> latitude, longitude = destination_deg(0.0, 0.0, np.pi / 2, 111319.491)
    >>> round(float(longitude), 6)
    1.0
    """
    az, distance = np.broadcast_arrays(np.asarray(azimuth, float), np.asarray(distance_m, float))
    lat, lon = np.full(az.shape, latitude_deg), np.full(az.shape, longitude_deg)
    to_lon, to_lat, _ = _WGS84.fwd(lon, lat, np.degrees(az), distance.copy())
    return np.asarray(to_lat), np.asarray(to_lon)
