"""The smooth earth against shared/link_checks.csv."""

from __future__ import annotations

import numpy as np
import pytest
from check_rows import rows
from hypothesis import given
from hypothesis import strategies as st

from skyview.constants import SPEED_OF_LIGHT_M_PER_S
from skyview.wave.earth import (
    Ground,
    clearance_and_required_m,
    first_term,
    smooth_earth_loss_db,
)


def path(row):
    """Distance, heights, frequency and radius of a row, metres and megahertz."""
    return (
        1e3 * row.number("d_km"),
        row.number("h1_m"),
        row.number("h2_m"),
        row.number("f_MHz"),
    ), 1e3 * row.number("ae_km")


def test_smooth_earth_of_the_study_group():
    """Validation examples of ITU-R Study Group 3 for the delta-Bullington method, 20 paths."""
    found = rows("spherical_earth_loss_any_distance")
    assert len(found) == 20
    for row in found:
        ends, radius = path(row)
        loss = smooth_earth_loss_db(*ends, radius_m=radius)
        assert loss == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize(
    ("quantity", "term"),
    [
        ("spherical_first_term_FX", 0),
        ("spherical_first_term_GY1", 1),
        ("spherical_first_term_GY2", 2),
    ],
)
def test_terms_of_the_first_term(quantity, term):
    """The same examples; the rounded constants leave up to 0.014 dB in a term."""
    for row in rows(quantity):
        ends, radius = path(row)
        assert first_term(*ends, radius_m=radius)[term] == pytest.approx(
            row.value, abs=row.tolerance
        )


@pytest.mark.parametrize(
    ("quantity", "which"),
    [("spherical_any_distance_h_se_clearance", 0), ("spherical_any_distance_h_req", 1)],
)
def test_clearance(quantity, which):
    """The workbook's wavelength is that of 3e8 m/s."""
    for row in rows(quantity):
        (d, h1, h2, f), radius = path(row)
        frequency = f * SPEED_OF_LIGHT_M_PER_S / 3e8
        values = clearance_and_required_m(d, h1, h2, frequency, radius_m=radius)
        assert values[which] == pytest.approx(row.value, abs=row.tolerance)


def test_smooth_earth_of_the_flat_profiles():
    for row in rows("synthetic_flat_spherical"):
        length = 60e3 if "0..60" in row.inputs["profile"] else 100e3
        heights = row.number("htx_amsl_m"), row.number("hrx_amsl_m")
        loss = smooth_earth_loss_db(length, *heights, row.number("f_MHz"), radius_m=8.5e6)
        assert loss == pytest.approx(row.value, abs=row.tolerance)


def test_polarization_matters_little_over_land_and_much_over_sea():
    """beta = 1 is enough for vertical polarization above 20 MHz over land (from memory)."""
    across, upright = (
        smooth_earth_loss_db(100e3, 300.0, 10.0, [57.0, 599.0], vertical=v) for v in (False, True)
    )
    np.testing.assert_allclose(upright, across, atol=0.1)
    sea = smooth_earth_loss_db(100e3, 3.0, 3.0, 57.0, vertical=True, ground=Ground(80.0, 5.0))
    assert sea < smooth_earth_loss_db(100e3, 3.0, 3.0, 57.0, vertical=True) - 1.0


@given(st.floats(1e3, 3e5), st.floats(1.0, 1200.0), st.floats(1.0, 100.0), st.floats(45.0, 900.0))
def test_never_a_gain_and_the_same_both_ways(distance, high, low, frequency):
    there = smooth_earth_loss_db(distance, high, low, frequency)
    back = smooth_earth_loss_db(distance, low, high, frequency)
    assert there >= 0.0
    assert there == pytest.approx(float(back), abs=1e-6)


@given(st.floats(1.0, 1200.0), st.floats(1.0, 100.0), st.floats(45.0, 900.0))
def test_continuous_at_the_horizon_and_rising_with_distance(high, low, frequency):
    horizon = np.sqrt(2.0 * 8494666.7) * (np.sqrt(high) + np.sqrt(low))
    loss = smooth_earth_loss_db(
        horizon * np.array([0.9, 0.9999, 1.0001, 1.2]), high, low, frequency
    )
    assert np.all(np.diff(loss) >= -1e-9)
    assert loss[2] - loss[1] < 0.2
