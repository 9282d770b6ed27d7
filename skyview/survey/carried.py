"""Outlines of one view carried to another view's camera, to hold against the photo taken there.

A check of distances that one can look at: where the carried outline leaves the thing's edge in the
photo, its distance, or the plane that stands for it, is off.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from skyview.angles import Array, azimuth_elevation_of
from skyview.errors import InputError
from skyview.survey.cameras import ViewCamera
from skyview.survey.known import known_item
from skyview.survey.models import Survey
from skyview.survey.screens import ViewScreen

NEAR_CROWN_M = 10.0
"""A crown nearer than this is no flat screen: what is carried from there is flagged."""

STEP = np.radians(0.1)
"""Edges are compared at points this far apart."""


@dataclass(frozen=True)
class Carried:
    """One obstruction's outline as it should look from another view's camera."""

    obstruction: str
    """Its id."""
    kind: str
    """Its kind."""
    distance_m: float
    """From the other camera to its upright plane. [m]"""
    rings_deg: tuple[Array, ...]
    """Predicted: each ring (N, 2) of azimuth and elevation, not closed. [deg]"""
    marked_deg: tuple[Array, ...]
    """As it was outlined in the other view itself; empty where it was not. [deg]"""
    gap_deg: float | None
    """Root mean square distance between the upper edges, along what both show. [deg]"""
    too_near: bool
    """A crown within `NEAR_CROWN_M` of either camera."""


def carried(
    survey: Survey,
    cameras: Mapping[str, ViewCamera],
    screens: Mapping[str, Sequence[ViewScreen]],
    source: str,
    target: str,
) -> list[Carried]:
    """Every outline of view ``source`` as seen from the camera of view ``target``.

    Raises InputError for an unknown view, or where both are the same.
    """
    for name in (source, target):
        known_item([camera.view for camera in cameras.values()], name, "view")
    if source == target:
        raise InputError("outlines are carried from one view to another", mend="name two views")
    camera_m = np.array(cameras[target].view.camera_enu_m, float)
    answer = []
    for views in screens.values():
        screen = next((s for s in views if s.view == source), None)
        if screen is None or not screen.is_placed or screen.is_wire:
            continue
        rings = [_angles(screen.screen.points(ring) - camera_m) for ring in screen.screen.marked]
        marked = _marked(survey, cameras[target], screen.obstruction.id)
        distance = float(np.hypot(*(screen.screen.foot_m - camera_m[:2])))
        own = float(np.hypot(*(screen.screen.foot_m - screen.camera_m[:2])))
        answer.append(
            Carried(
                obstruction=screen.obstruction.id,
                kind=screen.obstruction.kind,
                distance_m=distance,
                rings_deg=tuple(np.degrees(ring) for ring in rings),
                marked_deg=tuple(np.degrees(ring) for ring in marked),
                gap_deg=_gap_deg(rings[0], marked[0]) if marked else None,
                too_near=screen.is_tree and min(distance, own) < NEAR_CROWN_M,
            )
        )
    return answer


def _angles(offset_m: Array) -> Array:
    azimuth, elevation = azimuth_elevation_of(offset_m)
    return np.stack([np.unwrap(azimuth), elevation], axis=1)


def _marked(survey: Survey, camera: ViewCamera, name: str) -> list[Array]:
    rings = []
    for outline in survey.outlines:
        if outline.obstruction == name and outline.view == camera.view.id:
            for ring in outline.rings_px:
                x, y = np.array(ring, float).T
                azimuth, elevation = camera.picture.camera.directions(x, y)
                rings.append(np.stack([np.unwrap(azimuth), elevation], axis=1))
    return rings


def _gap_deg(predicted: Array, marked: Array) -> float | None:
    """Root mean square distance from the marked upper edge to the predicted one, over the
    azimuths that both fill; azimuths count as much as they span at that elevation. [deg]"""
    turn = 2.0 * np.pi * np.round((marked[:, 0].mean() - predicted[:, 0].mean()) / (2.0 * np.pi))
    shrink = np.cos(marked[:, 1].max() / 2.0)
    here = shapely.make_valid(shapely.Polygon((predicted + np.array([turn, 0.0])) * [shrink, 1.0]))
    there = shapely.make_valid(shapely.Polygon(marked * [shrink, 1.0]))
    upper, edge = _upper_edge(there), _upper_edge(here)
    left, right = max(upper[0, 0], edge[0, 0]), min(upper[-1, 0], edge[-1, 0])
    common = upper[(upper[:, 0] >= left) & (upper[:, 0] <= right)]
    if len(common) < 2:
        return None
    gap = shapely.distance(shapely.points(common), here.boundary)
    return float(np.degrees(np.sqrt(np.mean(gap**2))))


def _upper_edge(shape: shapely.Geometry) -> Array:
    """The highest points of a shape on upright lines ``STEP`` apart, left to right. (N, 2)"""
    left, bottom, right, top = shape.bounds
    across = np.linspace(left, right, max(int((right - left) / STEP), 2) + 1)
    lines = shapely.linestrings([[[x, bottom - 1.0], [x, top + 1.0]] for x in across])
    cut = shapely.intersection(lines, shape)
    highest = shapely.bounds(cut)[:, 3]
    known = np.isfinite(highest)
    return np.stack([across[known], highest[known]], axis=1)
