"""From the rays of an outline to an upright screen.

                     plane, square to the level
    camera  ------------------------+------  line of sight to the outline's middle
               distance_m           |
                                    v  across: metres to the right as seen from the camera

Every point of the outline is taken to lie in that plane. A screen's points are kept as (across,
up): across from the plane's foot, up above the site's reference point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon, Polygon, make_valid, unary_union

from skyview.angles import Array, azimuth_elevation_of
from skyview.errors import InputError

WIDEST = np.radians(80.0)
"""Largest angle between an outline's middle and its side that one flat screen may carry."""

LOWEST_SHARE = 0.25
"""Share of a shape's height, from below, that goes on to the ground whatever its level."""


PLACES = 9
"""Decimal places of a metre that points keep: edges which should meet then do."""

SLIT_M = 1e-4
"""Slits up to twice as wide between joined shapes are roundings, and are closed."""


@dataclass(frozen=True)
class Upright:
    """A flat upright screen in site metres."""

    foot_m: Array
    """Point of the plane ahead of the camera, east and north. (2,)"""
    azimuth: float
    """Azimuth of the plane's normal, from the camera to the plane. [rad]"""
    marked: tuple[Array, ...]
    """Rings (N, 2) across, up as marked: the edge of each part, then its holes."""
    parts: tuple[tuple[Array, ...], ...]
    """The solid shape, down to the ground where it goes on: a tuple of rings for each part."""
    mean_width_m: float
    """Area over height of the marked shape."""

    def points(self, ring: Array) -> Array:
        """East, north, up (N, 3) of a ring (N, 2)."""
        across = np.array([np.cos(self.azimuth), -np.sin(self.azimuth)])
        level = self.foot_m + ring[:, :1] * across
        return np.concatenate([level, ring[:, 1:]], axis=1)


def middle_azimuth(rays: Array) -> float:
    """Azimuth halfway between the sides of a ring of rays (N, 3), across any seam. [rad]

    >>> east = np.array([[1.0, 0.1, 0.0], [1.0, -0.1, 0.0], [1.0, 0.0, 0.2]])
    >>> round(float(np.degrees(middle_azimuth(east))), 6)
    90.0
    """
    azimuth = np.unwrap(azimuth_elevation_of(rays)[0])
    return float((azimuth.min() + azimuth.max()) / 2.0)


def upright_screen(
    outlines: Sequence[Sequence[Array]],
    camera_m: Array,
    distance_m: float,
    reaches_ground: Sequence[bool],
    ground_m: float = 0.0,
) -> Upright:
    """The screen of one thing as one camera saw it.

    ``outlines``: each a sequence of rings of unit rays (N, 3), the edge first, then holes;
    ``reaches_ground``: for each outline, whether it goes on down to the height ``ground_m``.
    It goes on from those parts of its lower boundary that lie below the camera's level or in
    the lowest quarter of the shape: the underside of a crown seen against the sky stays open.
    Raises InputError where an outline is so wide that no flat screen can carry it.

    >>> ring = np.array([[-0.1, 1.0, 0.0], [0.1, 1.0, 0.0], [0.1, 1.0, 0.3], [-0.1, 1.0, 0.3]])
    >>> screen = upright_screen([[ring]], np.array([0.0, 0.0, 5.0]), 20.0, [True])
    >>> screen.marked[0].round(3).tolist()
    [[-2.0, 5.0], [2.0, 5.0], [2.0, 11.0], [-2.0, 11.0]]
    >>> round(float(screen.parts[0][0][:, 1].min()), 9), round(screen.mean_width_m, 3)
    (0.0, 4.0)
    """
    azimuth = middle_azimuth(np.concatenate([outline[0] for outline in outlines]))
    marked = [
        [_in_plane(ring, azimuth, camera_m[2], distance_m) for ring in outline]
        for outline in outlines
    ]
    seen = unary_union([_valid(Polygon(rings[0], rings[1:])) for rings in marked])
    skirts = [
        _skirt(rings, camera_m[2], ground_m)
        for rings, grounded in zip(marked, reaches_ground, strict=True)
        if grounded
    ]
    height = seen.bounds[3] - seen.bounds[1]
    return Upright(
        foot_m=camera_m[:2] + distance_m * np.array([np.sin(azimuth), np.cos(azimuth)]),
        azimuth=azimuth,
        marked=tuple(ring for rings in marked for ring in rings),
        parts=tuple(_rings_of(part) for part in _polygons(_joined([seen, *skirts]))),
        mean_width_m=float(seen.area / height) if height > 0.0 else 0.0,
    )


def _in_plane(rays: Array, azimuth: float, camera_up_m: float, distance_m: float) -> Array:
    ahead = rays[:, 0] * np.sin(azimuth) + rays[:, 1] * np.cos(azimuth)
    across = rays[:, 0] * np.cos(azimuth) - rays[:, 1] * np.sin(azimuth)
    if np.any(np.hypot(ahead, across) <= 0.0) or np.any(np.arctan2(np.abs(across), ahead) > WIDEST):
        raise InputError(
            "this outline spans more than 160 degrees of azimuth",
            mend="mark it as two obstructions of less than 160 degrees each",
        )
    reach = distance_m / ahead
    return np.round(np.stack([across * reach, camera_up_m + rays[:, 2] * reach], axis=1), PLACES)


def _skirt(rings: list[Array], camera_up_m: float, ground_m: float) -> MultiPolygon | Polygon:
    """What stands below an outline that goes on to the ground."""
    edge = rings[0]
    lowest, highest = edge[:, 1].min(), edge[:, 1].max()
    cut = max(camera_up_m, lowest + LOWEST_SHARE * (highest - lowest))
    start, end = edge, np.roll(edge, -1, axis=0)
    pieces = []
    for (x1, y1), (x2, y2) in zip(start, end, strict=True):
        if min(y1, y2) >= cut or abs(x1 - x2) < SLIT_M:
            continue
        t = np.array([0.0, 1.0])
        if max(y1, y2) > cut:
            crossing = (cut - y1) / (y2 - y1)
            t = np.array([crossing, 1.0]) if y1 > cut else np.array([0.0, crossing])
        x, y = x1 + t * (x2 - x1), y1 + t * (y2 - y1)
        if y.max() > ground_m:
            pieces.append(
                _valid(Polygon([(x[0], ground_m), (x[0], y[0]), (x[1], y[1]), (x[1], ground_m)]))
            )
    filled = unary_union(pieces)
    holes = unary_union([_valid(Polygon(ring)) for ring in rings[1:]])
    return filled.difference(holes)


def _joined(shapes: list[Polygon | MultiPolygon]) -> Polygon | MultiPolygon:
    """The shapes as one, without slits where they touch."""
    whole = unary_union(shapes, grid_size=10.0**-PLACES)
    wider = whole.buffer(SLIT_M, join_style="mitre")
    return wider.buffer(-SLIT_M, join_style="mitre")


def _valid(shape: Polygon) -> Polygon | MultiPolygon:
    """The same area with proper rings: a click's width may make an outline touch itself."""
    return shape if shape.is_valid else make_valid(shape)


def _polygons(shape: object) -> list[Polygon]:
    parts = getattr(shape, "geoms", [shape])
    return [p for p in parts if isinstance(p, Polygon) and p.area > 0.0]


def _rings_of(polygon: Polygon) -> tuple[Array, ...]:
    rings = [polygon.exterior, *polygon.interiors]
    return tuple(np.asarray(ring.coords, float)[:-1] for ring in rings)
