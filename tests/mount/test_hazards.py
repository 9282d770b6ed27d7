"""Distances to power lines, keep-out strips, the roof's grid."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.mount.hazards import inside, level_distance_m, line_clearance_m, roof_grid

# 29 CFR 1926.1408, Table A: voltage (kV, nominal, alternating current), minimum clearance (feet).
TABLE_A = [
    (0.24, 10), (50, 10), (50.1, 15), (200, 15), (200.1, 20), (350, 20),
    (350.1, 25), (500, 25), (500.1, 35), (750, 35), (750.1, 45), (1000, 45),
]  # fmt: skip


@pytest.mark.parametrize(("voltage_kv", "feet"), TABLE_A)
def test_clearance_by_the_table(voltage_kv, feet):
    assert line_clearance_m(voltage_kv) == pytest.approx(feet * 0.3048)


def test_unknown_and_highest_voltages():
    assert line_clearance_m(None) == pytest.approx(20 * 0.3048)
    assert line_clearance_m(1000.1) == np.inf


@given(
    east=st.floats(-30.0, 30.0),
    north=st.floats(-30.0, 30.0),
    ends=st.tuples(*[st.floats(-20.0, 20.0)] * 6),
)
def test_distance_to_a_polyline_is_that_of_its_densest_points(east, north, ends):
    line = np.array(ends).reshape(3, 2)
    line[1] += [0.3, 0.1]
    line[2] += [0.7, -0.4]
    share = np.linspace(0.0, 1.0, 4001)[:, None]
    dense = np.vstack([a + share * (b - a) for a, b in pairwise(line)])
    brute = np.hypot(*(dense - [east, north]).T).min()
    found = level_distance_m(np.array([[east, north, 5.0]]), [np.column_stack([line, [8, 9, 9]])])
    assert found[0, 0] == pytest.approx(brute, abs=0.02)


def test_height_does_not_count():
    line = np.array([[0.0, 6.0, 30.0], [9.0, 6.0, 30.0]])
    assert level_distance_m(np.array([[4.0, 0.0, 6.0]]), [line])[0, 0] == pytest.approx(6.0)


def test_inside_any_of_several_rings():
    rings = [np.array([[0, 0], [1, 0], [1, 1], [0, 1]]), np.array([[5, 5], [6, 5], [5, 6]])]
    places = np.array([[0.5, 0.5], [5.2, 5.2], [5.9, 5.9], [3.0, 3.0], [1.0, 0.5]])
    assert inside(places, rings).tolist() == [True, True, False, False, True]


def test_the_grid_lies_on_both_faces_of_a_gabled_roof():
    south = np.array([[0, 0, 3], [10, 0, 3], [10, 4, 6], [0, 4, 6]], float)
    north = np.array([[0, 4, 6], [10, 4, 6], [10, 8, 3], [0, 8, 3]], float)
    grid = roof_grid([south, north], 1.0)
    assert len(grid) == 80
    expected = 6.0 - 0.75 * np.abs(grid[:, 1] - 4.0)
    assert grid[:, 2] == pytest.approx(expected)
