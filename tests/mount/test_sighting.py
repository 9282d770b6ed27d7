"""Sides and top of an outline: which points, with what covariance."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.calibrate.spread import PosedPicture
from skyview.camera.projections import Equirectangular, Rectilinear
from skyview.mount.sighting import sighting_of

SIZE = (3600, 900)
TURN = Equirectangular((3600.0, 900.0), -np.pi, np.pi, np.pi / 3, -np.pi / 6)
RING = np.array([[1900.0, 620.0], [2000.0, 600.0], [1960.0, 500.0]])


def picture(sigma_deg=(0.0, 0.0, 0.0, 0.0)):
    return PosedPicture(TURN, np.zeros(4), np.diag(np.radians(sigma_deg) ** 2))


def test_an_error_of_yaw_moves_both_sides_alike():
    seen = sighting_of(picture((0.5, 0.0, 0.0, 0.0)), [RING], 0.0, 0.0, SIZE)
    expected = np.radians(0.5) ** 2 * np.array([[1, 1, 0], [1, 1, 0], [0, 0, 0]])
    assert seen.covariance == pytest.approx(expected, abs=1e-12)


def test_clicks_are_independent_and_blur_is_a_share_of_the_width():
    seen = sighting_of(picture(), [RING], 2.0, 0.1, SIZE)
    # 0.1 deg a pixel; 10 deg wide.
    sigma = np.hypot(0.2, 1.0)
    assert np.degrees(np.sqrt(np.diag(seen.covariance))) == pytest.approx([sigma] * 3, rel=1e-3)
    assert seen.covariance[0, 1] == 0.0


def test_a_ring_across_the_seam_keeps_its_width():
    ring = RING + np.array([1700.0, 0.0])
    seen = sighting_of(picture(), [ring], 1.0, 0.0, SIZE, full_circle=True)
    assert np.degrees(seen.angles[1] - seen.angles[0]) == pytest.approx(10.0)
    assert seen.used.all()


def test_the_border_cuts_off_a_side():
    lens = Rectilinear(1500.0, (1000.0, 750.0))
    posed = PosedPicture(lens, np.zeros(4), np.zeros((4, 4)))
    ring = np.array([[0.0, 700.0], [200.0, 700.0], [120.0, 400.0]])
    assert sighting_of(posed, [ring], 1.0, 0.0, (2000, 1500)).used.tolist() == [False, True, True]
    high = ring + np.array([500.0, -400.0])
    assert sighting_of(posed, [high], 1.0, 0.0, (2000, 1500)).used.tolist() == [True, True, False]
