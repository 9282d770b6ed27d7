"""From a coarse word to shares of sky at full size.

A pixel on an edge holds light of both sides, in proportion to what it shows of them: linear
light, not the coded values. Its share of sky is where it lies between the sky's colour there and
the colour of what stands before it. Bytes in, bytes out: 255 = sky, 0 = none of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from skyview.outline.coarse import Coarse, Mask, Pixels, Plane
from skyview.outline.fields import local_mean, sky_field, summed
from skyview.outline.pieces import Growth, unlike_sky

TILE_PX = 256

HANGING_MISFIT = 0.5
"""What hangs in the air and fits the sky's colours no worse than this is a cloud."""

LINEAR = np.where(
    np.arange(256) <= 10, np.arange(256) / 3294.6, ((np.arange(256) / 255.0 + 0.055) / 1.055) ** 2.4
).astype(np.float32)
"""Linear light of a coded byte: IEC 61966-2-1."""

BAND_PX, GAPS_PX = 3, 25
"""How far from the coarse border shares are sought, and how far gaps between leaves."""


@dataclass(frozen=True)
class Sides:
    """Colours of both sides everywhere, coarse, linear light."""

    sky: Plane
    solid: Plane
    spread: Plane
    """Variance of the sky's own colour, summed over channels."""
    zone: Mask
    """Where the border, or a gap, may run."""
    word: Mask
    """Sky as far as the coarse size can tell."""


def sides_of(small: Pixels, c: Coarse, growth: Growth) -> Sides:
    """What both sides look like, from the small copy of the picture (h, w, 3)."""
    linear = np.asarray(cv2.LUT(small, LINEAR), np.float32)
    word = settled(c, growth)
    kernel = np.ones((5, 5), np.uint8)
    away = cv2.erode(word.astype(np.uint8), kernel, borderValue=1) > 0
    outer = cv2.erode((~word).astype(np.uint8), kernel, borderValue=1)
    # Leaves before the sky must not widen what counts as the sky's own colour.
    calm = away & (c.edge < 3.0)
    inner = calm if calm.sum() > 0.3 * away.sum() else away
    sky, spread = sky_field(linear, inner.astype(np.float32), (4.0, 12.0, 36.0, 108.0))
    if inner.any():
        spread = np.minimum(spread, 4.0 * float(np.median(spread[inner])))
    apart = summed((linear - sky) ** 2)
    usual = float(np.median(apart[outer > 0])) if outer.any() else 1.0
    weight = outer * apart / (apart + 0.5 * usual + 1e-6) + 1e-4 * (1 - word)
    solid, _ = local_mean(linear, weight.astype(np.float32), (3.0, 10.0, 40.0, 160.0))
    near = _grown(word, GAPS_PX)
    band = _grown(word, BAND_PX) & _grown(~word, BAND_PX)
    gaps = near & ~word & (~growth.ground | (c.edge > 8.0))
    thin = word & (c.edge > 4.0) & (c.softness < 0.5)
    return Sides(sky, solid, spread + 2e-5, band | _grown(gaps | thin, 1), word)


def settled(c: Coarse, growth: Growth) -> Mask:
    """The sky with its seams closed and what hangs in it taken in.

    Whatever is not dark or off the sky's colours and stands on nothing is a cloud.
    """
    sky = growth.sky.astype(np.uint8)
    closed = cv2.morphologyEx(sky, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8)) > 0
    word = closed & ~growth.ground
    if not word.any():
        return word
    expected, _ = sky_field(c.lab, word.astype(np.float32), (6.0, 18.0, 54.0))
    misfit = np.clip(unlike_sky(c.lab, expected), 0.0, 3.0)
    count, label = cv2.connectedComponents((~word).astype(np.uint8), connectivity=8)
    held = np.zeros(count, bool)
    held[label[-3:]] = True
    held[label[growth.told & growth.ground]] = True
    held[label[:, [0, -1]][growth.ground[:, [0, -1]]]] = True
    area = np.maximum(np.bincount(label.ravel(), minlength=count), 1)
    held |= np.bincount(label.ravel(), misfit.ravel(), count) / area > HANGING_MISFIT
    return word | ~held[label]


def _grown(mask: Mask, reach_px: int) -> Mask:
    return cv2.dilate(mask.astype(np.uint8), np.ones((2 * reach_px + 1,) * 2, np.uint8)) > 0


def sky_shares(rgb: Pixels, sides: Sides) -> Pixels:
    """Share of sky of every pixel (H, W), 0 to 255."""
    height, width = rgb.shape[:2]
    word = cv2.GaussianBlur(sides.word.astype(np.float32), (0, 0), 1.0)
    enlarged = cv2.resize(word, (width, height), interpolation=cv2.INTER_LINEAR)
    shares = np.where(enlarged > 0.5, np.uint8(255), np.uint8(0))
    rows, columns = sides.zone.shape
    for top in range(0, height, TILE_PX):
        for left in range(0, width, TILE_PX):
            box = (slice(top, top + TILE_PX), slice(left, left + TILE_PX))
            low, right = min(top + TILE_PX, height), min(left + TILE_PX, width)
            coarse_box = (
                slice(top * rows // height, -(-low * rows // height)),
                slice(left * columns // width, -(-right * columns // width)),
            )
            if sides.zone[coarse_box].any():
                _tile(rgb[box], sides, (top, left), (height, width), shares[box])
    return shares


def _tile(
    rgb: Pixels,
    sides: Sides,
    corner: tuple[int, int],
    size: tuple[int, int],
    shares: Pixels,
) -> None:
    """Mend the shares of one tile in place."""
    fy, fx = sides.zone.shape[0] / size[0], sides.zone.shape[1] / size[1]
    place = np.array(
        [[fx, 0, (corner[1] + 0.5) * fx - 0.5], [0, fy, (corner[0] + 0.5) * fy - 0.5]], np.float32
    )

    def enlarged(plane: Plane, how: int = cv2.INTER_LINEAR) -> Plane:
        moved = cv2.warpAffine(
            plane,
            place,
            rgb.shape[1::-1],
            flags=how | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(moved)

    zone = enlarged(sides.zone.astype(np.uint8), cv2.INTER_NEAREST) > 0
    sky, solid, spread = enlarged(sides.sky), enlarged(sides.solid), enlarged(sides.spread)
    light = cv2.LUT(rgb, LINEAR)
    across = sky - solid
    contrast = summed(across * across)
    toward = summed((light - solid) * across)
    share = np.clip(toward / np.maximum(contrast, 1e-6), 0.0, 1.0)
    miss = summed((light - sky) ** 2)
    pure = miss < np.minimum(np.maximum(9.0 * spread, 0.04 * contrast), 0.1 * contrast)
    open_ = cv2.dilate(pure.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    share = np.where(pure, 1.0, np.where(open_, share, np.minimum(share, 0.45)))
    told = zone & (contrast > 16.0 * spread)
    shares[told] = (255.0 * share[told] + 0.5).astype(np.uint8)
