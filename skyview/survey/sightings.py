"""Outlines of a survey as sightings: what every view tells of where a thing stands."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely import Point, Polygon, make_valid

from skyview.angles import Array
from skyview.mount.meeting import Sighted
from skyview.mount.sighting import Sighting, sighting_of
from skyview.survey.cameras import ViewCamera
from skyview.survey.kinds import WIRES
from skyview.survey.models import Obstruction, Survey

OUTLINE_SIGMA_PX = 2.0
"""One sigma of a vertex of an outline, as of a mark: our own choice."""

BLUR = {
    "conifer": 0.015,
    "broadleaf": 0.015,
    "tree": 0.015,
    "dead_tree": 0.03,
    "hill": 0.03,
}
"""One sigma of where an edge is drawn, as a share of the width: our own choice. Else 0."""

DEPTH_SHARE = {
    "mast": (0.0, 0.0, 0.0),
    "wire": (0.0, 0.0, 0.0),
    "building": (0.4, 0.75, 0.9),
    "own_roof": (0.4, 0.75, 0.9),
    "hill": (0.7, 0.75, 0.9),
    "conifer": (0.15, 0.0, 0.2),
    "broadleaf": (0.15, 0.0, 0.25),
    "tree": (0.15, 0.0, 0.25),
    "dead_tree": (0.3, 0.0, 0.3),
}
"""Depth at which the silhouette runs, as in `skyview.mount.meeting.Sighted`: by the random solids
of ``tests/mount/study_meeting.py``."""

ROUND = ("mast", "conifer", "broadleaf", "tree", "dead_tree")
"""Kinds that look alike from every side."""


TOUCH = np.radians(0.5)
"""A side that comes so near to the outline of another thing may be where that thing hides it."""


def sightings_of(
    survey: Survey, thing: Obstruction, cameras: dict[str, ViewCamera]
) -> dict[str, Sighting]:
    """What every view that outlines a thing tells of it, by view in the order of the outlines.

    A side where the outline touches that of another thing is not used, unless that thing is known
    to stand farther away: what is outlined there is the other's edge.
    """
    found = {}
    for view in dict.fromkeys(o.view for o in survey.outlines if o.obstruction == thing.id):
        camera = cameras[view]
        rings = [
            np.array(o.rings_px[0], float)
            for o in survey.outlines
            if o.obstruction == thing.id and o.view == view
        ]
        seen = sighting_of(
            camera.picture,
            rings,
            OUTLINE_SIGMA_PX,
            BLUR.get(thing.kind, 0.0),
            camera.view.size_px,
            camera.full_circle,
        )
        found[view] = replace(seen, used=seen.used & ~_hidden(survey, thing, camera, seen))
    return found


def _hidden(
    survey: Survey, thing: Obstruction, camera: ViewCamera, seen: Sighting
) -> NDArray[np.bool_]:
    """Which of a thing's three points touch what may stand before it in one view."""
    farther = {
        other.id
        for other in survey.obstructions
        if other.kind in (*WIRES, "hill")
        or (
            other.distance_m is not None
            and thing.distance_m is not None
            and other.distance_from == thing.distance_from
            and other.distance_m > thing.distance_m
        )
    }
    points = [Point(p) for p in seen.points]
    hidden = np.zeros(len(points), bool)
    middle = float(middle_of(seen))
    for outline in survey.outlines:
        if outline.view != camera.view.id or outline.obstruction in {thing.id, *farther}:
            continue
        ring = np.array(outline.rings_px[0], float)
        azimuth, elevation = camera.picture.camera.directions(ring[:, 0], ring[:, 1])
        aside = np.unwrap(azimuth)
        aside += 2.0 * np.pi * np.round((middle - aside.mean()) / (2.0 * np.pi))
        shape = make_valid(Polygon(np.stack([aside, elevation], axis=1)))
        hidden |= np.array([shape.distance(point) < TOUCH for point in points])
    return hidden


def sighted(kind: str, seen: dict[str, Sighting], cameras: dict[str, ViewCamera]) -> Sighted:
    """One thing of a kind as its views show it; distances count from the first of ``seen``."""
    views = [cameras[name].view for name in seen]
    return Sighted(
        camera_m=np.array([[v.camera_enu_m for v in views]], float),
        angles=np.array([[s.angles for s in seen.values()]]),
        covariance=np.array([[s.covariance for s in seen.values()]]),
        camera_sigma_m=np.array([[v.camera_sigma_m for v in views]], float),
        depth_share=np.array([DEPTH_SHARE.get(kind, DEPTH_SHARE["building"])]),
        is_round=np.array([kind in ROUND]),
        used=np.array([[s.used for s in seen.values()]]),
    )


def middle_of(sighting: Sighting) -> Array:
    """Azimuth of a thing's middle. [rad]"""
    return np.asarray(sighting.angles[:2].mean())
