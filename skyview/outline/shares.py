"""From a coarse word to shares of sky at full size.

A pixel on an edge holds light of both sides, in proportion to what it shows of them: linear
light, not the coded values. Where it lies between the sky's colour there and the colour of what
stands before it speaks for its share, as loudly as the noise allows; the coarse word is the prior.
Bytes in, bytes out: 255 = sky, 0 = none of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from skyview.outline.coarse import Coarse, Mask, Pixels, Plane
from skyview.outline.fields import local_mean, sky_field, summed

TILE_PX = 256

LINEAR = np.where(
    np.arange(256) <= 10, np.arange(256) / 3294.6, ((np.arange(256) / 255.0 + 0.055) / 1.055) ** 2.4
).astype(np.float32)
"""Linear light of a coded byte: IEC 61966-2-1."""

BAND_PX, GAPS_PX = 3, 25
"""How far from the coarse border shares are sought, and how far gaps between leaves."""

GAP_EDGE, TWIG_EDGE, CALM_EDGE = 6.0, 1.0, 1.0
"""Steps over which gaps in a crown, twigs in the sky are sought; sky without any is pure."""

TWIG_DEPTH = 2.0
"""Twigs are darker by this than what surrounds them, in units of noise."""

SKY_SIZES_PX, SOLID_SIZES_PX = (3.0, 9.0, 27.0, 81.0), (3.0, 10.0, 40.0, 160.0)
"""Neighbourhoods over which both colours are followed, in coarse pixels."""

HALF = 0.72
"""A pixel half of which is sky lies so far towards the sky's colour: cameras press highlights
together, so that decoded light is not quite linear. Fitted on rendered pictures."""

SOFT, LOUDEST = 0.12, 4.0
"""Spread of shares that colour alone leaves; bound of a pixel's log-odds."""

ASIDE, ASIDE_FREE = 4.0, 0.05
"""Colour beside the line from solid to sky speaks against sky, from here on."""

LEAST_VARIANCE = 1e-4
"""Variance of linear light that is always there: our own choice."""

PRIOR_SMOOTH, PRIOR_LEAFY = 1.5, 0.4
"""Weight of the coarse word's log-odds along plain edges, and among leaves and twigs."""


@dataclass(frozen=True)
class Sides:
    """What is known of both sides everywhere, coarse, linear light."""

    sky: Plane
    solid: Plane
    sky_variance: Plane
    """Summed over channels, as is the next."""
    solid_variance: Plane
    prior: Plane
    """Log-odds of sky from the coarse word."""
    zone: Mask
    """Where the border, a gap or a twig may be."""
    word: Mask
    """Sky as far as the coarse size can tell."""


def sides_of(small: Pixels, c: Coarse, word: Mask) -> Sides:
    """What both sides look like, from the small copy of the picture (h, w, 3)."""
    linear = np.asarray(cv2.LUT(small, LINEAR), np.float32)
    away = cv2.erode(word.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=1) > 0
    # Leaves before the sky must not widen what counts as the sky's own colour.
    calm = away & (c.edge < CALM_EDGE)
    inner = calm if calm.sum() > 0.3 * away.sum() else away
    sky, sky_variance = sky_field(linear, inner.astype(np.float32), SKY_SIZES_PX)
    if inner.any():
        sky_variance = np.minimum(sky_variance, 4.0 * float(np.median(sky_variance[inner])))
    apart = summed((linear - sky) ** 2)
    outer = ~_grown(word, 1) * apart / (apart + 9.0 * sky_variance + 1e-6)
    weight = (outer + 1e-4 * ~word).astype(np.float32)
    solid, solid_variance = local_mean(linear, weight, SOLID_SIZES_PX)
    band = _grown(word, BAND_PX) & _grown(~word, BAND_PX)
    gaps = _grown(word, GAPS_PX) & ~word & (c.edge > GAP_EDGE)
    light = c.unit[..., 0]
    hollow = cv2.morphologyEx(light, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8)) - light
    twigs = word & (c.edge > TWIG_EDGE) & (_near(hollow) > TWIG_DEPTH)
    leafy = np.clip((cv2.blur((c.edge > 3.0).astype(np.float32), (15, 15)) - 0.35) / 0.35, 0.0, 1.0)
    share = np.clip(cv2.GaussianBlur(word.astype(np.float32), (0, 0), 0.6), 0.05, 0.95)
    weight = PRIOR_SMOOTH + (PRIOR_LEAFY - PRIOR_SMOOTH) * leafy
    prior = (weight * np.log(share / (1.0 - share))).astype(np.float32)
    zone = band | _grown(gaps | twigs, 1)
    return Sides(sky, solid, sky_variance, solid_variance, prior, zone, word)


def _near(plane: Plane) -> Plane:
    return np.asarray(cv2.dilate(plane, np.ones((3, 3), np.uint8)))


def _grown(mask: Mask, reach_px: int) -> Mask:
    return cv2.dilate(mask.astype(np.uint8), np.ones((2 * reach_px + 1,) * 2, np.uint8)) > 0


def sky_shares(rgb: Pixels, sides: Sides) -> Pixels:
    """Share of sky of every pixel (H, W), 0 to 255."""
    height, width = rgb.shape[:2]
    word = cv2.GaussianBlur(sides.word.astype(np.uint8) * np.uint8(255), (0, 0), 1.0)
    shares = np.asarray(cv2.resize(word, (width, height), interpolation=cv2.INTER_LINEAR), np.uint8)
    cv2.threshold(shares, 127, 255, cv2.THRESH_BINARY, dst=shares)
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
    sky, solid = enlarged(sides.sky), enlarged(sides.solid)
    beyond = np.asarray(cv2.LUT(rgb, LINEAR), np.float32) - solid
    across = sky - solid
    contrast = np.maximum(summed(across * across), 1e-6)
    sky_noise = (enlarged(sides.sky_variance) + LEAST_VARIANCE) / contrast
    noise = sky_noise + (0.25 * enlarged(sides.solid_variance) + LEAST_VARIANCE) / contrast
    share = summed(beyond * across) / contrast
    aside = summed(beyond * beyond) / contrast - share * share - 2.0 * sky_noise - ASIDE_FREE
    odds = (np.clip(share, -0.5, 1.5) - HALF) / (SOFT + 0.5 * noise)
    odds = np.clip(odds - ASIDE * np.maximum(aside, 0.0), -LOUDEST, LOUDEST)
    # Where one pixel says little, its neighbours are asked too.
    asked = np.clip(3.0 * np.sqrt(noise) - 0.3, 0.0, 1.0)
    odds = odds + asked * (1.5 * cv2.GaussianBlur(odds, (0, 0), 1.5) - odds)
    odds += enlarged(sides.prior)
    mended = 255.0 / (1.0 + np.exp(-odds)) + 0.5
    shares[zone] = mended[zone].astype(np.uint8)
