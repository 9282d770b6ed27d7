"""What speaks for each pixel's being sky at full size: one byte for each thing that is asked.

Pixels in are RGB bytes; what the small copy knows comes enlarged. A pixel is held against the
colours of both sides there, in linear light, and against its own neighbours: thin things and the
gaps between leaves show at full size alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from skyview.outline.coarse import Coarse, Mask, Pixels, Plane
from skyview.outline.fields import summed

LINEAR = np.where(
    np.arange(256) <= 10, np.arange(256) / 3294.6, ((np.arange(256) / 255.0 + 0.055) / 1.055) ** 2.4
).astype(np.float32)
"""Linear light of a coded byte: IEC 61966-2-1."""

TOLD = ("likely", "word", "word_near", "word_wide", "texture", "leafy", "spread", "contrast")
"""Known from the small copy: how likely the region is sky; the word within 1, 3 and 9 pixels of
it; texture; how leafy it is about; how much the colours before the sky differ; how far both sides
lie apart."""

SEEN = (
    "share", "aside", "lowest", "highest", "highest_wide", "lighter", "bluer", "redder",
    "lighter_solid", "halo", "hollow", "slope",
)  # fmt: skip
"""Seen at full size: the way from the solid colour to the sky's, and how far aside of it; lowest
and highest way within a pixel, and within seven; lightness, blue and red against the sky's,
lightness against the solid's; against its neighbours; how much darker than what surrounds it; the
steepest step."""

FEATURES = (*TOLD, *SEEN)

REACH_PX = 8
"""No pixel farther than this is asked."""

LEAST_CONTRAST = 1e-6


@dataclass(frozen=True)
class Known:
    """What the small copy tells of every place, ready to be enlarged."""

    solid: Plane
    """(h, w, 3), linear light of what stands before the sky."""
    axis: Plane
    """(h, w, 3), from it to the sky's, divided by the square of that way."""
    codes: Pixels
    """(h, w, 4), the sky's lightness, blue and red less lightness, the solid's lightness."""
    told: tuple[Pixels, Pixels]
    """(h, w, 4) each, the values of ``TOLD``."""


def known_of(
    c: Coarse, sky: Plane, solid: Plane, solid_variance: Plane, word: Mask, likely: Plane
) -> Known:
    """What is known of both sides, from their colours in linear light (h, w, 3)."""
    across = sky - solid
    contrast = np.maximum(summed(across * across), LEAST_CONTRAST)
    sky_code, solid_code = _coded(sky), _coded(solid)
    light = cv2.cvtColor(sky_code, cv2.COLOR_RGB2GRAY)
    codes = [
        light,
        _moved(sky_code[..., 2], light),
        _moved(sky_code[..., 0], light),
        cv2.cvtColor(solid_code, cv2.COLOR_RGB2GRAY),
    ]
    flat = word.astype(np.float32)
    leafy = cv2.blur((c.edge > 3.0).astype(np.float32), (15, 15))
    told = [
        _bytes(likely, 255.0),
        *(_bytes(cv2.GaussianBlur(flat, (0, 0), sigma), 255.0) for sigma in (1.0, 3.0, 9.0)),
        _bytes(np.log(0.05 + c.texture), 40.0, 120.0),
        _bytes(leafy, 255.0),
        _bytes(np.log(solid_variance + 1e-4), 20.0, 190.0),
        _bytes(np.log(contrast), 16.0, 200.0),
    ]
    return Known(
        solid,
        (across / contrast[..., None]).astype(np.float32),
        np.stack(codes, axis=-1),
        (np.stack(told[:4], axis=-1), np.stack(told[4:], axis=-1)),
    )


def pixel_evidence(rgb: Pixels, known: Known) -> list[np.ndarray]:
    """The values of ``FEATURES`` for a part (h, w, 3) of a picture, ``known`` enlarged to it."""
    beyond = np.asarray(cv2.LUT(rgb, LINEAR), np.float32) - known.solid
    way = summed(beyond * known.axis)
    aside = summed(beyond * beyond) * summed(known.axis * known.axis) - way * way
    share = _bytes(way, 100.0, 64.0)
    light = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)
    near, wide = np.ones((3, 3), np.uint8), np.ones((15, 15), np.uint8)
    around = np.ones((7, 7), np.uint8)
    soft = cv2.GaussianBlur(light, (0, 0), 1.2)
    seen = [
        share,
        _bytes(aside, 80.0, 40.0),
        cv2.erode(share, near),
        cv2.dilate(share, near),
        cv2.dilate(share, wide),
        _moved(light, known.codes[..., 0]),
        _moved(_moved(rgb[..., 2], light), known.codes[..., 1]),
        _moved(_moved(rgb[..., 0], light), known.codes[..., 2]),
        _moved(light, known.codes[..., 3]),
        _moved(light, soft, 2.0),
        cv2.morphologyEx(light, cv2.MORPH_BLACKHAT, around),
        cv2.morphologyEx(light, cv2.MORPH_GRADIENT, near),
    ]
    told = [np.ascontiguousarray(four[..., k]) for four in known.told for k in range(4)]
    return [*told, *seen]


def _bytes(plane: np.ndarray, scale: float, shift: float = 0.0) -> Pixels:
    """Scaled and shifted into a byte, held at its ends."""
    flat = np.asarray(plane, np.float32)
    return np.asarray(cv2.addWeighted(flat, scale, flat, 0.0, shift, dtype=cv2.CV_8U), np.uint8)


def _moved(plane: np.ndarray, origin: np.ndarray, scale: float = 1.0) -> Pixels:
    """Difference of two planes of bytes; 128 is none."""
    moved = cv2.addWeighted(plane, scale, origin, -scale, 128.0, dtype=cv2.CV_8U)
    return np.asarray(moved, np.uint8)


def _coded(linear: Plane) -> Pixels:
    """Bytes of linear light, but for the darkest."""
    code = 1.055 * np.power(np.clip(linear, 0.0, 1.0), 1.0 / 2.4) - 0.055
    return _bytes(code, 255.0)
