"""Ten marks in one telephone picture, as the speed of the calibration is measured on."""

from __future__ import annotations

import numpy as np

from skyview.calibrate.marks import PosePrior, Sights
from skyview.camera.pose import Camera


def ten_marks(phone: Camera) -> tuple[PosePrior, Sights]:
    """What is known before, and marks clicked with an error of one pixel."""
    random = np.random.default_rng(4)
    x, y = random.uniform(300, 3700, 10), random.uniform(900, 2100, 10)
    azimuth, elevation = phone.directions(x, y)
    distance = np.full(10, 2e3)
    sights = Sights(
        *(x + random.standard_normal(10), y + random.standard_normal(10), np.full(10, 1.0)),
        *(azimuth, elevation, 3.0 / distance, 3.0 / distance, distance),
    )
    prior = PosePrior(
        *(2.2, 0.17, 0.05, 0.035, 0.0, 0.035, 0.04, 1.0, 5.0), camera_sigma_m=0.2, k1_sigma=0.01
    )
    return prior, sights
