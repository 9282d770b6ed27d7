"""Rules that span several fields of a survey: references, positions, rings inside the picture.

``problems_of`` reads a survey whose fields are each well formed and lists what does not fit
together, each problem as a path, what is wrong and what would be right.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING

import numpy as np
from shapely import LinearRing, Polygon
from shapely.validation import explain_validity

from skyview.constants import EARTH_RADIUS_M

if TYPE_CHECKING:
    from skyview.survey.models import Survey
    from skyview.survey.pictures import Mark, View

REFERENCES = (
    ("views", "spot", "spots"),
    ("marks", "view", "views"),
    ("marks", "landmark", "landmarks"),
    ("marks", "station", "stations"),
    ("marks", "other", "marks"),
    ("obstructions", "distance_from", "views"),
    ("outlines", "obstruction", "obstructions"),
    ("outlines", "view", "views"),
    ("antennas", "spot", "spots"),
    ("antennas", "combined_with", "antennas"),
    ("promises", "station", "stations"),
    ("scans", "antenna", "antennas"),
)
"""Which field of which list names an item of which other list."""

LISTS_WITH_IDS = (
    "spots",
    "views",
    "landmarks",
    "marks",
    "obstructions",
    "outlines",
    "stations",
    "antennas",
)

NEAREST_STATION_M = 10.0
ONE_PIXEL = 1.0

_POINTS = {"level": (1, None), "plumb": (2, None), "shadow": (2, 2)}
"""Least and most points of a mark, by kind; other kinds take one."""

_NEEDS = {
    "landmark": ("landmark",),
    "station": ("station",),
    "tie": ("other",),
    "bearing": ("azimuth_deg", "north"),
}


@dataclass(frozen=True)
class Problem:
    """What does not fit together."""

    path: tuple[str | int, ...]
    """Keys, indices and ids from the top of the survey."""
    message: str
    """What is wrong."""
    mend: str
    """What would be right."""


def problems_of(survey: Survey) -> list[Problem]:
    """Everything in the survey that breaks a rule, in the order of the file."""
    found = [*_ids(survey), *_references(survey)]
    if found:
        return found
    return [
        *_projections(survey),
        *_calibrations(survey),
        *_marks(survey),
        *_measured(survey),
        *_outlines(survey),
        *_stations(survey),
        *_filters(survey),
        *_pairs(survey),
    ]


def path_of(list_name: str, item: object, index: int) -> tuple[str | int, ...]:
    """The list and the item's id, or its index where items have no id."""
    return (list_name, getattr(item, "id", index))


def _ids(survey: Survey) -> Iterator[Problem]:
    for name in LISTS_WITH_IDS:
        for key, count in Counter(item.id for item in getattr(survey, name)).items():
            if count > 1:
                yield Problem(
                    (name, key), f"{count} of the {name} are called {key!r}", "give each its own id"
                )


def _references(survey: Survey) -> Iterator[Problem]:
    for name, field, target in REFERENCES:
        known = [item.id for item in getattr(survey, target)]
        for index, item in enumerate(getattr(survey, name)):
            wanted = getattr(item, field)
            if wanted is not None and wanted not in known:
                near = get_close_matches(wanted, known, n=1)
                there = f"there are {', '.join(known[:8])}" if known else f"there are no {target}"
                mend = f"did you mean {near[0]}?" if near else there
                message = f"{wanted!r} is not the id of any of the {target}"
                yield Problem((*path_of(name, item, index), field), message, mend)


def _projections(survey: Survey) -> Iterator[Problem]:
    for view in survey.views:
        projection = view.projection
        if projection is None or projection.kind != "equirectangular":
            continue
        path = ("views", view.id, "projection")
        left, right = projection.left_deg, projection.right_deg
        if left is not None and right is not None and not 0 < right - left <= 360 + 1e-9:
            yield Problem(
                (*path, "right_deg"),
                f"the picture would span {right - left:g} degrees",
                "the right edge lies more than 0 and at most 360 degrees from the left one",
            )
        top, bottom = projection.top_deg, projection.bottom_deg
        if top is not None and bottom is not None and bottom >= top:
            yield Problem(
                (*path, "top_deg"),
                f"the upper edge, {top:g}, is not above the lower one, {bottom:g}",
                "elevation counts up from the horizontal",
            )


def _calibrations(survey: Survey) -> Iterator[Problem]:
    for view in survey.views:
        if view.calibration is not None:
            size = len(view.calibration.parameters)
            shape = [len(row) for row in view.calibration.covariance]
            if shape != [size] * size:
                yield Problem(
                    ("views", view.id, "calibration", "covariance"),
                    f"it does not have a row and a column for each of {size} parameters",
                    "let the calibration be computed again",
                )


def _marks(survey: Survey) -> Iterator[Problem]:
    views = {view.id: view for view in survey.views}
    by_id = {mark.id: mark for mark in survey.marks}
    for mark in survey.marks:
        path = ("marks", mark.id)
        for field in _NEEDS.get(mark.kind, ()):
            if getattr(mark, field) is None:
                yield Problem(
                    (*path, field), f"a mark of kind {mark.kind} needs it", "add this field"
                )
        yield from _point_count(mark)
        if mark.other is not None and by_id[mark.other].view == mark.view:
            yield Problem(
                (*path, "other"),
                f"{mark.other!r} lies in the same view",
                "a tie names a mark of another view",
            )
        if mark.frame is None:
            view = views[mark.view]
            for index in _outside(mark.points_px, view):
                yield _out_of_picture((*path, "points_px", index), mark.points_px[index], view)


def _point_count(mark: Mark) -> Iterator[Problem]:
    least, most = _POINTS.get(mark.kind, (1, 1))
    if len(mark.points_px) < least or (most is not None and len(mark.points_px) > most):
        wanted = f"{least} or more points" if most is None else f"exactly {least}"
        yield Problem(
            ("marks", mark.id, "points_px"),
            f"{len(mark.points_px)} of them in a mark of kind {mark.kind}",
            f"it takes {wanted}",
        )


def is_full_circle(view: View) -> bool:
    """Whether the picture closes on itself, so that x may run past the width.

    An equirectangular picture does unless its edges say otherwise; a cylindrical one does if
    its scale is known and its width fills the circle.
    """
    projection = view.projection
    if projection is None:
        return False
    if projection.kind == "equirectangular":
        left, right = projection.left_deg, projection.right_deg
        return left is None or right is None or math.isclose(right - left, 360.0, abs_tol=1e-6)
    if projection.kind == "cylindrical" and projection.px_per_rad is not None:
        return view.size_px[0] + ONE_PIXEL >= math.tau * projection.px_per_rad
    return False


def _outside(points_px: list[tuple[float, float]], view: View) -> list[int]:
    """Indices of the points that lie more than a pixel outside the picture."""
    x, y = np.asarray(points_px, dtype=float).reshape(-1, 2).T
    width, height = view.size_px
    right = 2 * width if is_full_circle(view) else width
    out = (x < -ONE_PIXEL) | (x > right + ONE_PIXEL) | (y < -ONE_PIXEL) | (y > height + ONE_PIXEL)
    return [int(index) for index in np.nonzero(out)[0]]


def _out_of_picture(path: tuple[str | int, ...], point: tuple[float, float], view: View) -> Problem:
    width, height = view.size_px
    return Problem(
        path,
        f"x {point[0]:g}, y {point[1]:g} lies outside the picture of view {view.id}",
        f"it is {width} px wide and {height} px high",
    )


def _outlines(survey: Survey) -> Iterator[Problem]:
    views = {view.id: view for view in survey.views}
    for outline in survey.outlines:
        view = views[outline.view]
        path: tuple[str | int, ...] = ("outlines", outline.id, "rings_px")
        faults = []
        for index, ring in enumerate(outline.rings_px):
            if outside := _outside(ring, view):
                faults.append(_out_of_picture((*path, index, outside[0]), ring[outside[0]], view))
            elif fault := _ring_fault(ring):
                faults.append(Problem((*path, index), *fault))
        yield from faults
        if not faults:
            yield from _holes(path, outline.rings_px)


def _ring_fault(ring: list[tuple[float, float]]) -> tuple[str, str] | None:
    """What is wrong with one ring, closed or not, and what would be right."""
    if len(set(ring)) < 3:
        return f"a ring of {len(set(ring))} different points", "a ring takes 3 or more"
    if LinearRing(ring).is_simple:
        return None
    if Polygon(ring).convex_hull.area == 0.0:
        return "the ring encloses no area", "draw around the shape"
    said = explain_validity(Polygon(ring))
    x, y = said[said.index("[") + 1 : said.index("]")].split()[:2]
    place = f"x {float(x):.0f}, y {float(y):.0f}"
    return f"the ring crosses itself near {place}", "draw it so that its sides do not cross"


def _holes(
    path: tuple[str | int, ...], rings: list[list[tuple[float, float]]]
) -> Iterator[Problem]:
    edge = Polygon(rings[0])
    stray = [i for i, ring in enumerate(rings[1:], 1) if not edge.covers(Polygon(ring))]
    for index in stray:
        yield Problem(
            (*path, index),
            "this hole is not inside the edge",
            "the first ring is the edge, further ones are holes in it",
        )
    if not stray and not Polygon(rings[0], rings[1:]).is_valid:
        yield Problem(path, "two of the holes overlap", "join them into one")


def _measured(survey: Survey) -> Iterator[Problem]:
    views = [view.id for view in survey.views]
    for thing in survey.obstructions:
        for index, measured in enumerate(thing.measured):
            if measured.view not in views:
                yield Problem(
                    ("obstructions", thing.id, "measured", index, "view"),
                    f"{measured.view!r} is not the id of any of the views",
                    f"there are {', '.join(views)}" if views else "there are no views",
                )


def _stations(survey: Survey) -> Iterator[Problem]:
    if not survey.stations:
        return
    positions = np.radians([(s.latitude_deg, s.longitude_deg) for s in survey.stations])
    latitude, longitude = positions.T
    site_latitude = math.radians(survey.site.latitude_deg)
    half = np.sin((longitude - math.radians(survey.site.longitude_deg)) / 2) ** 2
    haversine = (
        np.sin((latitude - site_latitude) / 2) ** 2
        + np.cos(latitude) * math.cos(site_latitude) * half
    )
    distance_m = 2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(haversine, 0.0, 1.0)))
    for index in np.nonzero(distance_m < NEAREST_STATION_M)[0]:
        yield Problem(
            ("stations", survey.stations[index].id),
            f"a station at the site itself, {distance_m[index]:.0f} m away",
            "give the transmitter's latitude and longitude",
        )


def _filters(survey: Survey) -> Iterator[Problem]:
    for antenna in survey.antennas:
        for index, part in enumerate(antenna.downlead):
            if part.kind == "filter" and part.pass_mhz and part.pass_mhz[0] >= part.pass_mhz[1]:
                yield Problem(
                    ("antennas", antenna.id, "downlead", index, "pass_mhz"),
                    f"{part.pass_mhz[0]:g} is not below {part.pass_mhz[1]:g}",
                    "the lowest frequency stands first",
                )


def _pairs(survey: Survey) -> Iterator[Problem]:
    antennas = {antenna.id: antenna for antenna in survey.antennas}
    for antenna in survey.antennas:
        path = ("antennas", antenna.id, "combined_with")
        if (antenna.combined_with is None) != (antenna.combined_by is None):
            yield Problem(
                path,
                "only one of combined_with and combined_by is given",
                "give both: the other antenna's id, and diplexer or hybrid",
            )
        elif antenna.combined_with == antenna.id:
            yield Problem(path, "an antenna is combined with itself", "name the other antenna")
        elif antenna.combined_with and antennas[antenna.combined_with].combined_with:
            yield Problem(
                path,
                f"{antenna.combined_with} is itself combined with an antenna",
                "say it at one of the two only",
            )
