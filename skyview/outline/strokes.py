"""What a stroke teaches: a few pixels of which somebody said what they are.

The stroke's word spreads from its pixels against that of all others as water does from several
springs: the lowest walls are flooded first, so that the border comes to lie on the highest wall
between two strokes, however faint it is. All in coarse pixels.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from skyview.outline.coarse import Coarse, Mask
from skyview.outline.pieces import Growth

Spot = tuple[int, int]

SKY, SOLID, KEPT = 1, 2, 3


def split_by_strokes(
    c: Coarse, growth: Growth, sky: Sequence[Spot], solid: Sequence[Spot]
) -> Growth:
    """The growth with its words mended where strokes (x, y) contradict them."""
    result = growth
    for spots, word in ((solid, False), (sky, True)):
        wrong = [(x, y) for x, y in spots if bool(result.sky[y, x]) != word]
        if wrong:
            result = _mended(c, result, wrong, word, list(sky), list(solid))
    return result


def _mended(
    c: Coarse,
    growth: Growth,
    wrong: list[Spot],
    word: bool,
    sky: list[Spot],
    solid: list[Spot],
) -> Growth:
    """Flood from the wrongly judged spots and from what keeps its word."""
    wall = np.clip(np.log1p(c.edge) / np.log1p(60.0) * 255.0, 0, 255).astype(np.uint8)
    markers = np.zeros(c.shape, np.int32)
    if word:
        # Solid keeps the picture's foot and whatever the sky already borders on from above.
        markers[-3:][~growth.sky[-3:]] = SOLID
        markers[_eroded(growth.ground, 9)] = SOLID
        markers[growth.sky] = SKY
    else:
        markers[:3][growth.sky[:3]] = SKY
        markers[~growth.sky] = KEPT
    for spots, value in ((sky, SKY), (solid, SOLID)):
        for x, y in spots:
            cv2.circle(markers, (x, y), 3, value, -1)
    if word:
        for x, y in wrong:
            markers[_piece_of(c, (x, y))] = SKY
    flooded = cv2.watershed(cv2.cvtColor(wall, cv2.COLOR_GRAY2BGR), markers)
    is_sky = flooded == SKY
    new_sky = growth.sky | is_sky if word else growth.sky & is_sky
    ground = (growth.ground | (growth.sky & ~new_sky)) & ~new_sky
    doubt = np.where(new_sky != growth.sky, np.float32(0.05), growth.doubt)
    return Growth(new_sky, ground, doubt)


def _piece_of(c: Coarse, spot: Spot) -> Mask:
    """What is smooth around a spot."""
    x, y = spot
    level = max(1.0, 1.5 * float(c.edge[max(0, y - 2) : y + 3, max(0, x - 2) : x + 3].max()))
    _count, label = cv2.connectedComponents((c.edge < level).astype(np.uint8), connectivity=4)
    piece = label == label[y, x]
    at_foot = piece[-3:].mean() > 0.02
    return piece if label[y, x] and not at_foot else np.zeros(c.shape, bool)


def _eroded(mask: Mask, size_px: int) -> Mask:
    return cv2.erode(mask.astype(np.uint8), np.ones((size_px, size_px), np.uint8)) > 0
