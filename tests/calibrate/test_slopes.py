"""Analytic slopes against central differences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from skyview.calibrate.marks import Lines, Picture, PosePrior, Sights, Ties
from skyview.calibrate.problem import Problem
from skyview.calibrate.slopes import NAMES, camera_at, directions_and_slopes
from skyview.camera.projections import Cylindrical, Equirectangular, Fisheye, Rectilinear
from skyview.camera.sweep import Swept

BASE = NAMES[:4]
SWEPT = Swept(1200.0, (2500.0, 700.0), 0.01, (0.01, 0.02, -0.01), (0.0, 5000.0))
PICTURES = {
    "rectilinear": (Rectilinear(2900.0, (2016.0, 1512.0), -0.05, 0.01), (*BASE, "k1")),
    "cylindrical": (Cylindrical(1200.0, (2500.0, 700.0)), NAMES),
    "swept": (SWEPT, (*NAMES, "log_aspect", "stretch_2", "stretch_3", "stretch_4")),
    "equirectangular": (
        Equirectangular((4096.0, 1600.0), -3.0, 3.0, 1.0, -0.5),
        (*BASE, "log_aspect"),
    ),
    "fisheye": (Fisheye(1200.0, (2016.0, 1512.0)), BASE),
}
POSE = {"yaw": 1.0, "pitch": 0.1, "roll": -0.2, "log_scale": 0.03, "level_row_px": 730.0}
BEYOND = {"k1": -0.03, "log_aspect": 0.02, "stretch_2": 0.01, "stretch_3": 0.02, "stretch_4": -0.01}
STEP = {"level_row_px": 1e-3}


@pytest.mark.parametrize("kind", PICTURES)
def test_slopes_of_rays(kind):
    projection, names = PICTURES[kind]
    random = np.random.default_rng(1)
    x = np.append(random.uniform(100.0, 3900.0, 8), 2016.0)
    y = np.append(random.uniform(100.0, 1500.0, 8), 1512.0)
    vector = np.array([(POSE | BEYOND)[name] for name in names])
    ray, by_name, by_pixel = directions_and_slopes(projection, vector, names, x, y)
    camera = camera_at(projection, vector, names)
    np.testing.assert_allclose(ray, camera.rays(x, y), atol=1e-12)
    for index, name in enumerate(names):
        step = np.zeros(vector.size)
        step[index] = STEP.get(name, 1e-6)
        high = camera_at(projection, vector + step, names).rays(x, y)
        low = camera_at(projection, vector - step, names).rays(x, y)
        slope = (high - low) / (2.0 * step[index])
        np.testing.assert_allclose(by_name[..., index], slope, rtol=1e-6, atol=1e-8, err_msg=name)
    for index, (dx, dy) in enumerate(((0.01, 0.0), (0.0, 0.01))):
        slope = (camera.rays(x + dx, y + dy) - camera.rays(x - dx, y - dy)) / 0.02
        np.testing.assert_allclose(by_pixel[..., index], slope, atol=1e-9)


def test_slopes_of_every_kind_of_residual():
    """Sights near and far, level points, plumb lines, shadows, ties, in two pictures."""
    prior = PosePrior(
        *(0.5, 0.17, 0.0, 0.03, 0.0, 0.03, 0.04, 200.0, 5.0), camera_sigma_m=0.2, k1_sigma=0.01
    )
    sights = Sights(
        x_px=np.array([500.0, 1500.0, 2500.0, 3000.0]),
        y_px=np.array([1400.0, 1300.0, 1500.0, 1200.0]),
        sigma_px=np.full(4, 2.0),
        azimuth=np.array([0.1, 0.4, np.nan, 0.8]),
        elevation=np.array([0.05, np.nan, 0.0, 0.2]),
        azimuth_sigma=np.full(4, 0.01),
        elevation_sigma=np.full(4, 0.01),
        distance_m=np.array([30.0, np.inf, np.inf, 400.0]),
    )
    lines = Lines(
        x_px=np.array([[1000.0, 1020.0], [2000.0, 2600.0]]),
        y_px=np.array([[900.0, 1900.0], [2700.0, 2500.0]]),
        sigma_px=np.full(2, 2.0),
        azimuth=np.array([np.nan, 2.0]),
        sigma=np.full(2, 0.004),
    )
    lens = Rectilinear(2900.0, (2016.0, 1512.0))
    pictures = [
        Picture(lens, prior, sights, lines),
        Picture(Cylindrical(1200.0, (2000.0, 1500.0)), replace(prior, yaw=0.6), sights),
    ]
    ties = Ties(
        picture=np.array([[0, 1]]),
        x_px=np.array([[2200.0, 2100.0]]),
        y_px=np.array([[1400.0, 1450.0]]),
        sigma_px=np.full((1, 2), 2.0),
        baseline_m=np.array([[3.0, 1.0, 0.5]]),
        baseline_sigma_m=np.array([0.3]),
    )
    problem = Problem(pictures, ties)
    x = problem.mean + 0.3 * problem.sigma * np.random.default_rng(2).standard_normal(problem.size)
    slope = problem.linear(x).slope
    for index in range(problem.size):
        step = np.zeros(problem.size)
        step[index] = 1e-5 * problem.sigma[index]
        high, low = problem.linear(x + step).residual, problem.linear(x - step).residual
        by_step = (high - low) / (2.0 * step[index])
        np.testing.assert_allclose(slope[:, index], by_step, rtol=2e-5, atol=1e-7)
    assert slope.shape[0] == 3 + 3 + 2 + 3 + 3 + 2
