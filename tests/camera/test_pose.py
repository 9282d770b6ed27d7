"""Pose and camera: the signs of yaw, pitch and roll, and published pixels."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.angles import unit_from_azimuth_elevation, wrap_180_deg
from skyview.camera.pose import Camera, axes
from skyview.camera.projections import Cylindrical, Equirectangular, Fisheye, Rectilinear

CENTRE_PX = (2016.0, 1512.0)
FULL_TURN = (-np.pi, np.pi, np.pi / 2, -np.pi / 2)
YAW, PITCH, ROLL = st.floats(-7.0, 7.0), st.floats(-1.57, 1.57), st.floats(-3.2, 3.2)


def projection_of(text):
    """The projection that a row's first part describes."""
    value = {name: float(number) for name, number in re.findall(r"(\w+)=(-?[\d.]+)", text)}
    if text.startswith("rectilinear"):
        lens = value.get("k1", 0.0), value.get("k2", 0.0)
        return Rectilinear(value["f"], (value["cx"], value["cy"]), *lens)
    if text.startswith("fisheye equidistant"):
        return Fisheye(value["f"], (value["cx"], value["cy"]))
    if text.startswith("cylinder"):
        return Cylindrical(value["f"], (value["cx"], value["cy"]))
    if text.startswith("partial equirectangular"):
        full, crop = re.search(r"full=(\d+)x(\d+)", text), re.search(r"crop=(\d+)x(\d+)", text)
        size, crop_size = np.array(full.groups(), float), np.array(crop.groups(), float)
        start = np.array([value["cropLeft"], value["cropTop"]]) / size
        end = start + crop_size / size
        return Equirectangular(
            tuple(crop_size),
            2.0 * np.pi * (start[0] - 0.5),
            2.0 * np.pi * (end[0] - 0.5),
            np.pi * (0.5 - start[1]),
            np.pi * (0.5 - end[1]),
        )
    assert text.startswith("equirectangular")
    return Equirectangular((value["W"], value["H"]), *FULL_TURN)


def camera_and_pixel(row):
    parts = dict(part.split("=", 1) for part in row.parts[1:])
    yaw = parts.get("yaw") or parts["heading"].split()[0]
    angles = np.radians([float(a) for a in (yaw, parts.get("pitch", 0), parts.get("roll", 0))])
    return (
        Camera(projection_of(row.parts[0]), *map(float, angles)),
        float(parts["u"]),
        float(parts["v"]),
    )


def test_azimuth_of_pixels_matches_the_published_rows(angle_rows):
    """Camera conventions computed apart, closed against OpenCV where it has the model."""
    rows = angle_rows("pixel_azimuth")
    assert len({row.parts[0] for row in rows}) == 6
    for row in rows:
        camera, x_px, y_px = camera_and_pixel(row)
        azimuth, _ = camera.directions(x_px, y_px)
        assert abs(float(wrap_180_deg(np.degrees(azimuth) - row.value))) < row.tolerance, row.parts


def test_elevation_of_pixels_matches_the_published_rows(angle_rows):
    for row in angle_rows("pixel_elevation"):
        camera, x_px, y_px = camera_and_pixel(row)
        _, elevation = camera.directions(x_px, y_px)
        assert float(np.degrees(elevation)) == pytest.approx(row.value, abs=row.tolerance), (
            row.parts
        )


def test_published_pixels_come_back_from_their_directions(angle_rows):
    """The inverse chain on the rows' angles, to the pixels that their six decimals allow."""
    for azimuth_row, elevation_row in zip(
        angle_rows("pixel_azimuth"), angle_rows("pixel_elevation"), strict=True
    ):
        assert azimuth_row.parts == elevation_row.parts
        camera, x_px, y_px = camera_and_pixel(azimuth_row)
        ray = unit_from_azimuth_elevation(*np.radians([azimuth_row.value, elevation_row.value]))
        np.testing.assert_allclose(camera.pixels(ray), [x_px, y_px], atol=1e-3)


@given(YAW, PITCH, ROLL)
def test_axes_are_a_rotation(yaw, pitch, roll):
    rows = axes(yaw, pitch, roll)
    np.testing.assert_allclose(rows @ rows.T, np.eye(3), atol=1e-14)
    assert np.linalg.det(rows) == pytest.approx(1.0, abs=1e-14)


@given(YAW, PITCH, ROLL)
def test_axes_are_those_of_the_written_formulas(yaw, pitch, roll):
    """F, r0, u0 of the module's head, written out as scalars."""
    forward = [np.sin(yaw) * np.cos(pitch), np.cos(yaw) * np.cos(pitch), np.sin(pitch)]
    level = np.array([np.cos(yaw), -np.sin(yaw), 0.0])
    above = np.array([-np.sin(yaw) * np.sin(pitch), -np.cos(yaw) * np.sin(pitch), np.cos(pitch)])
    right = np.cos(roll) * level - np.sin(roll) * above
    up = np.sin(roll) * level + np.cos(roll) * above
    np.testing.assert_allclose(axes(yaw, pitch, roll), [right, -up, forward], atol=1e-14)


def test_axes_of_many_poses_at_once():
    yaw, roll = np.linspace(0.0, 6.0, 4), np.array([[0.1], [0.2]])
    many = axes(yaw, 0.3, roll)
    assert many.shape == (2, 4, 3, 3)
    np.testing.assert_allclose(many[1, 2], axes(yaw[2], 0.3, 0.2), atol=1e-15)


@given(st.floats(0.0, 6.28), st.floats(-1.5, 1.5), ROLL)
def test_middle_of_the_picture_lies_at_yaw_and_pitch(yaw, pitch, roll):
    camera = Camera(Rectilinear(1000.0, (500.0, 400.0)), yaw, pitch, roll)
    azimuth, elevation = camera.directions(500.0, 400.0)
    assert abs(np.angle(np.exp(1j * (azimuth - yaw)))) < 1e-12
    assert float(elevation) == pytest.approx(pitch, abs=1e-12)


def at(camera, azimuth_deg, elevation_deg):
    return camera.pixels(unit_from_azimuth_elevation(*np.radians([azimuth_deg, elevation_deg])))


def test_yaw_to_the_right_moves_things_to_the_left():
    lens = Rectilinear(1000.0, (500.0, 400.0))
    before, _ = at(Camera(lens, 0.0, 0.0, 0.0), 5.0, 0.0)
    after, _ = at(Camera(lens, 0.01, 0.0, 0.0), 5.0, 0.0)
    assert after < before


def test_pitch_upwards_moves_things_down():
    lens = Rectilinear(1000.0, (500.0, 400.0))
    _, before = at(Camera(lens, 0.0, 0.0, 0.0), 0.0, 2.0)
    _, after = at(Camera(lens, 0.0, 0.01, 0.0), 0.0, 2.0)
    assert after > before


@pytest.mark.parametrize(
    "projection",
    [
        Rectilinear(1000.0, (500.0, 400.0)),
        Cylindrical(1000.0, (500.0, 400.0)),
        Fisheye(1000.0, (500.0, 400.0)),
        Equirectangular((1000.0, 800.0), -0.5, 0.5, 0.4, -0.4),
    ],
    ids=lambda p: type(p).__name__,
)
def test_camera_turned_clockwise_shows_the_right_of_the_horizon_higher(projection):
    """right = cos r r0 - sin r u0 dips for r > 0, so what is level at the right stands above the
    picture's own middle row there, and what is level at the left below it."""
    camera = Camera(projection, 0.0, 0.0, np.radians(5.0))
    _, right = at(camera, 10.0, 0.0)
    _, left = at(camera, -10.0, 0.0)
    assert right < 400.0 < left
    assert axes(0.0, 0.0, np.radians(5.0))[0, 2] < 0.0


def test_quarter_turn_clockwise_puts_the_zenith_at_the_left():
    """A camera on its right side: the picture's content has turned counter-clockwise."""
    camera = Camera(Fisheye(1000.0, (0.0, 0.0)), 0.0, 0.0, np.pi / 2)
    np.testing.assert_allclose(at(camera, 0.0, 90.0), [-1000.0 * np.pi / 2, 0.0], atol=1e-9)


@pytest.mark.parametrize(
    "projection",
    [
        Rectilinear(2912.0, CENTRE_PX, -0.05, 0.01),
        Cylindrical(2800.0, CENTRE_PX),
        Fisheye(1200.0, CENTRE_PX),
        Equirectangular((4032.0, 3024.0), *FULL_TURN),
    ],
    ids=lambda p: type(p).__name__,
)
@given(YAW, PITCH, ROLL, st.floats(1.0, 4031.0), st.floats(1.0, 3023.0))
def test_pixels_are_the_inverse_of_rays(projection, yaw, pitch, roll, x_px, y_px):
    camera = Camera(projection, yaw, pitch, roll)
    np.testing.assert_allclose(camera.pixels(camera.rays(x_px, y_px)), [x_px, y_px], atol=1e-6)


def test_what_a_lens_cannot_show_stays_nan_in_every_pose():
    camera = Camera(Rectilinear(1000.0, (500.0, 400.0)), 1.0, 0.2, 0.1)
    assert np.isnan(camera.pixels(-camera.rays(500.0, 400.0))).all()
    fisheye = Camera(Fisheye(1000.0, (0.0, 0.0)), 1.0, 0.2, 0.1)
    assert np.isnan(fisheye.directions(4000.0, 0.0)).all()


def test_directions_of_a_grid_keep_its_shape():
    camera = Camera(Rectilinear(1000.0, (500.0, 400.0)), 1.0, 0.2, 0.1)
    azimuth, elevation = camera.directions(np.arange(4.0), np.arange(3.0)[:, None])
    assert azimuth.shape == elevation.shape == (3, 4)
