"""What each kind of mark measures, of unit rays (P, 3) in east, north, up, with its slopes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array

Ints = NDArray[np.int64]

LEAST_DROP = 1e-3
"""A shadow's point must lie lower than this below the horizon. [rad]"""


def wrapped(angle: Array) -> Array:
    """The same angle in [-pi, pi)."""
    return np.remainder(angle + np.pi, 2.0 * np.pi) - np.pi


def azimuth_of(rays: Array, at: Ints) -> tuple[Array, Array]:
    """Azimuth of rays, and its slopes by the ray."""
    e, n, _ = rays[at].T
    level2 = np.maximum(e * e + n * n, 1e-12)
    return np.arctan2(e, n), np.stack([n / level2, -e / level2, np.zeros_like(e)], axis=1)


def elevation_of(rays: Array, at: Ints) -> tuple[Array, Array]:
    """Elevation of unit rays, and its slopes by the ray."""
    e, n, u = rays[at].T
    level = np.maximum(np.hypot(e, n), 1e-6)
    return np.arctan2(u, level), np.stack([-e * u / level, -n * u / level, level], axis=1)


def line_misfit(rays: Array, ends: Ints, aim: Array) -> tuple[Array, Array, Array]:
    """Lean of plumb lines, or azimuth of shadows less the sun's, and slopes by both rays."""
    a, b = rays[ends[:, 0]], rays[ends[:, 1]]
    normal = np.cross(a, b)
    size = np.maximum(np.sqrt(np.sum(normal * normal, axis=1)), 1e-9)[:, None]
    lean = normal[:, 2:] / size
    pull = (np.array([0.0, 0.0, 1.0]) - lean * normal / size) / size
    plumb = lean[:, 0], np.cross(b, pull), np.cross(pull, a)
    shadow = np.isfinite(aim)
    if not shadow.any():
        return plumb
    (ground_a, by_a), (ground_b, by_b) = _on_ground(a), _on_ground(b)
    run = ground_b - ground_a
    reach2 = np.maximum(np.sum(run * run, axis=1), 1e-12)
    turn = np.stack([run[:, 1], -run[:, 0]], axis=1) / reach2[:, None]
    value = np.arctan2(run[:, 0], run[:, 1]) - np.nan_to_num(aim)
    # A line has no head: either end of it may be the foot of the thing.
    value = np.remainder(value + np.pi / 2, np.pi) - np.pi / 2
    yes = shadow[:, None]
    return (
        np.where(shadow, value, plumb[0]),
        np.where(yes, -np.einsum("ri,rik->rk", turn, by_a), plumb[1]),
        np.where(yes, np.einsum("ri,rik->rk", turn, by_b), plumb[2]),
    )


def _on_ground(ray: Array) -> tuple[Array, Array]:
    """Where rays meet level ground one unit below, (R, 2), and its slopes by the ray (R, 2, 3)."""
    drop = np.maximum(-ray[:, 2], LEAST_DROP)
    place = ray[:, :2] / drop[:, None]
    slopes = np.zeros((len(ray), 2, 3))
    slopes[:, 0, 0] = slopes[:, 1, 1] = 1.0 / drop
    slopes[:, :, 2] = place / drop[:, None]
    return place, slopes
