"""The pose from marks: exact marks, few marks, and covariances that tell the truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from skyview.angles import wrap_180_deg
from skyview.calibrate.estimate import NAMES, PosePrior, Sights, camera_at, estimate
from skyview.calibrate.spread import PosedPicture
from skyview.camera.projections import Cylindrical, Equirectangular, Fisheye, Rectilinear

PRIOR = PosePrior(
    yaw=1.0,
    yaw_sigma=np.radians(10.0),
    pitch=0.0,
    pitch_sigma=np.radians(2.0),
    roll=0.0,
    roll_sigma=np.radians(2.0),
    scale_sigma=0.04,
    level_row_sigma_px=40.0,
    site_sigma_m=1e-3,
)

PHONE = Rectilinear(2912.0, (2016.0, 1512.0), -0.05, 0.01)
SWEEP = Cylindrical(2800.0, (6000.0, 1500.0))
CIRCLE = Equirectangular((8192.0, 2048.0), -np.pi, np.pi, 1.0, -0.57)
DOME = Fisheye(1200.0, (2016.0, 1512.0))

PICTURES = {
    "rectilinear": (PHONE, (4032.0, 3024.0)),
    "cylindrical": (SWEEP, (12000.0, 3000.0)),
    "equirectangular": (CIRCLE, (8192.0, 2048.0)),
    "fisheye": (DOME, (4032.0, 3024.0)),
}
PLACES = {
    3: np.array([[0.1, 0.3], [0.5, 0.7], [0.9, 0.4]]),
    4: np.array([[0.1, 0.3], [0.4, 0.75], [0.6, 0.25], [0.9, 0.6]]),
}
FIELDS = tuple(Sights.__dataclass_fields__)
SIGN = st.sampled_from([-1.0, 1.0])


def vector_of(projection, yaw, pitch, roll, log_scale, level_shift_px):
    """A pose as the estimator's vector."""
    pose = [yaw, pitch, roll, log_scale]
    if isinstance(projection, Cylindrical):
        pose.append(projection.centre_px[1] + level_shift_px)
    return np.array(pose)


def exact_sights(projection, vector, x_px, y_px, sigma_px=0.05, sigma=1e-6, distance_m=2e4):
    """Marks exactly where the pose puts them."""
    azimuth, elevation = camera_at(projection, vector).directions(x_px, y_px)
    same = np.ones_like(x_px)
    return Sights(
        x_px,
        y_px,
        sigma_px * same,
        azimuth,
        elevation,
        sigma * same,
        sigma * same,
        distance_m * same,
    )


def bearings_only(sights):
    return replace(sights, elevation=np.full(len(sights), np.nan))


def vector_found(found):
    level = [] if found.level_row_px is None else [found.level_row_px]
    return np.array([found.yaw, found.pitch, found.roll, np.log(found.scale), *level])


def directions_apart_deg(projection, vector, other, x_px, y_px):
    """Angle between the rays of two poses at pixels."""
    a = camera_at(projection, vector).rays(x_px, y_px)
    b = camera_at(projection, other).rays(x_px, y_px)
    return np.degrees(np.linalg.norm(a - b, axis=-1))


@pytest.mark.parametrize("kind", PICTURES)
@pytest.mark.parametrize("count", PLACES)
@settings(max_examples=20)
@given(
    yaw=st.floats(0.0, 2.0 * np.pi),
    yaw_off=SIGN,
    pitch_off=st.floats(-1.0, 1.0),
    roll_off=SIGN,
    scale_off=SIGN,
    level_shift_px=st.floats(-40.0, 40.0),
)
def test_exact_marks_recover_the_pose(
    kind, count, yaw, yaw_off, pitch_off, roll_off, scale_off, level_shift_px
):
    """Priors off by 12 deg of yaw, 1 deg of roll and 3 % of scale: directions to 0.01 deg over
    the part of the picture that the marks span."""
    projection, size_px = PICTURES[kind]
    truth = vector_of(
        projection,
        yaw,
        np.radians(pitch_off),
        np.radians(roll_off),
        scale_off * np.log(1.03),
        level_shift_px,
    )
    x_px, y_px = (PLACES[count] * size_px).T
    prior = replace(PRIOR, yaw=yaw + np.radians(12.0 * yaw_off))
    found = estimate(projection, prior, exact_sights(projection, truth, x_px, y_px))
    x_grid, y_grid = np.linspace(0.1, 0.9, 9)[:, None], np.linspace(0.25, 0.75, 5)
    apart_deg = directions_apart_deg(
        projection, truth, vector_found(found), x_grid * size_px[0], y_grid * size_px[1]
    )
    assert apart_deg.max() < 0.01
    assert 0.0 <= found.yaw < 2.0 * np.pi
    np.testing.assert_allclose(found.azimuth_residual, 0.0, atol=2e-4)
    np.testing.assert_allclose(found.elevation_residual, 0.0, atol=2e-4)


@pytest.mark.parametrize("kind", PICTURES)
def test_parameters_are_named_in_the_covariance_s_order(kind):
    projection, size_px = PICTURES[kind]
    truth = vector_of(projection, 1.1, 0.01, 0.01, 0.01, 5.0)
    x_px, y_px = (PLACES[4] * size_px).T
    found = estimate(projection, PRIOR, exact_sights(projection, truth, x_px, y_px))
    count = 5 if kind == "cylindrical" else 4
    assert found.parameters == NAMES[:count]
    assert found.covariance.shape == (count, count)
    assert set(found.solved) | set(found.held) == set(found.parameters)
    assert not set(found.solved) & set(found.held)
    np.testing.assert_allclose(found.covariance, found.covariance.T, rtol=1e-6, atol=1e-15)
    assert np.linalg.eigvalsh(found.covariance).min() > 0.0
    assert (found.level_row_px is not None) is (kind == "cylindrical")


def test_compass_may_cross_north():
    truth = vector_of(PHONE, np.radians(358.0), 0.0, 0.0, 0.0, 0.0)
    x_px, y_px = (PLACES[4] * PICTURES["rectilinear"][1]).T
    prior = replace(PRIOR, yaw=np.radians(4.0))
    found = estimate(PHONE, prior, exact_sights(PHONE, truth, x_px, y_px))
    assert np.degrees(found.yaw) == pytest.approx(358.0, abs=0.01)


def test_one_bearing_turns_the_picture_and_moves_nothing_else():
    truth = vector_of(PHONE, 1.15, 0.0, 0.0, 0.0, 0.0)
    sights = exact_sights(PHONE, truth, np.array([2016.0]), np.array([1512.0]), 2.0, 1e-3, np.inf)
    found = estimate(PHONE, PRIOR, bearings_only(sights))
    assert found.yaw == pytest.approx(1.15, abs=1e-4)
    assert found.solved == ("yaw",)
    assert found.held == ("pitch", "roll", "log_scale")
    assert (found.pitch, found.roll, found.scale) == pytest.approx((0.0, 0.0, 1.0), abs=1e-6)
    expected = (PRIOR.pitch_sigma, PRIOR.roll_sigma, PRIOR.scale_sigma)
    np.testing.assert_allclose(np.sqrt(np.diag(found.covariance))[1:], expected, rtol=1e-3)


def test_one_bearing_has_the_sigma_of_its_click_and_its_own():
    """sigma_yaw^2 = (2 px / 2912 px)^2 + (1 mrad)^2, the prior's 10 deg aside."""
    truth = vector_of(PHONE, 1.0, 0.0, 0.0, 0.0, 0.0)
    sights = exact_sights(PHONE, truth, np.array([2016.0]), np.array([1512.0]), 2.0, 1e-3, np.inf)
    found = estimate(PHONE, PRIOR, bearings_only(sights))
    assert np.sqrt(found.covariance[0, 0]) == pytest.approx(np.hypot(2.0 / 2912.0, 1e-3), rel=1e-3)


@pytest.mark.parametrize("pitch_sigma_deg", [0.5, 1.0, 2.0])
def test_bearings_alone_leave_the_elevation_as_uncertain_as_the_tilt_prior(pitch_sigma_deg):
    """Resection from bearings only: elevation error equals the tilt prior (a Monte Carlo study:
    0.5 -> 0.50, 1 -> 1.0, 2 -> 2.0 deg)."""
    truth = vector_of(PHONE, 1.05, 0.0, 0.0, 0.01, 0.0)
    x_px, y_px = np.array([400.0, 1500.0, 2600.0, 3600.0]), np.full(4, 1512.0)
    sights = exact_sights(PHONE, truth, x_px, y_px, 2.0, 1e-3)
    prior = replace(PRIOR, pitch_sigma=np.radians(pitch_sigma_deg))
    found = estimate(PHONE, prior, bearings_only(sights))
    posed = PosedPicture(PHONE, vector_found(found), found.covariance)
    azimuth_sigma, elevation_sigma = np.degrees(posed.direction_sigma(2016.0, 1512.0))
    assert elevation_sigma == pytest.approx(pitch_sigma_deg, rel=0.03)
    assert azimuth_sigma < 0.15
    assert "pitch" in found.held


@pytest.mark.parametrize("yaw_deg", [0.5, 95.0, 181.0, 359.0])
@pytest.mark.parametrize("kind", PICTURES)
def test_without_a_compass_the_marks_tell_the_yaw(kind, yaw_deg):
    projection, size_px = PICTURES[kind]
    truth = vector_of(projection, np.radians(yaw_deg), 0.01, -0.01, 0.02, 10.0)
    x_px, y_px = (PLACES[3] * size_px).T
    prior = replace(PRIOR, yaw=None, yaw_sigma=np.pi)
    found = estimate(projection, prior, exact_sights(projection, truth, x_px, y_px))
    assert abs(float(wrap_180_deg(np.degrees(found.yaw) - yaw_deg))) < 0.01
    assert "yaw" in found.solved


def test_without_compass_and_marks_all_is_held():
    nothing = Sights(*(np.empty(0) for _ in range(8)))
    prior = replace(PRIOR, yaw=None, yaw_sigma=np.pi, pitch=0.02)
    found = estimate(PHONE, prior, nothing)
    assert (found.yaw, found.pitch, found.scale) == pytest.approx((0.0, 0.02, 1.0), abs=1e-12)
    assert found.solved == ()
    assert found.held == NAMES[:4]
    np.testing.assert_allclose(
        np.sqrt(np.diag(found.covariance)),
        [np.pi, PRIOR.pitch_sigma, PRIOR.roll_sigma, PRIOR.scale_sigma],
        rtol=1e-6,
    )


def level_sights(projection, vector, x_px, elevation=0.0):
    """Clicks on a level line, found by search along columns."""
    camera = camera_at(projection, vector)
    y_px = np.linspace(0.0, 3024.0, 30241)
    rows = [y_px[np.argmin(np.abs(camera.directions(x, y_px)[1] - elevation))] for x in x_px]
    same = np.ones_like(x_px)
    return Sights(
        x_px,
        np.array(rows),
        2.0 * same,
        np.nan * same,
        elevation * same,
        same,
        1e-3 * same,
        np.inf * same,
    )


def test_level_line_tells_pitch_and_roll_and_leaves_the_yaw():
    truth = vector_of(PHONE, 1.0, np.radians(1.5), np.radians(-1.2), 0.0, 0.0)
    sights = level_sights(PHONE, truth, np.array([100.0, 1200.0, 2800.0, 3900.0]), -0.001)
    found = estimate(PHONE, PRIOR, sights)
    assert np.degrees(found.pitch) == pytest.approx(1.5, abs=0.05)
    assert np.degrees(found.roll) == pytest.approx(-1.2, abs=0.1)
    assert {"pitch", "roll"} <= set(found.solved)
    assert {"yaw", "log_scale"} <= set(found.held)
    assert found.yaw == pytest.approx(PRIOR.yaw, abs=1e-6)
    assert np.sqrt(found.covariance[0, 0]) == pytest.approx(PRIOR.yaw_sigma, rel=1e-3)
    assert np.isnan(found.azimuth_residual).all()
    np.testing.assert_allclose(found.elevation_residual, 0.0, atol=1e-3)


def test_level_line_without_compass_leaves_yaw_at_zero():
    truth = vector_of(PHONE, 0.0, 0.02, 0.0, 0.0, 0.0)
    sights = level_sights(PHONE, truth, np.array([100.0, 3900.0]))
    found = estimate(PHONE, replace(PRIOR, yaw=None, yaw_sigma=np.pi), sights)
    assert "yaw" in found.held
    assert np.sqrt(found.covariance[0, 0]) == pytest.approx(np.pi, rel=1e-3)
    assert abs(float(wrap_180_deg(np.degrees(found.yaw)))) < 1e-3


def test_site_error_moves_all_near_landmarks_together():
    """One landmark at 500 m and 5 m of site sigma: 0.57 deg = atan(5 / 500)."""
    truth = vector_of(PHONE, 1.0, 0.0, 0.0, 0.0, 0.0)
    sights = exact_sights(
        PHONE, truth, np.array([2016.0]), np.array([1512.0]), 0.1, 1e-5, distance_m=500.0
    )
    found = estimate(PHONE, replace(PRIOR, site_sigma_m=5.0), sights)
    assert np.degrees(np.sqrt(found.covariance[0, 0])) == pytest.approx(0.57, abs=0.01)
    many = exact_sights(
        PHONE, truth, np.full(9, 2016.0), np.full(9, 1512.0), 0.1, 1e-5, distance_m=500.0
    )
    found = estimate(PHONE, replace(PRIOR, site_sigma_m=5.0), many)
    assert np.degrees(np.sqrt(found.covariance[0, 0])) == pytest.approx(0.57, abs=0.01)


def test_mark_outside_the_projection_is_left_out():
    lens = Rectilinear(1000.0, (2016.0, 1512.0), -0.12)
    truth = vector_of(lens, 1.05, 0.0, 0.0, 0.0, 0.0)
    sights = exact_sights(lens, truth, np.array([1900.0, 2100.0]), np.array([1500.0, 1400.0]))
    beyond = Sights(*(np.append(getattr(sights, n), getattr(sights, n)[0]) for n in FIELDS))
    beyond.x_px[2] = 2016.0 + 1200.0
    found, without = estimate(lens, PRIOR, beyond), estimate(lens, PRIOR, sights)
    assert found.yaw == pytest.approx(without.yaw, abs=1e-9)
    np.testing.assert_allclose(found.covariance, without.covariance, rtol=1e-4)
    assert np.isnan(found.azimuth_residual[2])


@pytest.mark.parametrize("elevation_deg", [0.0, 30.0, 60.0])
def test_bearing_of_something_high_weighs_no_more_than_its_own_sigma(elevation_deg):
    """A bearing known to 0.2 deg and marked at an elevation nobody knows: the yaw follows it to
    0.2 deg wherever in the picture it stands."""
    truth = vector_of(CIRCLE, 1.0, 0.0, 0.0, 0.0, 0.0)
    y_px = 2048.0 * (1.0 - np.radians(elevation_deg)) / 1.57
    sights = exact_sights(
        CIRCLE, truth, np.array([4096.0]), np.array([y_px]), 0.01, np.radians(0.2), np.inf
    )
    tight = replace(PRIOR, pitch_sigma=1e-6, roll_sigma=1e-6)
    found = estimate(CIRCLE, tight, bearings_only(sights))
    assert np.degrees(np.sqrt(found.covariance[0, 0])) == pytest.approx(0.2, rel=0.02)


@pytest.mark.parametrize("elevation_deg", [0.0, 30.0, 60.0])
def test_click_high_in_the_picture_turns_it_by_more(elevation_deg):
    """A click's 5 px across are 5 px x cos(elevation) of angle, and so 5 px of azimuth."""
    truth = vector_of(CIRCLE, 1.0, 0.0, 0.0, 0.0, 0.0)
    y_px = 2048.0 * (1.0 - np.radians(elevation_deg)) / 1.57
    sights = exact_sights(CIRCLE, truth, np.array([4096.0]), np.array([y_px]), 5.0, 1e-7, np.inf)
    tight = replace(PRIOR, pitch_sigma=1e-6, roll_sigma=1e-6)
    expected = 5.0 * 2.0 * np.pi / 8192.0
    for marks in (sights, bearings_only(sights)):
        found = estimate(CIRCLE, tight, marks)
        assert np.sqrt(found.covariance[0, 0]) == pytest.approx(expected, rel=0.02)


def drawn_case(random, projection, size_px, prior, count):
    """A pose drawn from the prior, and marks drawn about it with errors of every kind.

    The sights are what a surveyor at the stated site would write down: landmarks misplaced by
    5 m, the site by its sigma, clicks by 3 px.
    """
    draw = random.standard_normal
    truth = vector_of(
        projection,
        prior.yaw + prior.yaw_sigma * draw(),
        prior.pitch + prior.pitch_sigma * draw(),
        prior.roll + prior.roll_sigma * draw(),
        prior.scale_sigma * draw(),
        prior.level_row_sigma_px * draw(),
    )
    x_px = np.linspace(0.1, 0.9, count) * size_px[0]
    y_px = random.uniform(0.35, 0.6, count) * size_px[1]
    azimuth, elevation = camera_at(projection, truth).directions(x_px, y_px)
    distance_m = np.exp(random.uniform(np.log(1e3), np.log(2e4), count))
    site_m = prior.site_sigma_m * draw(2)
    own_m = 5.0 * draw((3, count))
    east = site_m[0] + distance_m * np.sin(azimuth) + own_m[0]
    north = site_m[1] + distance_m * np.cos(azimuth) + own_m[1]
    stated_m = np.hypot(east, north)
    up = distance_m * np.tan(elevation) + own_m[2]
    sights = Sights(
        x_px + 3.0 * draw(count),
        y_px + 3.0 * draw(count),
        np.full(count, 3.0),
        np.mod(np.arctan2(east, north), 2.0 * np.pi),
        np.arctan2(up, stated_m),
        5.0 / stated_m,
        5.0 / stated_m,
        stated_m,
    )
    return truth, sights, (x_px[1], y_px[1])


@pytest.mark.parametrize(
    ("kind", "count", "seed"),
    [("plain_lens", 3, 1), ("cylindrical", 4, 2)],
)
def test_covariance_tells_the_truth(kind, count, seed):
    """400 surveys drawn at random: the 95 % interval of a marked direction holds it in 92 to
    98 % of them (one sigma of that share is 1.1 %)."""
    random = np.random.default_rng(seed)
    plain_lens = Rectilinear(2912.0, (2016.0, 1512.0)), (4032.0, 3024.0)
    projection, size_px = plain_lens if kind == "plain_lens" else PICTURES[kind]
    prior = replace(PRIOR, site_sigma_m=5.0)
    held = np.empty((400, 2), dtype=bool)
    for case in held:
        truth, sights, (x_px, y_px) = drawn_case(random, projection, size_px, prior, count)
        found = estimate(projection, prior, sights)
        posed = PosedPicture(projection, vector_found(found), found.covariance)
        azimuth, elevation = posed.camera.directions(x_px, y_px)
        true_azimuth, true_elevation = camera_at(projection, truth).directions(x_px, y_px)
        turn = np.angle(np.exp(1j * (azimuth - true_azimuth)))
        sigmas = np.array(posed.direction_sigma(x_px, y_px))
        case[:] = np.abs([turn, elevation - true_elevation]) < 1.96 * sigmas
    share = held.mean(axis=0)
    assert np.all((share > 0.92) & (share < 0.98)), share
