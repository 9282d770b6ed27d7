"""Write the sample pictures, their truth and the demo survey from the rendered scene.

    python make_samples.py SCENE_FOLDER [TARGET_FOLDER]

SCENE_FOLDER holds the renders of one street from three spots (scene3_A, _B, _C: panorama, sky
coverage, object ids with depth, truth; for A also frames and a sweep). Everything drawn at random
comes from one fixed seed, so a second run writes the same bytes.
"""

from __future__ import annotations

import argparse
import io
from pathlib import Path

import numpy as np
from PIL import Image
from sample_metadata import Taken, exif_payload, panorama_payload, with_segments
from sample_pictures import (
    COMPASS_ERROR_DEG,
    DECLINATION_DEG,
    SPOT,
    exact_pictures,
    jpeg_bytes,
    panorama_properties,
    source_file,
    taken_record,
    top_row,
    turn_pictures,
)
from sample_records import (
    landmark_records,
    marks,
    one_item_a_line,
    shapes,
    station_records,
    stations_csv,
    survey_record,
)
from sample_survey import SEED, THINGS, Errors
from scene_truth import (
    PANO_PX_PER_DEG,
    Picture,
    Scene,
    check_points,
    direction_to,
    read_scene,
)

VIEW_OF = {"ridge_sweep": "sweep", "gable_sector": "gable", "mast_sector": "mast"}
SPOT_OF_VIEW = {"sweep": "ridge", "gable": "gable", "mast": "ridge"}

TRUTH_NOTES = {
    "directions": "azimuth clockwise from true north, elevation up, degrees; flat earth, no air",
    "pixels": "continuous, pixel i spans [i, i + 1), after Exif rotation; x right, y down",
    "points": "[x_px, y_px, azimuth_deg, elevation_deg]",
    "landmarks": "per spot that sees it: [azimuth_deg, elevation_deg, horizontal distance_m]",
    "obstructions": "per spot that sees it, whole thing: [azimuth_min_deg, azimuth_max_deg, "
    "azimuth of the top_deg, elevation of the top_deg, distance of the top_m, nearest_m]; "
    "plane_distance_m: of the silhouette's plane from the camera of the demo's distance_from",
    "declination_deg": DECLINATION_DEG,
    "compass_error_deg": COMPASS_ERROR_DEG,
}


def picture_truth(name: str, scene: Scene, picture: Picture) -> dict:
    """Camera, exact projection and pose, and check points of one picture."""
    if picture.kind == "equirectangular":
        edges = dict(
            zip(("left_deg", "right_deg", "top_deg", "bottom_deg"), picture.edges_deg, strict=True)
        )
        projection: dict[str, object] = {"kind": picture.kind, **edges}
    else:
        scale = "px_per_rad" if picture.kind == "cylindrical" else "focal_px"
        projection = {"kind": picture.kind, scale: picture.scale_px, "centre_px": picture.centre_px}
    return {
        "picture": f"{name}.jpg",
        "spot": SPOT[name.split("_")[0]],
        "camera_enu_m": scene.camera.tolist(),
        "size_px": picture.size_px,
        "projection": projection,
        "yaw_deg": picture.yaw_deg,
        "pitch_deg": picture.pitch_deg,
        "roll_deg": picture.roll_deg,
        "points": check_points(picture, 14 if picture.kind != "rectilinear" else 8, 8),
    }


def scene_things(scenes: dict[str, Scene], planes: dict[str, float]) -> tuple[list, list]:
    """Landmarks and obstructions as each camera truly sees them."""
    names = {source: name for name, source, *_ in THINGS}
    landmarks = []
    for point in scenes["A"].truth["landmarks"]:
        seen = [s for s, scene in scenes.items() if scene.landmark(point["name"])["visible"]]
        if not seen:
            continue
        record = {"name": point["name"], "enu_m": np.round(point["world_xyz"], 4).tolist()}
        for spot in seen:
            azimuth, elevation, distance = direction_to(
                scenes[spot].camera, np.array(point["world_xyz"])
            )
            record[spot] = [round(float(v), 4) for v in (azimuth, elevation, distance)]
        landmarks.append(record)
    obstructions = []
    for thing in scenes["A"].truth["obstructions"]:
        own = names.get(thing["name"])
        record = {
            "name": thing["name"],
            "kind": thing["kind"],
            "id": own,
            "plane_distance_m": round(planes[own], 2) if own else None,
        }
        for spot, scene in scenes.items():
            there = scene.obstruction(thing["name"])
            if there["visible_pixels"]:
                keys = (
                    "az_min",
                    "az_max",
                    "top_az",
                    "top_el",
                    "top_distance_h",
                    "nearest_distance_h",
                )
                record[spot] = [round(there[key], 3) for key in keys]
        if any(spot in record for spot in scenes):
            obstructions.append(record)
    far = [
        {"name": None, "kind": None, "id": own, "plane_distance_m": round(distance, 1)}
        for own, distance in planes.items()
        if own not in names.values()
    ]
    return landmarks, obstructions + far


def view_record(name: str, scene: Scene, picture: Picture, taken: Taken) -> dict:
    """A view as the survey holds it before calibration: only what the metadata can tell."""
    view = VIEW_OF[name]
    if picture.kind == "cylindrical":
        width, height = picture.size_px
        projection: dict[str, object] = {
            "kind": "cylindrical",
            "px_per_rad": 1200.0,
            "centre_px": [width / 2, height / 2],
        }
        scale = {"scale_sigma": 0.04}
    else:
        half = picture.size_px[0] / 2 / PANO_PX_PER_DEG
        top = 90 - top_row() / PANO_PX_PER_DEG
        bottom = top - picture.size_px[1] / PANO_PX_PER_DEG
        edges = (-half, half, round(top, 4), round(bottom, 4))
        keys = ("left_deg", "right_deg", "top_deg", "bottom_deg")
        projection = {"kind": picture.kind, **dict(zip(keys, edges, strict=True))}
        scale = {"scale_sigma": 0.002}
    return {
        "id": view,
        "photo": f"photos/{name}.jpg",
        "size_px": picture.size_px,
        "spot": SPOT_OF_VIEW[view],
        "camera_enu_m": np.round(scene.camera, 2).tolist(),
        "camera_sigma_m": 0.2,
        "taken": taken.time.isoformat(),
        "leaf": "in",
        "projection": projection,
        "prior": {
            "yaw_deg": round((picture.yaw_deg + COMPASS_ERROR_DEG[name]) % 360, 1),
            "yaw_sigma_deg": 10.0,
            "pitch_deg": 0.0,
            "pitch_sigma_deg": 2.0,
            "roll_deg": 0.0,
            "roll_sigma_deg": 2.0,
            **scale,
        },
    }


def write_samples(folder: Path, target: Path) -> None:
    """All files of the sample folder, from the scene's folder."""
    scenes = {spot: read_scene(folder, spot) for spot in SPOT.values()}
    pictures = exact_pictures(scenes)
    views, truths = [], []
    for name, picture in pictures.items():
        scene = scenes[SPOT[name.split("_")[0]]]
        taken = taken_record(name, scenes, picture)
        wide = picture.size_px if taken.orientation != 6 else picture.size_px[::-1]
        payloads = [exif_payload(wide, taken)]
        if picture.kind == "equirectangular":
            payloads.append(panorama_payload(panorama_properties(name, picture)))
        (target / f"{name}.jpg").write_bytes(
            with_segments(jpeg_bytes(name, source_file(name, folder)), payloads)
        )
        truths.append(picture_truth(name, scene, picture))
        if name in VIEW_OF:
            views.append(view_record(name, scene, picture, taken))
    turn = []
    for name, jpeg, taken, record in turn_pictures(scenes, folder):
        with Image.open(io.BytesIO(jpeg)) as image:
            size = image.size
        (target / f"{name}.jpg").write_bytes(with_segments(jpeg, [exif_payload(size, taken)]))
        turn.append(record)
    by_view = {view: scenes[SPOT[name.split("_")[0]]] for name, view in VIEW_OF.items()}
    drawn = {view: pictures[name] for name, view in VIEW_OF.items()}
    errors = Errors(SEED)
    obstructions, outlines, planes = shapes(by_view, drawn, errors)
    stations = station_records()
    parts = {
        "landmarks": landmark_records(scenes["A"]),
        "marks": marks(by_view, drawn, errors, DECLINATION_DEG),
        "obstructions": obstructions,
        "outlines": outlines,
        "stations": stations,
    }
    cameras = {view: scene.camera for view, scene in by_view.items()}
    survey = survey_record(views, parts, cameras)
    landmarks, things = scene_things(scenes, planes)
    truth = {
        "about": TRUTH_NOTES,
        "pictures": truths,
        "turn": turn,
        "landmarks": landmarks,
        "obstructions": things,
    }
    (target / "demo_survey.json").write_text(one_item_a_line(survey), encoding="utf-8")
    (target / "stations.csv").write_text(stations_csv(stations), encoding="utf-8")
    (target / "truth.json").write_text(one_item_a_line(truth), encoding="utf-8")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("scene_folder", type=Path)
    parser.add_argument("target_folder", type=Path, nargs="?", default=Path(__file__).parent)
    given = parser.parse_args()
    write_samples(given.scene_folder, given.target_folder)
