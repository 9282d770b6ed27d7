"""Strokes as a patient installer would make them: in the middle of what is most wrong."""

from __future__ import annotations

import cv2
import numpy as np


def wrong_spot(word: np.ndarray, share: np.ndarray) -> tuple[int, int, bool] | None:
    """x, y of the pixel deepest within a wrong part, and whether it is sky; None if all is right.

    ``word`` (h, w) bool, sky as it was found; ``share`` (h, w), its true share.
    """
    truth = share > 0.5
    best, spot = 0.0, None
    for kind in (True, False):
        wrong = ((word != truth) & (truth == kind)).astype(np.uint8)
        count, label, stats, _ = cv2.connectedComponentsWithStats(wrong, connectivity=4)
        if count < 2:
            continue
        largest = 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
        if stats[largest, cv2.CC_STAT_AREA] <= best:
            continue
        best = float(stats[largest, cv2.CC_STAT_AREA])
        part = cv2.copyMakeBorder((label == largest).astype(np.uint8), 1, 1, 1, 1, 0)
        depth = cv2.distanceTransform(part, cv2.DIST_L2, 5)[1:-1, 1:-1]
        y, x = np.unravel_index(int(depth.argmax()), depth.shape)
        spot = int(x), int(y), kind
    return spot
