"""How far a spot lies from the edges of the roof."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from skyview.angles import wrap_360_deg
from skyview.survey.models import Survey
from skyview.survey.refusals import rings_of

LEAST_EDGE_M = 0.5
"""Shorter pieces of the outline are no edge to measure from: our own choice."""


@dataclass(frozen=True)
class RoofEdge:
    """One edge of the roof as seen from a spot, measured level."""

    azimuth_deg: float
    """Which way the edge's nearest point lies, from true north. [deg]"""
    distance_m: float
    length_m: float


@dataclass(frozen=True)
class FromEdges:
    """A spot among the edges."""

    edges: tuple[RoofEdge, ...]
    """The nearest first, each in another direction."""
    outside_m: float
    """How far the spot lies outside the roof; 0 on it."""


def from_edges(survey: Survey, spot: str) -> FromEdges | None:
    """Edges of the roof round a spot, from above; None where the survey gives no roof.

    Faces that touch are one roof: the ridge between them is no edge.
    """
    rings = rings_of(survey.limits.roof_enu_m)
    if not rings:
        return None
    faces = [shapely.make_valid(shapely.Polygon(ring[:, :2])) for ring in rings]
    roof = shapely.union_all(faces, grid_size=0.01)
    foot = np.array(next(s.enu_m for s in survey.spots if s.id == spot), float)[:2]
    point = shapely.Point(foot)
    found = []
    for part in getattr(roof, "geoms", [roof]):
        outline = shapely.simplify(part, 0.05).exterior if part.geom_type == "Polygon" else None
        if outline is None:
            continue
        corners = np.array(outline.coords)
        for start, end in pairwise(corners):
            found.append(_edge(foot, start, end))
    found = sorted((e for e in found if e.length_m >= LEAST_EDGE_M), key=lambda e: e.distance_m)
    kept: list[RoofEdge] = []
    for edge in found:
        apart = [abs((edge.azimuth_deg - k.azimuth_deg + 180) % 360 - 180) for k in kept]
        if all(a > 30.0 for a in apart):
            kept.append(edge)
    return FromEdges(tuple(kept[:4]), float(shapely.distance(roof, point)))


def _edge(foot_m: np.ndarray, start: np.ndarray, end: np.ndarray) -> RoofEdge:
    step = end - start
    length = float(np.hypot(*step))
    share = float(np.clip((foot_m - start) @ step / max(length**2, 1e-12), 0.0, 1.0))
    east, north = start + share * step - foot_m
    azimuth = float(wrap_360_deg(np.degrees(np.arctan2(east, north))))
    return RoofEdge(azimuth, float(np.hypot(east, north)), length)
