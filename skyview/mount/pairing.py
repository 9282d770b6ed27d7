"""Which outlines of two views may show the same thing: by order of bearing, kind and shape.

From one spot to the next near things swing farther than distant ones, and only a thing much nearer
than its neighbour passes it: matches that keep the order of bearing are taken first, the rest is
put in order again. Angles in radians.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array

NOT_PAIRED = 1.0
"""Cost at which two things are left apart."""

PASSES = 3
"""How often the rest is put in order again."""


@dataclass(frozen=True)
class Pair:
    """Two things that may be one."""

    first: int
    """Index in the first view."""
    second: int
    """Index in the second view."""
    cost: float
    """0 for what agrees in all, up to `NOT_PAIRED`."""


def pairs(bearing_first: Array, bearing_second: Array, cost: Array) -> list[Pair]:
    """The pairs of least cost, one to one; ``cost`` (F, S) is at least `NOT_PAIRED` for never.

    ``bearing_first`` (F,) and ``bearing_second`` (S,) are azimuths of the things' middles.

    >>> cost = np.array([[0.1, 2.0], [2.0, 0.2]])
    >>> [(p.first, p.second) for p in pairs(np.array([1.0, 2.0]), np.array([1.2, 2.1]), cost)]
    [(0, 0), (1, 1)]
    """
    seam = _widest_gap(np.concatenate([bearing_first, bearing_second]))
    order = [
        np.argsort(np.remainder(b - seam, 2.0 * np.pi)) for b in (bearing_first, bearing_second)
    ]
    found: list[Pair] = []
    for _ in range(PASSES):
        rows = order[0][~np.isin(order[0], [p.first for p in found])]
        columns = order[1][~np.isin(order[1], [p.second for p in found])]
        more = _in_order(cost[np.ix_(rows, columns)])
        found += [
            Pair(int(rows[i]), int(columns[j]), float(cost[rows[i], columns[j]])) for i, j in more
        ]
        if not more:
            break
    return sorted(found, key=lambda p: p.cost)


def _in_order(cost: Array) -> list[tuple[int, int]]:
    """Pairs (row, column), both rising, of the greatest gain against leaving all apart."""
    gain = np.maximum(NOT_PAIRED - cost, 0.0)
    best = np.zeros((cost.shape[0] + 1, cost.shape[1] + 1))
    for i, row in enumerate(gain):
        # Skipping a column keeps the best to its left.
        best[i + 1, 1:] = np.maximum.accumulate(np.maximum(best[i, 1:], best[i, :-1] + row))
    found = []
    i, j = cost.shape
    while i and j:
        if best[i, j] == best[i - 1, j]:
            i -= 1
        elif best[i, j] == best[i, j - 1]:
            j -= 1
        else:
            i, j = i - 1, j - 1
            found.append((i, j))
    return found[::-1]


def _widest_gap(azimuth: Array) -> float:
    order = np.sort(np.remainder(azimuth, 2.0 * np.pi))
    if not order.size:
        return 0.0
    gap = np.diff(np.append(order, order[0] + 2.0 * np.pi))
    return float(order[np.argmax(gap)] + gap.max() / 2.0)


def kind_cost(first: list[str], second: list[str], families: tuple[tuple[str, ...], ...]) -> Array:
    """0 for the same kind, 0.25 within a family, `NOT_PAIRED` across. (F, S)

    >>> kind_cost(["oak"], ["oak", "pine", "wall"], (("oak", "pine"),)).tolist()
    [[0.0, 0.25, 1.0]]
    """
    a, b = np.array(first)[:, None], np.array(second)[None, :]
    related: NDArray[np.bool_] = np.any(
        [np.isin(a, family) & np.isin(b, family) for family in families], axis=0
    )
    return np.where(a == b, 0.0, np.where(related, 0.25, NOT_PAIRED))
