"""Strokes as a patient installer would make them: through the middle of what is most wrong."""

from __future__ import annotations

import cv2
import numpy as np

Stroke = tuple[list[tuple[int, int]], bool]
"""Pixels (x, y), and whether they are sky."""

LINE_PIXELS = 5
"""Pixels of a stroke along a line."""

WAYS = 24
"""Directions in which a line is tried."""


def wrong_line(word: np.ndarray, share: np.ndarray, pixels: int) -> Stroke | None:
    """Pixels through the middle of the largest wrong part; None if all is right.

    A single one is the deepest within it; several lie on the longest straight line through that one
    which keeps well within the part. ``word`` (h, w) bool, sky as it was found; ``share`` (h, w),
    its true share.

    >>> word = np.zeros((9, 13), bool)
    >>> word[2:7, 4:9] = True
    >>> wrong_line(word, np.zeros(word.shape), 1)
    ([(6, 4)], False)
    """
    found = _wrong_part(word, share)
    if found is None:
        return None
    part, kind = found
    depth = _depth(part)
    y, x = _deepest(depth)
    if pixels == 1:
        return [(x, y)], kind
    deep = depth >= min(2.0, 0.5 * depth[y, x])
    steps = np.arange(max(part.shape))
    ends: list[np.ndarray] = []
    for angle in np.arange(WAYS) * np.pi / WAYS:
        both = []
        for way in (angle, angle + np.pi):
            line = np.stack([x + steps * np.cos(way), y + steps * np.sin(way)], axis=1)
            at = np.round(line).astype(int)
            inside = ((at >= 0) & (at < part.shape[::-1])).all(1)
            inside[inside] = deep[at[inside, 1], at[inside, 0]]
            both.append(line[len(inside) - 1 if inside.all() else int(inside.argmin()) - 1])
        if not ends or np.hypot(*(both[0] - both[1])) > np.hypot(*(ends[0] - ends[1])):
            ends = both
    share_of = np.linspace(0.0, 1.0, pixels)[:, None]
    line = np.round(ends[0] * (1.0 - share_of) + ends[1] * share_of).astype(int)
    return [(int(a), int(b)) for a, b in line], kind


def _wrong_part(word: np.ndarray, share: np.ndarray) -> tuple[np.ndarray, bool] | None:
    """The largest part that is wrong, and whether it is sky."""
    truth = share > 0.5
    largest, found = 0, None
    for kind in (True, False):
        wrong = ((word != truth) & (truth == kind)).astype(np.uint8)
        _, label, stats, _ = cv2.connectedComponentsWithStats(wrong, connectivity=4)
        sizes = stats[1:, cv2.CC_STAT_AREA]
        if sizes.max(initial=0) > largest:
            largest, found = int(sizes.max()), (label == 1 + int(sizes.argmax()), kind)
    return found


def _depth(part: np.ndarray) -> np.ndarray:
    framed = cv2.copyMakeBorder(part.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    return np.asarray(cv2.distanceTransform(framed, cv2.DIST_L2, 5)[1:-1, 1:-1])


def _deepest(depth: np.ndarray) -> tuple[int, int]:
    y, x = np.unravel_index(int(depth.argmax()), depth.shape)
    return int(y), int(x)
