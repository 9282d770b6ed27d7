"""The tables against the exact projection: between the nodes, over the seam, both ways."""

from __future__ import annotations

import numpy as np
import pytest
from survey_scene import CAMERA, SITE

from skyview.survey.cameras import camera_of
from skyview.survey.models import validate
from skyview.workbench.angles import ERROR_DEG, angles_message
from skyview.workbench.poses import pixels_of

PROJECTIONS = {
    "circle": ({"kind": "equirectangular", "left_deg": -180, "right_deg": 180, "top_deg": 60,
                "bottom_deg": -30}, (4096, 1024)),
    "part": ({"kind": "equirectangular", "left_deg": -60, "right_deg": 100, "top_deg": 50,
              "bottom_deg": -20}, (3000, 1300)),
    "sweep": ({"kind": "cylindrical", "px_per_rad": 1200, "centre_px": [2500, 700]}, (5000, 1400)),
    "lens": ({"kind": "rectilinear", "focal_px": 1500, "centre_px": [2000, 1500], "k1": -0.08,
              "k2": 0.01}, (4000, 3000)),
    "fisheye": ({"kind": "fisheye", "px_per_rad": 900, "centre_px": [1500, 1500]}, (3000, 3000)),
}  # fmt: skip


def camera_with(name, yaw=3.0, pitch=8.0, roll=4.0):
    projection, size = PROJECTIONS[name]
    view = {
        "id": "v", "photo": "photos/v.jpg", "size_px": list(size), "camera_enu_m": list(CAMERA),
        "projection": projection,
        "prior": {"yaw_deg": yaw, "pitch_deg": pitch, "roll_deg": roll, "yaw_sigma_deg": 2},
    }  # fmt: skip
    data = {"format": "skyview-survey", "version": 1, "revision": 0, "site": SITE, "views": [view]}
    survey = validate(data)
    return camera_of(survey, survey.views[0])


def interpolated(table, u, v):
    """Straight interpolation, as the page does it."""
    table = np.array(table, float)
    column = np.clip(u.astype(int), 0, table.shape[1] - 2)
    row = np.clip(v.astype(int), 0, table.shape[0] - 2)
    a, b = u - column, v - row
    first = table[row, column]
    others = [table[row, column + 1], table[row + 1, column], table[row + 1, column + 1]]
    top = first * (1 - a) + others[0] * a
    return top * (1 - b) + (others[1] * (1 - a) + others[2] * a) * b


@pytest.mark.parametrize("name", PROJECTIONS)
def test_pixels_to_angles_between_the_nodes(name):
    camera = camera_with(name)
    told = angles_message(camera, 1, 10.0)
    grid = told["grid"]
    assert told["error_deg"] < ERROR_DEG
    rng = np.random.default_rng(5)
    x, y = rng.uniform(0, camera.view.size_px, (20_000, 2)).T
    u, v = x / grid["dx_px"], y / grid["dy_px"]
    azimuth = interpolated(grid["azimuth_deg"], u, v)
    elevation = interpolated(grid["elevation_deg"], u, v)
    exact = [np.degrees(value) for value in camera.picture.camera.directions(x, y)]
    flat = np.abs(exact[1]) < 78.0
    aside = (azimuth - exact[0] + 180.0) % 360.0 - 180.0
    off = np.hypot(aside * np.cos(np.radians(exact[1])), elevation - exact[1])[flat]
    assert flat.mean() > 0.5
    assert np.nanmax(off) < ERROR_DEG
    assert np.isfinite(off).mean() > 0.6


@pytest.mark.parametrize("name", PROJECTIONS)
def test_angles_to_pixels_between_the_nodes(name):
    camera = camera_with(name)
    inverse = angles_message(camera, 1, 10.0)["inverse"]
    rng = np.random.default_rng(6)
    u = rng.uniform(0, inverse["columns"] - 1, 20_000)
    v = rng.uniform(0, inverse["rows"] - 1, 20_000)
    x = interpolated(inverse["x_px"], u, v)
    y = interpolated(inverse["y_px"], u, v)
    width, height = camera.view.size_px
    inside = (y >= 0) & (y <= height) & (camera.full_circle | ((x >= 0) & (x <= width)))
    assert inside.mean() > 0.25
    azimuth = inverse["azimuth0_deg"] + u * inverse["step_deg"]
    elevation = inverse["elevation0_deg"] + v * inverse["step_deg"]
    found = camera.picture.camera.directions(x[inside], y[inside])
    aside = (np.degrees(found[0]) - azimuth[inside] + 180.0) % 360.0 - 180.0
    off = np.hypot(
        aside * np.cos(np.radians(elevation[inside])),
        np.degrees(found[1]) - elevation[inside],
    )
    assert off.max() < ERROR_DEG


def test_a_circle_is_continuous_and_closes():
    camera = camera_with("circle", pitch=0.0, roll=0.0)
    told = angles_message(camera, 1, 10.0)
    inverse = told["inverse"]
    x = np.array(inverse["x_px"], float)[inverse["rows"] // 2]
    assert x[-1] - x[0] == pytest.approx(4096)
    assert np.diff(x).max() < 4096 / 20
    line = np.array(told["level"]["line_px"])
    assert np.abs(np.diff(line[:, 0])).max() < 30


def test_north_the_ticks_and_the_crosses_lie_where_the_camera_puts_them():
    camera = camera_with("sweep", yaw=350.0)
    told = angles_message(camera, 1, 12.0)
    for tick in told["ticks"]["true"]:
        if tick["x_px"] is not None:
            found = pixels_of(camera, np.radians([tick["azimuth_deg"]]), np.zeros(1))[0]
            assert found == pytest.approx([tick["x_px"], tick["y_px"]], abs=0.06)
    magnetic = {t["azimuth_deg"]: t["x_px"] for t in told["ticks"]["magnetic"]}
    true = {t["azimuth_deg"]: t["x_px"] for t in told["ticks"]["true"]}
    exact = pixels_of(camera, np.radians([12.0]), np.zeros(1))[0, 0]
    assert magnetic[0.0] == pytest.approx(exact, abs=0.06)
    assert true[0.0] != magnetic[0.0]
    crosses = {(c["azimuth_deg"], c["elevation_deg"]) for c in told["crosses"]}
    assert {(0.0, 0.0), (350.0, 10.0), (10.0, -10.0)} <= crosses
    north = np.array(told["north"]["points_px"])
    azimuth = np.degrees(camera.picture.camera.directions(*north.T)[0])
    assert np.abs((azimuth + 180.0) % 360.0 - 180.0).max() < 0.01


def test_a_view_that_does_not_show_north_has_no_line():
    assert angles_message(camera_with("lens", yaw=180.0), 1, 0.0)["north"] is None


def test_the_band_is_one_sigma_about_level(reader):
    told = reader.get("/api/angles?view=sweep").json()
    up, down = (np.array(told["level"][name]) for name in ("upper_px", "lower_px"))
    middle = np.array(told["level"]["line_px"])
    k = len(middle) // 2
    x, y = middle[k]
    row = reader.get("/api/locate", params={"view": "sweep", "x": x, "y": y}).json()["rows"][0]
    assert row["elevation_deg"] == pytest.approx(0.0, abs=0.01)
    above = reader.get(
        "/api/locate", params={"view": "sweep", "x": up[k][0], "y": up[k][1]}
    ).json()["rows"][0]
    assert above["elevation_deg"] == pytest.approx(row["elevation_sigma_deg"], abs=0.01)
    assert up[k][1] < y < down[k][1]


def test_locate_is_exact_and_in_order(reader):
    asked = {"view": "sweep", "x": [100.5, 900.25], "y": [400.0, 20.0]}
    rows = reader.get("/api/locate", params=asked).json()["rows"]
    assert [(r["x_px"], r["y_px"]) for r in rows] == [(100.5, 400.0), (900.25, 20.0)]
    magnetic = reader.get("/api/angles?view=sweep").json()["declination_deg"]
    for row in rows:
        off = (row["azimuth_deg"] - row["magnetic_azimuth_deg"]) % 360.0
        assert off == pytest.approx(magnetic, abs=0.001)
    assert reader.get("/api/locate?view=sweep&x=1&x=2&y=1").status_code == 422
    assert reader.get("/api/locate?view=none&x=1&y=1").json()["field"] == "view"
