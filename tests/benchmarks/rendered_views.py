"""The sample pictures with exact masks of their sky, as they are and under other skies.

The masks in ``shared/skyline`` are those of the full circles at the three spots, 4096 x 1024,
255 = sky; what a picture shows is looked up in them by its true projection. All of it is one
street in one summer: many pictures of it are not many places.
"""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import cv2
import numpy as np
from painted_skies import Image, Random, sky
from painted_views import Sample, developed

from skyview.camera.pose import Camera
from skyview.camera.projections import Cylindrical, Equirectangular, Projection, Rectilinear
from skyview.photo.pixels import read_pixels

ROOT = Path(__file__).parents[2]
SPOTS = {"A": "ridge", "B": "gable", "C": "mast"}
CIRCLE_LEFT_DEG = 203.15
"""Azimuth of the left edge of the masks."""
CIRCLE_TOP_DEG, CIRCLE_PX_PER_DEG = 60.0, 4096 / 360.0


def true_camera(truth: dict) -> Camera:
    """Projection and pose of a sample picture, from its entry in truth.json."""
    given = truth["projection"]
    projection: Projection
    if given["kind"] == "cylindrical":
        projection = Cylindrical(given["px_per_rad"], tuple(given["centre_px"]))
    elif given["kind"] == "rectilinear":
        projection = Rectilinear(given["focal_px"], tuple(given["centre_px"]))
    else:
        edges = [given[f"{side}_deg"] for side in ("left", "right", "top", "bottom")]
        width, height = truth["size_px"]
        projection = Equirectangular((float(width), float(height)), *np.radians(edges).tolist())
    return Camera(projection, *np.radians([truth[f"{n}_deg"] for n in ("yaw", "pitch", "roll")]))


def true_share(truth: dict) -> Image:
    """Share of sky in every pixel of a sample picture. (height, width)"""
    file = ROOT / "shared" / "skyline" / f"{SPOTS[truth['spot']]}_sky.png"
    mask = cv2.imread(str(file), cv2.IMREAD_GRAYSCALE)
    width, height = truth["size_px"]
    x, y = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    azimuth, elevation = true_camera(truth).directions(x, y)
    column = np.mod(np.degrees(azimuth) - CIRCLE_LEFT_DEG, 360.0) * CIRCLE_PX_PER_DEG - 0.5
    row = (CIRCLE_TOP_DEG - np.degrees(elevation)) * CIRCLE_PX_PER_DEG - 0.5
    padded = np.concatenate([mask[:, -4:], mask, mask[:, :4]], axis=1)
    places = (column + 4).astype(np.float32), row.astype(np.float32)
    looked_up = cv2.remap(padded, *places, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return looked_up.astype(np.float32) / 255.0


def _truths() -> dict[str, dict]:
    told = json.loads((ROOT / "sample_images" / "truth.json").read_text())["pictures"]
    return {Path(truth["picture"]).stem: truth for truth in told}


def sample_names() -> list[str]:
    return list(_truths())


def sample_picture(name: str) -> Sample:
    """A sample picture, upright, with the truth of its sky."""
    truth = _truths()[name]
    rgb = read_pixels(ROOT / "sample_images" / truth["picture"])
    return Sample(name, rgb, true_share(truth))


def sample_pictures() -> list[Sample]:
    """Every sample picture."""
    return [sample_picture(name) for name in sample_names()]


def cut(sample: Sample, parts: int) -> list[Sample]:
    """A wide picture cut into upright ones beside each other."""
    edges = np.linspace(0, sample.rgb.shape[1], parts + 1).astype(int)
    return [
        Sample(f"{sample.name}{i}", sample.rgb[:, a:b].copy(), sample.sky_share[:, a:b].copy())
        for i, (a, b) in enumerate(itertools.pairwise(edges))
    ]


def under(sample: Sample, kind: str, rng: Random) -> Sample:
    """The same street under another sky, its light, its haze; the mask stays exact."""
    share = sample.sky_share
    height, width = share.shape
    above = sky(kind, rng, height, width)
    street = without_sky((sample.rgb.astype(np.float32) / 255.0) ** 2.2, share)
    light = float(np.clip(above.mean(), 0.06, 0.8)) / 0.75
    tint = above.mean((0, 1)) / float(above.mean())
    street = street * light * (0.5 + 0.5 * tint)
    if kind == "haze":
        street = street + rng.uniform(0.1, 0.35) * (above[height // 2].mean(0) - street)
    scene = share[..., None] * above + (1.0 - share[..., None]) * street
    return Sample(f"{sample.name}-{kind}", developed(scene.astype(np.float32), rng), share)


def without_sky(linear: Image, share: Image) -> Image:
    """The street's own colour everywhere: mixed pixels take that of the nearest solid one."""
    solid = (share < 0.02).astype(np.uint8)
    _, label = cv2.distanceTransformWithLabels(
        1 - solid, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    rows, columns = np.nonzero(solid)
    index = np.zeros(label.max() + 1, np.intp)
    index[label[rows, columns]] = np.arange(rows.size)
    nearest = index[label]
    return linear[rows[nearest], columns[nearest]]
