"""Lines of a grid that follow the outlines on a screen."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]

TOO_CLOSE = 0.3
"""Lines closer than this share of the spacing are not kept both."""


def axis_lines(
    coordinates: Reals, weights: Reals, spacing: float, low: float, high: float
) -> Reals:
    """Rising lines from the first to the last coordinate, at most ``spacing`` apart.

    ``coordinates`` (N,) of vertices are clipped to ``low`` .. ``high``, all in one unit. Lines run
    through them where they are far enough apart; of several in one spacing the one with the
    greatest of the ``weights`` (N,) stays, and the outermost two always do. Empty when all
    coordinates are beyond the same end, or equal.

    >>> axis_lines(np.array([0.0, 1.0, 1.1, 9.0]), np.array([0.0, 0.0, 3.0, 0.0]), 0.5, -2.0, 2.0)
    array([0.        , 0.36666667, 0.73333333, 1.1       , 1.55      , 2.        ])
    """
    at = np.clip(coordinates, low, high)
    first, last = at.min(), at.max()
    if first == last:
        return np.empty(0)
    weight = np.where((at == first) | (at == last), np.inf, weights)
    bin_of = np.floor((at - first) / spacing)
    order = np.lexsort((at, -weight, bin_of))
    heaviest = order[np.append(True, np.diff(bin_of[order]) > 0.0)]
    at, weight = at[heaviest], weight[heaviest]
    keep = np.ones(at.size, dtype=bool)
    pair = np.nonzero(np.diff(at) < TOO_CLOSE * spacing)[0]
    keep[np.where(weight[pair] < weight[pair + 1], pair, pair + 1)] = False
    keep[[0, -1]] = True
    kept = at[keep] if at[-1] == last else np.append(at[keep], last)
    step = np.diff(kept)
    parts = np.maximum(1, np.ceil(step / spacing - 1e-9)).astype(int)
    gap = np.repeat(np.arange(parts.size), parts)
    within = np.arange(gap.size) - (np.cumsum(parts) - parts)[gap]
    return np.append(kept[gap] + step[gap] * within / parts[gap], last)


def straight_edge_weights(rings: Sequence[Reals]) -> tuple[Reals, Reals]:
    """For each vertex the length of the upright and of the level edge that starts there.

    ``rings``: (N, 2) each. What averaging over cells blurs most is a long edge along the grid:
    a line through it makes it exact.

    >>> upright, level = straight_edge_weights([np.array([[0, 0], [3, 0], [3, 2], [0, 1.0]])])
    >>> upright.tolist(), level.tolist()
    ([0.0, 2.0, 0.0, 1.0], [3.0, 0.0, 0.0, 0.0])
    """
    along = np.abs(np.concatenate([np.roll(ring, -1, axis=0) - ring for ring in rings]))
    return (
        np.where(along[:, 0] == 0.0, along[:, 1], 0.0),
        np.where(along[:, 1] == 0.0, along[:, 0], 0.0),
    )
