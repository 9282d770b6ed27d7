"""Photographed horizons whose sky was cut out by hand, as layers that any sky can be put behind.

From the Debian package stellarium-data (0.22.2-1), unpacked into the folder ``UNPACKED``: a
village's meadow, a snowy ridge with firs, a field of rape before offices. None was ever learnt
from. Their own light stays as it was; where it fits the weather badly, so do photographs that
were put together.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from skyview.outline.grain import LINEAR

UNPACKED = Path("photographs")
PLACE = "usr/share/stellarium/landscapes"
HORIZONS = {
    "guereins": ("guereins{}.png", (4, 5, 6, 7, 8, 1, 2, 3), 40.0, -21.4),
    "hurricane": ("hurricane{}.png", (5, 6, 7, 8, 1, 2, 3, 4), 75.0, -17.0),
    "garching": ("garching-gl{}.png", (1, 2, 3, 4), 63.0, -58.0),
}
"""File names, their order around the circle, degrees of elevation they span, and the lowest."""

SNOWY = ("hurricane",)
WIDTH, HEIGHT = 4096, 1024
GAIN, DISTANCE_M = 1.6, 700.0
"""Light as a multiple of the coded one, and how far off all is taken to stand: our own choice."""


def has_horizon(name: str) -> bool:
    return name in HORIZONS and (UNPACKED / PLACE / name).exists()


def horizon_layers(name: str) -> dict[str, np.ndarray]:
    """``clear``, ``even`` (H, W, 3), ``alpha`` and ``Z`` (H, W) over the full circle."""
    pattern, order, span, lowest = HORIZONS[name]
    sides = [
        cv2.imread(str(UNPACKED / PLACE / name / pattern.format(k)), cv2.IMREAD_UNCHANGED)
        for k in order
    ]
    circle = np.concatenate(sides, axis=1)
    elevation = 60.0 - (np.arange(HEIGHT) + 0.5) * 90.0 / HEIGHT
    row = (lowest + span - elevation) / span * circle.shape[0] - 0.5
    # What lies lower than the pictures reach is their foot, mirrored.
    row = np.where(row > circle.shape[0] - 1, 2.0 * (circle.shape[0] - 1) - row, row)
    column = (np.arange(WIDTH) + 0.5) * circle.shape[1] / WIDTH - 0.5
    x, y = np.meshgrid(column.astype(np.float32), row.astype(np.float32))
    alpha = circle[..., 3:].astype(np.float32) / 255.0
    light = LINEAR[circle[..., 2::-1]] * alpha
    both = np.concatenate([light, alpha], axis=-1)
    # Padded so that nothing above the pictures counts as their uppermost row.
    both = cv2.copyMakeBorder(both, 2, 0, 0, 0, cv2.BORDER_CONSTANT)
    seen = cv2.remap(both, x, y + 2, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    light, alpha = GAIN * seen[..., :3], seen[..., 3]
    layers = {"clear": light, "even": 0.8 * light, "alpha": alpha}
    return layers | {"Z": np.full(alpha.shape, DISTANCE_M, np.float32)}
