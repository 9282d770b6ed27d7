"""The ground between every station and the site, and the skyline that it makes.

Profiles run from the transmitter to the site: one for each station (S), of `POINTS` points (N).
They are taken as bare ground: where the file holds roofs and tree tops, what stands near the
antenna would count twice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from pyproj import Geod

from skyview.angles import Array
from skyview.constants import EARTH_RADIUS_M, OPTICAL_K
from skyview.place.elevation import MINIMUM_STATION_HEIGHT_M
from skyview.survey.budget.parts import Bools
from skyview.survey.models import Station, Survey
from skyview.survey.raster import Ground, ground_of
from skyview.wave.terrain import Profile, skyline_from_receiver

POINTS = 601
"""Points of a profile: 100 m apart over 60 km. Rec. ITU-R P.1812-6 asks for 100 m or so."""

SHORTEST_M = 30.0
"""A path is taken to be at least this long, so that a profile has a length."""

MISSING = 0.02
"""A profile of which more than this share is not in the file is not used."""

SKYLINE_REACH_M, LEAST_REACH_M = 60e3, 15e3
"""How far the terrain's skyline is looked for, and how far the file must reach for it to be told:
our own choice. An eye at 10 m sees a hill of 155 m just above the sea from 60 km."""

NEAREST_SKYLINE_M = 30.0
"""The ground nearer than this belongs to the house."""

BLOCK = 2_000_000
"""Points of profiles that are worked on at a time, 16 MB an array."""

DISAGREE_M = 15.0
"""Heights of the site in survey and file that differ by more are told: our own choice."""

_WGS84 = Geod(ellps="WGS84")


@dataclass(frozen=True)
class Terrain:
    """Profiles from every station to the site."""

    profile: Profile
    """(S, N); flat at the site's ground where the file does not know the path."""
    known: Bools
    """Whether the file covers the path. (S,)"""
    site_amsl_m: float
    """Ground at the site: the file's, so that it fits the profile, else the survey's. [m]"""
    top_amsl_m: Array
    """The stations' antennas, never lower than 10 m above the file's ground. (S,) [m]"""
    notes: tuple[str, ...]
    """Plain sentences: heights that do not agree."""

    def horizon(self, up_m: Array) -> Array:
        """Elevation of the radio horizon, k = 4/3, at antennas ``up_m`` (A,) above the site's
        ground. (A, S) [rad]"""
        return self.at_heights(up_m, lambda own: skyline_from_receiver(self.profile, own)[0])

    def at_heights(self, up_m: Array, work: Callable[[Array], Array]) -> Array:
        """What ``work`` makes of antennas ``up_m`` (A,) above the site's ground. (A, S)

        It takes heights above sea level (B, S) and gives (B, S), each height once, in blocks.
        """
        levels, back = np.unique(up_m, return_inverse=True)
        count = len(self.known)
        size = max(1, BLOCK // max(count * POINTS, 1))
        found = [
            work(np.repeat(self.site_amsl_m + levels[n : n + size, None], count, axis=1))
            for n in range(0, len(levels), size)
        ]
        return np.concatenate(found)[back]


def terrain_of(survey: Survey, stations: Sequence[Station]) -> Terrain | None:
    """Profiles of the ground from stations to the site; None where the survey has no terrain."""
    ground = ground_of(survey)
    if ground is None:
        return None
    site = survey.site
    stamp = ground.file.stat()
    distance, found = _profiles(
        ground,
        (stamp.st_mtime_ns, stamp.st_size),
        (site.latitude_deg, site.longitude_deg),
        tuple((s.latitude_deg, s.longitude_deg) for s in stations),
    )
    missing = np.isnan(found)
    known = np.mean(missing, axis=1) <= MISSING
    under = found[~missing[:, -1], -1]
    here = float(under[0]) if under.size else site.ground_amsl_m or 0.0
    filled = np.where(known[:, None], _filled(found), here)
    top = np.array([s.antenna_amsl_m for s in stations], float)
    least = np.where(known, filled[:, 0] + MINIMUM_STATION_HEIGHT_M, -np.inf)
    below = known & (top < filled[:, 0])
    buried = [s.id for s, low in zip(stations, below, strict=True) if low]
    notes = []
    if site.ground_amsl_m is not None and abs(here - site.ground_amsl_m) > DISAGREE_M:
        notes.append(
            f"the ground at the site is {site.ground_amsl_m:.0f} m above sea level in the survey "
            f"and {here:.0f} m in the terrain file: check the place; heights above the ellipsoid "
            "instead of the sea differ by up to 100 m"
        )
    if buried:
        notes.append(
            f"the antenna of {', '.join(buried)} would stand below the ground of the terrain file: "
            f"taken as {MINIMUM_STATION_HEIGHT_M:g} m above it; check place and height"
        )
    return Terrain(Profile(distance, filled), known, here, np.maximum(top, least), tuple(notes))


@lru_cache(maxsize=8)
def _profiles(
    ground: Ground,
    stamp: tuple[int, int],
    site_deg: tuple[float, float],
    stations_deg: tuple[tuple[float, float], ...],
) -> tuple[Array, Array]:
    """Distances and heights (S, N) from stations to the site; ``stamp`` changes with the file."""
    lat, lon = np.array(stations_deg).reshape(-1, 2).T
    here = np.full(lat.shape, site_deg[0]), np.full(lon.shape, site_deg[1])
    forward, _, length = _WGS84.inv(lon, lat, here[1], here[0])
    distance = np.linspace(0.0, 1.0, POINTS) * np.maximum(length, SHORTEST_M)[:, None]
    found = ground.heights_m(*_along(lat, lon, np.asarray(forward), distance))
    for array in (distance, found):
        array.setflags(write=False)
    return distance, found


def skyline(
    survey: Survey,
    ground: Ground,
    eye_m: Array,
    azimuth: Array,
    least_reach_m: float = LEAST_REACH_M,
) -> tuple[Array, Array]:
    """The terrain's skyline as an eye at the site sees it: elevation and distance. (K,) [deg, m]

    ``eye_m`` east, north, up of the eye; ``azimuth`` (K,) [rad]. NaN where the file does not reach
    ``least_reach_m``.
    """
    lat, lon = survey.site.latitude_deg, survey.site.longitude_deg
    under = float(ground.heights_m(np.array([lat]), np.array([lon]))[0])
    if np.isnan(under):
        under = survey.site.ground_amsl_m or 0.0
    away = np.concatenate([[0.0], np.geomspace(NEAREST_SKYLINE_M, SKYLINE_REACH_M, POINTS - 1)])
    distance = np.broadcast_to(away, (len(azimuth), POINTS))
    start = np.full(len(azimuth), lat), np.full(len(azimuth), lon)
    found = ground.heights_m(*_along(*start, np.degrees(azimuth), distance))
    found[:, 0] = under
    unbroken = np.logical_and.accumulate(~np.isnan(found), axis=1)
    reach = np.max(np.where(unbroken, distance, 0.0), axis=1)
    lowest = np.where(unbroken, found, -EARTH_RADIUS_M)
    elevation, where = skyline_from_receiver(
        Profile(away[-1] - away[::-1], lowest[:, ::-1]),
        np.full(len(azimuth), under + eye_m[2]),
        radius_m=OPTICAL_K * EARTH_RADIUS_M,
    )
    far_enough = reach >= least_reach_m - 1.0
    return np.where(far_enough, np.degrees(elevation), np.nan), where


def _along(lat: Array, lon: Array, azimuth_deg: Array, distance_m: Array) -> tuple[Array, Array]:
    """Latitude and longitude (S, N) at distances along geodesics from (S,) points."""
    shape = distance_m.shape
    lon, lat, azimuth_deg = (
        np.broadcast_to(a[:, None], shape).ravel() for a in (lon, lat, azimuth_deg)
    )
    to_lon, to_lat, _ = _WGS84.fwd(lon, lat, azimuth_deg, distance_m.ravel())
    return np.asarray(to_lat).reshape(shape), np.asarray(to_lon).reshape(shape)


def _filled(heights_m: Array) -> Array:
    """Gaps of each row closed straight between their ends.

    >>> _filled(np.array([[np.nan, 1.0, np.nan, 3.0, np.nan]])).tolist()
    [[1.0, 1.0, 2.0, 3.0, 3.0]]
    """
    count = heights_m.shape[1]
    index = np.arange(count)
    good = ~np.isnan(heights_m)
    before = np.maximum.accumulate(np.where(good, index, -1), axis=1)
    after = np.minimum.accumulate(np.where(good, index, count)[:, ::-1], axis=1)[:, ::-1]
    before, after = np.where(before < 0, after, before), np.where(after == count, before, after)
    low, high = np.clip(before, 0, count - 1), np.clip(after, 0, count - 1)
    left = np.take_along_axis(heights_m, low, axis=1)
    right = np.take_along_axis(heights_m, high, axis=1)
    share = np.where(high > low, (index - low) / np.maximum(high - low, 1), 0.0)
    return left + share * (right - left)
