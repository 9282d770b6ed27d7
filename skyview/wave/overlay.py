"""A screen of overlapping shapes as a sum of regions.

Overlapping shapes multiply what they let pass. With b what each blocks, the blocked part
1 - product of (1 - b) is the sum over all sets of shapes of their common area times the product of
their b, added for odd sets and taken away for even ones (inclusion and exclusion). Whatever is
linear in the blocked part, a boundary integral or the share of a cell, is then exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

Polygon = NDArray[np.float64]

MOST_REGIONS = 256
"""Common areas of shapes that are followed; a screen with more has no overlay."""


class Region(NamedTuple):
    """A ring (N, 2) whose inside counts ``sign`` times the product of what ``shapes`` block."""

    ring: Polygon
    shapes: tuple[int, ...]
    sign: float

    def blocked(self, share: NDArray[np.complex128]) -> NDArray[np.complex128]:
        """What the region takes from the wave, of what each shape (..., shapes) blocks."""
        return np.asarray(self.sign * np.prod(share[..., list(self.shapes)], axis=-1))


def blocked_regions(polygons: Sequence[Polygon]) -> list[Region] | None:
    """Regions that add up to the blocked part; None where too many shapes overlap.

    ``polygons`` are simple rings (N, 2) in any one unit; a hole is a keyholed ring.

    >>> left = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0]])
    >>> regions = blocked_regions([left, left + [1.0, 0.0]])
    >>> [float(region.blocked(np.array([0.5, 0.5]))) for region in regions]
    [0.5, 0.5, -0.25]
    """
    meets = _boxes_meet(polygons)
    regions = [Region(ring, (k,), 1.0) for k, ring in enumerate(polygons)]
    if not meets.any():
        return regions
    shapes = shapely.make_valid(np.array([shapely.Polygon(ring) for ring in polygons]))
    common: list[tuple[Any, tuple[int, ...]]] = []
    for k, shape in enumerate(shapes):
        near = [(area, members) for area, members in common if meets[k, list(members)].all()]
        crossed = shapely.intersection([area for area, _ in near], shape) if near else []
        common.append((shape, (k,)))
        for area, (_, members) in zip(crossed, near, strict=True):
            if area.area > 0.0:
                common.append((area, (*members, k)))
                regions += _rings(area, (*members, k))
        if len(common) > MOST_REGIONS:
            return None
    return regions


def _boxes_meet(polygons: Sequence[Polygon]) -> NDArray[np.bool_]:
    low = np.array([ring.min(axis=0) for ring in polygons])
    high = np.array([ring.max(axis=0) for ring in polygons])
    meets = np.all((low[:, np.newaxis] < high) & (low < high[:, np.newaxis]), axis=-1)
    return np.asarray(meets & ~np.eye(len(polygons), dtype=bool))


def _rings(shape: Any, members: tuple[int, ...]) -> list[Region]:
    sign = 1.0 if len(members) % 2 else -1.0
    found = []
    for part in shapely.get_parts(shape, return_index=False):
        for polygon in shapely.get_parts(part):
            if polygon.geom_type == "Polygon" and polygon.area > 0.0:
                found.append(Region(shapely.get_coordinates(polygon.exterior)[:-1], members, sign))
                found += [
                    Region(shapely.get_coordinates(hole)[:-1], members, -sign)
                    for hole in polygon.interiors
                ]
    return found
