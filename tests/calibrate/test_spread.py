"""One sigma of a direction from the pose's covariance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.calibrate.estimate import camera_at
from skyview.calibrate.spread import PosedPicture
from skyview.camera.projections import Cylindrical, Equirectangular, Fisheye, Rectilinear

PHONE = Rectilinear(2912.0, (2016.0, 1512.0))
SIGMAS = np.radians([0.3, 0.2, 0.5])


def posed(projection, pose, covariance):
    return PosedPicture(projection, np.array(pose), np.asarray(covariance))


def test_camera_is_the_one_of_the_vector():
    picture = posed(Cylindrical(1000.0, (0.0, 500.0)), [1.0, 0.1, 0.2, 0.1, 510.0], np.eye(5))
    camera = picture.camera
    assert (camera.yaw, camera.pitch, camera.roll) == (1.0, 0.1, 0.2)
    assert camera.projection.px_per_rad == pytest.approx(1000.0 * np.exp(0.1))
    assert camera.projection.centre_px == (0.0, 510.0)


@given(st.floats(-0.4, 0.4), st.floats(0.0, 4032.0), st.floats(0.0, 3024.0))
def test_yaw_alone_turns_every_azimuth_and_no_elevation(pitch, x_px, y_px):
    picture = posed(PHONE, [6.2, pitch, 0.1, 0.0], np.diag([0.01**2, 0.0, 0.0, 0.0]))
    azimuth_sigma, elevation_sigma = picture.direction_sigma(x_px, y_px)
    assert float(azimuth_sigma) == pytest.approx(0.01, rel=1e-6)
    assert float(elevation_sigma) == pytest.approx(0.0, abs=1e-9)


def test_pitch_alone_lifts_the_middle():
    picture = posed(PHONE, [0.0, 0.0, 0.0, 0.0], np.diag([0.0, 0.02**2, 0.0, 0.0]))
    azimuth_sigma, elevation_sigma = picture.direction_sigma(2016.0, 1512.0)
    assert float(elevation_sigma) == pytest.approx(0.02, rel=1e-6)
    assert float(azimuth_sigma) == pytest.approx(0.0, abs=1e-9)


def test_roll_lifts_the_sides_by_their_distance_off_the_axis():
    """At an angle a to the right on the level, roll r lifts by sin(a) r."""
    picture = posed(PHONE, [0.0, 0.0, 0.0, 0.0], np.diag([0.0, 0.0, 0.01**2, 0.0]))
    angle = np.radians(25.0)
    _, elevation_sigma = picture.direction_sigma(2016.0 + 2912.0 * np.tan(angle), 1512.0)
    assert float(elevation_sigma) == pytest.approx(0.01 * np.sin(angle), rel=1e-6)


def test_scale_turns_a_cylinder_in_proportion_to_its_angle():
    picture = posed(
        Cylindrical(1000.0, (0.0, 0.0)), [0.0, 0.0, 0.0, 0.0, 0.0], np.diag([0, 0, 0, 0.02**2, 0])
    )
    azimuth_sigma, _ = picture.direction_sigma([500.0, 1000.0, 2000.0], 0.0)
    np.testing.assert_allclose(azimuth_sigma, [0.01, 0.02, 0.04], rtol=1e-6)


def test_level_row_lifts_a_cylinder_by_pixels():
    picture = posed(
        Cylindrical(1000.0, (0.0, 500.0)), [0.0, 0.0, 0.0, 0.0, 500.0], np.diag([0, 0, 0, 0, 9.0])
    )
    _, elevation_sigma = picture.direction_sigma(0.0, 500.0)
    assert float(elevation_sigma) == pytest.approx(0.003, rel=1e-6)


def test_correlated_errors_may_cancel():
    """Yaw and scale of opposite sign leave one column of a cylinder untouched."""
    jacobian = np.array([-1.0, 0.0, 0.0, -1.0, 0.0]) * 0.01
    picture = posed(Cylindrical(1000.0, (0.0, 0.0)), np.zeros(5), np.outer(jacobian, jacobian))
    azimuth_sigma, _ = picture.direction_sigma([-1000.0, 1000.0], 0.0)
    np.testing.assert_allclose(azimuth_sigma, [0.02, 0.0], atol=1e-7)


@pytest.mark.parametrize(
    "projection",
    [
        PHONE,
        Fisheye(1200.0, (2016.0, 1512.0)),
        Equirectangular((4032.0, 3024.0), -2.0, 2.0, 1.0, -1.0),
    ],
    ids=lambda p: type(p).__name__,
)
def test_sigma_agrees_with_a_draw_from_the_covariance(projection):
    random = np.random.default_rng(3)
    half = 0.002 * random.standard_normal((4, 4))
    covariance = half @ half.T
    vector = np.array([1.0, 0.1, -0.05, 0.02])
    x_px, y_px = np.array([500.0, 2000.0, 3500.0]), np.array([1000.0, 1500.0, 2000.0])
    azimuth_sigma, elevation_sigma = posed(projection, vector, covariance).direction_sigma(
        x_px, y_px
    )
    draws = random.multivariate_normal(vector, covariance, 4000)
    seen = np.array([camera_at(projection, draw).directions(x_px, y_px) for draw in draws])
    np.testing.assert_allclose(azimuth_sigma, seen[:, 0].std(axis=0), rtol=0.05)
    np.testing.assert_allclose(elevation_sigma, seen[:, 1].std(axis=0), rtol=0.05)


def test_azimuth_sigma_does_not_jump_at_north():
    picture = posed(PHONE, [0.0, 0.0, 0.0, 0.0], np.diag([0.01**2, 0.0, 0.0, 0.0]))
    azimuth_sigma, _ = picture.direction_sigma([2015.99, 2016.0, 2016.01], 1512.0)
    np.testing.assert_allclose(azimuth_sigma, 0.01, rtol=1e-6)


def test_shapes_are_kept_and_the_unseen_is_nan():
    lens = Rectilinear(1000.0, (0.0, 0.0), -0.12)
    picture = posed(lens, [0.0, 0.0, 0.0, 0.0], np.diag([*SIGMAS**2, 0.01**2]))
    x_px = np.array([[0.0, 500.0, 1300.0]])
    azimuth_sigma, elevation_sigma = picture.direction_sigma(x_px, np.zeros((2, 1)))
    assert azimuth_sigma.shape == elevation_sigma.shape == (2, 3)
    assert np.isfinite(azimuth_sigma[:, :2]).all()
    assert np.isnan(azimuth_sigma[:, 2]).all()


def test_what_no_pose_mends_is_added_to_the_azimuth_alone():
    pose = PHONE, np.array([1.0, 0.1, 0.0, 0.0]), np.diag([0.003**2, 0.0, 0.0, 0.0])
    plain = PosedPicture(*pose).direction_sigma(700.0, 900.0)
    wide = PosedPicture(*pose, own_azimuth_sigma=0.004).direction_sigma(700.0, 900.0)
    assert float(wide[0]) == pytest.approx(np.hypot(plain[0], 0.004))
    assert float(wide[1]) == float(plain[1])
