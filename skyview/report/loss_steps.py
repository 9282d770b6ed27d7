"""The steps of loss that the plates show, and the loss as they show it: calm enough to be read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, label, maximum

from skyview.angles import Array
from skyview.survey.loss_view import LossLayer
from skyview.survey.results import Plate

LEAST_BLUR_DEG = 0.5
SPECK_DEG2 = 3.0
FAINT_DB = 0.3
"""What is too fine to be read is not drawn: our own choice, and the sheet says so."""

_HAIR_DB = 1e-3


@dataclass(frozen=True)
class Step:
    """One line of equal loss, and the tint above it."""

    level_db: float
    opacity: float
    weight: float
    dash: tuple[float, ...] | None = None


STEPS = (
    Step(1.0, 0.16, 1.5),
    Step(6.0, 0.30, 3.4),
    Step(12.0, 0.44, 2.0, (8.0, 4.0)),
    Step(20.0, 0.58, 1.2),
)
"""The steps of loss, and how each is drawn: weights and dashes in px at scale 1."""


def drawn_loss(layer: LossLayer, plate: Plate) -> Array:
    """The layer's loss as it is drawn, NaN where no photograph reaches. (rows, columns) [dB]

    The power is averaged over what the calibration leaves open, at least `LEAST_BLUR_DEG`; then
    islands and gaps of a step that are smaller than `SPECK_DEG2`, or rise or sink less than
    `FAINT_DB` from its line, are levelled.
    """
    step = [layer.elevation_deg[1] - layer.elevation_deg[0]]
    step += [layer.azimuth_deg[1] - layer.azimuth_deg[0]]
    sigma = [plate.elevation_sigma_deg, plate.azimuth_sigma_deg]
    blur = [max(s, LEAST_BLUR_DEG) / d for s, d in zip(sigma, step, strict=True)]
    power = gaussian_filter(10.0 ** (-layer.loss_db / 10.0), blur, mode="nearest")
    loss = -10.0 * np.log10(np.maximum(power, 1e-16))
    for level in STEPS:
        loss = _without_specks(loss, level.level_db, SPECK_DEG2 / (step[0] * step[1]))
        loss = -_without_specks(-loss, -level.level_db, SPECK_DEG2 / (step[0] * step[1]))
    azimuth, elevation = np.meshgrid(layer.azimuth_deg, layer.elevation_deg)
    x, _ = plate.pixel_of(azimuth, elevation)
    return np.where(np.isfinite(x), loss, np.nan)


def _without_specks(height: Array, level: float, cells: float) -> Array:
    """Heights with small or faint islands above a level brought down to it."""
    island, count = label(height > level)
    every = np.arange(1, count + 1)
    small = np.bincount(island.ravel(), minlength=count + 1)[1:] < cells
    faint = maximum(height, island, every) < level + FAINT_DB if count else small
    gone = np.concatenate([[False], small | faint])[island]
    return np.where(gone, level - _HAIR_DB, height)
