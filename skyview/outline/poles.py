"""A pole that rises out of something low: where it begins, and its own shape.

A crossarm hides from the skyline that the pole is thin; row by row it shows.
"""

from __future__ import annotations

import cv2
import numpy as np

from skyview.outline.coarse import Mask

NECK_DEG, TALL_DEG = 1.3, 1.5
"""A pole is no wider than the first over the second or more of its height."""

FOOT_TIMES, FOOT_BELOW_DEG = 3.0, 0.5
"""What it rises out of is so many times as wide, this little below: a spire widens by and by."""

FILL = 0.9
"""Share of a row between the pole's sides that it fills."""

HEAD_DEG = 6.0
"""Crossarms are no wider, and what is above the neck no taller."""


def pole_of(shape: Mask, px_per_deg: float) -> tuple[Mask, int] | None:
    """The pole at the top of a shape (H, W), drawn down to the last row; the row that it ends in.

    None where there is none.

    >>> shape = np.zeros((60, 80), bool)
    >>> shape[50:] = True; shape[10:, 38:42] = True; shape[14:16, 25:55] = True
    >>> pole, foot = pole_of(shape, 10.0)
    >>> foot, int(pole[55].sum()), bool(pole[14, 25])
    (50, 4, True)
    """
    rows = np.flatnonzero(shape.any(1))
    if not rows.size:
        return None
    first = int(rows[0])
    _, label = cv2.connectedComponents(shape.astype(np.uint8), connectivity=8)
    body = label == label[first, int(shape[first].argmax())]
    width = body.sum(1)
    left = body.argmax(1)
    span = np.where(width > 0, body.shape[1] - body[:, ::-1].argmax(1) - left, 0)
    neck = (width > 0) & (width <= NECK_DEG * px_per_deg) & (width >= FILL * span)
    edge = np.flatnonzero(np.diff(np.concatenate([[False], neck, [False]]).astype(int)))
    below = round(FOOT_BELOW_DEG * px_per_deg)
    for start, end in edge.reshape(-1, 2)[::-1].tolist():
        thick = float(np.median(width[start:end]))
        head = body[first:start]
        small = max(start - first, int(head.sum(1).max(initial=0))) <= HEAD_DEG * px_per_deg
        wide = end + below < len(body) and width[end + below] >= FOOT_TIMES * thick
        if end - start >= TALL_DEG * px_per_deg and small and wide:
            pole = body.copy()
            pole[end:] = False
            at = round(float(np.median(left[start:end])))
            pole[end:, at : at + round(thick)] = True
            return pole, end
    return None
