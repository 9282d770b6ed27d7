"""Pictures of streets whose every thing is known: outlines as a careful hand would draw them.

``shared/things`` holds, for each place, which thing every part of the full circle shows, with its
kind and distance (``thing_layers``). True outlines are traced there and stand in a survey of the
circle itself; the pictures are views of other projections from the same place.
"""

from __future__ import annotations

import csv
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from rendered_views import true_camera, true_share
from shapely import Polygon

from skyview.camera.pose import Camera
from skyview.photo.pixels import read_pixels

ROOT = Path(__file__).parents[2]
THINGS = ROOT / "shared" / "things"
GRID_PX, PX_PER_DEG, TOP_DEG, BOTTOM_DEG = (2048, 512), 2048 / 360.0, 60.0, -30.0

TREES = ("broadleaf", "conifer", "dead_tree")
LEAF_GAP_PX = 5
"""Gaps of a crown up to this, 0.9 degrees, are drawn over, as a hand does."""

UPSCALE, TOLERANCE_DEG, LEAFY_TOLERANCE_DEG = 4, 0.05, 0.1
"""Outlines are traced between the pixels of the grid and simplified by this."""

LEAST_EDGE_DEG = 0.5
"""What makes less of the skyline is not outlined."""

LEAST_DEG2, LEAST_LOW_DEG2 = 0.25, 1.0
"""Smaller pieces of a thing are left out, and where all that is seen is asked for, smaller than
the second."""

SITE = {"latitude_deg": -38.6417, "longitude_deg": -117.3925, "ground_amsl_m": 48.0}
EXACT_DEG = 1e-4
"""Sigma of a pose that is known."""


@dataclass(frozen=True)
class Known:
    """One thing of the truth."""

    label: int
    kind: str
    distance_m: float
    depth_m: float


@dataclass(frozen=True)
class Place:
    """All that is seen from one place."""

    name: str
    left_deg: float
    """Azimuth of the grid's left edge."""
    label: np.ndarray
    """(512, 2048) which thing, 0 = sky or ground."""
    things: dict[int, Known]
    camera_m: tuple[float, float, float]

    def grid_of(self, azimuth_deg: np.ndarray, elevation_deg: np.ndarray) -> tuple:
        """Columns and rows of directions on the grid, as indices."""
        column = np.mod(azimuth_deg - self.left_deg, 360.0) * PX_PER_DEG
        row = (TOP_DEG - elevation_deg) * PX_PER_DEG
        return (
            np.clip(column.astype(int), 0, GRID_PX[0] - 1),
            np.clip(row.astype(int), 0, GRID_PX[1] - 1),
        )


@dataclass(frozen=True)
class Picture:
    """One picture of a place with its exact projection and pose."""

    name: str
    place: Place
    rgb: np.ndarray
    sky_share: np.ndarray
    camera: Camera
    truth: dict[str, Any]


def read_place(name: str, left_deg: float, camera_m: tuple[float, float, float]) -> Place:
    """The labels of ``shared/things/NAME.png`` with their table."""
    with (THINGS / "things.csv").open() as stream:
        rows = [row for row in csv.DictReader(stream) if row["picture"] == name]
    things = {
        int(r["label"]): Known(
            int(r["label"]), r["kind"], float(r["distance_m"]), float(r["depth_m"])
        )
        for r in rows
    }
    label = cv2.imread(str(THINGS / f"{name}.png"), cv2.IMREAD_UNCHANGED)
    return Place(name, left_deg, label.astype(int), things, camera_m)


def circle_view(place: Place) -> dict[str, Any]:
    """The grid itself as a view of the survey file."""
    edges = {"left_deg": -180.0, "right_deg": 180.0, "top_deg": TOP_DEG, "bottom_deg": BOTTOM_DEG}
    yaw = (place.left_deg + 180.0) % 360.0
    return _view(place, "circle", GRID_PX, {"kind": "equirectangular", **edges}, (yaw, 0.0, 0.0))


def picture_view(picture: Picture) -> dict[str, Any]:
    """A picture as a view of the survey file, with its true projection and pose."""
    given = picture.truth
    pose = tuple(given[f"{n}_deg"] for n in ("yaw", "pitch", "roll"))
    height, width = picture.rgb.shape[:2]
    return _view(picture.place, "picture", (width, height), given["projection"], pose)


def _view(place: Place, name: str, size: tuple, projection: dict, pose: tuple) -> dict[str, Any]:
    prior: dict[str, float] = {"scale_sigma": EXACT_DEG}
    for axis, value in zip(("yaw", "pitch", "roll"), pose, strict=True):
        prior |= {f"{axis}_deg": value, f"{axis}_sigma_deg": EXACT_DEG}
    return {
        "id": name,
        "photo": f"photos/{name}.jpg",
        "size_px": list(size),
        "camera_enu_m": list(place.camera_m),
        "projection": projection,
        "prior": prior,
    }


def rings_of(shape: np.ndarray, tolerance_px: float, least_px2: float) -> list[np.ndarray]:
    """Outer edges (N, 2) of a mask's pieces, in its own continuous pixels."""
    if not shape.any():
        return []
    left, low = shape.any(0).argmax(), shape.any(1).argmax()
    box = shape[low:, left:]
    box = box[: len(box) - box.any(1)[::-1].argmax(), : box.shape[1] - box.any(0)[::-1].argmax()]
    box = np.pad(box, 1)
    big = cv2.resize(
        box.astype(np.uint8), None, fx=UPSCALE, fy=UPSCALE, interpolation=cv2.INTER_NEAREST
    )
    rings = []
    for edge in cv2.findContours(big, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
        if len(edge) < 4:
            continue
        ring = Polygon((edge[:, 0] + 0.5) / UPSCALE).buffer(0.5 / UPSCALE, join_style="mitre")
        parts = [p for p in getattr(ring, "geoms", [ring]) if p.area >= least_px2]
        for part in parts:
            plain = Polygon(part.exterior).simplify(tolerance_px)
            corner = np.array([left - 1.0, low - 1.0])
            rings.append(np.asarray(plain.exterior.coords, float)[:-1] + corner)
    return rings


def without_wires(place: Place) -> np.ndarray:
    """(512, 2048) labels with the wires taken for sky."""
    wires = [known.label for known in place.things.values() if known.kind == "wire"]
    return np.where(np.isin(place.label, wires), 0, place.label)


def skyline_labels(place: Place) -> np.ndarray:
    """(2048,) the thing that makes the skyline of each column, 0 for the ground; no wires."""
    solid = without_wires(place)
    return solid[(solid > 0).argmax(0), np.arange(GRID_PX[0])]


def standing(place: Place) -> list[Known]:
    """What makes the skyline over ``LEAST_EDGE_DEG`` or more, wires left out."""
    names, count = np.unique(skyline_labels(place), return_counts=True)
    large = names[count >= LEAST_EDGE_DEG * PX_PER_DEG]
    return [known for known in place.things.values() if known.label in large]


def true_outlines(
    place: Place, within: np.ndarray | None = None, everything: bool = False
) -> tuple[list, list]:
    """Obstructions and outlines of the survey file: what makes the skyline, or all that is seen.

    ``within`` (512, 2048) bool: only what lies in this part. A thing in several pieces is one
    obstruction of several outlines. Half of a bare crown is taken to be sky.
    """
    things, outlines = [], []
    least = LEAST_LOW_DEG2 if everything else LEAST_DEG2
    for known in place.things.values() if everything else standing(place):
        shape = place.label == known.label
        if within is not None:
            shape &= within
        if known.kind in TREES and shape.any():
            closing = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (LEAF_GAP_PX,) * 2)
            shape = cv2.morphologyEx(shape.astype(np.uint8), cv2.MORPH_CLOSE, closing) > 0
        tolerance = LEAFY_TOLERANCE_DEG if known.kind in TREES else TOLERANCE_DEG
        rings = rings_of(shape, tolerance * PX_PER_DEG, least * PX_PER_DEG**2)
        if rings:
            name = f"t{known.label}"
            crown = {"depth_m": known.depth_m} if known.kind in TREES else {}
            things.append({"id": name, "kind": known.kind, "distance_m": known.distance_m, **crown})
            share = {"sky_share": 0.5} if known.kind == "dead_tree" else {}
            outlines += [
                {"id": f"{name}-{n}", "obstruction": name, "view": "circle",
                 "rings_px": [ring.tolist()], "reaches_ground": known.kind != "wire", **share}
                for n, ring in enumerate(rings)
            ]  # fmt: skip
    return things, outlines


def sample_places() -> dict[str, tuple[str, str]]:
    """Name of a place's layers by the spot's letter."""
    return {"A": "ridge", "B": "gable", "C": "mast"}


def sample_views(names: list[str]) -> list[Picture]:
    """The sample pictures of these names."""
    entries = json.loads((ROOT / "sample_images" / "truth.json").read_text())["pictures"]
    found = []
    for truth in entries:
        name = Path(truth["picture"]).stem
        if name in names:
            place = read_place(sample_places()[truth["spot"]], 203.15, tuple(truth["camera_enu_m"]))
            rgb = read_pixels(ROOT / "sample_images" / truth["picture"])
            found.append(Picture(name, place, rgb, true_share(truth), true_camera(truth), truth))
    return found


STREETS = {"street_a": 4096, "street_b": 2048}
"""Two more streets, laid out anew, by the width of their circle in pixels. Their pictures are a
part of it: a third of the circle about south, what is above 40 and what is below -15 degrees are
cut off at whole pixels."""

STREET_LEFT_DEG, STREET_CAMERA_M = 180.0, (0.0, 0.0, 6.5)


def street_edges(circle_px: int) -> dict[str, float]:
    """Edges of a street's picture as the survey file has them, yaw 0."""
    per_deg = circle_px / 360.0
    side = 180.0 - circle_px // 6 / per_deg
    top, bottom = (60.0 - round(deg * per_deg) / per_deg for deg in (20.0, 75.0))
    return {"left_deg": -side, "right_deg": side, "top_deg": top, "bottom_deg": bottom}


def street_views() -> list[Picture]:
    """The pictures of the other streets, at 11 and at 6 pixels per degree."""
    found = []
    for name, circle_px in STREETS.items():
        place = read_place(name, STREET_LEFT_DEG, STREET_CAMERA_M)
        rgb = read_pixels(THINGS / f"{name}.jpg")
        sky = cv2.imread(str(THINGS / f"{name}_sky.png"), cv2.IMREAD_GRAYSCALE) / np.float32(255)
        truth = {"size_px": rgb.shape[1::-1], "yaw_deg": 0.0, "pitch_deg": 0.0, "roll_deg": 0.0,
                 "projection": {"kind": "equirectangular", **street_edges(circle_px)}}  # fmt: skip
        found.append(Picture(name, place, rgb, sky, true_camera(truth), truth))
    return found


SAMPLES = [
    "ridge_sweep", "gable_circle", "mast_sector", "ridge_frame_1", "ridge_frame_2",
    "ridge_frame_3",
]  # fmt: skip


def every_picture() -> list[Picture]:
    """All pictures of the study."""
    return [*sample_views(SAMPLES), *street_views()]
