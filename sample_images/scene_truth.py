"""The rendered scene: its cameras, its exact projections, and outlines traced from object ids.

Used by make_samples.py alone. World: x east, y north, z up in metres, flat, no refraction;
azimuth clockwise from north and elevation in degrees; pixels continuous (pixel i spans
[i, i + 1)), x right, y down.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry import Polygon, box

Array = NDArray[np.float64]

PANO_PX = (4096, 1024)
PANO_PX_PER_DEG = 4096 / 360
PANO_TOP_DEG = 60.0
DEPTH_NEAR_M, DEPTH_RATIO = 0.2, 300000.0
SAMPLE_PX = 2
UPSCALE = 4
BEHIND_DEG = 170.0
LEAST_EDGE_SAMPLES = 20
WIRE, HILLS = 10, 4


@dataclass(frozen=True)
class Scene:
    """One camera position: its truth file, object ids and depth (every second pixel)."""

    camera: Array
    left_azimuth_deg: float
    truth: dict
    ids: NDArray[np.uint8]
    depth_m: Array
    sky: Array

    def obstruction(self, name: str) -> dict:
        """The scene's own record of one thing."""
        return next(o for o in self.truth["obstructions"] if o["name"] == name)

    def landmark(self, name: str) -> dict:
        """The scene's own record of one landmark."""
        return next(p for p in self.truth["landmarks"] if p["name"] == name)


def read_scene(folder: Path, spot: str) -> Scene:
    """Truth, ids and depth of spot A, B or C. Depth is along the ray, in metres, inf for sky."""
    truth = json.loads((folder / f"scene3_{spot}_truth.json").read_text(encoding="utf-8"))
    stored = np.load(folder / f"scene3_{spot}_geo.npz")
    code = stored["depth_log16"].astype(float)
    depth = DEPTH_NEAR_M * np.exp((code - 1) / 65534 * np.log(DEPTH_RATIO))
    sky = np.asarray(Image.open(folder / f"scene3_{spot}_sky.png").convert("L"), float) / 255
    return Scene(
        camera=np.array(truth["camera_xyz"]),
        left_azimuth_deg=truth["pano"]["az_left_edge"],
        truth=truth,
        ids=stored["ids"],
        depth_m=np.where(code == 0, np.inf, depth),
        sky=sky,
    )


def camera_axes(yaw_deg: float, pitch_deg: float, roll_deg: float) -> Array:
    """Rows right, up, forward of a camera in the world.

    Forward F = (sin y cos p, cos y cos p, sin p); with r0 = (cos y, -sin y, 0) and u0 = r0 x F,
    right = cos r r0 - sin r u0 and up = sin r r0 + cos r u0: roll is positive when the camera
    turns clockwise as the photographer sees it.

    >>> camera_axes(0.0, 0.0, -1.0).round(4).tolist()
    [[0.9998, 0.0, 0.0175], [-0.0175, 0.0, 0.9998], [0.0, 1.0, 0.0]]
    """
    y, p, r = np.deg2rad([yaw_deg, pitch_deg, roll_deg])
    forward = np.array([np.sin(y) * np.cos(p), np.cos(y) * np.cos(p), np.sin(p)])
    level_right = np.array([np.cos(y), -np.sin(y), 0.0])
    level_up = np.cross(level_right, forward)
    right = np.cos(r) * level_right - np.sin(r) * level_up
    return np.array([right, np.sin(r) * level_right + np.cos(r) * level_up, forward]) + 0.0


def off_axis_deg(azimuth_deg: Array, axis_deg: float) -> Array:
    """Azimuths counted from an axis, in [-180, 180). [deg]"""
    return np.mod(azimuth_deg - axis_deg + 180, 360) - 180


@dataclass(frozen=True)
class Picture:
    """Exact projection and pose of one picture, in the survey file's conventions."""

    kind: str
    size_px: tuple[int, int]
    yaw_deg: float
    pitch_deg: float = 0.0
    roll_deg: float = 0.0
    scale_px: float = 0.0
    centre_px: tuple[float, float] = (0.0, 0.0)
    edges_deg: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)

    def to_pixel(self, azimuth_deg: Array, elevation_deg: Array) -> Array:
        """Pixels (..., 2) of directions in degrees."""
        az, el = np.deg2rad(azimuth_deg), np.deg2rad(elevation_deg)
        if self.kind == "equirectangular":
            left, right, top, bottom = self.edges_deg
            off_middle = off_axis_deg(azimuth_deg, self.yaw_deg + (left + right) / 2)
            across = (off_middle / (right - left) + 0.5) * self.size_px[0]
            down = (top - elevation_deg) * self.size_px[1] / (top - bottom)
            return np.stack([across, down], axis=-1)
        ray = np.stack([np.sin(az) * np.cos(el), np.cos(az) * np.cos(el), np.sin(el)], axis=-1)
        x, up, z = np.moveaxis(ray @ camera_axes(*self._pose()).T, -1, 0)
        if self.kind == "cylindrical":
            u, v = np.arctan2(x, z), up / np.hypot(x, z)
        else:
            u, v = x / z, up / z
        px, py = self.centre_px
        return np.stack([px + self.scale_px * u, py - self.scale_px * v], axis=-1)

    def to_direction(self, x_px: Array, y_px: Array) -> tuple[Array, Array]:
        """Azimuth in [0, 360) and elevation of pixels. [deg]"""
        if self.kind == "equirectangular":
            left, right, top, bottom = self.edges_deg
            azimuth = self.yaw_deg + left + x_px * (right - left) / self.size_px[0]
            return np.mod(azimuth, 360), top - y_px * (top - bottom) / self.size_px[1]
        u = (x_px - self.centre_px[0]) / self.scale_px
        v = (self.centre_px[1] - y_px) / self.scale_px
        flat = self.kind == "rectilinear"
        ray = np.stack([u if flat else np.sin(u), v, np.ones_like(u) if flat else np.cos(u)], -1)
        east, north, up = np.moveaxis(ray @ camera_axes(*self._pose()), -1, 0)
        azimuth = np.rad2deg(np.arctan2(east, north))
        return np.mod(azimuth, 360), np.rad2deg(np.arctan2(up, np.hypot(east, north)))

    def px_per_deg(self) -> float:
        """Scale in the middle of the picture."""
        if self.kind == "equirectangular":
            return self.size_px[0] / (self.edges_deg[1] - self.edges_deg[0])
        return self.scale_px * np.pi / 180

    def _pose(self) -> tuple[float, float, float]:
        return self.yaw_deg, self.pitch_deg, self.roll_deg


def direction_to(camera: Array, point: Array) -> tuple[Array, Array, Array]:
    """Azimuth, elevation [deg] and horizontal distance [m] of points (..., 3)."""
    east, north, up = np.moveaxis(np.asarray(point) - camera, -1, 0)
    flat = np.hypot(east, north)
    azimuth = np.mod(np.rad2deg(np.arctan2(east, north)), 360)
    return azimuth, np.rad2deg(np.arctan2(up, flat)), flat


def sample_direction(scene: Scene, row: Array, column: Array) -> tuple[Array, Array]:
    """Azimuth and elevation [deg] of samples of the id picture (row, column; may be fractions).

    Sample (r, c) is the full picture's pixel (2 r, 2 c), whose centre lies half a pixel further.
    """
    azimuth = scene.left_azimuth_deg + (SAMPLE_PX * column + 0.5) / PANO_PX_PER_DEG
    return np.mod(azimuth, 360), PANO_TOP_DEG - (SAMPLE_PX * row + 0.5) / PANO_PX_PER_DEG


def thing_mask(scene: Scene, name: str) -> NDArray[np.uint8]:
    """Samples that show one thing."""
    return (scene.ids == scene.obstruction(name)["id"]).astype(np.uint8)


def smooth_crown(mask: NDArray[np.uint8], closing: int, opening: int) -> NDArray[np.uint8]:
    """Gaps between leaves closed and lone twigs cut off, as a hand draws a crown. [samples]"""
    shape = cv2.MORPH_ELLIPSE
    wide = cv2.getStructuringElement(shape, (closing, closing))
    small = cv2.getStructuringElement(shape, (opening, opening))
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, wide)
    return np.asarray(cv2.morphologyEx(closed, cv2.MORPH_OPEN, small), np.uint8)


def mask_rings(scene: Scene, mask: NDArray[np.uint8], picture: Picture) -> list[Polygon]:
    """Outlines of a mask as polygons in a picture's pixels, largest first, clipped to it."""
    columns = np.arange(mask.shape[1], dtype=float)
    azimuth = sample_direction(scene, np.zeros(columns.size), columns)[0]
    behind = np.abs(off_axis_deg(azimuth, picture.yaw_deg)) > BEHIND_DEG
    ahead = np.where(behind, 0, mask).astype(np.uint8)
    big = cv2.resize(ahead, None, fx=UPSCALE, fy=UPSCALE, interpolation=cv2.INTER_NEAREST)
    frame = box(0, 0, *picture.size_px)
    pieces: list[Polygon] = []
    for contour in cv2.findContours(big, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
        points = contour.reshape(-1, 2)
        if len(points) < 4 * UPSCALE:
            continue
        column, row = ((points + 0.5) / UPSCALE - 0.5).T
        pixels = picture.to_pixel(*sample_direction(scene, row, column))
        clipped = Polygon(pixels).buffer(0).intersection(frame)
        pieces += [p for p in getattr(clipped, "geoms", [clipped]) if p.area > 0]
    return sorted(pieces, key=lambda p: -p.area)


def simplified(polygon: Polygon, tolerance_px: float, most: int) -> Polygon:
    """Fewer vertices: Douglas-Peucker, the tolerance grown by a quarter until few enough."""
    thin = polygon.simplify(tolerance_px)
    while len(thin.exterior.coords) - 1 > most:
        tolerance_px *= 1.25
        thin = polygon.simplify(tolerance_px)
    return thin


def silhouette_distance_m(scene: Scene, mask: NDArray[np.uint8]) -> float:
    """Median horizontal distance of a thing's edge against the sky, else of its top edge. [m]"""
    sky = (scene.ids == 0).astype(np.uint8)
    beside_sky = np.asarray(cv2.dilate(sky, np.ones((3, 3), np.uint8)), bool)
    rows, columns = np.nonzero((mask > 0) & beside_sky)
    if rows.size < LEAST_EDGE_SAMPLES:
        columns = np.flatnonzero(mask.any(axis=0))
        rows = np.argmax(mask[:, columns], axis=0)
    elevation = sample_direction(scene, rows.astype(float), columns.astype(float))[1]
    return float(np.median(scene.depth_m[rows, columns] * np.cos(np.deg2rad(elevation))))


def hill_crest(scene: Scene, first_deg: float, last_deg: float) -> tuple[Array, Array, float]:
    """Azimuth and elevation of the hills' edge against the sky, and the crest's distance. [deg, m]

    The elevation comes from the exact coverage of the pixels by sky, columns where something
    nearer stands in front are left out, and so are wires.
    """
    columns = np.arange(scene.ids.shape[1])
    azimuth = sample_direction(scene, np.zeros(columns.size), columns.astype(float))[0]
    solid = (scene.ids != 0) & (scene.ids != WIRE)
    row = np.argmax(solid, axis=0)
    on_hill = scene.ids[row, columns] == HILLS
    keep = np.flatnonzero(on_hill & (azimuth >= first_deg) & (azimuth <= last_deg))
    keep = keep[np.argsort(azimuth[keep])]
    top = SAMPLE_PX * row[keep]
    window = top[:, None] + np.arange(-3, 4)
    ground = 1 - scene.sky[window, (SAMPLE_PX * columns[keep])[:, None]]
    edge = top + 4 - ground.sum(axis=1)
    distance = float(np.median(scene.depth_m[row[keep], keep]))
    return azimuth[keep], PANO_TOP_DEG - edge / PANO_PX_PER_DEG, distance


def check_points(picture: Picture, across: int, down: int) -> list[list[float]]:
    """A grid of pixels with the direction of each: [x, y, azimuth, elevation]."""
    columns = (np.arange(across) + 0.5) * picture.size_px[0] / across
    rows = (np.arange(down) + 0.5) * picture.size_px[1] / down
    x, y = np.tile(columns, down).round(1), np.repeat(rows, across).round(1)
    azimuth, elevation = picture.to_direction(x, y)
    return np.column_stack([x, y, azimuth.round(5), elevation.round(5)]).tolist()
