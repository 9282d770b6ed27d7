"""Upright RGB pixels of a picture, in bounded memory.

The decoded picture is turned into RGB strip by strip, so that the peak stays near the decoder's
four bytes a pixel plus the three of the result.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from skyview.errors import InputError
from skyview.photo.exif import read_tags
from skyview.photo.reader import Opened, decoding, opened

Pixels = NDArray[np.uint8]

_STRIP_PIXELS = 250_000
_OVERSAMPLING = 2
"""A picture is averaged in whole blocks down to this multiple of its final size, then filtered."""


def read_pixels(path: str | Path, max_side_px: int | None = None) -> Pixels:
    """The picture upright, (height, width, 3) uint8.

    Orientation is applied, transparency laid over white, palettes, CMYK, 16-bit and float greys
    converted, of several frames the first taken. 16-bit greys span 0 to 65535. Floats and 32-bit
    integers span the smallest usual range that holds them (0 to 1 for floats, 0 to 255, 0 to
    65535), else their own smallest to largest value; not-a-number is black.

    ``max_side_px`` bounds the longer side; the picture is never enlarged. A JPEG is then decoded
    at a fraction of its size, so ``read_pixels(path, 64)`` is also the cheap proof that a file
    is whole. Raises InputError for pictures that are damaged or cut short.
    """
    if max_side_px is not None and max_side_px < 1:
        raise InputError(
            f"{max_side_px} pixels is no side of a picture", path, "max_side_px", "give 1 or more"
        )
    with opened(path) as picture:
        turn = read_tags(picture).turn
        pixels = _upright_free(picture, max_side_px)
    pixels = pixels[:, ::-1] if turn.mirrored else pixels
    return np.ascontiguousarray(np.rot90(pixels, -(turn.degrees // 90)))


def _upright_free(picture: Opened, max_side_px: int | None) -> Pixels:
    """RGB pixels as the decoder has them, not yet turned, no larger than asked for."""
    image = picture.image
    if max_side_px is None or max(image.size) <= max_side_px:
        return _to_rgb(picture, 1)
    with decoding(picture.path):
        drafted = image.draft("RGB", _shrunk(image.size, max_side_px))
        image.load()
    # Partly filled blocks at the right and lower edge: the exact extent keeps the scale true.
    width, height = drafted[1][2:] if drafted else image.size
    block = max(1, int(max(width, height)) // (_OVERSAMPLING * max_side_px))
    averaged = Image.fromarray(_to_rgb(picture, block))
    box = (0.0, 0.0, width / block, height / block)
    target = _shrunk((width, height), max_side_px)
    return np.array(averaged.resize(target, Image.Resampling.LANCZOS, box=box))


def _shrunk(size: tuple[float, float], max_side_px: int) -> tuple[int, int]:
    scale = max_side_px / max(size)
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def _to_rgb(picture: Opened, block: int) -> Pixels:
    """RGB of the whole picture, averaged over blocks of ``block`` x ``block`` pixels."""
    image = picture.image
    with decoding(picture.path):
        image.load()
        span = _grey_span(image)
        out = np.empty((-(-image.height // block), -(-image.width // block), 3), np.uint8)
        for top, strip in _strips(image, block):
            rgb = _strip_rgb(strip, span)
            if block > 1:
                rgb = rgb.reduce(block)
            row = top // block
            out[row : row + rgb.height] = np.asarray(rgb)
        return out


def _strips(image: Image.Image, multiple: int = 1) -> Iterator[tuple[int, Image.Image]]:
    rows = max(1, _STRIP_PIXELS // (image.width * multiple)) * multiple
    for top in range(0, image.height, rows):
        yield top, image.crop((0, top, image.width, min(image.height, top + rows)))


def _grey_span(image: Image.Image) -> tuple[float, float] | None:
    """Black and white of a grey picture of more than 8 bits; None for every other mode."""
    if image.mode.startswith("I;16") or (image.mode == "I" and image.format == "PNG"):
        return 0.0, 65535.0
    if image.mode not in ("I", "F"):
        return None
    low, high = np.inf, -np.inf
    for _, strip in _strips(image):
        values = np.asarray(strip, dtype=float)
        values = values[np.isfinite(values)]
        if values.size:
            low, high = min(low, values.min()), max(high, values.max())
    whites = (1.0, 255.0, 65535.0) if image.mode == "F" else (255.0, 65535.0)
    for white in whites:
        if low >= 0.0 and high <= white:
            return 0.0, white
    return (float(low), float(high)) if low < high else (0.0, 1.0)


def _strip_rgb(strip: Image.Image, span: tuple[float, float] | None) -> Image.Image:
    if span is not None:
        black, white = span
        share = (np.asarray(strip, dtype=float) - black) / (white - black)
        share = np.clip(np.nan_to_num(share, nan=0.0, posinf=1.0, neginf=0.0), 0.0, 1.0)
        return Image.fromarray(np.round(255.0 * share).astype(np.uint8)).convert("RGB")
    if strip.has_transparency_data:
        strip = strip.convert("RGBA")
        white_ground = Image.new("RGBA", strip.size, "white")
        return Image.alpha_composite(white_ground, strip).convert("RGB")
    return strip.convert("RGB")
