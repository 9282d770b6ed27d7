"""The sky of a picture: its mask, its lower edge, and how far to trust them.

RGB bytes in, upright, of any size; out come a mask of the same size and rows in pixels. Nothing
is asked of the camera. A stroke is a pixel of which somebody said 'this is sky' or 'this is not'.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from skyview.angles import Array
from skyview.outline.coarse import Coarse, Mask, Pixels, Plane, coarse_of, small_copy
from skyview.outline.disputes import FEATURES, disputes_of, settled_by
from skyview.outline.doubt import confidence_of, signals_of
from skyview.outline.pieces import Growth, grown, settled
from skyview.outline.rivals import cut_sky, flooded_sky, sealed_sky, sky_over_ridge
from skyview.outline.shares import Sides, sides_of, sky_shares
from skyview.outline.strokes import split_by_strokes
from skyview.outline.verdict import sky_probability

Pixel = tuple[float, float]

SURE_CONFIDENCE = 0.7
"""Pictures of less confidence are said to be unsure as a whole."""

SPECK_SHARE = 4e-6
"""Share of the picture up to which a dark speck in the sky is a bird or a fault."""

WEAK_EDGE = 2.0
"""Steps below this, in units of noise, hold no border for sure."""

COARSE_SIGMA = 0.35
"""Sigma of a clear border, in coarse pixels."""


@dataclass(frozen=True)
class Skyline:
    """What was found."""

    mask: Pixels
    """(H, W) share of sky, 255 = all of it."""
    row_px: Array
    """(W,) where the sky ends below the picture's top, column by column; NaN without sky. [px]"""
    sigma_px: Array
    """(W,) one sigma of it. [px]"""
    doubtful: Mask
    """(W,) columns whose skyline may be another one altogether."""
    confidence: float
    """Probability that the mask is right to 3 % (intersection over union)."""
    signals: Array
    """What the confidence was worked out from: see ``doubt.SIGNALS``."""

    @property
    def sure(self) -> bool:
        """Whether the picture as a whole can be trusted."""
        return self.confidence >= SURE_CONFIDENCE


def find_skyline(rgb: Pixels, sky: Sequence[Pixel] = (), solid: Sequence[Pixel] = ()) -> Skyline:
    """The sky of a picture (H, W, 3) uint8, with strokes (x, y) in pixels where there are any.

    >>> picture = np.full((90, 120, 3), (40, 60, 30), np.uint8)
    >>> picture[:50] = (150, 190, 240)
    >>> found = find_skyline(picture)
    >>> bool((found.mask[:50] > 240).all()), float(found.row_px[7].round())
    (True, 50.0)
    """
    c = coarse_of(rgb)
    height, width = c.shape
    small = small_copy(rgb, (width, height))
    growth = grown(c, lambda table, *_: sky_probability(table))
    if len(sky) or len(solid):
        growth = split_by_strokes(c, growth, _scaled(sky, c), _scaled(solid, c))
    hypotheses = hypotheses_of(small, c, growth)
    disputes = disputes_of(c, hypotheses, growth)
    table = np.array([d.features for d in disputes]).reshape(len(disputes), len(FEATURES))
    likely = sky_probability(table, "dispute")
    word, doubt = settled_by(disputes, likely, hypotheses[1], growth)
    sides = sides_of(small, c, word)
    mask = _without_specks(sky_shares(rgb, sides))
    signals = signals_of(c, growth, hypotheses, doubt, sides, mask)
    row, sigma, doubtful = _columns(mask, c, np.maximum(growth.doubt, doubt), sides)
    # All sky, or none, tells nothing of where it ends.
    known = 0.0 < word.mean() < 1.0
    confidence = confidence_of(signals) if known else 0.0
    return Skyline(mask, row, sigma, doubtful, confidence, signals)


def hypotheses_of(small: Pixels, c: Coarse, growth: Growth) -> tuple[Mask, ...]:
    """The sky as the five ways of finding it see it, in the order of ``disputes.FEATURES``."""
    pieces, cut = settled(c, growth), cut_sky(small, c, growth)
    return pieces, cut, flooded_sky(c), sealed_sky(c), sky_over_ridge(c, pieces | cut)


def _scaled(spots: Sequence[Pixel], c: Coarse) -> list[tuple[int, int]]:
    height, width = c.shape
    return [
        (min(max(int(x * c.scale), 0), width - 1), min(max(int(y * c.scale), 0), height - 1))
        for x, y in spots
    ]


def _without_specks(mask: Pixels) -> Pixels:
    """Birds, dust and dead pixels filled in; looked for at half the size in large pictures."""
    shrink = 2 if mask.size > 3_000_000 else 1
    small = mask[::shrink, ::shrink]
    _count, _label, stats, _ = cv2.connectedComponentsWithStats(
        (small < 128).astype(np.uint8), connectivity=8
    )
    tiny = stats[:, cv2.CC_STAT_AREA] <= max(2.0, SPECK_SHARE * small.size)
    tiny[0] = False
    for index in np.flatnonzero(tiny):
        x, y, w, h = stats[index, :4] * shrink
        mask[max(0, y - 1) : y + h + 1, max(0, x - 1) : x + w + 1] = 255
    return mask


def _columns(mask: Pixels, c: Coarse, doubt: Plane, sides: Sides) -> tuple[Array, Array, Mask]:
    """Row, sigma and doubt of the skyline for every column of the picture."""
    height, width = mask.shape
    solid = mask < 128
    first = solid.argmax(0)
    found = solid.any(0)
    columns = np.arange(width)
    above = np.maximum(first - 1, 0)
    share = mask[first, columns] / 255.0 + np.where(first > 0, mask[above, columns] / 255.0, 1.0)
    row = np.where(found, np.where(first > 0, first - 1.0 + share, 0.0), float(height))
    rows = np.minimum((first * c.scale).astype(int), c.shape[0] - 1)
    places = np.minimum((columns * c.scale).astype(int), c.shape[1] - 1)
    steep = cv2.dilate(c.edge, np.ones((5, 5), np.uint8))[rows, places]
    wrong = cv2.dilate(doubt, np.ones((9, 9), np.uint8))[rows, places]
    told = sides.zone[rows, places]
    doubtful = (steep < WEAK_EDGE) | (wrong > 0.25) | (found & ~told)
    doubtful |= ~found
    sigma = COARSE_SIGMA / c.scale * (1.0 + 4.0 / np.maximum(steep, 0.2)) / np.where(told, 2.0, 1.0)
    sigma = np.maximum(sigma, 0.5) + np.where(doubtful, 0.02 * height, 0.0)
    return row, sigma, doubtful
