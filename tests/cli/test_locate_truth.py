"""Directions in the sample pictures against the truth of the scene they were rendered from.

``sample_images/truth.json`` gives each picture's camera, pose and points with their directions;
its earth is flat and its air bends nothing.
"""

from __future__ import annotations

import json
import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

SITE = {"latitude_deg": -38.6417, "longitude_deg": -117.3925}
GROUND_AMSL_M = 48.0
LIGHT_RADIUS_M = 7.0 / 6.0 * 6_371_000.0
PICTURES = [
    "ridge_sweep.jpg", "ridge_frame_1.jpg", "ridge_frame_2.jpg", "ridge_frame_3.jpg",
    "gable_circle.jpg", "gable_sector.jpg", "mast_sector.jpg",
]  # fmt: skip


@pytest.fixture(scope="module")
def truth():
    file = Path(__file__).parents[2] / "sample_images" / "truth.json"
    return json.loads(file.read_text(encoding="utf-8"))


@pytest.fixture
def picture_of(truth, make_camera):
    """The truth about one picture and the camera that took it."""

    def find(name: str):
        facts = next(p for p in truth["pictures"] if p["picture"] == name)
        camera = make_camera(
            facts["projection"], tuple(facts["size_px"]), enu_m=tuple(facts["camera_enu_m"]),
            yaw_deg=facts["yaw_deg"], pitch_deg=facts["pitch_deg"], roll_deg=facts["roll_deg"],
        )  # fmt: skip
        return facts, camera

    return find


def off_deg(found: float, true: float) -> float:
    return abs((found - true + 180.0) % 360.0 - 180.0)


@pytest.mark.parametrize("name", PICTURES)
def test_the_projection_of_these_tests_meets_the_truth(picture_of, name) -> None:
    facts, camera = picture_of(name)
    for x, y, azimuth, elevation in facts["points"]:
        across, down = camera.pixel_of(azimuth, elevation)
        width = facts["size_px"][0] if camera.full_circle else math.inf
        turned = across - width * round((across - x) / width) if width < math.inf else across
        assert turned == pytest.approx(x, abs=0.05)
        assert down == pytest.approx(y, abs=0.05)


def landmark_marks(truth, facts, camera) -> tuple[list, list]:
    """Landmarks of the scene put on the round earth where light shows them as rendered."""
    landmarks, marks = [], []
    for n, thing in enumerate(truth["landmarks"]):
        east, north, up = np.array(thing["enu_m"]) - facts["camera_enu_m"]
        aside = math.degrees(math.atan2(east, north)) - facts["yaw_deg"]
        behind = (
            facts["projection"]["kind"] == "rectilinear" and math.cos(math.radians(aside)) < 0.5
        )
        if facts["spot"] not in thing or behind:
            continue
        pixel = camera.pixels(np.array([[east, north, up]]))[0]
        if not (0 < pixel[0] < camera.size_px[0] and 0 < pixel[1] < camera.size_px[1]):
            continue
        e, n_m, u = thing["enu_m"]
        there = Geodesic.WGS84.Direct(
            SITE["latitude_deg"], SITE["longitude_deg"],
            math.degrees(math.atan2(e, n_m)), math.hypot(e, n_m),
        )  # fmt: skip
        drop = (east**2 + north**2) / (2 * LIGHT_RADIUS_M)
        name = f"t{n}"
        landmarks.append(
            {"id": name, "latitude_deg": there["lat2"], "longitude_deg": there["lon2"],
             "top_amsl_m": GROUND_AMSL_M + u + drop, "sigma_m": 0.05}
        )  # fmt: skip
        marks.append(
            {"id": f"m{n}", "view": "v1", "kind": "landmark", "landmark": name,
             "points_px": [pixel.tolist()], "sigma_px": 0.5}
        )  # fmt: skip
    return landmarks, marks


@pytest.mark.parametrize("name", PICTURES)
def test_exact_landmarks_give_every_point_to_a_twentieth_of_a_degree(
    make_roof, samples, truth, picture_of, name
) -> None:
    facts, camera = picture_of(name)
    roof = make_roof(camera)
    landmarks, marks = landmark_marks(truth, facts, camera)
    assert len(marks) >= 4
    roof.data["site"].update(SITE, ground_amsl_m=GROUND_AMSL_M, position_sigma_m=0.05)
    roof.data.update(landmarks=landmarks, marks=marks)
    view = roof.data["views"][0]
    view.update(photo=f"photos/{name}", camera_sigma_m=0.01)
    if "px_per_rad" in view["projection"]:
        view["projection"] = {"kind": "cylindrical", "px_per_rad": 1200.0,
                              "centre_px": [2575.5, 724.0]}  # fmt: skip
    if "focal_px" in view["projection"]:
        view["projection"]["focal_px"] = 1500.0
    folder = roof.save()
    shutil.copy(samples / name, folder / "photos" / name)
    roof.runner.ok("calibrate", folder)
    pixels = [value for x, y, _, _ in facts["points"] for value in (x, y)]
    rows = roof.runner.ok("locate", folder, "v1", *pixels, "--json").rows
    assert len(rows) == len(facts["points"])
    for row, (_, _, azimuth, elevation) in zip(rows, facts["points"], strict=True):
        assert off_deg(row["azimuth_deg"], azimuth) < 0.05, row
        assert abs(row["elevation_deg"] - elevation) < 0.05, row


def test_there_are_enough_points(truth) -> None:
    assert sum(len(p["points"]) for p in truth["pictures"]) >= 100
    assert {p["picture"] for p in truth["pictures"]} == set(PICTURES)


@pytest.fixture(scope="module")
def demo_survey(tmp_path_factory, truth):
    """The installer's own survey with clicked marks, not yet calibrated."""
    source = Path(__file__).parents[2] / "sample_images"
    folder = tmp_path_factory.mktemp("clicked") / "survey"
    (folder / "photos").mkdir(parents=True)
    shutil.copy(source / "demo_survey.json", folder / "survey.json")
    for name in PICTURES:
        shutil.copy(source / name, folder / "photos" / name)
    return folder


@pytest.mark.parametrize(
    ("view", "name"),
    [("sweep", "ridge_sweep.jpg"), ("gable", "gable_sector.jpg"), ("mast", "mast_sector.jpg")],
)
def test_clicked_marks_err_as_their_sigma_says(run, demo_survey, picture_of, view, name) -> None:
    facts, _ = picture_of(name)
    run.ok("calibrate", demo_survey, view)
    pixels = [value for x, y, _, _ in facts["points"] for value in (x, y)]
    rows = run.ok("locate", demo_survey, view, *pixels, "--json").rows
    ratios = []
    for row, (_, _, azimuth, elevation) in zip(rows, facts["points"], strict=True):
        assert 0.0 < row["azimuth_sigma_deg"] < 1.5
        assert 0.0 < row["elevation_sigma_deg"] < 1.0
        ratios.append(off_deg(row["azimuth_deg"], azimuth) / row["azimuth_sigma_deg"])
        ratios.append(abs(row["elevation_deg"] - elevation) / row["elevation_sigma_deg"])
    assert max(ratios) < 3.5
    assert 0.05 < math.sqrt(np.mean(np.square(ratios))) < 1.6


def test_magnetic_azimuth_uses_the_scene_s_declination(run, demo_survey, truth) -> None:
    run.ok("calibrate", demo_survey, "mast")
    row = run.ok("locate", demo_survey, "mast", 1500, 600, "--json").row
    turned = (row["azimuth_deg"] - row["magnetic_azimuth_deg"]) % 360.0
    assert turned == pytest.approx(truth["about"]["declination_deg"], abs=0.05)
