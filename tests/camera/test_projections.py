"""The four projections: closed against OpenCV, round trips, and what they cannot show."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from skyview.camera.projections import Cylindrical, Equirectangular, Fisheye, Rectilinear

CENTRE_PX = (2016.0, 1512.0)
NANORADIAN = 1e-9

FOCAL_PX = st.floats(400.0, 6000.0)
TURN = st.floats(-np.pi, np.pi)
K1 = st.floats(-0.4, 0.4).map(lambda k: round(k, 6))
K2 = st.floats(-0.2, 0.2).map(lambda k: round(k, 6))
ALL_PROJECTIONS = [
    Rectilinear(2912.0, CENTRE_PX),
    Rectilinear(2912.0, CENTRE_PX, -0.12, 0.03),
    Cylindrical(2800.0, (6000.0, 1500.0)),
    Equirectangular((8192.0, 4096.0), -np.pi, np.pi, np.pi / 2, -np.pi / 2),
    Fisheye(1200.0, CENTRE_PX),
]


def off_axis(angle, side):
    """Unit ray at an angle from the axis, towards a side: 0 to the right, pi / 2 down."""
    angle, side = np.broadcast_arrays(angle, side)
    return np.stack(
        [np.sin(angle) * np.cos(side), np.sin(angle) * np.sin(side), np.cos(angle)], axis=-1
    )


def around(longitude, latitude):
    """Unit ray at a longitude to the right of the axis and a latitude up."""
    longitude, latitude = np.broadcast_arrays(longitude, latitude)
    return np.stack(
        [
            np.sin(longitude) * np.cos(latitude),
            -np.sin(latitude),
            np.cos(longitude) * np.cos(latitude),
        ],
        axis=-1,
    )


def assert_closes(projection, ray, nanoradians=1.0):
    """Ray to pixel to ray, and the pixel again, to 1e-9 rad."""
    x, y = projection.pixels(ray)
    back = projection.rays(x, y)
    assert np.linalg.norm(back - ray) < nanoradians * NANORADIAN
    per_radian = getattr(projection, "focal_px", None) or getattr(projection, "px_per_rad", 1300.0)
    again = projection.pixels(back)
    # A pixel far from the centre stands for less than 1 / (pixels per radian) of angle.
    far = 1.0 + np.hypot(x, y) / per_radian
    assert np.hypot(again[0] - x, again[1] - y) / per_radian < nanoradians * NANORADIAN * far**2


def slope(k1, k2, r):
    """d(r_d)/dr of the radial distortion."""
    return 1.0 + 3.0 * k1 * r**2 + 5.0 * k2 * r**4


@given(FOCAL_PX, st.floats(0.0, np.radians(80.0)), TURN)
def test_rectilinear_closes(focal_px, angle, side):
    assert_closes(Rectilinear(focal_px, CENTRE_PX), off_axis(angle, side))


@given(FOCAL_PX, K1, K2, st.floats(0.0, np.radians(65.0)), TURN)
def test_distorted_rectilinear_closes_before_the_fold(focal_px, k1, k2, angle, side):
    """The inverse loses digits as one over the slope of r_d, which is zero at the fold: rays with
    a slope below 0.05 anywhere on the way are left to the test of the fold."""
    assume(slope(k1, k2, np.linspace(0.0, np.tan(angle), 200)).min() > 0.05)
    assert_closes(Rectilinear(focal_px, CENTRE_PX, k1, k2), off_axis(angle, side))


@given(st.floats(500.0, 5000.0), TURN, st.floats(-np.radians(85.0), np.radians(85.0)))
def test_cylinder_closes_all_round(px_per_rad, longitude, latitude):
    assert_closes(Cylindrical(px_per_rad, (6000.0, 1500.0)), around(longitude, latitude))


@given(
    st.floats(-2.0 * np.pi, np.pi),
    st.floats(0.05, 2.0 * np.pi),
    st.floats(0.9, 1.1),
    st.floats(-np.pi, np.pi),
    st.floats(-np.radians(89.0), np.radians(89.0)),
)
def test_equirectangular_closes_all_round(left, width, scale, longitude, latitude):
    picture = Equirectangular((8192.0, 4096.0), left, left + width, 1.5, -0.9, scale)
    assert_closes(picture, around(longitude, latitude))


@given(FOCAL_PX, st.floats(0.0, np.radians(179.0)), TURN)
def test_fisheye_closes_to_179_deg_off_axis(px_per_rad, angle, side):
    assert_closes(Fisheye(px_per_rad, CENTRE_PX), off_axis(angle, side))


@pytest.mark.parametrize("projection", ALL_PROJECTIONS, ids=lambda p: type(p).__name__)
@given(st.floats(0.0, 4032.0), st.floats(0.0, 3024.0))
def test_pixel_comes_back_from_its_ray(projection, x_px, y_px):
    x, y = projection.pixels(projection.rays(x_px, y_px))
    np.testing.assert_allclose([x, y], [x_px, y_px], atol=1e-6)


@pytest.mark.parametrize("projection", ALL_PROJECTIONS, ids=lambda p: type(p).__name__)
def test_rays_are_unit_vectors_and_shapes_are_kept(projection):
    x, y = np.linspace(100.0, 3900.0, 7), np.linspace(100.0, 2900.0, 5)[:, None]
    rays = projection.rays(x, y)
    assert rays.shape == (5, 7, 3)
    np.testing.assert_allclose(np.linalg.norm(rays, axis=-1), 1.0, atol=1e-14)
    assert projection.rays(1000.0, 900.0).shape == (3,)
    columns, rows = projection.pixels(rays * 7.0)
    np.testing.assert_allclose(columns, np.broadcast_to(x, (5, 7)), atol=1e-6)
    np.testing.assert_allclose(rows, np.broadcast_to(y, (5, 7)), atol=1e-6)


@pytest.mark.parametrize("projection", ALL_PROJECTIONS, ids=lambda p: type(p).__name__)
def test_right_is_right_and_down_is_down(projection):
    x, y = projection.pixels(np.array([0.0, 0.0, 1.0]))
    right, down = projection.rays(x + 100.0, y), projection.rays(x, y + 100.0)
    assert right[0] > 0.0
    assert abs(right[1]) < 1e-12
    assert down[1] > 0.0
    assert abs(down[0]) < 1e-12


@given(K1, K2, st.floats(0.0, np.radians(60.0)), TURN)
def test_rectilinear_agrees_with_opencv(k1, k2, angle, side):
    """cv2.projectPoints: camera axes x right, y down, z forward, as here."""
    assume(slope(k1, k2, np.linspace(0.0, np.tan(angle), 200)).min() > 0.0)
    lens = Rectilinear(2912.0, CENTRE_PX, k1, k2)
    ray = off_axis(angle, side)
    matrix = np.array([[2912.0, 0.0, CENTRE_PX[0]], [0.0, 2912.0, CENTRE_PX[1]], [0.0, 0.0, 1.0]])
    expected, _ = cv2.projectPoints(
        ray.reshape(1, 1, 3), np.zeros(3), np.zeros(3), matrix, np.array([k1, k2, 0.0, 0.0])
    )
    np.testing.assert_allclose(lens.pixels(ray), expected.reshape(2), atol=1e-6)


@given(st.floats(0.0, np.radians(89.0)), TURN)
def test_fisheye_agrees_with_opencv(angle, side):
    """cv2.fisheye.projectPoints without its distortion terms, which works to 90 deg off axis."""
    ray = off_axis(angle, side)
    matrix = np.array([[1200.0, 0.0, CENTRE_PX[0]], [0.0, 1200.0, CENTRE_PX[1]], [0.0, 0.0, 1.0]])
    expected, _ = cv2.fisheye.projectPoints(
        ray.reshape(1, 1, 3), np.zeros(3), np.zeros(3), matrix, np.zeros(4)
    )
    np.testing.assert_allclose(
        Fisheye(1200.0, CENTRE_PX).pixels(ray), expected.reshape(2), atol=1e-6
    )


@pytest.mark.parametrize("lens", [ALL_PROJECTIONS[0], ALL_PROJECTIONS[1]])
@pytest.mark.parametrize("ray", [(0.1, 0.1, -1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0, 0, -1)])
def test_rectilinear_shows_nothing_behind_or_beside_the_camera(lens, ray):
    assert np.isnan(lens.pixels(ray)).all()


def test_rectilinear_shows_nothing_past_the_fold():
    """k1 = -0.12: 1 + 3 k1 r^2 = 0 at r = 5/3, where r_d = 10/9."""
    lens = Rectilinear(1000.0, (0.0, 0.0), -0.12)
    before, past = off_axis(np.arctan([0.999 * 5 / 3, 1.001 * 5 / 3]), 0.0)
    assert np.isfinite(lens.pixels(before)).all()
    assert np.isnan(lens.pixels(past)).all()
    assert np.isfinite(lens.rays(1000.0 * 10 / 9 * 0.9999, 0.0)).all()
    assert np.isnan(lens.rays(1000.0 * 10 / 9 * 1.0001, 0.0)).all()


@pytest.mark.parametrize(
    ("k1", "k2", "angle_deg"),
    [(0.35, -0.06, 55.0), (0.31, -0.11, 51.8), (0.2, -0.02, 60.0), (0.39, -0.0018, 69.9)],
)
def test_lens_that_pushes_out_and_pulls_in_again_closes(k1, k2, angle_deg):
    """Far from the fold's zero slope, where the inverse is well defined."""
    angle = np.radians(angle_deg)
    assert slope(k1, k2, np.linspace(0.0, np.tan(angle), 200)).min() > 0.2
    assert_closes(Rectilinear(1000.0, CENTRE_PX, k1, k2), off_axis(angle, 0.7))


def test_ray_beside_the_fold_comes_back_within_what_the_slope_allows():
    lens = Rectilinear(1000.0, (0.0, 0.0), -0.12)
    angle = np.arctan(np.linspace(1.6, 5 / 3 - 1e-6, 300))
    back = lens.rays(*lens.pixels(off_axis(angle, 1.0)))
    np.testing.assert_allclose(back, off_axis(angle, 1.0), atol=1e-6)


@pytest.mark.parametrize(("k1", "k2"), [(0.3, 0.1), (-0.3, 0.1), (0.3, -0.1), (-0.05, -0.05)])
def test_distortion_pushes_pixels_out_or_pulls_them_in(k1, k2):
    r = 0.5
    x, _ = Rectilinear(1000.0, (0.0, 0.0), k1, k2).pixels([r, 0.0, 1.0])
    assert float(x) == pytest.approx(1000.0 * r * (1.0 + k1 * r**2 + k2 * r**4), abs=1e-9)


@pytest.mark.parametrize("up", [1.0, -1.0])
def test_cylinder_shows_nothing_along_its_axis(up):
    picture = Cylindrical(1000.0, (0.0, 0.0))
    assert np.isnan(picture.pixels([0.0, up, 0.0])).all()
    assert np.isfinite(picture.pixels([1e-9, up, 0.0])).all()


def test_cylinder_counts_its_angle_to_half_a_turn_each_way():
    picture = Cylindrical(1000.0, (0.0, 0.0))
    x, _ = picture.pixels(around([np.pi - 1e-6, -np.pi + 1e-6], 0.0))
    np.testing.assert_allclose(x, [1000.0 * (np.pi - 1e-6), -1000.0 * (np.pi - 1e-6)], atol=1e-9)
    beyond = picture.rays(1000.0 * (np.pi + 0.1), 0.0)
    np.testing.assert_allclose(beyond, around(-np.pi + 0.1, 0.0), atol=1e-12)


def test_cylinder_rows_follow_the_tangent():
    _, y = Cylindrical(1000.0, (0.0, 500.0)).pixels(around(0.3, np.radians(30.0)))
    assert float(y) == pytest.approx(500.0 - 1000.0 * np.tan(np.radians(30.0)), abs=1e-9)


def test_equirectangular_shows_nothing_beyond_its_poles():
    picture = Equirectangular((3600.0, 1800.0), -np.pi, np.pi, np.pi / 2, -np.pi / 2)
    assert np.isfinite(picture.rays(100.0, [0.0, 1800.0])).all()
    assert np.isnan(picture.rays(100.0, [-1.0, 1801.0])).all()


def test_equirectangular_may_run_past_its_width():
    picture = Equirectangular((3600.0, 1800.0), -np.pi, np.pi, np.pi / 2, -np.pi / 2)
    np.testing.assert_allclose(picture.rays(3700.0, 800.0), picture.rays(100.0, 800.0), atol=1e-12)
    x, _ = picture.pixels(picture.rays(3700.0, 800.0))
    assert float(x) == pytest.approx(100.0, abs=1e-6)


def test_partial_equirectangular_takes_the_longitude_nearest_its_middle():
    """A crop from 170 deg to 250 deg holds -150 deg as 210 deg."""
    picture = Equirectangular((800.0, 400.0), *np.radians([170.0, 250.0, 20.0, -20.0]))
    x, _ = picture.pixels(around(np.radians([-150.0, 180.0]), 0.0))
    np.testing.assert_allclose(x, [400.0, 100.0], atol=1e-6)


def test_fisheye_shows_nothing_beyond_half_a_turn_off_axis():
    lens = Fisheye(1000.0, (0.0, 0.0))
    assert np.isfinite(lens.rays(1000.0 * 3.14, 0.0)).all()
    assert np.isnan(lens.rays(1000.0 * 3.15, 0.0)).all()
    assert np.isnan(lens.pixels([0.0, 0.0, -1.0])).all()
    np.testing.assert_array_equal(lens.pixels([0.0, 0.0, 1.0]), [0.0, 0.0])


@pytest.mark.parametrize("projection", ALL_PROJECTIONS, ids=lambda p: type(p).__name__)
def test_nan_goes_through_and_spares_its_neighbours(projection):
    rays = projection.rays([np.nan, 1500.0], [1000.0, 1000.0])
    assert np.isnan(rays[0]).all()
    assert np.isfinite(rays[1]).all()
    x, y = projection.pixels(np.array([[np.nan] * 3, [0.1, 0.1, 1.0]]))
    assert np.isnan([x[0], y[0]]).all()
    assert np.isfinite([x[1], y[1]]).all()


@pytest.mark.parametrize("projection", ALL_PROJECTIONS, ids=lambda p: type(p).__name__)
@pytest.mark.parametrize("factor", [0.95, 1.0, 1.07])
def test_scaled_multiplies_the_pixels_per_radian(projection, factor):
    scaled = projection.scaled(factor)
    assert type(scaled) is type(projection)
    axis = np.array([0.0, 0.0, 1.0])
    rays = off_axis(1e-4, np.array([0.0, 1.0, 2.5]))
    before = np.subtract(projection.pixels(rays), np.reshape(projection.pixels(axis), (2, 1)))
    after = np.subtract(scaled.pixels(rays), np.reshape(scaled.pixels(axis), (2, 1)))
    np.testing.assert_allclose(after, factor * before, rtol=1e-6, atol=1e-7)
    np.testing.assert_allclose(scaled.pixels(rays), np.stack(scaled.pixels(rays)), atol=0.0)


@pytest.mark.parametrize("projection", ALL_PROJECTIONS, ids=lambda p: type(p).__name__)
def test_scaled_keeps_the_direction_ahead_in_place(projection):
    axis = np.array([0.0, 0.0, 1.0])
    np.testing.assert_allclose(
        projection.scaled(1.1).pixels(axis), projection.pixels(axis), atol=1e-9
    )


def test_scaling_twice_multiplies():
    twice = Equirectangular((800.0, 400.0), -1.0, 1.0, 0.5, -0.5).scaled(1.1).scaled(1.2)
    assert twice.scale == pytest.approx(1.32, rel=1e-15)
    assert Rectilinear(1000.0, (0.0, 0.0), 0.1).scaled(1.1).k1 == 0.1
