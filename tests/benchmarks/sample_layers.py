"""The street of the sample pictures as layers, so that it can be shown under any weather.

What ``rendered_layers`` needs of a street, taken back from ``gable_circle.jpg`` and its exact
mask: its light without the sky, evened out for days without sun, and how far off everything is
(``shared/skyline/gable_depth.png``: metres are 0.2 exp((byte - 1) / 254 ln 300000), 0 = sky).
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from rendered_views import ROOT, without_sky

from skyview.outline.grain import LINEAR
from skyview.photo.pixels import read_pixels

MASKS = ROOT / "shared" / "skyline"
GAIN = 2.0
"""The street's light as a share of the sky's mean: our own choice, as all below."""


def sample_street() -> dict[str, np.ndarray]:
    """``clear``, ``even``, ``alpha`` and ``Z`` of the street seen from the gable."""
    rgb = read_pixels(ROOT / "sample_images" / "gable_circle.jpg")
    share = _grey(MASKS / "gable_sky.png").astype(np.float32) / 255.0
    clear = GAIN * without_sky(LINEAR[rgb], share)
    around = cv2.GaussianBlur(clear.mean(-1), (0, 0), 12.0)
    even = 0.8 * clear * (0.3 / (around + 0.08))[..., None] ** 0.6
    cover = 1.0 - share
    code = _grey(MASKS / "gable_depth.png").astype(np.float32)
    metres = np.where(code > 0, 0.2 * np.exp((code - 1.0) / 254.0 * np.log(3e5)), 0.0)
    depth = cv2.resize(metres, share.shape[::-1], interpolation=cv2.INTER_NEAREST)
    layers = {"clear": clear * cover[..., None], "even": even * cover[..., None]}
    return layers | {"alpha": cover, "Z": depth.astype(np.float32)}


def _grey(file: Path) -> np.ndarray:
    return cv2.imread(str(file), cv2.IMREAD_GRAYSCALE)
