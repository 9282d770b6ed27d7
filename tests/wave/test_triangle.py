"""The right triangle against direct quadrature of its own definition."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.wave.fresnel import fresnel_integral
from skyview.wave.triangle import FAR_FROM_RAY, right_triangle_field

WITHIN = 1e-10
legs = st.floats(-12.0, 12.0)


def field_by_quadrature(reach: float, rise: float) -> complex:
    """The integral of the docstring, 400 Gauss-Legendre nodes on 0..rise."""
    node, weight = np.polynomial.legendre.leggauss(400)
    square = reach**2 + (rise * (node + 1.0) / 2.0) ** 2
    integrand = reach * (1.0 - np.exp(0.5j * np.pi * square)) / square
    return complex(np.sum(weight * integrand) * rise / 2.0 / (2.0 * np.pi))


@pytest.mark.parametrize("longer", [0.2, 1.0, 2.5, 3.999, FAR_FROM_RAY, 4.001, 6.0, 12.0])
@pytest.mark.parametrize("ratio", [0.001, 0.05, 0.3, 0.7, 0.999, 1.0])
def test_both_methods_match_direct_quadrature(longer, ratio):
    flat = right_triangle_field(np.array([longer]), np.array([longer * ratio]))
    steep = right_triangle_field(np.array([longer * ratio]), np.array([longer]))
    assert flat[0] == pytest.approx(field_by_quadrature(longer, longer * ratio), abs=WITHIN)
    if ratio >= 0.05:
        expected = field_by_quadrature(longer * ratio, longer)
        assert steep[0] == pytest.approx(expected, abs=WITHIN)


@given(legs, legs)
def test_two_halves_make_the_rectangle(reach, rise):
    """Product form: Rec. ITU-R P.526-15, section 5.2.1.1."""
    halves = right_triangle_field(np.array([reach, rise]), np.array([rise, reach]))
    product = fresnel_integral(reach) * fresnel_integral(rise) / 2j
    assert np.sum(halves) == pytest.approx(product, abs=WITHIN)


@given(legs, legs)
def test_the_turn_gives_the_sign(reach, rise):
    field = right_triangle_field(
        np.array([reach, -reach, reach, -reach]), np.array([rise, rise, -rise, -rise])
    )
    np.testing.assert_array_equal(field[0], [-field[1], -field[2], field[3]])


@pytest.mark.parametrize("legs_of", [(0.0, 0.0), (0.0, 3.0), (3.0, 0.0), (0.0, 3e4), (3e4, 0.0)])
def test_no_area_no_field(legs_of):
    reach, rise = legs_of
    assert right_triangle_field(np.array([reach]), np.array([rise]))[0] == 0.0


def test_a_small_triangle_is_its_area():
    """Field of a small area A [square Fresnel units] near the ray: -i A / 2."""
    field = right_triangle_field(np.array([1e-6]), np.array([2e-6]))[0]
    assert field == pytest.approx(-0.5j * 1e-12, rel=1e-9)


@pytest.mark.parametrize("reach", [0.5, 3.0, 5.0, 50.0])
def test_an_endless_rise_is_half_of_a_half_plane(reach):
    """Opening beyond a straight edge, x > reach, upper half: 1/4 of the plane less the strip."""
    half_plane_side = right_triangle_field(np.array([reach]), np.array([1e7]))[0]
    strip = fresnel_integral(reach) * (0.5 + 0.5j) / 2j
    wedge = right_triangle_field(np.array([1e7]), np.array([reach]))[0]
    assert half_plane_side + wedge == pytest.approx(strip, abs=1e-6)
    assert abs(wedge) < 1e-6
