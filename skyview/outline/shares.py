"""From a coarse word to shares of sky at full size.

A pixel on an edge holds light of both sides, in proportion to what it shows of them: linear
light, not the coded values. What speaks for each pixel near the border, a gap or a twig
(``grain.py``) goes through small trees (``ferns.py``) fitted on pictures whose sky is known.
Bytes in, bytes out: 255 = sky, 0 = none of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from skyview.outline.coarse import Coarse, Mask, Pixels, Plane
from skyview.outline.ferns import share_of_sky
from skyview.outline.fields import local_mean, sky_field, summed
from skyview.outline.grain import LINEAR, REACH_PX, Known, known_of, pixel_evidence

TILE_PX = 256

WORKED_AREA_PX = 4_500_000
"""Larger pictures are worked on at a whole fraction of their size: their pixels are soft."""

BAND_PX, GAPS_PX = 3, 25
"""How far from the coarse border shares are sought, and how far gaps between leaves."""

GAP_EDGE, TWIG_EDGE, CALM_EDGE = 6.0, 1.0, 1.0
"""Steps over which gaps in a crown, twigs in the sky are sought; sky without any is pure."""

TWIG_DEPTH = 2.0
"""Twigs are darker by this than what surrounds them, in units of noise."""

SKY_SIZES_PX, SOLID_SIZES_PX = (3.0, 9.0, 27.0, 81.0), (3.0, 10.0, 40.0, 160.0)
"""Neighbourhoods over which both colours are followed, in coarse pixels."""


@dataclass(frozen=True)
class Sides:
    """What is known of both sides everywhere, coarse, linear light."""

    sky: Plane
    solid: Plane
    sky_variance: Plane
    """Summed over channels."""
    known: Known
    """The same and more, ready to be enlarged."""
    zone: Mask
    """Where the border, a gap or a twig may be."""
    word: Mask
    """Sky as far as the coarse size can tell."""


def sides_of(small: Pixels, c: Coarse, likely: Plane) -> Sides:
    """What both sides look like, from the small copy (h, w, 3) and how likely it is sky (h, w)."""
    word = likely > 0.5
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
    zone = band | _grown(gaps | twigs, 1)
    known = known_of(c, sky, solid, solid_variance, word, likely)
    return Sides(sky, solid, sky_variance, known, zone, word)


def _near(plane: Plane) -> Plane:
    return np.asarray(cv2.dilate(plane, np.ones((3, 3), np.uint8)))


def _grown(mask: Mask, reach_px: int) -> Mask:
    return cv2.dilate(mask.astype(np.uint8), np.ones((2 * reach_px + 1,) * 2, np.uint8)) > 0


def sky_shares(rgb: Pixels, sides: Sides) -> Pixels:
    """Share of sky, 0 to 255, of every pixel of ``worked(rgb)``."""
    return _shares(worked(rgb), sides)


def _shares(rgb: Pixels, sides: Sides) -> Pixels:
    word = cv2.GaussianBlur(sides.word.astype(np.uint8) * np.uint8(255), (0, 0), 1.0)
    shares = np.asarray(cv2.resize(word, rgb.shape[1::-1]), np.uint8)
    cv2.threshold(shares, 127, 255, cv2.THRESH_BINARY, dst=shares)
    for box, zone, evidence in tiles(rgb, sides):
        shares[box][zone] = share_of_sky(evidence)
    return shares


def worked(rgb: Pixels) -> Pixels:
    """The picture at the size that shares are worked out at."""
    shrink = int(np.ceil(np.sqrt(rgb.shape[0] * rgb.shape[1] / WORKED_AREA_PX)))
    if shrink < 2:
        return rgb
    size = max(1, rgb.shape[1] // shrink), max(1, rgb.shape[0] // shrink)
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)


def tiles(rgb: Pixels, sides: Sides) -> Iterator[tuple[tuple[slice, slice], Mask, np.ndarray]]:
    """Tiles with any pixel in the zone: where they are, which pixels, their evidence (F, N)."""
    height, width = rgb.shape[:2]
    rows, columns = sides.zone.shape
    fy, fx = rows / height, columns / width
    for top in range(0, height, TILE_PX):
        for left in range(0, width, TILE_PX):
            low, right = min(top + TILE_PX, height), min(left + TILE_PX, width)
            coarse_box = (
                slice(top * rows // height, -(-low * rows // height)),
                slice(left * columns // width, -(-right * columns // width)),
            )
            if not sides.zone[coarse_box].any():
                continue
            up, west = max(0, top - REACH_PX), max(0, left - REACH_PX)
            part = rgb[up : low + REACH_PX, west : right + REACH_PX]
            place = np.array(
                [[fx, 0, (west + 0.5) * fx - 0.5], [0, fy, (up + 0.5) * fy - 0.5]], np.float32
            )
            yield from _tile(part, sides, place, (top, left, low, right), (up, west))


def _tile(
    part: Pixels,
    sides: Sides,
    place: np.ndarray,
    box: tuple[int, int, int, int],
    corner: tuple[int, int],
) -> Iterator[tuple[tuple[slice, slice], Mask, np.ndarray]]:
    top, left, low, right = box
    inner = (
        slice(top - corner[0], low - corner[0]),
        slice(left - corner[1], right - corner[1]),
    )

    def enlarged(plane: np.ndarray, how: int = cv2.INTER_LINEAR) -> np.ndarray:
        return cv2.warpAffine(
            plane,
            place,
            part.shape[1::-1],
            flags=how | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )

    zone = enlarged(sides.zone.view(np.uint8), cv2.INTER_NEAREST)[inner] > 0
    if not zone.any():
        return
    k = sides.known
    known = Known(
        enlarged(k.solid),
        enlarged(k.axis),
        enlarged(k.codes),
        (enlarged(k.told[0]), enlarged(k.told[1])),
    )
    evidence = np.stack([plane[inner][zone] for plane in pixel_evidence(part, known)])
    yield (slice(top, low), slice(left, right)), zone, evidence
