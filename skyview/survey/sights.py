"""Marks of views as numbers: pixels against the directions of what was marked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from skyview.calibrate.marks import Lines, Sights, Ties
from skyview.constants import OPTICAL_K
from skyview.errors import InputError
from skyview.place.bearings import bearing_from, east_north_m
from skyview.place.declination import Declination
from skyview.place.elevation import horizon_dip, optical_elevation
from skyview.place.sun import sun_position
from skyview.survey.inputs import moment_of
from skyview.survey.models import Mark, Survey, View
from skyview.survey.sweeps import placed

BEARING_SIGMA = np.radians(0.2)
"""One sigma of a true bearing taken from a map: common practice, no source."""

COMPASS_SIGMA = np.radians(1.0)
"""One sigma of one reading of a sighting compass, and as much again of what all its readings
share beside the declination: common practice, no source."""

BEARING_ELEVATION_SIGMA = np.radians(0.2)
"""One sigma of an elevation stated beside a bearing: common practice, no source."""

LEVEL_SIGMA = {"sea": np.radians(0.05), "spirit": np.radians(0.2)}
"""One sigma of a whole sea horizon and of a spirit level's whole sight line, and of each of its
points: common practice, no source."""

PLUMB_SIGMA = np.radians(0.2)
"""One sigma of the lean of what is taken for vertical: common practice, no source."""

SUN_SIGMA = np.radians(0.15)
"""One sigma of a click on the sun's middle, which blooms: common practice, no source."""

SHADOW_SIGMA = np.radians(0.5)
"""One sigma of a shadow's line on ground that is nearly level: common practice, no source."""

CLOCK_SIGMA_S = 20.0
"""One sigma of a telephone's clock: common practice, no source."""

STATION_SIGMA_M = 5.0
"""One sigma of a station's mast on the map: common practice, no source."""

NEAREST_M = 1.0
"""A thing nearer than this on the map tells no direction."""

NEAR_SIGMA = np.radians(1.0)
"""A thing whose place on the map turns it by more than this is too near."""


@dataclass
class MarkSet:
    """The marks of one view as numbers, with the ids they came from."""

    sights: Sights
    sight_ids: list[str]
    lines: Lines
    line_ids: list[str]
    notes: list[str] = field(default_factory=list)
    near: list[tuple[str, float]] = field(default_factory=list)
    """Marks of things too near, and the sigma that their place leaves. [rad]"""


@dataclass(frozen=True)
class _Sight:
    azimuth: float
    elevation: float
    azimuth_sigma: float = 0.0
    elevation_sigma: float = 0.0
    distance_m: float = np.inf
    group: str = ""
    azimuth_noise: float = 0.0
    elevation_noise: float = 0.0


class _LeftOut(Exception):  # noqa: N818
    """Why a mark cannot be used, as the end of a sentence."""


def mark_sets(
    survey: Survey, views: Iterable[View], magnetic: Declination, later_s: float = 0.0
) -> list[MarkSet]:
    """Marks of each view; groups are numbered through all of them. ``later_s`` shifts the sun."""
    groups: dict[str, int] = {}
    return [_marks_of(survey, view, magnetic, groups, later_s) for view in views]


def _marks_of(
    survey: Survey, view: View, magnetic: Declination, groups: dict[str, int], later_s: float
) -> MarkSet:
    rows: list[tuple[float, ...]] = []
    lines: list[tuple[tuple[float, float, float, float], float, float, float]] = []
    sight_ids: list[str] = []
    line_ids: list[str] = []
    notes: list[str] = []
    near: list[tuple[str, float]] = []
    for mark in survey.marks:
        if mark.view != view.id or mark.kind == "tie":
            continue
        try:
            if mark.frame:
                try:
                    mark = placed(view, mark)
                except InputError as error:
                    raise _LeftOut(error.message) from error
            if mark.kind in ("plumb", "shadow"):
                azimuth, sigma = _line(survey, view, mark, later_s)
                lines.append((_ends(mark), mark.sigma_px, azimuth, sigma))
                line_ids.append(mark.id)
                continue
            sight = _sight(survey, view, mark, magnetic, later_s)
        except _LeftOut as reason:
            notes.append(f"mark {mark.id} was left out: {reason}")
            continue
        if sight.azimuth_sigma > NEAR_SIGMA and np.isfinite(sight.distance_m):
            near.append((mark.id, sight.azimuth_sigma))
        group = groups.setdefault(sight.group, len(groups)) if sight.group else -1
        for x, y in mark.points_px if mark.kind == "level" else mark.points_px[:1]:
            rows.append(
                (
                    *(x, y, mark.sigma_px, sight.azimuth, sight.elevation),
                    *(sight.azimuth_sigma, sight.elevation_sigma, sight.distance_m),
                    *(group, np.hypot(sight.azimuth_noise, view.own_azimuth_sigma)),
                    sight.elevation_noise,
                )
            )
            sight_ids.append(mark.id)
    table = np.array(rows, float).reshape(-1, 11).T
    columns: list[Any] = [*table[:8], table[8].astype(np.int64), *table[9:]]
    sights = Sights(*columns)
    ends = np.array([line[0] for line in lines], float).reshape(-1, 2, 2)
    rest = np.array([line[1:] for line in lines], float).reshape(-1, 3).T
    return MarkSet(
        sights, sight_ids, Lines(ends[:, :, 0], ends[:, :, 1], *rest), line_ids, notes, near
    )


def _ends(mark: Mark) -> tuple[float, float, float, float]:
    """The first point of a line and the one farthest from it."""
    first = np.array(mark.points_px[0])
    far = max(mark.points_px[1:], key=lambda p: float(np.hypot(*(np.array(p) - first))))
    return (*mark.points_px[0], *far)


def _sight(survey: Survey, view: View, mark: Mark, magnetic: Declination, later_s: float) -> _Sight:
    if mark.kind == "bearing":
        return _bearing(mark, magnetic)
    if mark.kind == "level":
        return _level(survey, view, mark)
    if mark.kind == "sun":
        azimuth, elevation, turn, climb = _sun(survey, view, later_s)
        own = _own_sigma(mark, SUN_SIGMA)
        return _Sight(
            azimuth,
            elevation,
            turn,
            climb,
            np.inf,
            f"clock {view.id}",
            own / np.cos(elevation),
            own,
        )
    if mark.kind == "station":
        thing = next(s for s in survey.stations if s.id == mark.station)
        place, top = (thing.latitude_deg, thing.longitude_deg), thing.antenna_amsl_m
        return _known_place(survey, view, f"station {thing.id}", place, top, STATION_SIGMA_M)
    tower = next(t for t in survey.landmarks if t.id == mark.landmark)
    place = tower.latitude_deg, tower.longitude_deg
    return _known_place(
        survey,
        view,
        f"landmark {tower.id}",
        place,
        tower.top_amsl_m,
        tower.sigma_m,
        tower.height_sigma_m,
    )


def _own_sigma(mark: Mark, common: float) -> float:
    return float(common if mark.sigma_deg is None else np.radians(mark.sigma_deg))


def _level(survey: Survey, view: View, mark: Mark) -> _Sight:
    by = mark.level_by or "spirit"
    dip = 0.0
    if by == "sea":
        if survey.site.ground_amsl_m is None:
            raise _LeftOut("the sea's dip needs site.ground_amsl_m")
        dip = float(horizon_dip(survey.site.ground_amsl_m + view.camera_enu_m[2], OPTICAL_K))
    own = _own_sigma(mark, float(LEVEL_SIGMA[by]))
    return _Sight(np.nan, -dip, 1.0, own, np.inf, f"level {mark.id}", 0.0, own)


def _bearing(mark: Mark, magnetic: Declination) -> _Sight:
    azimuth = np.radians(mark.azimuth_deg or 0.0)
    elevation = np.nan if mark.elevation_deg is None else np.radians(mark.elevation_deg)
    if mark.north != "magnetic":
        noise = _own_sigma(mark, BEARING_SIGMA)
        shared, group = 0.0, ""
    else:
        azimuth += np.radians(magnetic.declination_deg)
        noise = _own_sigma(mark, COMPASS_SIGMA)
        iron = 0.0 if mark.sigma_deg is not None else COMPASS_SIGMA
        shared, group = float(np.hypot(np.radians(magnetic.sigma_deg), iron)), "compass"
    return _Sight(
        *(float(azimuth), float(elevation), shared, 0.0, np.inf, group),
        *(noise, float(BEARING_ELEVATION_SIGMA)),
    )


def _sun(survey: Survey, view: View, later_s: float) -> tuple[float, float, float, float]:
    """Azimuth and elevation of the sun, and what the clock's sigma does to each. [rad]"""
    moment = moment_of(survey, view)
    if moment is None:
        raise _LeftOut(f"the sun needs views.{view.id}.taken with its offset from UTC")
    site = survey.site
    later = later_s + np.array([0.0, CLOCK_SIGMA_S])
    azimuth, elevation = sun_position(moment, site.latitude_deg, site.longitude_deg, later)
    if elevation[0] < 0.0:
        raise _LeftOut(
            f"the sun was below the horizon then; check views.{view.id}.taken and its UTC offset"
        )
    turn = abs(float(np.angle(np.exp(1j * (azimuth[1] - azimuth[0])))))
    return float(azimuth[0]), float(elevation[0]), turn, abs(float(elevation[1] - elevation[0]))


def _line(survey: Survey, view: View, mark: Mark, later_s: float) -> tuple[float, float]:
    if mark.kind == "plumb":
        return np.nan, _own_sigma(mark, PLUMB_SIGMA)
    azimuth, _, turn, _ = _sun(survey, view, later_s)
    return azimuth, float(np.hypot(_own_sigma(mark, SHADOW_SIGMA), turn))


def _known_place(
    survey: Survey,
    view: View,
    group: str,
    place_deg: tuple[float, float],
    top_amsl_m: float | None,
    sigma_m: float,
    height_sigma_m: float | None = None,
) -> _Sight:
    """A thing on the map as the camera sees it; its place is wrong by sigma_m each way, its
    height too unless that is known to be better or worse."""
    site, camera = survey.site, np.array(view.camera_enu_m)
    place = east_north_m(site.latitude_deg, site.longitude_deg, *place_deg)
    azimuth, distance = bearing_from(place, camera[:2])
    if distance < NEAREST_M:
        raise _LeftOut(f"{group} stands where the camera stood, which tells no direction")
    elevation = np.nan
    if top_amsl_m is not None and site.ground_amsl_m is not None:
        eye = site.ground_amsl_m + camera[2]
        elevation = float(optical_elevation(eye, top_amsl_m, distance))
    sigma, height_sigma = np.array([sigma_m, _or(height_sigma_m, sigma_m)]) / distance
    return _Sight(
        float(azimuth), elevation, float(sigma), float(height_sigma), float(distance), group
    )


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value


def _in_picture(views: dict[str, View], mark: Mark) -> Mark:
    """A tie's mark in its view's own picture; as it was where that cannot be."""
    try:
        return placed(views[mark.view], mark) if mark.view in views else mark
    except InputError:
        return mark


def ties_of(survey: Survey, views: list[View]) -> tuple[Ties, list[str]]:
    """Points marked in two of the views, each pair once, and the id of each."""
    number = {view.id: index for index, view in enumerate(views)}
    in_view = {view.id: view for view in views}
    by_id = {m.id: _in_picture(in_view, m) for m in survey.marks if m.kind == "tie"}
    pairs: dict[frozenset[str], tuple[Mark, Mark]] = {}
    for mark in by_id.values():
        other = by_id.get(mark.other or "")
        if other and not (mark.frame or other.frame) and {mark.view, other.view} <= number.keys():
            pairs.setdefault(frozenset((mark.id, other.id)), (mark, other))
    both = list(pairs.values())
    places = [[views[number[m.view]].camera_enu_m for m in pair] for pair in both]
    sigmas = [[views[number[m.view]].camera_sigma_m for m in pair] for pair in both]
    points = np.array([[m.points_px[0] for m in pair] for pair in both], float).reshape(-1, 2, 2)
    ends = np.array(places, float).reshape(-1, 2, 3)
    return Ties(
        np.array([[number[m.view] for m in pair] for pair in both], int).reshape(-1, 2),
        points[:, :, 0],
        points[:, :, 1],
        np.array([[m.sigma_px for m in pair] for pair in both], float).reshape(-1, 2),
        ends[:, 1] - ends[:, 0],
        np.sqrt(np.sum(np.array(sigmas, float).reshape(-1, 2) ** 2, axis=1)),
    ), [first.id for first, _ in both]
