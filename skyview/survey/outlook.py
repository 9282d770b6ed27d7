"""What is known before the visit: directions, distances, and margins with nothing in the way.

Needs a place and a list of stations, nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from skyview.angles import wrap_360_deg
from skyview.place.bearings import bearing_from, east_north_m
from skyview.place.sun import sun_position
from skyview.survey.assess import assess
from skyview.survey.budget.words import DOUBTFUL, reception_word
from skyview.survey.models import Spot, Survey
from skyview.survey.results import PathRow, ReceptionWord

ROOF_M, ABOVE_ROOF_M = 6.0, 3.0
"""Height of a house's roof that nobody has measured, and of the antenna above it: common practice,
no source; always said."""

SECTOR_HALF_DEG = 20.0
"""A picture to each side of a station: our own choice, half a telephone's field of view."""

WHOLE_CIRCLE_DEG = 240.0
"""Sectors that fill more are told as the whole circle: our own choice."""

MAST_SEEN_KM = 30.0
"""A transmitter's mast farther off is seldom seen by eye: our own choice."""


@dataclass(frozen=True)
class FreeStation:
    """One station with nothing in its way and the antenna turned to it."""

    row: PathRow
    free: ReceptionWord
    """The word then; unknown where power or threshold is not known."""
    must_have: bool
    hopeless: bool
    """No roof cures it: even so the word is no."""


@dataclass(frozen=True)
class Sector:
    """A part of the circle to photograph, clockwise from low to high, true. [deg]"""

    low_deg: float
    high_deg: float
    stations: tuple[str, ...]


@dataclass(frozen=True)
class SunHour:
    """The sun above the horizon at one full hour. [deg]"""

    hour: int
    azimuth_deg: float
    elevation_deg: float
    before: tuple[str, ...]
    """Stations of which a picture would look into it."""


@dataclass(frozen=True)
class Seen:
    """A thing whose place is known. [deg, km]"""

    name: str
    azimuth_deg: float
    distance_km: float
    mast: bool
    """A transmitter's mast."""


@dataclass(frozen=True)
class Outlook:
    """All about the roof before the visit."""

    survey: Survey
    stations: tuple[FreeStation, ...]
    """Wanted ones by bearing."""
    sectors: tuple[Sector, ...]
    whole_circle: bool
    day: date
    zone: str
    """Name of the time zone of the sun's hours."""
    zone_known: bool
    sun: tuple[SunHour, ...]
    landmarks: tuple[Seen, ...]
    declination_deg: float
    height_m: float
    """Of the antenna above the ground. [m]"""
    height_known: bool
    warnings: tuple[str, ...]


def outlook_of(survey: Survey, day: date) -> Outlook:
    """What to expect of a roof on a day. Raises InputError without stations."""
    spot = survey.spots[0] if survey.spots else Spot(id="roof", enu_m=(0.0, 0.0, ROOF_M))
    above = max(spot.heights_m, default=ABOVE_ROOF_M)
    site = survey.site.model_copy(update={"surroundings": "rural"})
    bare = survey.model_copy(
        update={
            "site": site, "spots": [spot], "views": [], "marks": [], "landmarks": [],
            "obstructions": [], "outlines": [], "antennas": [],
        }
    )  # fmt: skip
    found = assess(bare, spots=[spot.id], heights_m=[above])
    known = {s.id: s for s in survey.stations}
    wanted = [r for r in found.rows if known[r.station].role == "wanted"]
    stations = tuple(
        _free(row, known[row.station].must_have)
        for row in sorted(wanted, key=lambda row: row.bearing_deg)
    )
    hopeful = [s for s in stations if not s.hopeless]
    sectors, whole = sectors_of([(s.row.bearing_deg, s.row.station) for s in hopeful])
    zone, zone_known = _zone(survey.site.time_zone)
    return Outlook(
        survey=survey,
        stations=stations,
        sectors=sectors,
        whole_circle=whole,
        day=day,
        zone=str(zone),
        zone_known=zone_known,
        sun=_sun(survey, day, zone, hopeful),
        landmarks=_landmarks(survey, stations),
        declination_deg=found.declination.declination_deg,
        height_m=float(spot.enu_m[2]) + above,
        height_known=bool(survey.spots),
        warnings=tuple(w for w in found.scene.warnings if "picture" not in w and "view" not in w),
    )


def _free(row: PathRow, must_have: bool) -> FreeStation:
    chance = row.reception_probability
    word = reception_word(0.0 if chance is None else chance, chance is not None)
    return FreeStation(row, word, must_have, chance is not None and chance < DOUBTFUL)


def sectors_of(bearings: Sequence[tuple[float, str]]) -> tuple[tuple[Sector, ...], bool]:
    """Parts of the circle round some bearings [deg] joined where they touch; and whether they are
    better told as the whole circle.

    >>> sectors_of([(10.0, "QA"), (350.0, "QB"), (180.0, "QC")])[0][0]
    Sector(low_deg=160.0, high_deg=200.0, stations=('QC',))
    >>> [s.stations for s in sectors_of([(10.0, "QA"), (350.0, "QB"), (180.0, "QC")])[0]]
    [('QC',), ('QB', 'QA')]
    """
    if not bearings:
        return (), False
    order = sorted((float(wrap_360_deg(b)), name) for b, name in bearings)
    turned = np.array([b for b, _ in order])
    gaps = np.diff(np.append(turned, turned[0] + 360.0))
    if np.all(gaps <= 2.0 * SECTOR_HALF_DEG):
        return (Sector(0.0, 360.0, tuple(name for _, name in order)),), True
    first = int(np.argmax(gaps)) + 1
    rolled = [order[(first + i) % len(order)] for i in range(len(order))]
    after = np.roll(gaps, -first)
    groups: list[list[tuple[float, str]]] = [[]]
    for item, gap in zip(rolled, after, strict=True):
        groups[-1].append(item)
        if gap > 2.0 * SECTOR_HALF_DEG:
            groups.append([])
    sectors = tuple(
        Sector(
            float(wrap_360_deg(group[0][0] - SECTOR_HALF_DEG)),
            float(wrap_360_deg(group[-1][0] + SECTOR_HALF_DEG)),
            tuple(name for _, name in group),
        )
        for group in groups
        if group
    )
    filled = sum(float(wrap_360_deg(s.high_deg - s.low_deg)) for s in sectors)
    return tuple(sorted(sectors, key=lambda s: s.low_deg)), filled > WHOLE_CIRCLE_DEG


def _zone(name: str | None) -> tuple[ZoneInfo, bool]:
    try:
        return (ZoneInfo("UTC"), False) if name is None else (ZoneInfo(name), True)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return ZoneInfo("UTC"), False


def _sun(
    survey: Survey, day: date, zone: ZoneInfo, hopeful: Sequence[FreeStation]
) -> tuple[SunHour, ...]:
    """Full hours of the day by its own clock, whatever the clock does that day."""
    start = datetime(day.year, day.month, day.day, tzinfo=zone)
    end = datetime.combine(day + timedelta(days=1), start.timetz())
    hours = np.arange(0.0, round((end.timestamp() - start.timestamp()) / 3600.0))
    azimuth, elevation = sun_position(
        start, survey.site.latitude_deg, survey.site.longitude_deg, 3600.0 * hours
    )
    found = []
    for step, az, el in zip(hours, np.degrees(azimuth), np.degrees(elevation), strict=True):
        if el <= 0.0:
            continue
        local = datetime.fromtimestamp(start.timestamp() + 3600.0 * step, zone)
        aside = {s.row.station: abs((s.row.bearing_deg - az + 180) % 360 - 180) for s in hopeful}
        before = tuple(n for n, a in aside.items() if a < SECTOR_HALF_DEG and el < 45.0)
        found.append(SunHour(local.hour, float(az), float(el), before))
    return tuple(found)


def _landmarks(survey: Survey, stations: Sequence[FreeStation]) -> tuple[Seen, ...]:
    """Landmarks of the survey, then transmitters near enough to be seen, the nearest first."""
    site = survey.site
    found = []
    for mark in survey.landmarks:
        there = east_north_m(
            site.latitude_deg, site.longitude_deg, mark.latitude_deg, mark.longitude_deg
        )
        azimuth, distance = bearing_from(np.ravel(there), np.zeros(2))
        found.append(Seen(mark.id, float(np.degrees(azimuth)), float(distance) / 1000.0, False))
    masts = [
        Seen(s.row.station, s.row.bearing_deg, s.row.distance_km, True)
        for s in stations
        if s.row.distance_km <= MAST_SEEN_KM and not s.row.beyond_horizon
    ]
    return tuple([*found, *sorted(masts, key=lambda seen: seen.distance_km)])
