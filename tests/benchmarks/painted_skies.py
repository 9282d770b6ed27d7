"""Invented skies in linear light, for pictures whose sky is known exactly.

``sky`` gives (height, width, 3) float32, RGB, 1.0 about the white of the picture. Everything
comes from the generator handed in, so that a seed makes the same bytes again.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.float32]
Random = np.random.Generator

SKIES = ("blue", "overcast", "broken", "dusk", "glare", "storm", "haze", "high_cloud")


def fractal(rng: Random, height: int, width: int, coarsest_px: float, octaves: int = 6) -> Image:
    """Noise of many scales, mean 0 and spread about 1."""
    total = np.zeros((height, width), np.float32)
    weight, cell = 1.0, coarsest_px
    for _ in range(octaves):
        rows, columns = max(2, round(height / cell) + 1), max(2, round(width / cell) + 1)
        grid = rng.normal(size=(rows, columns)).astype(np.float32)
        total += weight * cv2.resize(grid, (width, height), interpolation=cv2.INTER_CUBIC)
        weight, cell = weight * 0.55, max(cell / 2.1, 2.0)
    return total / np.float32(max(float(total.std()), 1e-6))


def _ramp(height: int, width: int, top: tuple[float, ...], low: tuple[float, ...]) -> Image:
    share = np.linspace(0.0, 1.0, height, dtype=np.float32)[:, None, None] ** 1.4
    ramp = np.array(top, np.float32) * (1.0 - share) + np.array(low, np.float32) * share
    return np.broadcast_to(ramp, (height, width, 3)).copy()


def _clouds(rng: Random, height: int, width: int, threshold: float, softness: float) -> Image:
    """Cover of clouds, 0 to 1, flatter towards the horizon. (height, width)"""
    field = fractal(rng, height, width, width / rng.uniform(2.5, 6.0))
    rows = (np.linspace(0.0, 1.0, height) ** 0.7 * (height - 1)).astype(np.float32)
    columns = np.arange(width, dtype=np.float32)
    field = cv2.remap(
        field, np.tile(columns, (height, 1)), np.tile(rows[:, None], (1, width)), cv2.INTER_LINEAR
    )
    return np.clip((field - threshold) / softness, 0.0, 1.0).astype(np.float32)


def _mixed(base: Image, other: tuple[float, ...] | Image, share: Image) -> Image:
    return base + share[..., None] * (np.asarray(other, np.float32) - base)


def sky(kind: str, rng: Random, height: int, width: int) -> Image:
    """One of ``SKIES``, of this size."""
    if kind == "blue":
        depth = rng.uniform(0.7, 1.2)
        out = _ramp(height, width, (0.10 * depth, 0.22 * depth, 0.55), (0.50, 0.63, 0.80))
    elif kind == "overcast":
        level = rng.uniform(0.55, 0.95)
        out = _ramp(height, width, (level, level, 1.02 * level), (level * 0.95,) * 3)
        out *= 1.0 + rng.uniform(0.02, 0.10) * fractal(rng, height, width, width / 3)[..., None]
    elif kind == "broken":
        out = _ramp(height, width, (0.13, 0.27, 0.60), (0.45, 0.58, 0.75))
        cover = _clouds(rng, height, width, rng.uniform(-0.3, 0.5), rng.uniform(0.5, 1.1))
        shade = 0.80 + 0.12 * fractal(rng, height, width, width / 8)[..., None]
        out = _mixed(out, np.float32([1.0, 1.0, 1.02]) * shade, cover)
    elif kind == "dusk":
        warm = (rng.uniform(0.40, 0.7), rng.uniform(0.2, 0.32), rng.uniform(0.10, 0.2))
        out = _ramp(height, width, (0.035, 0.05, 0.12), warm)
        cover = _clouds(rng, height, width, 0.6, 0.8)
        out = _mixed(out, (0.10, 0.06, 0.07), 0.7 * cover)
    elif kind == "glare":
        out = _ramp(height, width, (0.18, 0.30, 0.55), (0.6, 0.68, 0.78))
        x0, y0 = rng.uniform(0.2, 0.8) * width, rng.uniform(0.1, 0.55) * height
        y, x = np.mgrid[:height, :width].astype(np.float32)
        away = np.hypot(x - x0, y - y0) / width
        out += (np.exp(-away / 0.05) * 6.0 + 0.9 * np.exp(-away / 0.22))[..., None]
    elif kind == "storm":
        out = _ramp(height, width, (0.07, 0.08, 0.10), (0.28, 0.29, 0.31))
        out *= 1.0 + rng.uniform(0.15, 0.35) * fractal(rng, height, width, width / 3)[..., None]
    elif kind == "haze":
        out = _ramp(height, width, (0.45, 0.55, 0.68), (0.80, 0.80, 0.78))
    else:
        out = _ramp(height, width, (0.15, 0.30, 0.62), (0.60, 0.68, 0.78))
        veil = _clouds(rng, height, width, -0.5, 3.0)
        out = _mixed(out, (0.85, 0.87, 0.90), 0.8 * veil)
    return np.maximum(out, 0.01).astype(np.float32)
