"""A small copy of a picture in units of its own noise, with its edges and its texture.

Pixels in are RGB bytes; all that comes out is at the coarse size, float32. Colour is CIE
L*a*b* (as in OpenCV, L 0 to 100) divided by the picture's noise, so that 1 is a difference that
just stands out.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.float32]
Mask = NDArray[np.bool_]
Pixels = NDArray[np.uint8]

COARSE_AREA_PX = 150_000
"""Pixels of the small copy: its error is a fraction of what full size mends afterwards."""

NOISE_FLOOR = np.array([0.9, 0.7, 0.7], np.float32)
"""Differences of L, a, b below these are never trusted: our own choice."""

GRAIN_AREA_PX = 1_200_000
"""Fine detail is sought at this size: larger pictures are made smaller by a whole number."""

AROUND_PX = 15
"""Side of the square over which rough texture and the edges' ways are averaged."""

EDGE_LENGTH_PX, EDGE_SCALE_PX, ORIENTATIONS = 3.0, 1.0, 6
"""Edges are averaged along themselves and differentiated across, in coarse pixels."""

LEVEL, UPRIGHT = 0, ORIENTATIONS // 2


@dataclass(frozen=True)
class Coarse:
    """The small copy and what was measured on it."""

    small: Pixels
    """(h, w, 3), RGB."""
    lab: Plane
    """(h, w, 3), L 0 to 100, a, b."""
    unit: Plane
    """(h, w, 3), lab in units of noise, lightly smoothed."""
    edge: Plane
    """(h, w), strength of the sharpest straight step through a pixel, in units of noise."""
    softness: Plane
    """(h, w), 1 where a step is spread over several pixels, 0 where it is sharp."""
    texture: Plane
    """(h, w), mean fine detail around a pixel, in units of noise."""
    grain: Plane
    """(h, w), detail that only the picture at a larger size shows, over that of its calm parts."""
    rough: Plane
    """(h, w), mean detail of some pixels' size around a pixel, in units of noise."""
    upright: Plane
    """(h, w), mean step across upright edges around a pixel, as a share of that across all."""
    level: Plane
    """(h, w), the same across level edges."""
    scale: float
    """Coarse pixels per picture pixel."""

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the small copy."""
        return self.edge.shape[0], self.edge.shape[1]


def lab_of(rgb: Pixels) -> Plane:
    """CIE L*a*b* of RGB bytes, float32."""
    return np.asarray(
        cv2.cvtColor(rgb.astype(np.float32) * np.float32(1.0 / 255.0), cv2.COLOR_RGB2Lab),
        np.float32,
    )


def coarse_of(rgb: Pixels) -> Coarse:
    """The small copy of a picture (H, W, 3) uint8.

    >>> bool(coarse_of(np.full((40, 60, 3), 200, np.uint8)).edge.max() < 0.01)
    True
    """
    height, width = rgb.shape[:2]
    scale = min(1.0, (COARSE_AREA_PX / (height * width)) ** 0.5)
    size = max(8, round(width * scale)), max(8, round(height * scale))
    small = small_copy(rgb, size)
    lab = lab_of(small)
    detail = lab - cv2.GaussianBlur(lab, (0, 0), 1.2)
    top = detail[: max(2, lab.shape[0] // 3)]
    noise = 1.4826 * np.median(np.abs(top), axis=(0, 1)).astype(np.float32)
    per_noise = (1.0 / (NOISE_FLOOR + noise)).astype(np.float32)
    unit = cv2.GaussianBlur(lab, (0, 0), 0.6) * per_noise
    sharp, ways = _steps(unit)
    half = cv2.resize(unit, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    broad, _ = _steps(cv2.GaussianBlur(half, (0, 0), 0.75))
    medium = cv2.GaussianBlur(unit[..., 0], (0, 0), 1.2) - cv2.GaussianBlur(
        unit[..., 0], (0, 0), 4.0
    )
    around = cv2.blur(sharp, (AROUND_PX, AROUND_PX)) + np.float32(0.3)
    # Half the size, a little blurred: a step stays as high as it was, a ramp rises as much again.
    ratio = cv2.resize(broad, sharp.shape[::-1]) / np.maximum(sharp, 1e-3)
    return Coarse(
        small=small,
        lab=lab,
        unit=unit,
        edge=sharp,
        softness=np.clip((ratio - 1.0) / 1.0, 0.0, 1.0).astype(np.float32),
        texture=cv2.blur(cv2.transform(np.abs(detail), per_noise[None]), (7, 7)),
        grain=_grain(rgb, size),
        rough=cv2.blur(np.abs(medium), (AROUND_PX, AROUND_PX)),
        upright=cv2.blur(sharp * (ways == UPRIGHT), (AROUND_PX, AROUND_PX)) / around,
        level=cv2.blur(sharp * (ways == LEVEL), (AROUND_PX, AROUND_PX)) / around,
        scale=size[0] / width,
    )


def small_copy(rgb: Pixels, size: tuple[int, int]) -> Pixels:
    """The picture at this (width, height); tiny pictures grow to the least size worked on."""
    if rgb.shape[1::-1] == size:
        return rgb
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)


def _kernels() -> list[Plane]:
    """Derivatives of a Gaussian, long along the edge, sum of magnitudes 2."""
    reach = int(np.ceil(2.5 * EDGE_LENGTH_PX))
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1].astype(np.float32)
    found = []
    for angle in np.arange(ORIENTATIONS) * np.pi / ORIENTATIONS:
        along = x * np.cos(angle) + y * np.sin(angle)
        across = -x * np.sin(angle) + y * np.cos(angle)
        kernel = across * np.exp(
            -0.5 * ((along / EDGE_LENGTH_PX) ** 2 + (across / EDGE_SCALE_PX) ** 2)
        )
        found.append((2.0 * kernel / np.abs(kernel).sum()).astype(np.float32))
    return found


def _steps(unit: Plane) -> tuple[Plane, NDArray[np.uint8]]:
    """Height of the step across the best orientation, lightness and blueness together; which.

    ``LEVEL`` and ``UPRIGHT`` are the numbers of edges that run so.
    """
    planes = [np.ascontiguousarray(unit[..., 0]), np.ascontiguousarray(unit[..., 2])]
    best = np.zeros(unit.shape[:2], np.float32)
    way = np.zeros(unit.shape[:2], np.uint8)
    for index, kernel in enumerate(_kernels()):
        strength = sum(
            cv2.filter2D(p, cv2.CV_32F, kernel, borderType=cv2.BORDER_REPLICATE) ** 2
            for p in planes
        )
        way[strength > best] = index
        np.maximum(best, strength, out=best)
    return np.sqrt(best), way


def _grain(rgb: Pixels, size: tuple[int, int]) -> Plane:
    """Mean detail of single pixels where the picture is large, over its lower quartile, log."""
    shrink = int(np.ceil(np.sqrt(rgb.shape[0] * rgb.shape[1] / GRAIN_AREA_PX)))
    light = rgb
    if shrink > 1:
        fine = max(1, rgb.shape[1] // shrink), max(1, rgb.shape[0] // shrink)
        light = np.asarray(cv2.resize(rgb, fine, interpolation=cv2.INTER_AREA), np.uint8)
    grey = cv2.cvtColor(light, cv2.COLOR_RGB2GRAY)
    detail = cv2.absdiff(grey, cv2.GaussianBlur(grey, (0, 0), 1.0)).astype(np.float32)
    mean = cv2.blur(cv2.resize(detail, size, interpolation=cv2.INTER_AREA), (5, 5))
    calm = np.quantile(mean[::4, ::4], 0.25)
    return np.asarray(np.log((mean + 0.3) / (calm + np.float32(0.3))), np.float32)
