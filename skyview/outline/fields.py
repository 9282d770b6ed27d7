"""Colours that vary slowly over a picture: of the sky, of what stands before it.

Everything here works on planes (h, w, 3) float32 with weights (h, w), and knows nothing of
what they mean.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from skyview.outline.coarse import Plane

RIDGE = (1e-6, 0.004, 0.004, 0.03, 0.03, 0.03)
"""How firmly 1, x, y, x^2, xy, y^2 are held back where the sky is small: our own choice."""

TREND_SIDE_PX = 80
"""A surface so smooth is fitted on a copy of this size."""


def trend(values: Plane, weight: Plane) -> Plane:
    """Robust quadratic surface through the weighted values, over the whole picture.

    >>> tilted = np.tile(np.linspace(0, 9, 50, dtype=np.float32)[:, None, None], (1, 40, 3))
    >>> half = np.zeros((50, 40), np.float32); half[:30] = 1
    >>> bool(abs(trend(tilted, half) - tilted)[:30].max() < 0.5)
    True
    """
    height, width = weight.shape
    size = (min(width, TREND_SIDE_PX), min(height, TREND_SIDE_PX))
    wanted = cv2.resize(values, size, interpolation=cv2.INTER_NEAREST).reshape(-1, 3).astype(float)
    known = cv2.resize(weight, size, interpolation=cv2.INTER_NEAREST).ravel().astype(float)
    design = _terms(*size)
    ridge = np.diag(RIDGE) * max(known.sum(), 1.0)
    trust, solution = known, np.zeros((6, 3))
    for _ in range(3):
        weighted = design * trust[:, None]
        solution = np.linalg.solve(weighted.T @ design + ridge, weighted.T @ wanted)
        error = ((wanted - design @ solution) ** 2).sum(1)
        usual = np.median(error[known > 0.5]) if (known > 0.5).any() else 1.0
        trust = known / (1.0 + error / (1e-3 + usual))
    surface = (design @ solution).astype(np.float32).reshape(size[1], size[0], 3)
    return np.asarray(cv2.resize(surface, (width, height)), np.float32)


def _terms(width: int, height: int) -> NDArray[np.float64]:
    y, x = np.meshgrid(np.linspace(-1.0, 1.0, height), np.linspace(-1.0, 1.0, width), indexing="ij")
    terms = [np.ones_like(x), x, y, x * x, x * y, y * y]
    return np.stack([term.ravel() for term in terms], axis=-1)


def length(values: Plane) -> Plane:
    """Length of the vectors (h, w, 3) of a plane. (h, w)"""
    return np.sqrt(summed(values * values))


def summed(values: Plane) -> Plane:
    """Sum over the three channels of a plane. (h, w)"""
    return np.asarray(cv2.transform(values, np.ones((1, 3), np.float32)))


def local_mean(values: Plane, weight: Plane, sizes_px: tuple[float, ...]) -> tuple[Plane, Plane]:
    """Weighted mean of the neighbourhood, and its variance summed over channels.

    The finest of ``sizes_px`` (Gaussian sigmas, ascending) that has support is taken; where
    none has, the coarsest. Worked out at half the size, since it is smooth.
    """
    height, width = weight.shape
    half = (max(2, width // 2), max(2, height // 2))
    square = summed(values * values)[..., None]
    stacked = np.concatenate([values, square], axis=-1) * weight[..., None]
    small, known = (
        np.asarray(cv2.resize(p, half, interpolation=cv2.INTER_AREA), np.float32)
        for p in (stacked, weight)
    )
    mean: Plane | None = None
    for size in reversed(sizes_px):
        support = _blurred(known, size / 2.0)[..., None]
        here = _blurred(small, size / 2.0) / (support + 1e-6)
        share = np.clip(support / 0.15, 0.0, 1.0)
        mean = here if mean is None else mean + share * (here - mean)
    assert mean is not None
    full = cv2.resize(mean, (width, height), interpolation=cv2.INTER_LINEAR)
    mean = np.ascontiguousarray(full[..., :3])
    return mean, np.maximum(full[..., 3] - summed(mean * mean), 0.0)


def _blurred(values: Plane, sigma_px: float) -> Plane:
    """Gaussian blur of up to four channels; wide ones on a smaller copy."""
    height, width = values.shape[:2]
    shrink = max(1, int(sigma_px / 3.0))
    size = (max(2, width // shrink), max(2, height // shrink))
    small = values if shrink == 1 else cv2.resize(values, size, interpolation=cv2.INTER_AREA)
    border = cv2.BORDER_REPLICATE
    blurred = cv2.GaussianBlur(small, (0, 0), sigma_px / shrink, borderType=border)
    return np.asarray(blurred if shrink == 1 else cv2.resize(blurred, (width, height)))


def sky_field(values: Plane, weight: Plane, sizes_px: tuple[float, ...]) -> tuple[Plane, Plane]:
    """What the sky looks like everywhere, also where something hides it; and its variance."""
    surface = trend(values, weight)
    rest, variance = local_mean(values - surface, weight, sizes_px)
    return surface + rest, variance
