"""Screens before a ray: angles kept, clearances against shapely, and what lies behind."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from skyview.angles import azimuth_elevation_of, unit_from_azimuth_elevation
from skyview.mount.sight import NEAR_M, clearance_m, ray_axes, see, top_elevation


def screen_points(ring, plane_azimuth, foot_m):
    """East, north, up of a ring of (across, up) in an upright plane."""
    ring = np.asarray(ring, float)
    across = np.array([np.cos(plane_azimuth), -np.sin(plane_azimuth)])
    return np.column_stack([np.asarray(foot_m) + ring[:, :1] * across, ring[:, 1]])


def one_ray(ring_m, plane_azimuth, antenna_m, azimuth, elevation, holes=()):
    """``see`` for a single antenna and a single station."""
    return see(
        (ring_m, *holes),
        plane_azimuth,
        np.asarray(antenna_m, float)[None, :],
        np.array([[azimuth]]),
        np.array([[elevation]]),
    )


def gnomonic(ring_m, antenna_m, azimuth, elevation):
    """Tangents right and up of the ray, by spherical trigonometry: no vector of the ray used."""
    az, el = azimuth_elevation_of(ring_m - antenna_m)
    turn = az - azimuth
    ahead = np.sin(elevation) * np.sin(el) + np.cos(elevation) * np.cos(el) * np.cos(turn)
    right = np.cos(el) * np.sin(turn) / ahead
    up = (np.cos(elevation) * np.sin(el) - np.sin(elevation) * np.cos(el) * np.cos(turn)) / ahead
    return right, up, ahead


@st.composite
def star_rings(draw, least=3, most=9):
    """Simple rings (across, up), 1 to 8 m in radius about a middle 12 m up; either way round."""
    radii = draw(st.lists(st.floats(1.0, 8.0), min_size=least, max_size=most))
    shift = draw(st.floats(0.0, 1.0))
    angle = 2.0 * np.pi * (np.arange(len(radii)) + shift) / len(radii)
    middle = draw(st.floats(-6.0, 6.0))
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * np.array(radii)[:, None]
    ring += np.array([middle, 12.0])
    return ring[::-1] if draw(st.booleans()) else ring


SCENE = {
    "ring": star_rings(),
    "plane_azimuth": st.floats(0.0, 2.0 * np.pi),
    "distance_m": st.floats(5.0, 60.0),
    "skew": st.floats(-0.9, 0.9),
    "turn": st.floats(-0.5, 0.5),
    "elevation": st.floats(-0.1, 0.6),
}
ANTENNA_M = np.array([1.0, -2.0, 9.0])


def scene(ring, plane_azimuth, distance_m, skew, turn, elevation):
    """Ring in space about 10 to 60 m ahead of the antenna, its plane askew to the ray."""
    towards = plane_azimuth + skew
    foot_m = ANTENNA_M[:2] + distance_m * np.array([np.sin(towards), np.cos(towards)])
    return screen_points(ring, plane_azimuth, foot_m), plane_azimuth, towards + turn, elevation


@given(st.floats(0.0, 6.3), st.floats(-1.5, 1.5))
def test_ray_axes_are_right_up_and_forward(azimuth, elevation):
    right, up, forward = ray_axes(np.array(azimuth), np.array(elevation))
    np.testing.assert_allclose(forward, unit_from_azimuth_elevation(azimuth, elevation), atol=1e-15)
    frame = np.array([right, up, forward])
    np.testing.assert_allclose(frame @ frame.T, np.eye(3), atol=1e-14)
    assert right[2] == 0.0
    assert up[2] >= 0.0
    np.testing.assert_allclose(np.cross(right, up), -forward, atol=1e-14)


@given(**SCENE)
def test_projection_keeps_the_angles_that_the_antenna_sees(**drawn):
    ring_m, plane_azimuth, azimuth, elevation = scene(**drawn)
    right, up, ahead = gnomonic(ring_m, ANTENNA_M, azimuth, elevation)
    assume(ahead.min() > 0.05)
    seen = one_ray(ring_m, plane_azimuth, ANTENNA_M, azimuth, elevation)
    (x, y), distance_m = seen.rings[0], seen.distance_m[0, 0]
    np.testing.assert_allclose(x[0, 0] / distance_m, right, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(y[0, 0] / distance_m, up, rtol=1e-9, atol=1e-9)
    assert bool(seen.ahead[0, 0])


@given(**SCENE)
def test_angles_come_back_from_the_plane_square_to_the_ray(**drawn):
    """Azimuth and elevation of every vertex, from the antenna, out of x, y and distance."""
    ring_m, plane_azimuth, azimuth, elevation = scene(**drawn)
    assume(gnomonic(ring_m, ANTENNA_M, azimuth, elevation)[2].min() > 0.05)
    seen = one_ray(ring_m, plane_azimuth, ANTENNA_M, azimuth, elevation)
    x, y = (value[0, 0] for value in seen.rings[0])
    frame = ray_axes(np.array(azimuth), np.array(elevation))
    back = np.column_stack([x, y, np.full(x.shape, seen.distance_m[0, 0])]) @ frame
    expected = azimuth_elevation_of(ring_m - ANTENNA_M)
    found = azimuth_elevation_of(back)
    np.testing.assert_allclose(np.angle(np.exp(1j * (found[0] - expected[0]))), 0.0, atol=1e-9)
    np.testing.assert_allclose(found[1], expected[1], atol=1e-9)


@given(**SCENE)
def test_distance_is_that_to_the_plane_along_the_ray_within_the_screen_s_extent(**drawn):
    ring_m, plane_azimuth, azimuth, elevation = scene(**drawn)
    forward = unit_from_azimuth_elevation(azimuth, elevation)
    depth = (ring_m - ANTENNA_M) @ forward
    assume(depth.min() > 1.0)
    normal = np.array([np.sin(plane_azimuth), np.cos(plane_azimuth), 0.0])
    pierce = ((ring_m[0] - ANTENNA_M) @ normal) / (forward @ normal)
    seen = one_ray(ring_m, plane_azimuth, ANTENNA_M, azimuth, elevation)
    expected = np.clip(pierce if pierce > 0.0 else np.inf, depth.min(), depth.max())
    assert float(seen.distance_m[0, 0]) == pytest.approx(expected, rel=1e-9)


@given(**SCENE)
def test_clearance_is_shapely_s_distance_and_negative_inside(**drawn):
    ring_m, plane_azimuth, azimuth, elevation = scene(**drawn)
    right, up, ahead = gnomonic(ring_m, ANTENNA_M, azimuth, elevation)
    assume(ahead.min() > 0.05)
    seen = one_ray(ring_m, plane_azimuth, ANTENNA_M, azimuth, elevation)
    shape = Polygon(np.column_stack([right, up]) * seen.distance_m[0, 0])
    assume(shape.is_valid)
    nearest = Point(0.0, 0.0).distance(shape.boundary)
    assume(nearest > 1e-6)
    expected = -nearest if shape.contains(Point(0.0, 0.0)) else nearest
    assert float(clearance_m(seen.rings)[0, 0]) == pytest.approx(expected, rel=1e-7, abs=1e-9)


@given(
    star_rings(),
    st.floats(0.1, 0.5),
    st.floats(-9.0, 9.0),
    st.floats(3.0, 21.0),
)
def test_clearance_in_flat_coordinates_with_a_hole(ring, share, across, up):
    """The ring and a smaller copy of it as its hole, about the point (across, up)."""
    middle = np.array([ring[:, 0].mean(), ring[:, 1].mean()])
    hole = middle + share * (ring - middle)
    shape = Polygon(ring, [hole])
    assume(shape.is_valid)
    origin = np.array([across, up])
    rings = tuple(
        ((r - origin)[None, None, :, 0], (r - origin)[None, None, :, 1]) for r in (ring, hole)
    )
    nearest = Point(origin).distance(shape.boundary)
    assume(nearest > 1e-9)
    expected = -nearest if shape.contains(Point(origin)) else nearest
    assert float(clearance_m(rings)[0, 0]) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("repeat", [1, 2, 3])
def test_vertices_that_repeat_change_nothing(repeat):
    ring = np.repeat([[1.0, -1.0], [3.0, -1.0], [3.0, 1.0], [1.0, 1.0]], repeat, axis=0)
    rings = ((ring[None, None, :, 0], ring[None, None, :, 1]),)
    assert float(clearance_m(rings)[0, 0]) == 1.0
    inside = ((ring[None, None, :, 0] - 2.0, ring[None, None, :, 1]),)
    assert float(clearance_m(inside)[0, 0]) == -1.0


def test_every_antenna_and_station_is_reckoned_as_if_alone():
    plane_azimuth = 0.4
    ring_m = screen_points([(-5, 5), (5, 5), (6, 12), (-4, 15)], plane_azimuth, (8.0, 20.0))
    hole_m = screen_points([(-1, 7), (1, 7), (1, 9)], plane_azimuth, (8.0, 20.0))
    antennas_m = np.array([[0.0, 0.0, 9.0], [2.0, -1.0, 11.0], [-30.0, 60.0, 9.0]])
    azimuth = np.array([[0.1, 0.4, 3.5, 1.6]] * 3) + np.array([[0.0], [0.01], [0.02]])
    elevation = np.full((3, 4), 0.02)
    seen = see((ring_m, hole_m), plane_azimuth, antennas_m, azimuth, elevation)
    together = clearance_m(seen.rings)
    assert together.shape == seen.distance_m.shape == seen.ahead.shape == (3, 4)
    for a in range(3):
        for s in range(4):
            alone = one_ray(
                ring_m, plane_azimuth, antennas_m[a], azimuth[a, s], elevation[a, s], (hole_m,)
            )
            assert float(alone.distance_m[0, 0]) == pytest.approx(seen.distance_m[a, s], rel=1e-12)
            assert float(clearance_m(alone.rings)[0, 0]) == pytest.approx(together[a, s], rel=1e-9)
            assert bool(alone.ahead[0, 0]) is bool(seen.ahead[a, s])


def test_screen_seen_from_its_back_has_the_same_clearance():
    """A mast beyond the tree looks back through it: left and right change, the gap does not."""
    ring = [(-2.0, 0.0), (2.0, 0.0), (2.0, 10.0), (-2.0, 10.0)]
    ring_m = screen_points(ring, 0.0, (0.0, 20.0))
    there = one_ray(ring_m, 0.0, (3.0, 0.0, 5.0), 0.0, 0.0)
    back = one_ray(ring_m, 0.0, (3.0, 40.0, 5.0), np.pi, 0.0)
    assert float(clearance_m(there.rings)[0, 0]) == pytest.approx(1.0)
    assert float(clearance_m(back.rings)[0, 0]) == pytest.approx(1.0)
    assert float(there.distance_m[0, 0]) == float(back.distance_m[0, 0]) == pytest.approx(20.0)
    assert there.rings[0][0].max() < 0.0 < back.rings[0][0].min()


def test_screen_wholly_behind_is_not_ahead_and_far_away():
    ring_m = screen_points([(-5, 5), (5, 5), (0, 15)], 0.0, (0.0, 20.0))
    hole_m = screen_points([(-1, 7), (1, 7), (0, 9)], 0.0, (0.0, 20.0))
    seen = one_ray(ring_m, 0.0, (0.0, 0.0, 9.0), np.pi, 0.0, (hole_m,))
    assert not seen.ahead[0, 0]
    assert float(clearance_m(seen.rings)[0, 0]) > 1e3
    assert np.isnan(
        top_elevation(ring_m, 0.0, np.array([[0.0, 0.0, 9.0]]), np.array([[np.pi]]))[0, 0]
    )


def brute_clearance_m(ring_m, plane_azimuth, antenna_m, azimuth, elevation, distance_m):
    """Least distance of finely sampled edges ahead of the antenna, and whether the ray pierces
    the screen, asked in the screen's own plane."""
    share = np.linspace(0.0, 1.0, 20_001)[:, None]
    forward = unit_from_azimuth_elevation(azimuth, elevation)
    nearest = np.inf
    for start, end in zip(ring_m, np.roll(ring_m, -1, axis=0), strict=True):
        offset = start + share * (end - start) - antenna_m
        depth = offset @ forward
        kept = depth > NEAR_M
        aside = np.linalg.norm(offset - depth[:, None] * forward, axis=1)
        nearest = min(nearest, (aside[kept] * distance_m / depth[kept]).min(initial=np.inf))
    normal = np.array([np.sin(plane_azimuth), np.cos(plane_azimuth), 0.0])
    across = np.array([np.cos(plane_azimuth), -np.sin(plane_azimuth), 0.0])
    pierce = ((ring_m[0] - antenna_m) @ normal) / (forward @ normal)
    at = antenna_m + pierce * forward - ring_m[0]
    flat = Polygon(np.column_stack([(ring_m - ring_m[0]) @ across, ring_m[:, 2] - ring_m[0, 2]]))
    inside = pierce > 0.0 and flat.contains(Point(at @ across, at[2]))
    return -nearest if inside else nearest


@pytest.mark.parametrize("azimuth_deg", [20.0, 45.0, 60.0, 75.0, 88.0, 100.0, 120.0, 178.0])
@pytest.mark.parametrize("antenna_up_m", [3.0, 6.0, 11.0])
@pytest.mark.parametrize("way", [1, -1])
def test_clearance_of_a_long_wall_half_behind_is_that_of_its_visible_part(
    azimuth_deg, antenna_up_m, way
):
    """A hedge from 40 m behind to 60 m ahead, 4 m to the right of an antenna that looks along."""
    plane_azimuth = np.pi / 2
    ring = [(-60.0, 0.0), (40.0, 0.0), (40.0, 5.0), (0.0, 8.0), (-60.0, 6.0)][::way]
    ring_m = screen_points(ring, plane_azimuth, (4.0, 0.0))
    antenna_m, azimuth = np.array([0.0, 0.0, antenna_up_m]), np.radians(azimuth_deg)
    seen = one_ray(ring_m, plane_azimuth, antenna_m, azimuth, 0.02)
    found = float(clearance_m(seen.rings)[0, 0])
    expected = brute_clearance_m(
        ring_m, plane_azimuth, antenna_m, azimuth, 0.02, float(seen.distance_m[0, 0])
    )
    assert bool(seen.ahead[0, 0])
    assert found == pytest.approx(expected, rel=1e-3)


@given(
    star_rings(),
    st.floats(-0.9, 0.9),
    st.floats(-9.0, 9.0),
    st.floats(0.3, 5.0),
    st.floats(0.0, 6.28),
    st.floats(-0.3, 0.3),
)
def test_clearance_close_beside_a_screen_is_that_of_its_visible_part(
    ring, plane_azimuth, along_m, aside_m, azimuth, elevation
):
    ring_m = screen_points(ring, plane_azimuth, (0.0, 0.0))
    across = np.array([np.cos(plane_azimuth), -np.sin(plane_azimuth)])
    normal = np.array([np.sin(plane_azimuth), np.cos(plane_azimuth)])
    antenna_m = np.array([*(along_m * across - aside_m * normal), 11.0])
    forward = unit_from_azimuth_elevation(azimuth, elevation)
    depth = (ring_m - antenna_m) @ forward
    assume(depth.max() > 0.5)
    assume(abs(forward[:2] @ normal) > 0.05)
    seen = one_ray(ring_m, plane_azimuth, antenna_m, azimuth, elevation)
    found = float(clearance_m(seen.rings)[0, 0])
    distance_m = float(seen.distance_m[0, 0])
    expected = brute_clearance_m(ring_m, plane_azimuth, antenna_m, azimuth, elevation, distance_m)
    assume(abs(expected) > 1e-3)
    assert found == pytest.approx(expected, rel=1e-3, abs=1e-5)


def brute_top_elevation(ring, distance_ahead_m, antenna_m, offset):
    """Top of a screen square to north, on the bearing ``offset`` from north, by shapely."""
    across = antenna_m[0] + distance_ahead_m * np.tan(offset)
    upright = LineString([(across, -100.0), (across, 200.0)])
    cut = Polygon(ring).intersection(upright)
    if cut.is_empty:
        return np.nan
    return np.arctan2(cut.bounds[3] - antenna_m[2], distance_ahead_m / np.cos(offset))


@given(star_rings(), st.floats(3.0, 60.0), st.floats(-1.2, 1.2), st.floats(0.0, 25.0))
def test_top_elevation_is_that_of_the_highest_point_on_the_bearing(
    ring, distance_m, offset, antenna_up_m
):
    assume(Polygon(ring).is_valid)
    antenna_m = np.array([1.0, -2.0, antenna_up_m])
    across = antenna_m[0] + distance_m * np.tan(offset)
    assume(np.abs(ring[:, 0] - across).min() > 1e-6)
    expected = brute_top_elevation(ring, distance_m, antenna_m, offset)
    ring_m = screen_points(ring, 0.0, (0.0, antenna_m[1] + distance_m))
    found = top_elevation(ring_m, 0.0, antenna_m[None, :], np.array([[offset]]))
    assert found.shape == (1, 1)
    assert float(found[0, 0]) == pytest.approx(expected, abs=1e-9, nan_ok=True)


def test_top_elevation_of_many_bearings_and_antennas():
    ring_m = screen_points([(-5, 0), (5, 0), (5, 10), (-5, 10)], 0.0, (0.0, 20.0))
    antennas_m = np.array([[0.0, 0.0, 5.0], [0.0, 10.0, 12.0]])
    azimuth = np.radians([[0.0, 10.0, 40.0], [0.0, 10.0, 40.0]])
    found = np.degrees(top_elevation(ring_m, 0.0, antennas_m, azimuth))
    ten = np.cos(np.radians(10.0))
    expected = [
        [np.degrees(np.arctan2(5, 20)), np.degrees(np.arctan2(5 * ten, 20)), np.nan],
        [np.degrees(np.arctan2(-2, 10)), np.degrees(np.arctan2(-2 * ten, 10)), np.nan],
    ]
    np.testing.assert_allclose(found, expected, atol=1e-9)


def test_top_elevation_beside_a_wall_half_behind():
    """A hedge 4 m to the right, 8 m high, from 60 m behind to 40 m ahead."""
    ring_m = screen_points([(-40, 0), (60, 0), (60, 8), (-40, 8)], np.pi / 2, (4.0, 0.0))
    bearings = np.radians([[10.0, 45.0, 90.0, 170.0, 270.0]])
    found = top_elevation(ring_m, np.pi / 2, np.array([[0.0, 0.0, 5.0]]), bearings)
    expected = np.arctan2(3.0 * np.sin(bearings), 4.0)
    expected[0, 4] = np.nan
    np.testing.assert_allclose(found, expected, atol=1e-9)
