"""One screen and several against closed forms, Fresnel integrals and symmetries."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from knife_edge import knife_edge_loss_db, knife_edge_parameter
from scipy.special import erfc

from skyview.errors import InputError
from skyview.wave.aperture import loss_db
from skyview.wave.fresnel import (
    fresnel_integral,
    knife_edge_loss_approximate_db,
)
from skyview.wave.screens import Screen, field, field_report, field_report_without, fields

EXACT = 1e-9
FAR = 1e5
"""Metres to a side that stands for infinity."""


def box(left, right, bottom, top):
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]], dtype=float)


def half_plane(height):
    return box(-FAR, FAR, -FAR, height)


def circle(radius, corners=720):
    """Regular polygon of the circle's area."""
    turn = 2.0 * np.pi / corners
    angle = turn * np.arange(corners)
    radius = radius * np.sqrt(turn / np.sin(turn))
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)


def keyholed(outer, hole):
    """One ring: round the outer edge, across, round the hole the other way, and back."""
    return np.concatenate([outer, outer[:1], hole[:1], hole[::-1]])


def rectangle_product(sides, wavelength, reduced):
    """Rec. ITU-R P.526-15, section 5.2.1.1."""
    left, right, bottom, top = np.asarray(sides) * np.sqrt(2.0 / (wavelength * reduced))
    across = fresnel_integral(right) - fresnel_integral(left)
    return across * (fresnel_integral(top) - fresnel_integral(bottom)) / 2j


def two_edges(near_height, near, far_height, far, wavelength):
    """Field behind two opaque half planes, a plane wave incident, by 1-D quadrature.

    Behind the far edge the field is erfc((1 - i) sqrt(pi)/2 v)/2 (NIST Digital Library of
    Mathematical Functions, section 7.5); the integral over the opening above the near edge runs
    along a ray turned by 45 degrees, where the Fresnel kernel falls off like a Gaussian.
    """
    node, weight = np.polynomial.legendre.leggauss(600)
    reach = 12.0 * np.sqrt(wavelength * near)
    turned = np.exp(0.25j * np.pi)
    y = near_height + turned * reach * (node + 1.0) / 2.0
    v = (far_height - y) * np.sqrt(2.0 / (wavelength * (far - near)))
    incident = 0.5 * erfc((1.0 - 1.0j) * np.sqrt(np.pi) / 2.0 * v)
    kernel = np.exp(1j * np.pi * y**2 / (wavelength * near)) / np.sqrt(1j * wavelength * near)
    return complex(np.sum(weight * incident * kernel) * turned * reach / 2.0)


@pytest.mark.parametrize("height", [-8.0, -1.0, 0.0, 0.7, 3.0, 12.0])
@pytest.mark.parametrize("wavelength", [0.5, 5.0])
def test_a_half_plane_is_the_knife_edge(height, wavelength):
    """Rec. ITU-R P.526-15, eqs. (30) and (31); the latter within its stated range and departure."""
    nu = knife_edge_parameter(height, wavelength, 40.0, np.inf)
    loss = loss_db(field([Screen(40.0, [half_plane(height)], [0.0])], wavelength))
    assert loss == pytest.approx(knife_edge_loss_db(nu), abs=0.005)
    if -0.78 < nu < 10.0:
        assert loss == pytest.approx(knife_edge_loss_approximate_db(nu), abs=0.13)


@pytest.mark.parametrize("transmitter", [np.inf, 5000.0, 60.0])
@pytest.mark.parametrize("sides", [(-3, 5, -9, 2), (1, 2, 1, 4), (-0.3, 0.3, -20, 30)])
def test_a_rectangle_is_a_product_of_fresnel_integrals(sides, transmitter):
    wavelength, distance, amplitude = 1.3, 35.0, 0.3 - 0.2j
    reduced = distance * (1.0 - distance / transmitter)
    expected = 1.0 - (1.0 - amplitude) * rectangle_product(sides, wavelength, reduced)
    found = field([Screen(distance, [box(*sides)], [amplitude])], wavelength, transmitter)
    assert found == pytest.approx(expected, abs=EXACT)


def test_published_finite_screens(published):
    """Rec. ITU-R P.526-15, sections 5.2.1.1 and 5.2.2; with these a metre is a Fresnel unit."""
    for row in published("finite_screen_exact_fresnel"):
        sides = -row.number("nu_left"), row.number("nu_right"), -FAR, row.number("nu_top")
        loss = loss_db(field([Screen(1.0, [box(*sides)], [0.0])], 2.0))
        assert loss == pytest.approx(row.value, abs=row.tolerance)
    for row in published("rect_screen_loss_babinet"):
        sides = *row.interval("nu_x"), *row.interval("nu_y")
        loss = loss_db(field([Screen(1.0, [box(*sides)], [0.0])], 2.0))
        assert loss == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize("radius", [0.5, 3.0, 9.0])
def test_behind_an_opaque_disc_the_axis_is_bright(radius):
    """Poisson's spot; closed form exp(i pi r^2/(wavelength z)): optics texts, from memory."""
    found = field([Screen(20.0, [circle(radius)], [0.0])], 0.8)
    assert found == pytest.approx(np.exp(1j * np.pi * radius**2 / 16.0), abs=2e-4)
    assert abs(found) == pytest.approx(1.0, abs=2e-4)


def test_rings_and_round_openings_have_closed_forms():
    inner, outer = 2.0, 5.0
    at = {radius: np.exp(1j * np.pi * radius**2 / 16.0) for radius in (inner, outer)}
    annulus = keyholed(circle(outer), circle(inner))
    found = field([Screen(20.0, [annulus], [0.0])], 0.8)
    assert found == pytest.approx(1.0 - at[inner] + at[outer], abs=4e-4)
    plate = keyholed(half_plane(FAR), circle(inner))
    assert field([Screen(20.0, [plate], [0.0])], 0.8) == pytest.approx(1.0 - at[inner], abs=4e-4)


def test_babinet():
    shape = np.array([[-4, -6], [3, -7], [2, 0], [5, 2], [0, 1], [-2, 6]], dtype=float)
    opaque = field([Screen(50.0, [shape], [0.0])], 1.0)
    opening = field([Screen(50.0, [keyholed(half_plane(FAR), shape)], [0.0])], 1.0)
    assert opaque + opening == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("amplitudes", [(0.0, 0.0), (0.4, 0.7), (0.2 + 0.3j, 0.0)])
def test_overlapping_shapes_multiply(amplitudes):
    """Two boxes and their common part, each a product of Fresnel integrals."""
    one, two, common = (-3, 2, -5, 1), (-1, 4, -2, 3), (-1, 2, -2, 1)
    first, second = (1.0 - amplitude for amplitude in amplitudes)
    expected = 1.0 - sum(
        share * rectangle_product(sides, 1.0, 30.0)
        for share, sides in ((first, one), (second, two), (-first * second, common))
    )
    found = field([Screen(30.0, [box(*one), box(*two)], list(amplitudes))], 1.0)
    assert found == pytest.approx(expected, abs=EXACT)


@pytest.mark.parametrize(
    ("near", "near_height", "far", "far_height"),
    [
        (30.0, -1.0, 60.0, -1.0),
        (30.0, 1.0, 100.0, 3.0),
        (30.0, 1.0, 35.0, 1.2),
        (30.0, 3.0, 35.0, 3.6),
        (30.0, 2.0, 30.3, 2.0),
        (30.0, 2.0, 30.003, 2.0),
        (20.0, 0.5, 400.0, 15.0),
    ],
)
@pytest.mark.parametrize("wavelength", [0.5, 3.0])
def test_two_parallel_half_planes(near, near_height, far, far_height, wavelength):
    """Close pairs included."""
    expected = loss_db(two_edges(near_height, near, far_height, far, wavelength))
    screens = [
        Screen(near, [half_plane(near_height)], [0.0]),
        Screen(far, [half_plane(far_height)], [0.0]),
    ]
    report = field_report(screens, wavelength)
    assert expected < 28.0
    assert report.loss_db == pytest.approx(expected, abs=0.1)
    assert abs(report.loss_db - expected) <= report.error_db
    assert report.method == "cascade"
    assert report.clipped_m == pytest.approx((near, far))


def test_two_edges_far_below_one_are_one():
    """The quadrature itself, against eq. (30) of Rec. ITU-R P.526-15."""
    nu = knife_edge_parameter(2.0, 1.0, 30.0, np.inf)
    one = loss_db(two_edges(2.0, 30.0, -500.0, 90.0, 1.0))
    assert one == pytest.approx(knife_edge_loss_db(nu), abs=1e-3)


def street():
    """Two houses and a wood beyond them."""
    house = np.array([[-6, -9], [5, -9], [5, 0], [0, 3], [-6, 0]], dtype=float)
    wood = np.array([[-25, -12], [30, -12], [30, 3], [12, 6], [4, 2], [-10, 5], [-25, 1]], float)
    return [
        Screen(25.0, [house, box(-4, -3, -9, 4)], [0.0, 0.0]),
        Screen(48.0, [np.add(house, [2.0, -1.0])], [0.0]),
        Screen(110.0, [wood], [0.3]),
    ]


@pytest.mark.parametrize("transmitter", [130.0, 400.0])
@pytest.mark.parametrize("count", [1, 2, 3])
def test_antenna_and_transmitter_change_places(count, transmitter):
    there = street()[:count]
    back = [Screen(transmitter - s.distance_m, s.polygons_m, s.amplitudes) for s in reversed(there)]
    loss = loss_db(field(there, 0.9, transmitter))
    assert loss_db(field(back, 0.9, transmitter)) == pytest.approx(loss, abs=0.1)


def test_a_spherical_wave_on_two_edges_by_quadrature_from_the_transmitter():
    """Two half planes again; the transmitter at 90 m, distances and heights by 1/d' = 1/d - 1/D
    into the plane-wave quadrature, which knows nothing of screens."""
    near, far, transmitter = 20.0, 45.0, 90.0
    scaled = [1.0 / (1.0 / d - 1.0 / transmitter) for d in (near, far)]
    expected = two_edges(1.0 * scaled[0] / near, scaled[0], 2.0 * scaled[1] / far, scaled[1], 1.0)
    screens = [Screen(near, [half_plane(1.0)], [0.0]), Screen(far, [half_plane(2.0)], [0.0])]
    found = field(screens, 1.0, transmitter_distance_m=transmitter)
    assert loss_db(found) == pytest.approx(loss_db(expected), abs=0.1)


@pytest.mark.parametrize("along", [0.2, 7.0])
def test_the_same_fresnel_numbers_give_the_same_field(along):
    """Distances times a factor, lengths across the ray times its root; or wavelength for both."""
    across = np.sqrt(along)
    before = field(street(), 0.8, 900.0)
    stretched = [
        Screen(s.distance_m * along, [across * p for p in s.polygons_m], s.amplitudes)
        for s in street()
    ]
    assert field(stretched, 0.8, 900.0 * along) == pytest.approx(before, abs=1e-3)
    shrunk = [
        Screen(s.distance_m, [across * p for p in s.polygons_m], s.amplitudes) for s in street()
    ]
    assert field(shrunk, 0.8 * along, 900.0) == pytest.approx(before, abs=1e-3)


@settings(deadline=None, max_examples=25)
@given(st.floats(-4.0, 9.0), st.floats(0.0, 0.9), st.floats(0.4, 8.0))
def test_the_loss_moves_little_as_a_tree_grows_a_centimetre(top, amplitude, wavelength):
    """A strip of one centimetre adds at most its area over wavelength x distance, times the
    field that reaches it, which here stays below 2."""

    def grown(height):
        crown = np.array([[-3, -9], [3, -9], [2.5, height - 2], [0, height], [-2, height - 1]])
        return field([*street()[:1], Screen(60.0, [crown], [amplitude]), street()[2]], wavelength)

    assert abs(grown(top + 0.01) - grown(top)) <= 2.0 * 6.0 * 0.01 / (wavelength * 60.0) + 5e-4


def test_absent_things_and_the_order_of_screens_change_nothing():
    screens = street()
    ghost = Screen(70.0, [box(-9, 9, -9, 9)], [1.0])
    assert field([], 1.0) == 1.0
    assert field([ghost], 1.0) == 1.0
    assert field([screens[0], ghost], 1.0) == field(screens[:1], 1.0)
    assert field(screens[::-1], 1.0) == field(screens, 1.0)


def test_screens_at_one_distance_are_one_screen():
    first, second = (box(-3, 2, -5, 1), box(-1, 4, -2, 3))
    apart = [Screen(30.0, [first], [0.0]), Screen(30.0, [second], [0.4])]
    report = field_report(apart, 1.0)
    assert report.field == field([Screen(30.0, [first, second], [0.0, 0.4])], 1.0)
    assert report.method == "boundary"
    assert report.merged_m == ((30.0, 30.0),)


@pytest.mark.parametrize("gap", [1e-5, 1e-4, 1e-3, 1e-2])
def test_an_equal_screen_nearly_touching_another_changes_little(gap):
    """The worst case for cells: slanted edges that coincide without being one screen."""
    shape = street()[0].polygons_m[0]
    one = loss_db(field([Screen(25.0, [shape], [0.0])], 0.8))
    two = [Screen(25.0, [shape], [0.0]), Screen(25.0 + gap, [shape], [0.0])]
    assert loss_db(field(two, 0.8)) == pytest.approx(one, abs=0.25)


def test_a_deep_shadow_says_at_least():
    walls = [Screen(d, [half_plane(h)], [0.0]) for d, h in ((10.0, 5.0), (20.0, 9.0))]
    report = field_report(walls, 1.0)
    expected = loss_db(two_edges(5.0, 10.0, 9.0, 20.0, 1.0))
    assert expected > 28.0
    assert report.at_least
    assert report.loss_db == pytest.approx(expected, abs=1.0)
    assert not field_report(street()[:2], 1.0).at_least


def test_what_is_reported_of_a_finite_scene():
    report = field_report(street(), 5.0, 2000.0)
    assert report.field == field(street(), 5.0, 2000.0)
    assert report.clipped_m == ()
    assert report.merged_m == ()
    assert 0.0 < report.error_db < 0.2
    assert field_report([], 1.0).method == "free"


def rows_with_one_out():
    """Out of order; one of them transparent; two at one distance; two; one."""
    wall = Screen(70.0, [box(-9, 2, -9, 1)], [0.2])
    near, middle, far = street()
    return [
        [far, wall, near, middle],
        [middle, near, Screen(70.0, [box(-9, 9, -9, 9)], [1.0]), far],
        [near, Screen(near.distance_m, [box(-1, 4, -2, 3)], [0.4]), far],
        [far, near],
        [near],
    ]


@pytest.mark.parametrize("screens", rows_with_one_out())
@pytest.mark.parametrize("transmitter", [2000.0, np.inf])
def test_the_fields_without_each_are_those_of_the_others_alone(screens, transmitter):
    report, without = field_report_without(screens, 0.7, transmitter)
    assert report == field_report(screens, 0.7, transmitter)
    alone = [
        field([other for other in screens if other is not one], 0.7, transmitter) for one in screens
    ]
    assert loss_db(without) == pytest.approx(loss_db(alone), abs=0.02)
    assert len(screens) == 1 or np.ptp(loss_db(alone)) > 0.5


def test_fields_of_directions_wavelengths_and_draws_are_those_of_one_path_at_a_time():
    """Paths that share grids differ by what the cells make: less than 0.1 dB."""
    draw = np.random.default_rng(5)
    paths = 12
    slopes = draw.normal(0.0, 0.03, (paths, 2))
    wavelength = draw.uniform(0.6, 0.7, paths)
    distances = np.array([25.0, 48.0, 110.0]) * draw.uniform(0.7, 1.4, (paths, 3))
    amplitudes = [np.zeros(2), np.zeros(1), draw.uniform(0.1, 0.6, (paths, 1))]
    together = fields(street(), wavelength, 3000.0, slopes, distances, amplitudes)
    assert together.shape == (paths,)
    for k in range(paths):
        alone = [
            Screen(
                distances[k, i],
                [(p / s.distance_m - slopes[k]) * distances[k, i] for p in s.polygons_m],
                np.broadcast_to(amplitudes[i], (paths, len(s.polygons_m)))[k].tolist(),
            )
            for i, s in enumerate(street())
        ]
        expected = field(alone, wavelength[k], 3000.0)
        assert loss_db(together[k]) == pytest.approx(loss_db(expected), abs=0.1)


def test_fields_broadcast():
    slopes = np.zeros((4, 1, 2))
    slopes[:, 0, 1] = np.linspace(-0.05, 0.15, 4)
    losses = loss_db(fields(street(), np.array([0.5, 1.5, 5.0]), slopes=slopes))
    assert losses.shape == (4, 3)
    assert np.all(losses[0] > losses[-1])
    one = fields(street()[:1], np.array([0.5, 1.5, 5.0]), slopes=slopes)
    assert one.shape == (4, 3)
    assert fields([], np.ones(3)).tolist() == [1.0, 1.0, 1.0]


@pytest.mark.parametrize("count", [1, 2])
def test_closed_rings_turned_rings_and_shapes_without_area(count):
    screens = street()[:count]
    expected = field(screens, 0.7)
    written = [
        Screen(
            s.distance_m,
            [
                *(np.concatenate([p, p[:1]])[::-1].tolist() for p in s.polygons_m),
                [(1.0, -2.0), (1.0, 3.0), (1.0, 5.0)],
            ],
            [*s.amplitudes, 0.0],
        )
        for s in screens
    ]
    assert loss_db(field(written, 0.7)) == pytest.approx(loss_db(expected), abs=0.05)


def test_many_overlapping_shapes_fall_back_on_cells():
    crowns = [np.add(circle(2.0, 24), [0.1 * k, 0.05 * k]) for k in range(12)]
    report = field_report([Screen(30.0, crowns, [0.9] * 12)], 1.0)
    assert report.method == "cascade"
    stripes = 1.0 - 0.9**12
    assert 0.0 < 1.0 - abs(report.field) < stripes


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((0.0, [box(0, 1, 0, 1)], [0.0]), "distance_m"),
        ((np.inf, [box(0, 1, 0, 1)], [0.0]), "distance_m"),
        ((np.nan, [box(0, 1, 0, 1)], [0.0]), "distance_m"),
        ((9.0, [box(0, 1, 0, 1)[:2]], [0.0]), "polygons_m"),
        ((9.0, [box(0, 1, 0, np.nan)], [0.0]), "polygons_m"),
        ((9.0, [[1.0, 2.0, 3.0]], [0.0]), "polygons_m"),
        ((9.0, [box(0, 1, 0, 1)], [0.0, 1.0]), "amplitudes"),
        ((9.0, [box(0, 1, 0, 1)], [1.2]), "amplitudes"),
        ((9.0, [box(0, 1, 0, 1)], [np.nan]), "amplitudes"),
    ],
)
def test_a_screen_that_cannot_be_is_refused(arguments, named):
    with pytest.raises(InputError) as refused:
        Screen(*arguments)
    assert refused.value.field == named


@pytest.mark.parametrize("wavelength", [0.0, -1.0, np.nan])
def test_a_wavelength_that_cannot_be_is_refused(wavelength):
    with pytest.raises(InputError) as refused:
        field(street(), wavelength)
    assert refused.value.field == "wavelength_m"


@pytest.mark.parametrize("transmitter", [0.0, 50.0, 110.0, np.nan])
def test_a_transmitter_among_the_screens_is_refused(transmitter):
    with pytest.raises(InputError) as refused:
        field(street(), 1.0, transmitter)
    assert refused.value.field == "transmitter_distance_m"
