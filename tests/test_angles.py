"""Wrapping of angles, and azimuth with elevation against unit vectors."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.angles import (
    azimuth_elevation_of,
    unit_from_azimuth_elevation,
    wrap_180_deg,
    wrap_360_deg,
)

ANGLE_DEG = st.floats(-1e4, 1e4)


def one_turn_apart(a_deg: float, b_deg: float) -> bool:
    turns = (a_deg - b_deg) / 360.0
    return abs(turns - round(turns)) < 1e-12


@given(ANGLE_DEG)
def test_wrap_360_keeps_the_direction_and_the_half_open_range(angle_deg):
    wrapped = float(wrap_360_deg(angle_deg))
    assert 0.0 <= wrapped < 360.0
    assert one_turn_apart(wrapped, angle_deg)


@given(ANGLE_DEG)
def test_wrap_180_keeps_the_direction_and_the_half_open_range(angle_deg):
    wrapped = float(wrap_180_deg(angle_deg))
    assert -180.0 <= wrapped < 180.0
    assert one_turn_apart(wrapped, angle_deg)


@pytest.mark.parametrize(
    ("angle_deg", "expected_360", "expected_180"),
    [
        (0.0, 0.0, 0.0),
        (360.0, 0.0, 0.0),
        (180.0, 180.0, -180.0),
        (-180.0, 180.0, -180.0),
        (540.0, 180.0, -180.0),
        (-90.0, 270.0, -90.0),
        (-1e-20, 0.0, 0.0),
    ],
)
def test_wrap_at_the_edges(angle_deg, expected_360, expected_180):
    assert float(wrap_360_deg(angle_deg)) == expected_360
    assert float(wrap_180_deg(angle_deg)) == expected_180


def test_wrap_takes_arrays_and_keeps_nan():
    wrapped = wrap_360_deg([[370.0, np.nan], [-370.0, 0.0]])
    np.testing.assert_array_equal(wrapped, [[10.0, np.nan], [350.0, 0.0]])


@pytest.mark.parametrize(
    ("azimuth_deg", "elevation_deg", "expected"),
    [
        (0.0, 0.0, (0.0, 1.0, 0.0)),
        (90.0, 0.0, (1.0, 0.0, 0.0)),
        (180.0, 0.0, (0.0, -1.0, 0.0)),
        (270.0, 0.0, (-1.0, 0.0, 0.0)),
        (123.0, 90.0, (0.0, 0.0, 1.0)),
        (123.0, -90.0, (0.0, 0.0, -1.0)),
        (90.0, 30.0, (np.sqrt(0.75), 0.0, 0.5)),
    ],
)
def test_unit_vector_of_the_cardinal_directions(azimuth_deg, elevation_deg, expected):
    vector = unit_from_azimuth_elevation(np.radians(azimuth_deg), np.radians(elevation_deg))
    np.testing.assert_allclose(vector, expected, atol=1e-15)


@given(
    st.floats(0.0, 2.0 * np.pi, exclude_max=True),
    st.floats(-np.radians(89.9), np.radians(89.9)),
    st.floats(1e-3, 1e9),
)
def test_vector_of_any_length_gives_its_angles_back(azimuth, elevation, size):
    back = azimuth_elevation_of(size * unit_from_azimuth_elevation(azimuth, elevation))
    turn = np.angle(np.exp(1j * (back[0] - azimuth)))
    assert abs(turn) < 1e-12
    assert abs(back[1] - elevation) < 1e-12


@given(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0), st.floats(-1.0, 1.0))
def test_azimuth_lies_in_the_half_open_turn(east, north, up):
    azimuth, elevation = azimuth_elevation_of([east, north, up])
    assert 0.0 <= azimuth < 2.0 * np.pi
    assert -np.pi / 2 <= elevation <= np.pi / 2


def test_azimuth_a_hair_west_of_north_stays_below_a_full_turn():
    azimuth, _ = azimuth_elevation_of([-1e-20, 1.0, 0.0])
    assert 0.0 <= azimuth < 2.0 * np.pi


def test_angles_broadcast_against_one_another():
    assert unit_from_azimuth_elevation(np.zeros((4, 1)), np.zeros(3)).shape == (4, 3, 3)
    azimuth, elevation = azimuth_elevation_of(np.ones((4, 5, 3)))
    assert azimuth.shape == elevation.shape == (4, 5)
