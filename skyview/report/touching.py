"""What touches what on the sheet: segments, boxes and shapes, many at once. All in px.

Segments are (..., 4) as x0, y0, x1, y1, boxes (..., 4) as left, top, right, bottom; leading axes
broadcast. NaN touches nothing.
"""

from __future__ import annotations

import numpy as np

from skyview.angles import Array

_TINY = 1e-9


def segments_touch_boxes(segments: Array, boxes: Array, gap: float = 0.0) -> np.ndarray:
    """Whether segments (..., 4: x0, y0, x1, y1) come nearer to boxes (..., 4) than ``gap``.

    NaN touches nothing.

    >>> bool(segments_touch_boxes(np.array([0., 0, 9, 9]), np.array([4., 4, 5, 5])))
    True
    """
    first, last = np.zeros(()), np.ones(())
    for axis in (0, 1):
        start = segments[..., axis]
        step = segments[..., axis + 2] - start
        low, high = boxes[..., axis] - gap, boxes[..., axis + 2] + gap
        flat = np.abs(step) < _TINY
        safe = np.where(flat, 1.0, step)
        t0, t1 = (low - start) / safe, (high - start) / safe
        within = (start > low) & (start < high)
        enter = np.where(flat, np.where(within, -np.inf, np.inf), np.minimum(t0, t1))
        leave = np.where(flat, np.where(within, np.inf, -np.inf), np.maximum(t0, t1))
        first, last = np.maximum(first, enter), np.minimum(last, leave)
    return first < last + _TINY


def boxes_touch(a: Array, b: Array, gap: float = 0.0) -> np.ndarray:
    """Whether boxes (..., 4) come nearer to each other than ``gap``. NaN touches nothing."""
    return (
        (a[..., 0] < b[..., 2] + gap)
        & (b[..., 0] < a[..., 2] + gap)
        & (a[..., 1] < b[..., 3] + gap)
        & (b[..., 1] < a[..., 3] + gap)
    )


def segments_cross(a: Array, b: Array) -> np.ndarray:
    """Whether segments (..., 4) properly cross; a shared end or a shared line is no crossing."""

    def side(p: Array, q: Array, r: Array) -> Array:
        return (q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1]) - (q[..., 1] - p[..., 1]) * (
            r[..., 0] - p[..., 0]
        )

    a0, a1, b0, b1 = a[..., :2], a[..., 2:], b[..., :2], b[..., 2:]
    parts_a = side(b0, b1, a0) * side(b0, b1, a1) < -_TINY
    parts_b = side(a0, a1, b0) * side(a0, a1, b1) < -_TINY
    return parts_a & parts_b


def lies_on(boxes: Array, shape: Array) -> np.ndarray:
    """Whether boxes (n, 4) touch the edge of a shape (N, 2) or lie within it (even-odd rule)."""
    ends = np.hstack([shape, np.roll(shape, -1, axis=0)])
    touched = segments_touch_boxes(ends[None], boxes[:, None]).any(axis=1)
    x, y = (boxes[:, 0] + boxes[:, 2]) / 2, (boxes[:, 1] + boxes[:, 3]) / 2
    x0, y0, x1, y1 = ends.T
    spans = (y0 > y[:, None]) != (y1 > y[:, None])
    rise = np.where(y1 == y0, 1.0, y1 - y0)
    crossed = spans & (x[:, None] < x0 + (y[:, None] - y0) * (x1 - x0) / rise)
    result: np.ndarray = touched | (crossed.sum(axis=1) % 2 == 1)
    return result
