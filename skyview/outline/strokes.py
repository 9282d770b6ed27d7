"""What a stroke teaches: a few pixels of which somebody said what they are.

A stroke speaks for its basin: all that can be reached from it without crossing a wall as high as
the lowest one that parts it from what is known to be the other kind. However faint that wall is,
the border then comes to lie on it. All in coarse pixels.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from skyview.outline.coarse import Coarse, Mask
from skyview.outline.pieces import Growth

Spot = tuple[int, int]

LEVELS = np.geomspace(60.0, 0.2, 40)
"""Heights of walls tried, in units of noise, the highest first."""

TRUSTED_DOUBT = 0.1
"""Sky of less doubt stays sky, unless the stroke itself lies in it."""

LEAST_BASIN_PX = 200
"""A smaller basin teaches nothing: then only the picture's own edge stands against it."""

STROKE_PX = 2
"""A stroke that no wall surrounds speaks for so many pixels around it."""


def split_by_strokes(
    c: Coarse, growth: Growth, sky: Sequence[Spot], solid: Sequence[Spot]
) -> Growth:
    """The growth with its words mended where strokes (x, y) contradict them."""
    is_sky, ground, doubt = growth.sky.copy(), growth.ground.copy(), growth.doubt.copy()
    told = np.zeros(c.shape, bool)
    top = np.zeros(c.shape, bool)
    top[:2] = growth.sky[:2]
    foot = np.zeros(c.shape, bool)
    foot[-2:] = ~growth.sky[-2:]
    for spots, others, edge, word in ((solid, sky, top, False), (sky, solid, foot, True)):
        against = edge.copy()
        for x, y in others:
            against[y, x] = True
        for spot in spots:
            trusted = growth.sky & (growth.doubt < TRUSTED_DOUBT) if not word else foot
            known = against if trusted[spot[1], spot[0]] else against | trusted
            basin = _basin(c, spot, known)
            if basin.sum() < LEAST_BASIN_PX:
                basin = _basin(c, spot, against)
            is_sky[basin], ground[basin], doubt[basin] = word, not word, 0.02
            told |= basin
    return Growth(is_sky, ground, doubt, told)


def _basin(c: Coarse, spot: Spot, against: Mask) -> Mask:
    """The largest smooth part around a spot that reaches nothing of ``against``."""
    x, y = spot
    basin = np.zeros(c.shape, bool)
    basin[max(0, y - STROKE_PX) : y + STROKE_PX + 1, max(0, x - STROKE_PX) : x + STROKE_PX + 1] = (
        True
    )
    for level in LEVELS:
        open_ = ((c.edge < level) | basin).astype(np.uint8)
        _, label = cv2.connectedComponents(open_, connectivity=4)
        part = label == label[y, x]
        if not (part & against).any():
            return cv2.dilate(part.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    return basin
