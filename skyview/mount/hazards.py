"""What forbids a place on the roof: distances to power lines, strips to keep out of, its edge.

Metres; P places, L lines. The clearances are those of 29 CFR 1926.1408, Table A, which an employer
in the United States must keep equipment outside of; elsewhere local rules take their place.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from skyview.angles import Array

FOOT_M = 0.3048

TABLE_A_KV = (50.0, 200.0, 350.0, 500.0, 750.0, 1000.0)
TABLE_A_FT = (10.0, 15.0, 20.0, 25.0, 35.0, 45.0)
"""29 CFR 1926.1408, Table A: up to each voltage, the least distance in feet."""

UNKNOWN_FT = 20.0
"""29 CFR 1926.1408(a)(1): to be kept where the voltage has not been found out."""


def line_clearance_m(voltage_kv: float | None) -> float:
    """Least distance from a power line of this voltage; inf above the table, whose last row leaves
    it to the line's owner or a registered engineer. [m]

    >>> round(line_clearance_m(13.8), 3), round(line_clearance_m(None), 3), line_clearance_m(1200.0)
    (3.048, 6.096, inf)
    """
    if voltage_kv is None:
        return UNKNOWN_FT * FOOT_M
    for most, feet in zip(TABLE_A_KV, TABLE_A_FT, strict=True):
        if voltage_kv <= most:
            return feet * FOOT_M
    return float("inf")


def level_distance_m(places_m: Array, lines_m: Sequence[Array]) -> Array:
    """Horizontal distance from places (P, 2 or 3) to polylines, each (K, 2 or 3). (P, L) [m]

    >>> line = np.array([[0.0, 10.0, 8.0], [20.0, 10.0, 9.0]])
    >>> level_distance_m(np.array([[5.0, 4.0, 6.0], [23.0, 14.0, 6.0]]), [line]).tolist()
    [[6.0], [5.0]]
    """
    points = shapely.points(np.asarray(places_m, float)[:, :2])
    lines = [shapely.LineString(np.asarray(line, float)[:, :2]) for line in lines_m]
    answer = [shapely.distance(points, line) for line in lines]
    return np.stack(answer, axis=1) if answer else np.zeros((len(points), 0))


def inside(places_m: Array, rings_m: Sequence[Array]) -> NDArray[np.bool_]:
    """Whether places (P, 2 or 3) lie within or on any of the rings, seen from above. (P,)

    >>> square = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]])
    >>> inside(np.array([[1.0, 1.0], [3.0, 1.0]]), [square]).tolist()
    [True, False]
    """
    points = shapely.points(np.asarray(places_m, float)[:, :2])
    within = np.zeros(len(points), bool)
    for ring in rings_m:
        area = shapely.make_valid(shapely.Polygon(np.asarray(ring, float)[:, :2]))
        within |= shapely.covers(area, points)
    return within


def roof_grid(rings_m: Sequence[Array], step_m: float) -> Array:
    """Points (P, 3) of a square grid over the faces of a roof, each (K, 3) a ring of its edge.

    Up is that of the plane through a face's corners, by least squares; where faces overlap seen
    from above, the higher one counts.

    >>> face = np.array([[0.0, 0.0, 3.0], [4.0, 0.0, 3.0], [4.0, 2.0, 5.0], [0.0, 2.0, 5.0]])
    >>> roof_grid([face], 2.0).round(3).tolist()
    [[1.0, 1.0, 4.0], [3.0, 1.0, 4.0]]
    """
    corners = np.concatenate([np.asarray(ring, float) for ring in rings_m])
    low, high = corners[:, :2].min(axis=0), corners[:, :2].max(axis=0)
    counts = np.maximum(np.ceil((high - low) / step_m - 1e-9).astype(int), 1)
    axes = [
        (low[i] + high[i]) / 2 + step_m * (np.arange(counts[i]) - (counts[i] - 1) / 2)
        for i in (0, 1)
    ]
    east, north = (v.ravel() for v in np.meshgrid(*axes))
    up = np.full(east.shape, -np.inf)
    for ring in rings_m:
        edge = np.asarray(ring, float)
        plane = np.linalg.lstsq(
            np.column_stack([edge[:, :2], np.ones(len(edge))]), edge[:, 2], rcond=None
        )[0]
        here = plane[0] * east + plane[1] * north + plane[2]
        within = inside(np.stack([east, north], axis=1), [edge])
        up = np.where(within, np.maximum(up, here), up)
    keep = np.isfinite(up)
    return np.stack([east, north, up], axis=1)[keep]
