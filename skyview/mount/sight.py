"""Screens as a ray from the antenna meets them.

Shapes of the arrays: A antenna positions, S stations, V vertices of one ring. A ring is carried
into the plane square to the ray by central projection from the antenna, so that its angles are
those which the antenna sees, and scaled to metres at the distance where the ray meets the screen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array, unit_from_azimuth_elevation
from skyview.vectors import dot

NEAR_M = 0.05
"""Nearest distance along the ray at which a screen is still drawn."""


@dataclass(frozen=True)
class Seen:
    """One screen before every antenna and station."""

    rings: tuple[tuple[Array, Array], ...]
    """x (right) and y (up) of each ring, (A, S, V) metres from the ray's pierce point, in the
    order of the rings given; a ring wholly behind the antenna is a point far away."""
    distance_m: Array
    """Distance along the ray at which x and y are metres. (A, S)"""
    ahead: NDArray[np.bool_]
    """Whether any of the screen lies ahead of the antenna along the ray. (A, S)"""


def ray_axes(azimuth: Array, elevation: Array) -> Array:
    """Right, up and forward of rays, (..., 3, 3) in east, north, up.

    >>> ray_axes(np.array(0.0), np.array(0.0)).round(6).tolist()
    [[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, 1.0, 0.0]]
    """
    forward = unit_from_azimuth_elevation(azimuth, elevation)
    right = np.stack([np.cos(azimuth), 0.0 - np.sin(azimuth), np.zeros_like(azimuth)], axis=-1)
    return np.stack([right, np.cross(right, forward), forward], axis=-2)


def see(
    rings_m: tuple[Array, ...],
    plane_azimuth: float,
    antenna_m: Array,
    azimuth: Array,
    elevation: Array,
) -> Seen:
    """Carry one screen's rings (each (V, 3) east, north, up) to every ray.

    ``antenna_m`` (A, 3), ``azimuth`` and ``elevation`` (A, S). The distance is that to the
    plane's pierce point, kept within the screen's own extent.
    """
    frame = ray_axes(azimuth, elevation)
    carried = [_in_ray_axes(ring, antenna_m, frame) for ring in rings_m]
    depth = carried[0][2]
    ahead = np.any(depth > NEAR_M, axis=-1)
    normal = np.array([np.sin(plane_azimuth), np.cos(plane_azimuth), 0.0])
    square = dot(frame[..., 2, :], normal)
    gap = dot(rings_m[0][0] - antenna_m, normal)[:, None]
    nearest = np.maximum(depth.min(axis=-1), NEAR_M)
    farthest = np.maximum(depth.max(axis=-1), 2.0 * NEAR_M)
    with np.errstate(divide="ignore", invalid="ignore"):
        pierce = np.where(square * gap > 0.0, gap / square, farthest)
    distance = np.clip(np.nan_to_num(pierce, posinf=1e9), nearest, farthest)
    rings = tuple(_project(x, y, w, distance) for x, y, w in carried)
    return Seen(rings, distance, ahead)


def _in_ray_axes(ring: Array, antenna_m: Array, frame: Array) -> tuple[Array, Array, Array]:
    offset = ring[None, :, :] - antenna_m[:, None, :]
    turned = np.einsum("asij,avj->asiv", frame, offset)
    return turned[..., 0, :], turned[..., 1, :], turned[..., 2, :]


def _project(x: Array, y: Array, depth: Array, distance: Array) -> tuple[Array, Array]:
    """Central projection to the plane at ``distance``, cut where the ring passes behind."""
    if np.any(depth <= NEAR_M):
        x, y, depth = _cut_behind(x, y, depth)
    scale = distance[..., None] / depth
    return x * scale, y * scale


def _cut_behind(x: Array, y: Array, depth: Array) -> tuple[Array, Array, Array]:
    """Rings clipped to depth >= NEAR_M: each edge gives its start, if kept, and its crossing.

    Slots that a ring does not need repeat the slot before, which adds edges of no length.
    """
    inside = depth >= NEAR_M
    crossing = inside != np.roll(inside, -1, axis=-1)
    step = np.roll(depth, -1, axis=-1) - depth
    t = np.divide(NEAR_M - depth, step, out=np.zeros_like(depth), where=crossing)
    cut = [value + t * (np.roll(value, -1, axis=-1) - value) for value in (x, y)]
    slots = 2 * depth.shape[-1]

    def woven(first: NDArray[Any], second: NDArray[Any]) -> NDArray[Any]:
        return np.stack([first, second], axis=-1).reshape(*depth.shape[:-1], slots)

    valid = woven(inside, crossing)
    index = np.where(valid, np.arange(slots), -1)
    last = index.max(axis=-1, keepdims=True)
    filled = np.maximum.accumulate(index, axis=-1)
    filled = np.where(filled < 0, np.maximum(last, 0), filled)
    new_x, new_y, new_depth = (
        np.take_along_axis(woven(first, second), filled, axis=-1)
        for first, second in ((x, cut[0]), (y, cut[1]), (depth, np.full_like(depth, NEAR_M)))
    )
    nothing = last < 0
    return (
        np.where(nothing, 1e6, new_x),
        np.where(nothing, 1e6, new_y),
        np.where(nothing, 1.0, new_depth),
    )


def clearance_m(rings: tuple[tuple[Array, Array], ...]) -> Array:
    """Signed distance (A, S) from the ray to a shape's nearest edge, negative inside. [m]

    ``rings``: x, y (A, S, V), the edge first, then holes; inside a hole is outside.

    >>> x, y = np.array([[[1.0, 3.0, 3.0, 1.0]]]), np.array([[[-1.0, -1.0, 1.0, 1.0]]])
    >>> float(clearance_m(((x, y),))[0, 0])
    1.0
    """
    nearest = np.min([_edge_distance(x, y) for x, y in rings], axis=0)
    inside = np.logical_xor.reduce([_holds_origin(x, y) for x, y in rings])
    result: Array = np.where(inside, -nearest, nearest)
    return result


def _edge_distance(x: Array, y: Array) -> Array:
    dx, dy = np.roll(x, -1, axis=-1) - x, np.roll(y, -1, axis=-1) - y
    size = dx * dx + dy * dy
    t = np.divide(-(x * dx + y * dy), size, out=np.zeros_like(x), where=size > 0.0)
    t = np.clip(t, 0.0, 1.0)
    result: Array = np.hypot(x + t * dx, y + t * dy).min(axis=-1)
    return result


def _holds_origin(x: Array, y: Array) -> NDArray[np.bool_]:
    """Whether a ring holds the origin: parity of its crossings with the ray to the right."""
    x2, y2 = np.roll(x, -1, axis=-1), np.roll(y, -1, axis=-1)
    crosses = (y > 0.0) != (y2 > 0.0)
    at = x - np.divide(y * (x2 - x), y2 - y, out=np.zeros_like(x), where=crosses)
    return np.asarray(np.sum(crosses & (at > 0.0), axis=-1) % 2 == 1)


def top_elevation(
    ring_m: Array,
    plane_azimuth: float,
    antenna_m: Array,
    azimuth: Array,
    within_m: Array | float = np.inf,
) -> Array:
    """Elevation of a ring's highest point on each bearing. (A, S)

    NaN where the ring does not reach the bearing, or stands there at ``within_m`` or farther.
    """
    seen = see((ring_m,), plane_azimuth, antenna_m, azimuth, np.zeros_like(azimuth))
    x, y = seen.rings[0]
    x2, y2 = np.roll(x, -1, axis=-1), np.roll(y, -1, axis=-1)
    crosses = ((x > 0.0) != (x2 > 0.0)) & seen.ahead[..., None]
    t = np.divide(-x, x2 - x, out=np.zeros_like(x), where=crosses)
    height = np.where(crosses, y + t * (y2 - y), -np.inf).max(axis=-1)
    elevation = np.arctan2(height, seen.distance_m)
    reached = np.isfinite(height) & (seen.distance_m < within_m)
    return np.where(reached, elevation, np.nan)
