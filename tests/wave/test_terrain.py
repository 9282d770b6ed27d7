"""Bullington and delta-Bullington against shared/link_checks.csv."""

from __future__ import annotations

import numpy as np
import pytest
from check_rows import rows
from hypothesis import given
from hypothesis import strategies as st

from skyview.errors import InputError
from skyview.wave.earth import smooth_earth_loss_db
from skyview.wave.terrain import (
    Profile,
    bullington_loss_db,
    delta_bullington_loss,
    skyline_from_receiver,
    smooth_surface_amsl_m,
)

FIELDS = {
    "bullington_actual": "bullington_db",
    "bullington_smooth": "bullington_smooth_db",
    "spherical": "smooth_earth_db",
    "delta_bullington": "loss_db",
}


def profile_of(row):
    text = row.inputs["profile"]
    if text.startswith("flat"):
        d = np.arange(61.0 if "0..60" in text else 101.0)
        return Profile(1e3 * d, np.zeros_like(d))
    d = np.arange(41.0)
    return Profile(1e3 * d, np.where(d == 30, 220.0, 100.0))


@pytest.mark.parametrize(
    ("shape", "part"),
    [(s, p) for s in ("flat", "ridge") for p in FIELDS if (s, p) != ("flat", "bullington_smooth")],
)
def test_synthetic_profiles(shape, part):
    """Code that reproduces all 20 validation cases of ITU-R Study Group 3."""
    for row in rows(f"synthetic_{shape}_{part}"):
        loss = delta_bullington_loss(
            profile_of(row),
            row.number("htx_amsl_m"),
            row.number("hrx_amsl_m"),
            row.number("f_MHz"),
            radius_m=1e3 * row.number("ae_km"),
        )
        assert getattr(loss, FIELDS[part]) == pytest.approx(row.value, abs=row.tolerance)


def test_many_paths_at_once_are_the_same_as_one_by_one():
    d = np.linspace(0.0, 1.0, 50) * np.array([[30e3], [60e3], [90e3]])
    ground = 100.0 * np.abs(np.sin(d / 7e3))
    h_t, h_r, f = np.array([150.0, 300.0, 500.0]), np.array([20.0, 130.0, 60.0]), 599.0
    together = delta_bullington_loss(Profile(d, ground), h_t, h_r, f).loss_db
    apart = [
        delta_bullington_loss(Profile(d[i], ground[i]), h_t[i], h_r[i], f).loss_db for i in range(3)
    ]
    np.testing.assert_allclose(together, apart, rtol=1e-12)


def test_over_flat_ground_it_is_the_smooth_earth_where_that_costs_more():
    flat = Profile(np.linspace(0.0, 100e3, 201), np.zeros(201))
    loss = delta_bullington_loss(flat, 300.0, 10.0, 195.0)
    sphere = smooth_earth_loss_db(100e3, 300.0, 10.0, 195.0)
    assert loss.loss_db == pytest.approx(float(sphere), abs=1e-9)


def test_the_smooth_surface_of_a_slope_is_the_slope():
    d = np.linspace(0.0, 40e3, 81)
    ends = smooth_surface_amsl_m(Profile(d, 20.0 + d / 1e3), 200.0, 200.0)
    np.testing.assert_allclose(ends, [20.0, 60.0])


@given(st.floats(0.0, 400.0), st.floats(1.0, 100.0), st.floats(45.0, 900.0))
def test_a_higher_ridge_never_costs_less(ridge, more, frequency):
    d = np.linspace(0.0, 40e3, 41)
    ground = np.where(np.arange(41) == 30, np.array([[ridge], [ridge + more]]), 0.0)
    low, high = bullington_loss_db(Profile(d, ground), 300.0, 10.0, frequency)
    assert high >= low - 1e-9


def test_skyline_of_a_hill():
    """A hill 90 m above the eye 4 km away: 1.289 deg less 4 km / (2 x 8495 km) = 0.0135 deg."""
    d = np.arange(0.0, 20.5e3, 500.0)
    ground = np.where(d == 16e3, 100.0, 0.0)
    angle, away = skyline_from_receiver(Profile(d, ground), 10.0)
    assert np.degrees(angle) == pytest.approx(np.degrees(np.arctan(90 / 4e3)) - 0.01349, abs=1e-4)
    assert away == 4e3


@pytest.mark.parametrize("distance", [[0.0, 1e3], [1.0, 2.0, 3.0], [0.0, 2e3, 2e3]])
def test_a_profile_that_does_not_rise_from_0_is_refused(distance):
    with pytest.raises(InputError, match="distance_m: the distances of a terrain profile"):
        Profile(np.array(distance), np.zeros(len(distance)))
