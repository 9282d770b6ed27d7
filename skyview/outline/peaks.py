"""Peaks of a row of values, and how far each stands out.

The same as ``scipy.signal.find_peaks`` finds, whose package takes a second to load.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array


def peaks_of(values: Array, least_prominence: float = 0.0) -> NDArray[np.intp]:
    """Places (K,) whose values (N,), at least one, are higher than what stands on both sides, in
    order; the middle of a flat top counts, the first and last values never do.

    A peak's prominence is its height above the higher of the two lowest values that lie between it
    and the next higher one, or the row's end, on its left and right.

    >>> peaks_of(np.array([0.0, 3.0, 2.5, 2.8, 0.0, 1.0, 1.0, 1.0, 0.0])).tolist()
    [1, 3, 6]
    >>> peaks_of(np.array([0.0, 3.0, 2.5, 2.8, 0.0]), least_prominence=0.5).tolist()
    [1]
    """
    steps = np.flatnonzero(np.diff(values)) + 1
    first = np.concatenate([[0], steps])
    last = np.concatenate([steps, [len(values)]]) - 1
    height = values[first]
    tops = 1 + np.flatnonzero((height[1:-1] > height[:-2]) & (height[1:-1] > height[2:]))
    places: NDArray[np.intp] = (first[tops] + last[tops]) // 2
    if least_prominence <= 0.0:
        return places
    return places[[_prominence(height, int(top)) >= least_prominence for top in tops]]


def _prominence(height: Array, top: int) -> float:
    """How far a peak stands out of what lies around it."""
    higher = np.flatnonzero(height > height[top])
    left = higher[higher < top].max(initial=-1) + 1
    right = higher[higher > top].min(initial=len(height))
    foot = max(height[left : top + 1].min(), height[top:right].min())
    return float(height[top] - foot)
