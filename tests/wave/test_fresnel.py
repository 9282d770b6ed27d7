"""Zones, Fresnel integrals and the knife edge against shared/radio_checks.csv."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from knife_edge import knife_edge_loss_db, knife_edge_parameter

from skyview.constants import wavelength_m
from skyview.errors import InputError
from skyview.wave.fresnel import (
    first_zone_radius_m,
    fresnel_integral,
    knife_edge_loss_approximate_db,
    reduced_distance_m,
)


def test_first_zone_radius_matches_the_published_rows(published):
    """Rec. ITU-R P.526, section 2.1, eq. 2."""
    for row in published("fresnel_radius_F1"):
        radius = first_zone_radius_m(row.number("f_MHz"), row.number("d2_m"), row.number("d1_m"))
        assert radius == pytest.approx(row.value, abs=row.tolerance)


def test_first_zone_radius_of_a_plane_wave_is_root_wavelength_times_distance():
    assert first_zone_radius_m(600.0, 20.0, np.inf) == pytest.approx(
        np.sqrt(wavelength_m(600.0) * 20.0), rel=1e-15
    )


def test_knife_edge_parameter_from_the_height(published):
    """Rec. ITU-R P.526-15, eq. 26."""
    for row in published("knife_edge_nu_from_h"):
        nu = knife_edge_parameter(
            row.number("h_m"),
            wavelength_m(row.number("f_MHz")),
            row.number("d2_m"),
            row.number("d1_m"),
        )
        assert nu == pytest.approx(row.value, abs=row.tolerance)


def test_knife_edge_parameter_is_root_two_times_height_over_the_first_zone(published):
    for row in published("nu_at_0.6F1_clearance"):
        below = -row.number("clearance_over_F1") * first_zone_radius_m(473.0, 60.0, 40_000.0)
        nu = knife_edge_parameter(below, wavelength_m(473.0), 60.0, 40_000.0)
        assert nu == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize("quantity", ["J_exact", "J_exact_at_0.6F1_clearance"])
def test_exact_loss_matches_the_published_rows(published, quantity):
    """Rec. ITU-R P.526-15, eq. 30."""
    for row in published(quantity):
        loss = knife_edge_loss_db(row.number("nu"))
        assert loss == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize("quantity", ["J_approx", "J_approx_used_at_or_below_minus_0.78"])
def test_approximate_loss_matches_the_published_rows(published, quantity):
    """Rec. ITU-R P.526-15, eq. 31."""
    for row in published(quantity):
        loss = knife_edge_loss_approximate_db(row.number("nu"))
        assert loss == pytest.approx(row.value, abs=row.tolerance)


def test_approximation_departs_from_the_exact_loss_as_published(published):
    nu = np.linspace(-0.78, 10.0, 10_781)
    difference = knife_edge_loss_approximate_db(nu) - knife_edge_loss_db(nu)
    for quantity, extreme in (
        ("J_approx_minus_exact_largest", np.argmax(difference)),
        ("J_approx_minus_exact_smallest", np.argmin(difference)),
    ):
        (row,) = published(quantity)
        assert difference[extreme] == pytest.approx(row.value, abs=row.tolerance)
        assert nu[extreme] == pytest.approx(row.number("at_nu"), abs=0.01)


@given(st.floats(-50.0, 50.0))
def test_exact_loss_is_equation_30_written_with_c_and_s(nu):
    integral = fresnel_integral(nu)
    c, s = integral.real, integral.imag
    equation_30 = -20.0 * np.log10(np.hypot(1.0 - c - s, c - s) / 2.0)
    assert knife_edge_loss_db(nu) == pytest.approx(equation_30, abs=1e-9)


def test_deep_shadow_keeps_its_digits():
    """Far in the shadow the field tends to 1/(sqrt(2) pi nu): first term of the asymptotic series,
    NIST Digital Library of Mathematical Functions, section 7.12(ii)."""
    nu = np.array([1e3, 1e5, 1e7])
    expected = 20.0 * np.log10(np.sqrt(2.0) * np.pi * nu)
    np.testing.assert_allclose(knife_edge_loss_db(nu), expected, rtol=0, atol=1e-6)


def test_largest_gain_of_an_edge_is_1_37_db():
    """Intensity 1.370 in the first maximum behind a straight edge: optics texts, from memory."""
    gain = 10.0 ** (-np.min(knife_edge_loss_db(np.linspace(-3.0, 0.0, 3001))) / 10.0)
    assert gain == pytest.approx(1.370, abs=0.001)


@pytest.mark.parametrize(
    ("v", "c", "s"),
    [(0.5, 0.4923442, 0.0647324), (1.0, 0.7798934, 0.4382591), (2.0, 0.4882534, 0.3434157)],
)
def test_fresnel_integral_table(v, c, s):
    """Abramowitz and Stegun, Table 7.7, seven digits, from memory."""
    assert fresnel_integral(v) == pytest.approx(c + 1j * s, abs=1e-7)
    assert fresnel_integral(-v) == -fresnel_integral(v)


def test_fresnel_integral_tends_to_its_limit():
    assert fresnel_integral(np.inf) == pytest.approx(0.5 + 0.5j)
    far = np.array([1e4, 3.69e4, 3.7e4, 1e6])
    first_term = np.exp(0.5j * np.pi * far**2) / (1j * np.pi * far)
    np.testing.assert_allclose(fresnel_integral(far), 0.5 + 0.5j + first_term, rtol=0, atol=9e-6)


def test_both_ends_count_alike_and_either_may_be_at_infinity():
    assert reduced_distance_m(60.0, 4000.0) == reduced_distance_m(4000.0, 60.0)
    assert reduced_distance_m(np.inf, 60.0) == pytest.approx(60.0)
    assert knife_edge_parameter(2.0, 0.5, 16.0, np.inf) == pytest.approx(1.0)


def test_arrays_broadcast():
    radius = first_zone_radius_m(np.array([[57.0], [599.0]]), np.array([10.0, 20.0, 40.0]), np.inf)
    assert radius.shape == (2, 3)
    assert np.all(np.diff(radius, axis=1) > 0.0)
    assert np.all(radius[0] > radius[1])


@pytest.mark.parametrize("distance", [0.0, -5.0])
def test_a_distance_not_above_zero_is_named(distance):
    with pytest.raises(InputError, match=r"near_m: a distance of .* is not above zero"):
        knife_edge_parameter(1.0, 0.5, distance, np.inf)
