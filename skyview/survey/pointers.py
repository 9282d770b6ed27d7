"""A thing in the photograph to point the antenna at: edges and tops as the antenna sees them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from skyview.angles import Array, azimuth_elevation_of, unit_from_azimuth_elevation, wrap_180_deg
from skyview.place.bearings import east_north_m
from skyview.survey.cameras import ViewCamera
from skyview.survey.kinds import TREES, WIRES
from skyview.survey.models import Survey
from skyview.survey.screens import ViewScreen, nearest_view

Part = Literal["left_edge", "right_edge", "top", "middle"]

ON_IT_DEG = 1.0
"""A heading this near to an edge points at it: a boom is not sighted better by eye."""

FARTHEST_DEG = 30.0
"""A thing farther off than this is no help."""

CROWN_DEG = 2.0
"""A crown's edge is taken only where nothing built is nearer by more: it has no sharp edge."""

SLIM_DEG = 1.5
"""A thing slimmer than this is pointed at as a whole."""


@dataclass(frozen=True)
class Pointer:
    """Where a heading points, by a thing that can be seen."""

    thing: str
    """Id of the obstruction or landmark."""
    part: Part
    """Which part of it."""
    off_deg: float
    """How far the heading lies to the right of it, negative to the left. [deg]"""
    second: Pointer | None = None
    """Another thing, on the other side if there is one."""


@dataclass(frozen=True)
class Marker:
    """One thing's edge as seen from the antenna."""

    thing: str
    part: Part
    azimuth_deg: float
    penalty_deg: float


def pointer_to(markers: list[Marker], heading_deg: float) -> Pointer | None:
    """The best marker for a heading, and a second from another thing where the first is not on it.

    >>> edges = [Marker("block", "left_edge", 98.0, 0.0), Marker("spire", "middle", 105.0, 0.0)]
    >>> found = pointer_to(edges, 100.0)
    >>> found.thing, found.off_deg, found.second.thing, found.second.off_deg
    ('block', 2.0, 'spire', -5.0)
    """
    off = np.array([float(wrap_180_deg(heading_deg - m.azimuth_deg)) for m in markers])
    cost = np.abs(off) + [m.penalty_deg for m in markers]
    order = [i for i in np.argsort(cost) if abs(off[i]) <= FARTHEST_DEG]
    if not order:
        return None
    first = order[0]
    others = [i for i in order if markers[i].thing != markers[first].thing]
    across = [i for i in others if off[i] * off[first] < 0.0]
    second = None
    if abs(off[first]) > ON_IT_DEG and others:
        other = (across or others)[0]
        second = Pointer(markers[other].thing, markers[other].part, float(off[other]))
    return Pointer(markers[first].thing, markers[first].part, float(off[first]), second)


def markers_at(
    survey: Survey,
    screens: dict[str, list[ViewScreen]],
    cameras: dict[str, ViewCamera],
    antenna_m: Array,
) -> list[Marker]:
    """Everything that an antenna at one position (3,) can be pointed by."""
    found = _edges(screens, antenna_m)
    shown = {mark.landmark for mark in survey.marks if mark.landmark is not None}
    for landmark in survey.landmarks:
        east_north = east_north_m(
            survey.site.latitude_deg,
            survey.site.longitude_deg,
            landmark.latitude_deg,
            landmark.longitude_deg,
        )
        offset = np.append(np.ravel(east_north) - antenna_m[:2], 0.0)
        azimuth = azimuth_elevation_of(offset)[0]
        ray = unit_from_azimuth_elevation(azimuth, 0.0)
        seen = any(bool(camera.covers(ray)) for camera in cameras.values())
        if landmark.id in shown and seen:
            found.append(Marker(landmark.id, "middle", float(np.degrees(azimuth)), 0.0))
    return found


def _edges(screens: dict[str, list[ViewScreen]], antenna_m: Array) -> list[Marker]:
    """Sides and tops of the outlines, each from the view that shows it best."""
    found = []
    for name, views in screens.items():
        view = views[int(nearest_view(views, antenna_m[None])[0])]
        if view.obstruction.kind in WIRES or not view.is_placed:
            continue
        ring = np.concatenate([view.screen.points(r) for r in view.screen.marked])
        azimuth, elevation = azimuth_elevation_of(ring - antenna_m)
        turned = np.degrees(np.unwrap(azimuth))
        penalty = CROWN_DEG if view.obstruction.kind in (*TREES, "hill") else 0.0
        left, right = float(turned.min()), float(turned.max())
        top = float(turned[np.argmax(elevation)])
        if right - left < SLIM_DEG:
            found.append(Marker(name, "middle", (left + right) / 2.0, penalty))
            continue
        sides: tuple[tuple[Part, float], ...] = (("left_edge", left), ("right_edge", right))
        found += [Marker(name, part, at, penalty) for part, at in sides]
        if view.obstruction.kind in (*TREES, "mast"):
            found.append(Marker(name, "top", top, penalty))
    return found
