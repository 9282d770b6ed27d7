"""The rendered sample pictures with invented errors of telephone, map and thumb.

Truth: ``sample_images/truth.json``. Each case takes a picture's exact projection and pose, three
or more of the scene's landmarks that it shows, and writes a survey as an installer would: compass
off by 12 deg, roll by 1, focal length by 3 %. Errors are counted in degrees at the picture's test
pixels within the sector between the outermost marks, from -5 to 15 deg of elevation.

    python tests/calibrate/study_rendered.py       writes shared/calibration_goals.csv
"""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path

import numpy as np

from skyview.camera.pose import Camera
from skyview.camera.projections import Cylindrical, Equirectangular, Rectilinear
from skyview.place.bearings import destination_deg
from skyview.survey.cameras import camera_of, solve
from skyview.survey.models import validate

ROOT = Path(__file__).parents[2]
TRUTH = json.loads((ROOT / "sample_images" / "truth.json").read_text(encoding="utf-8"))
SITE = (-38.6417, -117.3925)
GROUND_M = 48.0
LOWEST_M = {"exact": 20.0, "map": 100.0, "map_and_height": 100.0, "stretched": 100.0}
"""Nearest landmark that is clicked: what lies nearer is a trap, tested on its own."""


def camera_of_truth(picture: dict) -> Camera:
    """The exact camera of a sample picture."""
    p = picture["projection"]
    pose = np.radians([picture["yaw_deg"], picture["pitch_deg"], picture["roll_deg"]]).tolist()
    if p["kind"] == "rectilinear":
        return Camera(Rectilinear(p["focal_px"], tuple(p["centre_px"])), *pose)
    if p["kind"] == "cylindrical":
        return Camera(Cylindrical(p["px_per_rad"], tuple(p["centre_px"])), *pose)
    edges = np.radians([p["left_deg"], p["right_deg"], p["top_deg"], p["bottom_deg"]]).tolist()
    return Camera(Equirectangular(tuple(map(float, picture["size_px"])), *edges), *pose)


def shown_landmarks(picture: dict, nearest_m: float) -> list[tuple[dict, np.ndarray]]:
    """Landmarks farther than a limit that the picture shows, with their exact pixels."""
    camera, (width, height) = camera_of_truth(picture), picture["size_px"]
    answer = []
    for thing in TRUTH["landmarks"]:
        seen = thing.get(picture["spot"])
        if seen is None or seen[2] < nearest_m:
            continue
        azimuth, elevation = np.radians(seen[:2])
        level = np.cos(elevation)
        ray = np.array([np.sin(azimuth) * level, np.cos(azimuth) * level, np.sin(elevation)])
        x, y = (float(v) for v in camera.pixels(ray))
        if 5 < x < width - 5 and 5 < y < height - 5:
            answer.append((thing, np.array([x, y])))
    return answer


def stretched(x: np.ndarray, width: float, random: np.random.Generator) -> np.ndarray:
    """Columns laid down unevenly: a wave whose slope is 2 %, half to one and a half across."""
    waves, phase = random.uniform(0.5, 1.5), random.uniform(0.0, 2.0 * np.pi)
    turn = 2.0 * np.pi * waves / width
    return x + 0.02 / turn * (np.sin(turn * x + phase) - np.sin(turn * width / 2 + phase))


def case(
    picture: dict, kind: str, marks: int, random: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray] | None:
    """Errors in azimuth and elevation and their sigmas. [deg] None where too little is shown."""
    things = shown_landmarks(picture, LOWEST_M[kind])
    # The same building's corners hold as little as one of them: no more than two.
    blocks = [t for t in things if "apartment" in t[0]["name"]]
    others = [t for t in things if "apartment" not in t[0]["name"]]
    if kind != "exact":
        random.shuffle(blocks)
        things = others + blocks[:2]
    if len(things) < marks:
        return None
    chosen = [things[i] for i in random.permutation(len(things))[:marks]]
    click, metres = {
        "exact": (1.0, 0.0),
        "map": (3.0, 3.0),
        "map_and_height": (3.0, 3.0),
        "stretched": (3.0, 0.0),
    }[kind]
    width = float(picture["size_px"][0])
    points = np.array(picture["points"])
    x, y = np.array([pixel for _, pixel in chosen]).T
    test_x = points[:, 0]
    if kind == "stretched":
        both = stretched(np.concatenate([x, test_x]), width, random)
        x, test_x = both[:marks], both[marks:]
    sign = random.choice([-1.0, 1.0], 4)
    projection = dict(picture["projection"])
    factor = float(1.03 ** sign[1])
    for name in ("focal_px", "px_per_rad"):
        if name in projection:
            projection[name] *= factor
    if projection["kind"] == "cylindrical":
        projection["centre_px"] = [width / 2, picture["size_px"][1] / 2]
    landmarks, clicks = [], []
    for number, (thing, _) in enumerate(chosen):
        off = metres * random.standard_normal(3)
        if kind == "map":
            off[2] = 0.0
        east, north, up = np.array(thing["enu_m"]) + off
        azimuth, distance = np.arctan2(east, north), np.hypot(east, north)
        latitude, longitude = destination_deg(*SITE, azimuth, distance)
        landmarks.append(
            {
                "id": f"t{number}",
                "latitude_deg": float(latitude),
                "longitude_deg": float(longitude),
                "top_amsl_m": GROUND_M + float(up),
                "sigma_m": metres,
            }
        )
        dx, dy = click * random.standard_normal(2)
        clicks.append([float(np.clip(x[number] + dx, 0, width)), float(y[number] + dy)])
    survey = validate(
        {
            "format": "skyview-survey",
            "version": 1,
            "revision": 1,
            "site": {
                "latitude_deg": SITE[0],
                "longitude_deg": SITE[1],
                "position_sigma_m": 0.0,
                "ground_amsl_m": GROUND_M,
            },
            "views": [
                {
                    "id": "v",
                    "photo": "photos/v.jpg",
                    "size_px": picture["size_px"],
                    "camera_enu_m": picture["camera_enu_m"],
                    "camera_sigma_m": 0.1,
                    "projection": projection,
                    "prior": {
                        "yaw_deg": float(np.mod(picture["yaw_deg"] + 12.0 * sign[0], 360.0)),
                        "pitch_deg": float(picture["pitch_deg"] + sign[2]),
                        "roll_deg": float(picture["roll_deg"] + sign[3]),
                    },
                }
            ],
            "landmarks": landmarks,
            "marks": [
                {
                    "id": f"m{number}",
                    "view": "v",
                    "kind": "landmark",
                    "landmark": f"t{number}",
                    "points_px": [pixel],
                    "sigma_px": click,
                }
                for number, pixel in enumerate(clicks)
            ],
        }
    )
    view = survey.views[0]
    view.calibration, _ = solve(survey, view)
    found = camera_of(survey, view).picture
    inside = (test_x > x.min()) & (test_x < x.max()) & (np.abs(points[:, 3] - 5.0) < 10.0)
    if not inside.any():
        return None
    azimuth, elevation = found.camera.directions(test_x[inside], points[inside, 1])
    sigma = found.direction_sigma(test_x[inside], points[inside, 1])
    turn = np.angle(np.exp(1j * (azimuth - np.radians(points[inside, 2]))))
    return (
        np.degrees(turn),
        np.degrees(elevation) - points[inside, 3],
        *(np.degrees(s) for s in sigma),
    )


def goal(kind: str, marks: int, count: int, seed: int = 8) -> dict[str, float]:
    """Median and 95th percentile of errors over random cases, and the intervals' honesty."""
    random = np.random.default_rng(seed)
    pictures = TRUTH["pictures"]
    if kind == "stretched":
        pictures = [p for p in pictures if p["projection"]["kind"] == "cylindrical"]
    found: list[tuple[np.ndarray, ...]] = []
    while len(found) < count:
        one = case(pictures[random.integers(len(pictures))], kind, marks, random)
        if one is not None:
            found.append(one)
    azimuth, elevation, az_sigma, el_sigma = (
        np.concatenate(part) for part in zip(*found, strict=True)
    )
    return {
        "azimuth_median_deg": float(np.median(np.abs(azimuth))),
        "azimuth_p95_deg": float(np.percentile(np.abs(azimuth), 95)),
        "elevation_median_deg": float(np.median(np.abs(elevation))),
        "elevation_p95_deg": float(np.percentile(np.abs(elevation), 95)),
        "azimuth_share": float(np.mean(np.abs(azimuth) <= 1.96 * az_sigma)),
        "elevation_share": float(np.mean(np.abs(elevation) <= 1.96 * el_sigma)),
    }


GOALS = [
    ("exact", 3),
    ("map", 3),
    ("map", 4),
    ("map_and_height", 3),
    ("map_and_height", 4),
    ("stretched", 3),
    ("stretched", 4),
]
"""Errors and landmarks. exact: 1 px clicks; map: 3 px clicks, 3 m east and north; map_and_height:
3 m up too; stretched: 3 px clicks in a hand-held sweep with waves of 2 %."""

if __name__ == "__main__":
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    with (ROOT / "shared" / "calibration_goals.csv").open(
        "w", newline="", encoding="utf-8"
    ) as file:
        table = csv.writer(file)
        for number, (kind, marks) in enumerate(GOALS):
            row = goal(kind, marks, cases)
            if number == 0:
                table.writerow(["errors", "landmarks", "cases", *row])
            table.writerow([kind, marks, cases, *(f"{value:.4f}" for value in row.values())])
            print(kind, marks, {k: round(v, 3) for k, v in row.items()}, flush=True)
