"""The sky of a picture: its mask, its lower edge, and how far to trust them.

RGB bytes in, upright, of any size; out come a mask of the same size and rows in pixels. Nothing
is asked of the camera. A stroke is a pixel of which somebody said 'this is sky' or 'this is not'.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from skyview.angles import Array
from skyview.outline.coarse import Coarse, Mask, Pixels, Plane, coarse_of
from skyview.outline.doubt import STRIP_PX, confidence_of, signals_of
from skyview.outline.evidence import evidence_of
from skyview.outline.forest import Name, likely_sky
from skyview.outline.pieces import Growth, grown
from skyview.outline.regions import Regions, regions_of
from skyview.outline.rivals import hypotheses_of
from skyview.outline.settle import agreed
from skyview.outline.shares import Sides, sides_of, sky_shares
from skyview.outline.strokes import taught
from skyview.outline.verdict import sky_probability

Pixel = tuple[float, float]

SURE_CONFIDENCE = 0.85
"""Pictures of less confidence are said to be unsure as a whole: of the wrong ones left out of the
fit one in seventeen is not."""

SPECK_SHARE = 4e-6
"""Share of the picture up to which a dark speck in the sky is a bird or a fault."""

WEAK_EDGE = 2.0
"""Steps below this, in units of noise, hold no border for sure."""

STAGES: tuple[Name, ...] = ("first", "second")
"""Forests asked one after the other, the second about what the first said."""

COARSE_SIGMA = 0.35
"""Sigma of a clear border, in coarse pixels."""


NEVER = 0.002
"""How likely that is sky which is known not to be."""


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


def find_skyline(
    rgb: Pixels,
    sky: Sequence[Pixel] = (),
    solid: Sequence[Pixel] = (),
    ground: Mask | None = None,
) -> Skyline:
    """The sky of a picture (H, W, 3) uint8, with strokes (x, y) in pixels where there are any.

    ``ground`` (h, w), stretched over the picture, tells what is known not to be sky, as all that
    lies below the level is.

    >>> picture = np.full((90, 120, 3), (40, 60, 30), np.uint8)
    >>> picture[:50] = (150, 190, 240)
    >>> found = find_skyline(picture)
    >>> bool((found.mask[:50] > 230).all()), float(found.row_px[7].round())
    (True, 50.0)
    """
    c = coarse_of(rgb)
    growth = grown(c, lambda table, *_: sky_probability(table))
    hypotheses = hypotheses_of(c.small, c, growth)
    split = hypotheses[1].astype(np.uint8)
    never = np.zeros(c.shape, bool)
    if ground is not None:
        stretched = cv2.resize(ground.astype(np.float32), c.shape[::-1])
        never = stretched > 0.5
        split = split + 2 * never
    r = regions_of(c.edge, split)
    table, likely = word_of(c, r, hypotheses, growth.doubt)
    if len(sky) or len(solid):
        likely = taught(c, r, table, likely, _scaled(sky, c), _scaled(solid, c))
    # Only now: colours below the level must not speak against the same ones above it.
    likely[r.mean(never) > 0.5] = NEVER
    found = finished(rgb, c.small, c, r, hypotheses, growth, likely, never)
    # All sky, or none, tells nothing of where it ends.
    known = 0.0 < float((likely > 0.5).mean()) < 1.0
    return found if known else replace(found, confidence=0.0)


def word_of(c: Coarse, r: Regions, hypotheses: Sequence[Mask], doubt: Plane) -> tuple[Array, Array]:
    """What speaks for each region's being sky (count, F), and how likely it is (count,)."""
    word = np.asarray(np.mean(hypotheses, axis=0), np.float32)
    table, likely = np.empty((0, 0)), np.empty(0)
    for stage in STAGES:
        table = evidence_of(c, r, hypotheses, doubt, word)
        likely = likely_sky(table, stage)
        word = likely.astype(np.float32)[r.label]
    return table, agreed(r, likely)


def finished(
    rgb: Pixels,
    small: Pixels,
    c: Coarse,
    r: Regions,
    hypotheses: Sequence[Mask],
    growth: Growth,
    likely: Array,
    never: Mask | None = None,
) -> Skyline:
    """Mask, skyline and confidence from how likely each region is sky (count,).

    ``never`` (h, w): where none is, whatever the colours say.
    """
    likely = likely.astype(np.float32)
    doubt = np.minimum(likely, 1.0 - likely)[r.label]
    sides = sides_of(small, c, likely[r.label])
    mask = _without_specks(sky_shares(rgb, sides))
    if never is not None and never.any():
        none = cv2.resize(never.view(np.uint8), mask.shape[::-1], interpolation=cv2.INTER_NEAREST)
        mask[none > 0] = 0
    signals = signals_of(c, growth, hypotheses, doubt, sides, mask)
    if mask.shape != rgb.shape[:2]:
        mask = np.asarray(cv2.resize(mask, rgb.shape[1::-1]), np.uint8)
    row, sigma, doubtful = _columns(mask, c, doubt, sides)
    return Skyline(mask, row, sigma, doubtful, confidence_of(signals), signals)


def _scaled(spots: Sequence[Pixel], c: Coarse) -> list[tuple[int, int]]:
    height, width = c.shape
    return [
        (min(max(int(x * c.scale), 0), width - 1), min(max(int(y * c.scale), 0), height - 1))
        for x, y in spots
    ]


def _without_specks(mask: Pixels) -> Pixels:
    """Birds, dust and dead pixels filled in; looked for at half the size in large masks."""
    shrink = 2 if mask.size > 2_000_000 else 1
    small = mask[::shrink, ::shrink]
    _count, _label, stats, _ = cv2.connectedComponentsWithStats(
        (small < 128).view(np.uint8), connectivity=8
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
    columns = np.arange(width)
    strips = (mask[:, left : left + STRIP_PX] for left in range(0, width, STRIP_PX))
    first = np.concatenate([(strip < 128).argmax(0) for strip in strips])
    found = mask[first, columns] < 128
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
