"""Elevation over the curved earth, dip and horizon against the published angles."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.constants import EARTH_RADIUS_M, OPTICAL_K, RADIO_K
from skyview.place.elevation import (
    MINIMUM_STATION_HEIGHT_M,
    beyond_horizon,
    elevation_over_earth,
    horizon_dip,
    horizon_distance_m,
    optical_elevation,
    smooth_level_amsl_m,
)

HEIGHT_M = st.floats(0.5, 3000.0)
DISTANCE_M = st.floats(5e3, 150e3)


def row_elevation_deg(row):
    return np.degrees(
        elevation_over_earth(
            row.number("h_obs_m"), row.number("h_top_m"), 1e3 * row.number("d_km"), row.number("k")
        )
    )


def test_elevation_matches_the_published_rows(angle_rows):
    """Spherical triangle with effective radius k x 6371 km; k = 1, 7/6 and 4/3."""
    rows = angle_rows("target_elevation")
    assert {round(row.number("k"), 9) for row in rows} == {1.0, 1.166666667, 1.333333333}
    for row in rows:
        assert float(row_elevation_deg(row)) == pytest.approx(row.value, abs=row.tolerance)


def test_parabola_of_the_recommendation_agrees_within_the_published_tolerance(angle_rows):
    """Rec. ITU-R P.1812-6, eqs (77) and (78), inside the arctangent."""
    for row in angle_rows("target_elevation"):
        d = 1e3 * row.number("d_km")
        slope = (row.number("h_top_m") - row.number("h_obs_m")) / d
        parabola = np.degrees(np.arctan(slope - d / (2.0 * row.number("k") * EARTH_RADIUS_M)))
        assert float(row_elevation_deg(row)) == pytest.approx(parabola, abs=row.second_tolerance)


def test_radio_and_light_use_their_own_k(angle_rows):
    """Radio less light from 10 m to 310 m, published differences."""
    for row in angle_rows("elevation_difference_radio_minus_light"):
        d = 1e3 * row.number("d_km")
        difference = elevation_over_earth(10.0, 310.0, d) - optical_elevation(10.0, 310.0, d)
        assert float(np.degrees(difference)) == pytest.approx(row.value, abs=row.tolerance)


@given(HEIGHT_M, HEIGHT_M, DISTANCE_M, st.sampled_from([1.0, OPTICAL_K, RADIO_K]))
def test_elevation_is_that_of_the_straight_line_between_points_on_a_circle(h1, h2, d, k):
    radius = k * EARTH_RADIUS_M
    there = (radius + h2) * np.array([np.sin(d / radius), np.cos(d / radius)])
    across, up = there - np.array([0.0, radius + h1])
    assert float(elevation_over_earth(h1, h2, d, k)) == pytest.approx(
        np.arctan2(up, across), abs=1e-11
    )


@pytest.mark.parametrize(("to_m", "expected"), [(20.0, np.pi / 2), (5.0, -np.pi / 2), (10.0, 0.0)])
def test_no_distance_is_straight_up_or_down(to_m, expected):
    assert float(elevation_over_earth(10.0, to_m, 0.0)) == pytest.approx(expected, abs=1e-15)


def test_elevation_broadcasts():
    found = elevation_over_earth(np.array([[5.0], [10.0]]), np.array([50.0, 60.0, 70.0]), 2e4)
    assert found.shape == (2, 3)
    assert found[1, 1] == elevation_over_earth(10.0, 60.0, 2e4)


def test_dip_matches_the_published_rows(angle_rows):
    """arccos(kR / (kR + h))."""
    for row in angle_rows("horizon_dip"):
        dip_deg = float(np.degrees(horizon_dip(row.number("h_m"), row.number("k"))))
        assert dip_deg == pytest.approx(row.value, abs=row.tolerance)


def test_dip_agrees_with_the_nautical_almanac(angle_rows):
    """0.0293 sqrt(h) deg; nautical practice stands for k = 1.2."""
    for row in angle_rows("horizon_dip_nautical_almanac"):
        dip_deg = float(np.degrees(horizon_dip(row.number("h_m"), 1.2)))
        assert dip_deg == pytest.approx(row.value, abs=row.tolerance)


def test_horizon_distance_matches_the_published_rows(angle_rows):
    for row in angle_rows("horizon_distance"):
        distance_km = float(horizon_distance_m(row.number("h_m"), row.number("k"))) / 1e3
        assert distance_km == pytest.approx(row.value, abs=row.tolerance)


@given(st.floats(0.0, 5000.0), st.sampled_from([1.0, OPTICAL_K, RADIO_K]))
def test_dip_is_the_angle_whose_cosine_is_the_ratio_of_radii(height_m, k):
    dip = float(horizon_dip(height_m, k))
    assert np.cos(dip) == pytest.approx(
        k * EARTH_RADIUS_M / (k * EARTH_RADIUS_M + height_m), abs=1e-15
    )
    assert dip >= 0.0


def test_height_below_the_level_has_no_dip():
    assert horizon_dip([-5.0, 0.0]).tolist() == [0.0, 0.0]
    assert float(horizon_distance_m(-5.0)) == 0.0


@given(HEIGHT_M, HEIGHT_M)
def test_ray_touches_the_earth_at_the_reach_of_both_horizons(h1, h2):
    reach = float(horizon_distance_m(h1) + horizon_distance_m(h2))
    assert float(elevation_over_earth(h1, h2, reach)) == pytest.approx(
        -float(horizon_dip(h1)), abs=1e-10
    )
    assert float(elevation_over_earth(h2, h1, reach)) == pytest.approx(
        -float(horizon_dip(h2)), abs=1e-10
    )


@given(HEIGHT_M, HEIGHT_M, st.floats(0.5, 1.5))
def test_beyond_horizon_agrees_with_the_lowest_point_of_the_ray(h1, h2, share):
    """The ray is drawn on the effective earth, and its least height above it looked up."""
    radius = RADIO_K * EARTH_RADIUS_M
    d = share * float(horizon_distance_m(h1) + horizon_distance_m(h2))
    start = np.array([0.0, radius + h1])
    end = (radius + h2) * np.array([np.sin(d / radius), np.cos(d / radius)])
    along = np.clip(-start @ (end - start) / ((end - start) @ (end - start)), 0.0, 1.0)
    lowest_m = np.hypot(*(start + along * (end - start))) - radius
    if abs(lowest_m) > 1e-3:
        assert bool(beyond_horizon(h1, h2, d, 0.0)) is bool(lowest_m < 0.0)


@pytest.mark.parametrize(("share", "hidden"), [(0.999, False), (1.001, True)])
def test_horizon_lies_at_the_reach_of_both_heights(share, hidden):
    reach = float(horizon_distance_m(25.0) + horizon_distance_m(140.0))
    assert bool(beyond_horizon(25.0, 140.0, share * reach, 0.0)) is hidden


def test_horizon_is_counted_from_the_level_between_site_and_station():
    over_sea = beyond_horizon(412.0, 500.0, 60e3, 0.0)
    over_plateau = beyond_horizon(412.0, 500.0, 60e3, 400.0)
    assert not over_sea
    assert over_plateau


def test_beyond_horizon_broadcasts():
    hidden = beyond_horizon(10.0, np.array([100.0, 100.0]), np.array([[50e3], [60e3]]), 0.0)
    assert hidden.tolist() == [[False, False], [True, True]]


@pytest.mark.parametrize(
    ("ground_m", "station_m", "haat_m", "expected"),
    [
        (412.0, 600.0, np.nan, 412.0),
        (412.0, 600.0, 300.0, 300.0),
        (412.0, 300.0, np.nan, 300.0 - MINIMUM_STATION_HEIGHT_M),
        (412.0, 300.0, -40.0, 300.0 - MINIMUM_STATION_HEIGHT_M),
        (200.0, 600.0, 300.0, 200.0),
    ],
)
def test_smooth_level_is_the_lower_of_site_and_average_terrain(
    ground_m, station_m, haat_m, expected
):
    assert float(smooth_level_amsl_m(ground_m, station_m, haat_m)) == expected
