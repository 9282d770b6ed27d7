"""Pixels against rays: the camera package's lens, and slopes by small differences."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from skyview.camera.projections import Rectilinear
from skyview.sweep.rays import bearings, nearest_rotation, turned

OFFSETS = np.array([[-900.0, 600.0], [10.0, -20.0], [700.0, 300.0], [0.0, 0.0]])


@given(st.floats(700.0, 4000.0), st.integers(-50, 50))
def test_rays_are_those_of_the_camera_package(focal, thousandths):
    k1 = thousandths / 1000.0
    unit = bearings(OFFSETS, np.full(4, focal), np.full(4, k1))[0]
    expected = Rectilinear(focal, (0.0, 0.0), k1).rays(*OFFSETS.T)
    seen = np.isfinite(expected).all(axis=1)
    np.testing.assert_allclose(unit[seen], expected[seen], atol=1e-6)


def test_slopes_are_those_of_small_steps():
    focal, k1, step = np.full(4, 1500.0), np.full(4, -0.02), 1e-6
    _, by_focal, by_k1 = bearings(OFFSETS, focal, k1)
    up, down = (bearings(OFFSETS, focal * np.exp(s), k1)[0] for s in (step, -step))
    np.testing.assert_allclose(by_focal, (up - down) / (2 * step), atol=1e-7)
    up, down = (bearings(OFFSETS, focal, k1 + s)[0] for s in (step, -step))
    np.testing.assert_allclose(by_k1, (up - down) / (2 * step), atol=1e-7)


@given(st.lists(st.floats(-3.0, 3.0), min_size=3, max_size=3))
def test_a_turn_is_a_rotation_about_its_vector(vector):
    turn = turned(np.array([vector]))[0]
    np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-9)
    np.testing.assert_allclose(np.array(vector) @ turn, vector, atol=1e-9)
    np.testing.assert_allclose(nearest_rotation(turn * 1.3), turn, atol=1e-9)


def test_a_small_turn_moves_a_ray_by_the_cross_product():
    step, ray = np.array([[1e-6, -2e-6, 3e-6]]), np.array([0.2, 0.4, -0.6])
    np.testing.assert_allclose(ray @ turned(step)[0] - ray, np.cross(step[0], ray), atol=1e-11)
