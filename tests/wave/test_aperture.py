"""Openings and screens against products of Fresnel integrals, closed forms and symmetries."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from knife_edge import knife_edge_loss_db, knife_edge_parameter
from one_screen import screen_field

from skyview.constants import wavelength_m
from skyview.errors import InputError
from skyview.wave.aperture import aperture_field, loss_db
from skyview.wave.fresnel import fresnel_integral

UNIT = {"wavelength_m": 2.0, "distance_m": 1.0}
"""With these a metre is a Fresnel unit."""

EXACT = 1e-9
BEYOND = 3e4
"""Fresnel units to a side that stands for infinity: 1/(pi BEYOND) of the field passes beyond it."""

coordinates = st.floats(-3000.0, 3000.0) | st.floats(-5.0, 5.0) | st.just(0.0)


def rectangle(left, right, bottom, top):
    return (
        np.stack(np.broadcast_arrays(left, right, right, left), axis=-1),
        np.stack(np.broadcast_arrays(bottom, bottom, top, top), axis=-1),
    )


def rectangle_product(left, right, bottom, top):
    """Rec. ITU-R P.526-15, section 5.2.1.1: Fresnel integrals along the two axes."""
    across = fresnel_integral(right) - fresnel_integral(left)
    upward = fresnel_integral(top) - fresnel_integral(bottom)
    return across * upward / 2j


def circle(radius, corners=720):
    """Regular polygon of the circle's area."""
    turn = 2.0 * np.pi / corners
    angle = turn * np.arange(corners)
    radius = radius * np.sqrt(turn / np.sin(turn))
    return radius * np.cos(angle), radius * np.sin(angle)


def convex_rings(seed, count, corners):
    """Convex rings of many sizes, on, near and off the ray."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0.0, 2.0 * np.pi, (count, corners)), axis=-1)
    size, centre = rng.lognormal(0.0, 1.0, (4, count, 1))[:2], rng.normal(0.0, 2.0, (2, count, 1))
    return centre[0] + size[0] * np.cos(angle), centre[1] + size[1] * np.sin(angle)


def test_published_apertures_and_screens(published):
    """Rec. ITU-R P.526-15, sections 5.2.1.1 and 5.2.2."""
    for row in published("rect_aperture_loss"):
        sides = rectangle(*row.interval("nu_x"), *row.interval("nu_y"))
        loss = loss_db(aperture_field(*sides, **UNIT))
        assert loss == pytest.approx(row.value, abs=row.tolerance)
    for row in published("rect_screen_loss_babinet"):
        sides = rectangle(*row.interval("nu_x"), *row.interval("nu_y"))
        loss = loss_db(screen_field([sides], 0.0, **UNIT))
        assert loss == pytest.approx(row.value, abs=row.tolerance)


def test_published_screens_that_stand_on_the_ground(published):
    """Rec. ITU-R P.526-15, section 5.2.2, bottom at minus infinity."""
    for row in published("finite_screen_exact_fresnel"):
        left, right, top = (row.number(f"nu_{side}") for side in ("left", "right", "top"))
        loss = loss_db(screen_field([rectangle(-left, right, -BEYOND, top)], 0.0, **UNIT))
        assert loss == pytest.approx(row.value, abs=row.tolerance)


@settings(deadline=None, max_examples=300)
@given(coordinates, coordinates, coordinates, coordinates)
def test_any_rectangle_is_a_product_of_fresnel_integrals(x0, x1, y0, y1):
    field = aperture_field(*rectangle(x0, x1, y0, y1), **UNIT)
    expected = rectangle_product(min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1))
    assert field == pytest.approx(expected, abs=EXACT)


@pytest.mark.parametrize("scale", [0.01, 0.3, 1.0, 3.0, 10.0, 100.0, 5000.0])
def test_many_rectangles_of_one_size(scale):
    left, right, bottom, top = np.random.default_rng(7).normal(0.0, scale, (4, 2000))
    left[:100], bottom[50:150] = 0.0, 0.0
    left, right = np.minimum(left, right), np.maximum(left, right)
    bottom, top = np.minimum(bottom, top), np.maximum(bottom, top)
    field = aperture_field(*rectangle(left, right, bottom, top), **UNIT)
    np.testing.assert_allclose(
        field, rectangle_product(left, right, bottom, top), rtol=0, atol=EXACT
    )


@pytest.mark.parametrize("through_the_ray", [False, True])
@pytest.mark.parametrize("scale", [0.3, 1.0, 2.0])
def test_triangles_against_quadrature_over_their_area(scale, through_the_ray):
    """-i/2 times the integral of exp(i pi r^2/2) over the area, 120 x 120 Gauss-Legendre nodes."""
    node, weight = np.polynomial.legendre.leggauss(120)
    node, weight = (node + 1.0) / 2.0, weight / 2.0
    rng = np.random.default_rng(11)
    for _ in range(15):
        corner = scale * rng.normal(size=(3, 2))
        if through_the_ray:
            corner[0] = -rng.uniform(0.0, 1.0) * corner[1]
        a, b, c = corner
        s, r = node[:, None, None], node[None, :, None]
        place = a + s * (b - a) + s * r * (c - b)
        wave = np.exp(0.5j * np.pi * np.sum(place**2, axis=-1)) * node[:, None]
        twice_area = abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0])
        expected = -0.5j * twice_area * np.einsum("i,j,ij->", weight, weight, wave)
        field = aperture_field(corner[:, 0], corner[:, 1], **UNIT)
        assert field == pytest.approx(expected, abs=EXACT)


def test_a_huge_screen_is_a_knife_edge():
    """Rec. ITU-R P.526-15, eq. 30."""
    nu = np.linspace(-3.0, 5.0, 81)
    field = screen_field([rectangle(-BEYOND, BEYOND, -BEYOND, nu)], 0.0, **UNIT)
    np.testing.assert_allclose(loss_db(field), knife_edge_loss_db(nu), rtol=0, atol=5e-3)
    whole = aperture_field(*rectangle(-BEYOND, BEYOND, -BEYOND, BEYOND), **UNIT)
    assert whole == pytest.approx(1.0, abs=4.0 / (np.pi * BEYOND))


def test_a_tilted_roof_line_is_a_knife_edge():
    """A half plane whose edge runs at 30 degrees, 1.3 m above the ray, in metres at 599 MHz."""
    wavelength, distance = wavelength_m(599.0), 25.0
    x, y = rectangle(-2e4, 2e4, -2e4, 1.3)
    tilt = np.exp(1j * np.radians(30.0)) * (x + 1j * y)
    field = screen_field([(tilt.real, tilt.imag)], 0.0, wavelength, distance)
    nu = knife_edge_parameter(1.3, wavelength, distance, np.inf)
    assert loss_db(field) == pytest.approx(knife_edge_loss_db(nu), abs=5e-3)


@pytest.mark.parametrize("radius", [0.5, 1.0, 2.0, 3.0])
def test_behind_an_opaque_disc_there_is_a_bright_spot(radius):
    """On the axis of a disc the field is exp(i pi a^2/2), of modulus 1: closed form of the radial
    integral (the spot of Arago and Poisson)."""
    field = screen_field([circle(radius)], 0.0, **UNIT)
    assert field == pytest.approx(np.exp(0.5j * np.pi * radius**2), abs=1e-7)
    assert loss_db(field) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("radius", [0.5, 1.0, np.sqrt(2.0), 2.0, 3.0])
def test_round_opening_swings_between_0_and_2(radius):
    """|1 - exp(i pi a^2/2)| = 2 |sin(pi a^2/4)|; 2 for one zone, 0 for two."""
    field = aperture_field(*circle(radius), **UNIT)
    assert abs(field) == pytest.approx(2.0 * abs(np.sin(np.pi * radius**2 / 4.0)), abs=1e-7)


def test_blocking_the_second_zone_alone_adds_9_5_db():
    """A ring over the second zone takes -2 away from 1: a field of 3."""
    field = screen_field([circle(2.0), circle(np.sqrt(2.0))], 0.0, **UNIT)
    assert field == pytest.approx(3.0, abs=1e-7)
    half = screen_field([circle(2.0), circle(np.sqrt(2.0))], 0.5, **UNIT)
    assert half == pytest.approx(2.0, abs=1e-7)


def test_screen_and_opening_of_one_shape_add_to_free_space():
    """Babinet's principle."""
    ring = convex_rings(1, 200, 7)
    opaque = screen_field([ring], 0.0, **UNIT)
    np.testing.assert_allclose(opaque + aperture_field(*ring, **UNIT), 1.0, rtol=0, atol=1e-15)
    np.testing.assert_array_equal(screen_field([ring], 1.0, **UNIT), 1.0)


def test_orientation_padding_and_starting_vertex_do_not_matter():
    x, y = convex_rings(2, 500, 8)
    field = aperture_field(x, y, **UNIT)
    for order in (
        np.arange(8)[::-1],
        np.roll(np.arange(8), 3),
        np.append(np.arange(8), 0),
        np.repeat(np.arange(8), 3),
        np.append(np.arange(8), [7] * 9),
    ):
        again = aperture_field(x[:, order], y[:, order], **UNIT)
        np.testing.assert_allclose(again, field, rtol=0, atol=1e-14)


def test_a_vertex_on_an_edge_does_not_matter():
    x, y = convex_rings(3, 500, 6)
    share = 0.37
    along_x = np.stack([x, x + share * (np.roll(x, -1, -1) - x)], axis=-1).reshape(500, 12)
    along_y = np.stack([y, y + share * (np.roll(y, -1, -1) - y)], axis=-1).reshape(500, 12)
    np.testing.assert_allclose(
        aperture_field(along_x, along_y, **UNIT), aperture_field(x, y, **UNIT), rtol=0, atol=EXACT
    )


def test_two_parts_of_a_shape_add():
    x, y = convex_rings(4, 500, 9)
    first, second = np.arange(0, 5), np.append(np.arange(4, 9), 0)
    parts = sum(aperture_field(x[:, part], y[:, part], **UNIT) for part in (first, second))
    np.testing.assert_allclose(parts, aperture_field(x, y, **UNIT), rtol=0, atol=EXACT)


def test_an_l_shape_is_two_rectangles():
    corner_x, corner_y = (
        np.array([-1.0, 2.0, 2.0, 0.5, 0.5, -1.0]),
        np.array([-2, -2, 0.3, 0.3, 3, 3]),
    )
    expected = rectangle_product(-1.0, 2.0, -2.0, 0.3) + rectangle_product(-1.0, 0.5, 0.3, 3.0)
    assert aperture_field(corner_x, corner_y, **UNIT) == pytest.approx(expected, abs=EXACT)


@pytest.mark.parametrize("turn_deg", [1e-6, 17.0, 90.0, 211.0])
def test_turning_the_shape_round_the_ray_does_not_matter(turn_deg):
    x, y = convex_rings(5, 500, 6)
    turned = np.exp(1j * np.radians(turn_deg)) * (x + 1j * y)
    field = aperture_field(turned.real, turned.imag, **UNIT)
    np.testing.assert_allclose(field, aperture_field(x, y, **UNIT), rtol=0, atol=EXACT)


@pytest.mark.parametrize("factor", [0.01, 0.5, 30.0])
def test_the_same_fresnel_numbers_give_the_same_field(factor):
    x, y = convex_rings(6, 200, 6)
    field = aperture_field(x, y, 0.5, 20.0, 900.0)
    all_longer = aperture_field(x * factor, y * factor, 0.5 * factor, 20 * factor, 900 * factor)
    np.testing.assert_allclose(all_longer, field, rtol=0, atol=EXACT)
    farther = aperture_field(x * factor, y * factor, 0.5, 20 * factor**2, 900 * factor**2)
    np.testing.assert_allclose(farther, field, rtol=0, atol=EXACT)


def test_antenna_and_transmitter_may_change_places():
    x, y = convex_rings(7, 200, 6)
    np.testing.assert_allclose(
        aperture_field(x, y, 0.5, 20.0, 900.0),
        aperture_field(x, y, 0.5, 900.0, 20.0),
        rtol=0,
        atol=1e-12,
    )
    np.testing.assert_allclose(
        aperture_field(x, y, 0.5, 20.0, 1e15), aperture_field(x, y, 0.5, 20.0), rtol=0, atol=1e-12
    )


@pytest.mark.parametrize("ray_height_m", [5.0, 9.0, 10.0])
def test_a_thin_pole_costs_less_than_one_db(ray_height_m):
    """0.3 m wide, 10 m high, 20 m away, 600 MHz: a tenth of the first zone's radius across. An
    endless strip of that width costs 0.6 dB by the product of Fresnel integrals."""
    pole = rectangle(-0.15, 0.15, -ray_height_m, 10.0 - ray_height_m)
    loss = loss_db(screen_field([pole], 0.0, wavelength_m(600.0), 20.0))
    assert 0.1 < loss < 1.0


def test_no_area_no_field():
    line = aperture_field([1.0, 2.0, 3.0, 2.0], [0.5, 1.0, 1.5, 1.0], **UNIT)
    assert line == pytest.approx(0.0, abs=1e-15)
    assert aperture_field([0.0] * 4, [0.0] * 4, **UNIT) == 0.0


def test_leading_shapes_broadcast_and_long_lists_come_out_whole():
    x, y = convex_rings(8, 3, 40)
    wavelength = np.linspace(0.4, 5.5, 300)
    field = aperture_field(x[:, None, :], y[:, None, :], wavelength, 20.0)
    assert field.shape == (3, 300)
    for ring, at in ((0, 0), (1, 203), (1, 204), (2, 299)):
        alone = aperture_field(x[ring], y[ring], wavelength[at], 20.0)
        assert alone.shape == ()
        assert field[ring, at] == pytest.approx(alone, abs=1e-15)
    shades = screen_field([(x[:, None, :], y[:, None, :])], [[0.2], [0.5], [1.0]], wavelength, 20.0)
    np.testing.assert_allclose(
        shades, 1.0 - np.array([[0.8], [0.5], [0.0]]) * field, rtol=0, atol=1e-15
    )


def test_an_empty_list_of_paths_is_an_empty_answer():
    assert aperture_field(np.zeros((0, 4)), np.zeros((0, 4)), **UNIT).shape == (0,)


def test_loss_has_a_floor_and_keeps_nan():
    assert loss_db(0.0) == pytest.approx(160.0)
    assert loss_db(2.0j) == pytest.approx(-6.0206, abs=1e-4)
    assert np.isnan(loss_db(np.nan))


@pytest.mark.parametrize("lengths", [(0.0, 1.0, 2.0), (0.5, -1.0, 2.0), (0.5, 1.0, 0.0)])
def test_lengths_not_above_zero_are_refused(lengths):
    with pytest.raises(InputError, match="is not above zero; give metres above 0"):
        aperture_field([0.0, 1.0, 1.0], [0.0, 0.0, 1.0], *lengths)
