"""Outlines as upright screens: the plane, the ground below it, and outlines that are refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon

from skyview.angles import unit_from_azimuth_elevation
from skyview.errors import InputError
from skyview.outline.upright import middle_azimuth, upright_screen

CAMERA_M = np.array([3.0, -2.0, 8.0])
ONE_MILLIMETRE_ROUND = 0.06
"""Area of a border of 1 mm round the largest shape here, 60 m round. [m^2]"""
SPIKED = [
    (-5.0, 10.0),
    (-9.0, 10.0),
    (-5.0, 10.0),
    (5.0, 10.0),
    (9.0, 10.0),
    (5.0, 10.0),
    (5.0, 15.0),
    (-5.0, 15.0),
]
"""A wall from 10 to 15 m with a spike of no width on either side of its foot."""


def ring_of_rays(azimuths_deg, elevations_deg):
    return unit_from_azimuth_elevation(np.radians(azimuths_deg), np.radians(elevations_deg))


def box_deg(left, right, low, high):
    """Rays of a ring that is a rectangle in azimuth and elevation."""
    return ring_of_rays([left, right, right, left], [low, low, high, high])


def rays_to(points, distance_m, azimuth=0.0, camera_m=CAMERA_M):
    """Rays from a camera to (across, up) points of the plane ahead of it."""
    across, up = np.asarray(points, float).T
    ahead = np.array([np.sin(azimuth), np.cos(azimuth)])
    right = np.array([np.cos(azimuth), -np.sin(azimuth)])
    level = distance_m * ahead + across[:, None] * right
    vectors = np.column_stack([level, up - camera_m[2]])
    return vectors / np.linalg.norm(vectors, axis=1, keepdims=True)


def solid(screen):
    """The parts as shapely polygons."""
    return [Polygon(rings[0], rings[1:]) for rings in screen.parts]


def holds(screen, across, up):
    return any(part.contains(Point(across, up)) for part in solid(screen))


def area_m2(screen):
    return sum(part.area for part in solid(screen))


@pytest.mark.parametrize(
    ("azimuths_deg", "expected_deg"),
    [
        ((80.0, 100.0, 95.0), 90.0),
        ((350.0, 20.0, 10.0), 5.0),
        ((359.0, 1.0, 0.5), 0.0),
        ((100.0, 179.0, 181.0, 250.0), 175.0),
        ((300.0, 340.0, 20.0, 60.0), 0.0),
    ],
)
def test_middle_azimuth_is_halfway_between_the_sides(azimuths_deg, expected_deg):
    """The seam at north makes no difference, nor does which vertex comes first."""
    for start in range(len(azimuths_deg)):
        turned = np.roll(azimuths_deg, start)
        middle = np.degrees(middle_azimuth(ring_of_rays(turned, np.zeros(len(turned)))))
        assert (middle - expected_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-9)


@given(st.floats(0.0, 360.0), st.floats(1.0, 70.0), st.floats(-20.0, 10.0), st.floats(5.0, 200.0))
def test_plane_is_square_to_the_line_of_sight_to_the_middle(
    middle_deg, half_deg, low_deg, distance_m
):
    ring = box_deg(middle_deg - half_deg, middle_deg + half_deg, low_deg, low_deg + 15.0)
    screen = upright_screen([[ring]], CAMERA_M, distance_m, [False])
    off_deg = (np.degrees(screen.azimuth) - middle_deg + 180.0) % 360.0 - 180.0
    assert off_deg == pytest.approx(0.0, abs=1e-6)
    to_foot = screen.foot_m - CAMERA_M[:2]
    assert np.hypot(*to_foot) == pytest.approx(distance_m, rel=1e-12)
    points = screen.points(screen.marked[0])
    ahead = np.array([np.sin(screen.azimuth), np.cos(screen.azimuth)])
    np.testing.assert_allclose((points[:, :2] - CAMERA_M[:2]) @ ahead, distance_m, rtol=1e-9)


@given(st.floats(0.0, 360.0), st.floats(1.0, 70.0), st.floats(-20.0, 10.0), st.floats(5.0, 200.0))
def test_camera_sees_the_screen_where_it_was_marked(middle_deg, half_deg, low_deg, distance_m):
    ring = box_deg(middle_deg - half_deg, middle_deg + half_deg, low_deg, low_deg + 15.0)
    screen = upright_screen([[ring]], CAMERA_M, distance_m, [False])
    back = screen.points(screen.marked[0]) - CAMERA_M
    back /= np.linalg.norm(back, axis=1, keepdims=True)
    np.testing.assert_allclose(back, ring, atol=1e-9)


@pytest.mark.parametrize("middle_deg", [0.0, 90.0, 200.0, 359.9])
def test_shape_does_not_depend_on_where_north_is(middle_deg):
    shape = [(-5.0, 8.0), (5.0, 8.0), (6.0, 13.0), (0.0, 20.0), (-6.0, 12.0)]
    rays = rays_to(shape, 30.0, np.radians(middle_deg))
    screen = upright_screen([[rays]], CAMERA_M, 30.0, [False])
    np.testing.assert_allclose(screen.marked[0], shape, atol=1e-9)


def test_across_grows_to_the_right_as_seen_from_the_camera():
    rays = rays_to([(0.0, 8.0), (4.0, 8.0), (4.0, 10.0), (0.0, 10.0)], 30.0, np.pi / 2)
    screen = upright_screen([[rays]], CAMERA_M, 30.0, [False])
    right = screen.marked[0][:, 0].argmax()
    assert screen.points(screen.marked[0])[right, 1] < CAMERA_M[1]


def test_distance_scales_the_screen_about_the_camera():
    ring = box_deg(-10.0, 10.0, -5.0, 20.0)
    near, far = (upright_screen([[ring]], CAMERA_M, d, [False]) for d in (10.0, 30.0))
    eye = [0.0, CAMERA_M[2]]
    np.testing.assert_allclose(far.marked[0] - eye, 3.0 * (near.marked[0] - eye), atol=1e-9)
    assert far.mean_width_m == pytest.approx(3.0 * near.mean_width_m)


def test_without_ground_the_solid_is_what_was_marked():
    shape = [(-5.0, 8.5), (5.0, 8.0), (0.0, 20.0)]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [False])
    assert len(screen.parts) == 1
    assert solid(screen)[0].symmetric_difference(Polygon(shape)).area < ONE_MILLIMETRE_ROUND


def test_mean_width_is_area_over_height_of_what_was_marked():
    shape = [(-5.0, 10.0), (5.0, 10.0), (0.0, 20.0)]
    for grounded in (False, True):
        screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [grounded])
        assert screen.mean_width_m == pytest.approx(5.0)


@pytest.mark.parametrize("ground_m", [0.0, -3.0, 2.0])
def test_wall_goes_on_to_the_ground_below_its_whole_width(ground_m):
    shape = [(-5.0, 10.0), (5.0, 10.0), (5.0, 18.0), (-5.0, 18.0)]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [True], ground_m)
    full = Polygon([(-5.0, ground_m), (5.0, ground_m), (5.0, 18.0), (-5.0, 18.0)])
    assert len(screen.parts) == 1
    assert solid(screen)[0].symmetric_difference(full).area < ONE_MILLIMETRE_ROUND


def test_what_lies_below_the_camera_s_level_goes_on_to_the_ground():
    """The step at 7 m is above the lowest quarter (5..8 of 4..20 m) but for the level of 8 m."""
    shape = [(-6.0, 4.0), (0.0, 4.0), (0.0, 7.9), (6.0, 7.9), (6.0, 20.0), (-6.0, 20.0)]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [True])
    assert holds(screen, 3.0, 1.0)
    assert holds(screen, -3.0, 1.0)


def test_underside_of_a_crown_against_the_sky_stays_open():
    """A trunk 1 m wide, a crown 8 m wide whose underside lies above camera and lowest quarter."""
    shape = [
        (-0.5, 7.0),
        (0.5, 7.0),
        (0.5, 13.0),
        (4.0, 13.0),
        (4.0, 20.0),
        (-4.0, 20.0),
        (-4.0, 13.0),
        (-0.5, 13.0),
    ]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [True])
    assert holds(screen, 0.0, 1.0)
    assert not holds(screen, 3.0, 10.0)
    assert not holds(screen, -3.0, 1.0)
    marked = Polygon(shape).area
    assert area_m2(screen) == pytest.approx(marked + 7.0, abs=ONE_MILLIMETRE_ROUND)


def test_sloping_underside_goes_on_only_where_it_lies_in_the_lowest_quarter():
    """Underside from 9 m up to 21 m over 8 m of width; the lowest quarter ends at 13 m."""
    shape = [(-4.0, 9.0), (4.0, 21.0), (4.0, 25.0), (-4.0, 25.0)]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [True])
    limit = -4.0 + 8.0 * (13.0 - 9.0) / (21.0 - 9.0)
    assert holds(screen, limit - 0.01, 1.0)
    assert not holds(screen, limit + 0.01, 1.0)


def whole(screen):
    """All parts in one shape, the seams between parts that touch kept."""
    return MultiPolygon(solid(screen))


def test_ring_may_run_either_way_round():
    shape = [(-0.5, 7.0), (0.5, 7.0), (0.5, 13.0), (4.0, 13.0), (4.0, 20.0), (-4.0, 20.0)]
    one = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [True])
    other = upright_screen([[rays_to(shape[::-1], 30.0)]], CAMERA_M, 30.0, [True])
    assert whole(one).length == pytest.approx(whole(other).length, rel=1e-3)
    assert area_m2(one) == pytest.approx(area_m2(other), rel=1e-3)


@given(st.lists(st.floats(3.0, 7.9), min_size=2, max_size=8))
def test_wall_with_a_ragged_foot_becomes_solid_to_the_ground(feet_m):
    """Every point within is as far from the solid's edge as from the wall's own: no slit of a
    rounding's width is left between what was marked and what was added below."""
    across = np.linspace(-6.0, 6.0, len(feet_m))
    shape = [*zip(across, feet_m, strict=True), (6.0, 20.0), (-6.0, 20.0)]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [True])
    assert len(screen.parts) == 1
    wall = Polygon([(-6.0, 0.0), (6.0, 0.0), (6.0, 20.0), (-6.0, 20.0)])
    for x in np.linspace(-5.0, 5.0, 23):
        for y in (1.5, 4.0, 8.0):
            inside = whole(screen).boundary.distance(Point(x, y))
            assert inside == pytest.approx(wall.boundary.distance(Point(x, y)), abs=1e-3)


def test_crown_on_a_ragged_trunk_becomes_solid_to_the_ground():
    """The underside leaves the lowest quarter and comes back, so that what is added below meets
    what was marked along parts of edges."""
    feet = [(-6.0, 7.0), (-3.6, 8.2), (-1.2, 4.3), (1.2, 5.2), (3.6, 10.7), (6.0, 10.5)]
    shape = [*feet, (6.0, 20.0), (-6.0, 20.0)]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [True])
    # The lowest quarter ends at 4.3 + (20 - 4.3) / 4 = 8.225 m, on the edge that ends at 3.6.
    end = 1.2 + 2.4 * (8.225 - 5.2) / (10.7 - 5.2)
    expected = Polygon(
        [(-6.0, 0.0), (end, 0.0), (end, 8.225), (3.6, 10.7), (6.0, 10.5), (6.0, 20.0), (-6.0, 20.0)]
    )
    assert len(screen.parts) == 1
    assert area_m2(screen) == pytest.approx(expected.area, rel=1e-3)
    assert whole(screen).length == pytest.approx(expected.length, rel=1e-3)


@pytest.mark.parametrize("hole_up", [(12.0, 14.0), (7.0, 7.9)])
def test_hole_stays_open(hole_up):
    edge = [(-5.0, 6.0), (5.0, 6.0), (5.0, 20.0), (-5.0, 20.0)]
    low, high = hole_up
    hole = [(-2.0, low), (2.0, low), (2.0, high), (-2.0, high)]
    screen = upright_screen([[rays_to(edge, 30.0), rays_to(hole, 30.0)]], CAMERA_M, 30.0, [True])
    assert not holds(screen, 0.0, (low + high) / 2.0)
    assert holds(screen, 0.0, 3.0)
    assert holds(screen, 4.0, (low + high) / 2.0)
    assert area_m2(screen) == pytest.approx(
        10.0 * 20.0 - 4.0 * (high - low), abs=ONE_MILLIMETRE_ROUND
    )
    assert len(screen.marked) == 2


def test_hole_stays_open_in_what_lies_wholly_below_the_camera():
    """A hedge with a gate, seen from above: its upper edge goes down to the ground too."""
    edge = [(-5.0, 2.0), (5.0, 2.0), (5.0, 6.0), (-5.0, 6.0)]
    hole = [(-1.0, 3.0), (1.0, 3.0), (1.0, 5.0), (-1.0, 5.0)]
    screen = upright_screen([[rays_to(edge, 30.0), rays_to(hole, 30.0)]], CAMERA_M, 30.0, [True])
    assert not holds(screen, 0.0, 4.0)
    assert holds(screen, 0.0, 1.0)
    assert area_m2(screen) == pytest.approx(60.0 - 4.0, abs=ONE_MILLIMETRE_ROUND)


def test_outline_already_below_the_ground_gains_nothing():
    shape = [(-5.0, -2.0), (5.0, -2.0), (5.0, 4.0), (-5.0, 4.0)]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [True])
    assert area_m2(screen) == pytest.approx(60.0, abs=ONE_MILLIMETRE_ROUND)


def test_parts_of_one_thing_share_the_plane_and_keep_their_own_ground():
    left = [(-12.0, 6.0), (-8.0, 6.0), (-8.0, 16.0), (-12.0, 16.0)]
    right = [(8.0, 6.0), (12.0, 6.0), (12.0, 16.0), (8.0, 16.0)]
    screen = upright_screen(
        [[rays_to(left, 30.0)], [rays_to(right, 30.0)]], CAMERA_M, 30.0, [True, False]
    )
    assert len(screen.parts) == 2
    assert holds(screen, -10.0, 1.0)
    assert not holds(screen, 10.0, 1.0)
    assert np.sin(screen.azimuth) == pytest.approx(0.0, abs=1e-9)
    assert np.cos(screen.azimuth) > 0.0


def test_overlapping_outlines_melt_into_one_part():
    one = [(-6.0, 9.0), (1.0, 9.0), (1.0, 16.0), (-6.0, 16.0)]
    two = [(-1.0, 10.0), (6.0, 10.0), (6.0, 18.0), (-1.0, 18.0)]
    screen = upright_screen(
        [[rays_to(one, 30.0)], [rays_to(two, 30.0)]], CAMERA_M, 30.0, [False, False]
    )
    assert len(screen.parts) == 1
    assert area_m2(screen) == pytest.approx(49.0 + 56.0 - 12.0, abs=ONE_MILLIMETRE_ROUND)
    assert len(screen.marked) == 2


@pytest.mark.parametrize("middle_deg", [0.0, 123.0])
def test_outline_of_more_than_160_deg_is_refused(middle_deg):
    wide = [middle_deg + a for a in (-81.0, -40.0, 0.0, 40.0, 81.0, 0.0)]
    ring = ring_of_rays(wide, [0.0, 0.0, 0.0, 0.0, 0.0, 20.0])
    with pytest.raises(InputError, match="160 degrees"):
        upright_screen([[ring]], CAMERA_M, 20.0, [False])
    narrow = [middle_deg + a for a in (-79.0, -40.0, 0.0, 40.0, 79.0, 0.0)]
    ring = ring_of_rays(narrow, [0.0, 0.0, 0.0, 0.0, 0.0, 20.0])
    assert area_m2(upright_screen([[ring]], CAMERA_M, 20.0, [False])) > 0.0


def test_outline_all_round_is_refused():
    ring = ring_of_rays(np.arange(0.0, 360.0, 30.0), np.full(12, 5.0))
    with pytest.raises(InputError, match="160 degrees"):
        upright_screen([[ring]], CAMERA_M, 20.0, [False])


def test_outlines_on_opposite_sides_are_refused():
    east, west = box_deg(85.0, 95.0, 0.0, 10.0), box_deg(265.0, 275.0, 0.0, 10.0)
    with pytest.raises(InputError, match="160 degrees"):
        upright_screen([[east], [west]], CAMERA_M, 20.0, [False, False])


@pytest.mark.parametrize("grounded", [False, True])
def test_ring_that_crosses_itself_keeps_both_its_lobes(grounded):
    """A bow tie: two triangles that meet in a point."""
    shape = [(-6.0, 6.0), (6.0, 16.0), (6.0, 6.0), (-6.0, 16.0)]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [grounded])
    assert holds(screen, -5.0, 11.0)
    assert holds(screen, 5.0, 11.0)
    assert not holds(screen, 0.0, 15.0)
    assert all(part.is_valid for part in solid(screen))
    assert holds(screen, 5.0, 3.0) is grounded


def test_ring_that_touches_itself_along_an_edge_keeps_its_area():
    """Spikes drawn out and back leave no area."""
    screen = upright_screen([[rays_to(SPIKED, 30.0)]], CAMERA_M, 30.0, [False])
    assert area_m2(screen) == pytest.approx(50.0, abs=ONE_MILLIMETRE_ROUND)
    assert all(part.is_valid for part in solid(screen))


def test_spike_under_a_wall_leaves_no_area_on_the_way_to_the_ground():
    screen = upright_screen([[rays_to(SPIKED, 30.0)]], CAMERA_M, 30.0, [True])
    assert all(part.is_valid for part in solid(screen))
    assert holds(screen, 0.0, 3.0)


@pytest.mark.parametrize("grounded", [False, True])
def test_hole_that_touches_itself_or_the_edge_is_mended(grounded):
    edge = [(-5.0, 6.0), (5.0, 6.0), (5.0, 20.0), (-5.0, 20.0)]
    bow_tie = [(-2.0, 12.0), (2.0, 14.0), (2.0, 12.0), (-2.0, 14.0)]
    spiked = [(-2.0, 7.0), (2.0, 7.0), (4.0, 7.0), (2.0, 7.0), (2.0, 7.5), (-2.0, 7.5)]
    for hole in (bow_tie, spiked):
        screen = upright_screen(
            [[rays_to(edge, 30.0), rays_to(hole, 30.0)]], CAMERA_M, 30.0, [grounded]
        )
        assert all(part.is_valid for part in solid(screen))
        assert not holds(screen, -1.9, hole[0][1] + 0.25)
        assert holds(screen, 4.5, 13.0)


def test_flat_outline_has_no_parts_and_no_width():
    shape = [(-5.0, 10.0), (0.0, 10.0), (5.0, 10.0)]
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [False])
    assert area_m2(screen) == pytest.approx(0.0, abs=ONE_MILLIMETRE_ROUND)
    assert screen.mean_width_m >= 0.0


@given(st.lists(st.floats(0.3, 1.0), min_size=5, max_size=14), st.booleans(), st.floats(-3.0, 3.0))
def test_marked_shape_always_lies_within_the_solid(radii, grounded, ground_m):
    angle = np.linspace(0.0, 2.0 * np.pi, len(radii), endpoint=False)
    shape = np.array([8.0 * np.cos(angle), 6.0 * np.sin(angle)]).T * np.array(radii)[:, None]
    shape[:, 1] += 13.0
    screen = upright_screen([[rays_to(shape, 30.0)]], CAMERA_M, 30.0, [grounded], ground_m)
    marked = Polygon(screen.marked[0])
    inside = sum(marked.intersection(part).area for part in solid(screen))
    assert inside == pytest.approx(marked.area, rel=1e-6)
    if not grounded:
        assert area_m2(screen) == pytest.approx(marked.area, rel=1e-6)
