"""Covered shares of cells against polygon clipping by a geometry library (shapely)."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from skyview.wave.coverage import cell_coverage


def star(seed, corners=40):
    draw = np.random.default_rng(seed)
    turn = np.sort(draw.uniform(0.0, 2.0 * np.pi, corners))
    radius = draw.uniform(1.0, 6.0, corners)
    return np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1)


def clipped(polygon, x_lines, y_lines):
    low_x, low_y = np.meshgrid(x_lines[:-1], y_lines[:-1])
    high_x, high_y = np.meshgrid(x_lines[1:], y_lines[1:])
    cells = shapely.box(low_x, low_y, high_x, high_y)
    return shapely.area(shapely.intersection(cells, shapely.Polygon(polygon))) / shapely.area(cells)


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 10_000), st.booleans())
def test_every_share_is_that_of_polygon_clipping(seed, turned):
    draw = np.random.default_rng(seed)
    polygon = star(seed)[:: -1 if turned else 1]
    x_lines, y_lines = np.sort(draw.uniform(-5.0, 5.0, 24)), np.sort(draw.uniform(-4.0, 7.0, 20))
    share = cell_coverage(polygon, x_lines, y_lines)
    np.testing.assert_allclose(share, clipped(polygon, x_lines, y_lines), rtol=0, atol=1e-9)


def test_lines_through_the_vertices():
    polygon = np.array([[0, 0], [4, 0], [4, 3], [2, 1], [1, 3], [0, 3]], dtype=float)
    lines = np.arange(5.0)
    share = cell_coverage(polygon, lines, lines[:4])
    np.testing.assert_allclose(share, clipped(polygon, lines, lines[:4]), rtol=0, atol=1e-12)


def test_a_keyholed_ring_leaves_its_hole_open():
    ring = np.array(
        [[0, 0], [3, 0], [3, 3], [0, 3], [0, 0], [1, 1], [1, 2], [2, 2], [2, 1], [1, 1]], float
    )
    share = cell_coverage(ring, np.arange(4.0), np.arange(4.0))
    expected = np.ones((3, 3))
    expected[1, 1] = 0.0
    np.testing.assert_allclose(share, expected, atol=1e-12)


@pytest.mark.parametrize("away", [[50.0, 0.0], [-50.0, 0.0], [0.0, 50.0], [0.0, -50.0]])
def test_a_shape_beside_the_grid_covers_nothing(away):
    lines = np.linspace(-5.0, 5.0, 11)
    assert cell_coverage(star(1) + away, lines, lines).max() < 1e-12


def test_a_shape_beyond_the_grid_on_all_sides_covers_everything():
    lines = np.linspace(-0.5, 0.5, 7)
    far = 1e6 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    np.testing.assert_allclose(cell_coverage(far, lines, lines), 1.0, atol=1e-9)
