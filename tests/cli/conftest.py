"""A command-line runner and a synthetic roof with exact geometry for the tests of the verbs.

Everything here is computed by formulas written for these tests: the cameras' projections, the
outlines of upright rectangles, and stations put at a wanted bearing, distance and elevation. The
product is used from outside only: its command line and its survey file.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from PIL import Image
from whole_circle import WHOLE_CIRCLE

from skyview.cli.main import run as run_skyview

EARTH_RADIUS_M = 6_371_000.0
RADIO_K = 4.0 / 3.0
SITE = {"latitude_deg": 12.0, "longitude_deg": -40.0}
CAMERA_ENU = (0.0, 0.0, 8.0)


@dataclass(frozen=True)
class Outcome:
    """What one call of the command line left: exit code, standard output, standard error."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        return json.loads(self.out)

    @property
    def rows(self) -> list[dict[str, Any]]:
        return self.json["rows"]

    @property
    def row(self) -> dict[str, Any]:
        (row,) = self.rows
        return row


class _Runner:
    """Call it with the words of a command line; ``ok`` also insists on exit code 0."""

    def __init__(self, capsys: pytest.CaptureFixture[str]) -> None:
        self._capsys = capsys

    def __call__(self, *words: object) -> Outcome:
        self._capsys.readouterr()
        try:
            code = run_skyview([str(word) for word in words])
        except SystemExit as leaving:
            code = leaving.code
        out, err = self._capsys.readouterr()
        return Outcome(0 if code is None else code, out, err)

    def ok(self, *words: object) -> Outcome:
        outcome = self(*words)
        assert outcome.code == 0, outcome.err
        assert "Traceback" not in outcome.err
        return outcome

    def refused(self, *words: object, code: int = 2) -> str:
        """Standard error of a refused call: one sentence, no traceback, nothing on output."""
        outcome = self(*words)
        assert outcome.code == code, (outcome.code, outcome.out, outcome.err)
        assert "Traceback" not in outcome.err
        assert outcome.out == ""
        lines = outcome.err.strip().splitlines()
        assert len(lines) == 1, outcome.err
        return lines[0]


@dataclass(frozen=True)
class Camera:
    """One picture: where it was taken, its projection and pose (angles in degrees)."""

    projection: dict[str, Any]
    size_px: tuple[int, int]
    enu_m: tuple[float, float, float] = CAMERA_ENU
    yaw_deg: float = 0.0
    pitch_deg: float = 0.0
    roll_deg: float = 0.0

    def _axes(self) -> np.ndarray:
        """Rows right, down, forward in east-north-up axes."""
        y, p, r = np.radians([self.yaw_deg, self.pitch_deg, self.roll_deg])
        forward = np.array([np.sin(y) * np.cos(p), np.cos(y) * np.cos(p), np.sin(p)])
        level = np.array([np.cos(y), -np.sin(y), 0.0])
        upright = np.cross(level, forward)
        right = np.cos(r) * level - np.sin(r) * upright
        return np.array([right, -(np.sin(r) * level + np.cos(r) * upright), forward])

    def pixels(self, towards: np.ndarray) -> np.ndarray:
        """Pixels (n, 2) of the directions ``towards`` (n, 3), of any length."""
        x, y, z = self._axes() @ np.asarray(towards, dtype=float).T
        width, height = self.size_px
        form = self.projection
        if form["kind"] == "equirectangular":
            azimuth = np.degrees(np.arctan2(x, z))
            elevation = np.degrees(np.arctan2(-y, np.hypot(x, z)))
            across = (azimuth - form["left_deg"]) / (form["right_deg"] - form["left_deg"])
            down = (form["top_deg"] - elevation) / (form["top_deg"] - form["bottom_deg"])
            return np.stack([across * width, down * height], axis=1)
        cx, cy = form["centre_px"]
        if form["kind"] == "cylindrical":
            f = form["px_per_rad"]
            return np.stack([cx + f * np.arctan2(x, z), cy + f * y / np.hypot(x, z)], axis=1)
        if form["kind"] == "fisheye":
            off = form["px_per_rad"] * np.arctan2(np.hypot(x, y), z) / np.hypot(x, y)
            return np.stack([cx + off * x, cy + off * y], axis=1)
        squared = (x**2 + y**2) / z**2
        bend = 1.0 + form.get("k1", 0.0) * squared + form.get("k2", 0.0) * squared**2
        scale = form["focal_px"] * bend / z
        return np.stack([cx + scale * x, cy + scale * y], axis=1)

    def pixel_of(self, azimuth_deg: float, elevation_deg: float) -> list[float]:
        a, e = math.radians(azimuth_deg), math.radians(elevation_deg)
        towards = [[math.sin(a) * math.cos(e), math.cos(a) * math.cos(e), math.sin(e)]]
        return self.pixels(np.array(towards))[0].tolist()

    def ring(self, wall: Wall, corners: int = 12) -> list[list[float]]:
        """Outline in pixels of the rectangle, its edges cut into short pieces."""
        towards = wall.edge(corners) - np.array(self.enu_m)
        found = self.pixels(towards)
        if self.full_circle:
            width = self.size_px[0]
            found[:, 0] = found[0, 0] + (found[:, 0] - found[0, 0] + width / 2) % width - width / 2
            found[:, 0] -= width * math.floor(found[:, 0].min() / width)
        return found.tolist()

    @property
    def full_circle(self) -> bool:
        form = self.projection
        return form["kind"] == "equirectangular" and form["right_deg"] - form["left_deg"] == 360


@dataclass(frozen=True)
class Wall:
    """Upright rectangle square to the horizontal line from ``seen_from`` to its middle."""

    azimuth_deg: float
    distance_m: float
    half_width_m: float
    bottom_m: float
    top_m: float
    seen_from: tuple[float, float, float] = CAMERA_ENU

    @property
    def _along(self) -> np.ndarray:
        a = math.radians(self.azimuth_deg)
        return np.array([math.cos(a), -math.sin(a), 0.0])

    @property
    def _foot(self) -> np.ndarray:
        a = math.radians(self.azimuth_deg)
        east, north, _ = self.seen_from
        return np.array(
            [east + self.distance_m * math.sin(a), north + self.distance_m * math.cos(a), 0.0]
        )

    def edge(self, pieces: int) -> np.ndarray:
        """Points (4 pieces, 3) round the rectangle in site metres."""
        w = self.half_width_m
        corners = [(-w, self.bottom_m), (w, self.bottom_m), (w, self.top_m), (-w, self.top_m)]
        steps = np.linspace(0.0, 1.0, pieces, endpoint=False)[:, None]
        sides = [
            np.array(a) * (1 - steps) + np.array(b) * steps
            for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
        ]
        across, up = np.concatenate(sides).T
        return self._foot + across[:, None] * self._along + up[:, None] * np.array([0.0, 0.0, 1.0])

    def crossing(
        self, antenna: Sequence[float], bearing_deg: float, elevation_deg: float
    ) -> tuple[float, float, float]:
        """Where a ray from the antenna meets the plane: across, up, and length of the ray [m]."""
        a, e = math.radians(bearing_deg), math.radians(elevation_deg)
        ray = np.array([math.sin(a) * math.cos(e), math.cos(a) * math.cos(e), math.sin(e)])
        normal = np.cross(self._along, [0.0, 0.0, 1.0])
        start = np.asarray(antenna, dtype=float)
        length = float(normal @ (self._foot - start) / (normal @ ray))
        met = start + length * ray
        return float((met - self._foot) @ self._along), float(met[2]), length

    def clearance(self, across: float, up: float) -> float:
        """Signed distance to the nearest edge, positive outside."""
        beside = abs(across) - self.half_width_m
        above = max(up - self.top_m, self.bottom_m - up)
        if beside <= 0 and above <= 0:
            return max(beside, above)
        return math.hypot(max(beside, 0.0), max(above, 0.0))


@dataclass
class Roof:
    """A survey under construction: give it walls and stations, then ``save`` it."""

    folder: Path
    runner: _Runner
    camera: Camera
    data: dict[str, Any] = field(default_factory=dict)

    def antenna(self, spot: int = 0, height: int = 0) -> np.ndarray:
        s = self.data["spots"][spot]
        east, north, up = s["enu_m"]
        return np.array([east, north, up + s["heights_m"][height]], dtype=float)

    def station(
        self, ident: str, bearing_deg: float, elevation_deg: float, *, distance_km: float = 40.0,
        channel: int = 21, **more: Any,
    ) -> None:  # fmt: skip
        """Put a station where its radio elevation at the first antenna is as wanted."""
        site = self.data["site"]
        there = Geodesic.WGS84.Direct(
            site["latitude_deg"], site["longitude_deg"], bearing_deg, distance_km * 1000.0
        )
        d = distance_km * 1000.0
        rise = d * (math.tan(math.radians(elevation_deg)) + d / (2 * RADIO_K * EARTH_RADIUS_M))
        self.data["stations"].append(
            {"id": ident, "latitude_deg": there["lat2"], "longitude_deg": there["lon2"],
             "antenna_amsl_m": site["ground_amsl_m"] + float(self.antenna()[2]) + rise,
             "rf_channel": channel, "erp_kw": 100, **more}
        )  # fmt: skip

    def wall(self, name: str, wall: Wall, kind: str = "building", *, ground: bool = False,
             sigma_m: float = 0.1, **more: Any) -> None:  # fmt: skip
        self.data["obstructions"].append(
            {"id": name, "kind": kind, "kind_by": "hand", "distance_m": wall.distance_m,
             "distance_sigma_m": sigma_m, "distance_by": "laser", "distance_from": "v1", **more}
        )  # fmt: skip
        self.data["outlines"].append(
            {"id": f"{name}_v1", "obstruction": name, "view": "v1", "by": "hand",
             "rings_px": [self.camera.ring(wall)], "reaches_ground": ground}
        )  # fmt: skip

    def save(self) -> Path:
        """Write survey.json and a plain picture."""
        (self.folder / "photos").mkdir(parents=True, exist_ok=True)
        Image.new("L", self.camera.size_px, 128).save(self.folder / "photos" / "v1.png")
        (self.folder / "survey.json").write_text(json.dumps(self.data), encoding="utf-8")
        return self.folder

    def solve(self) -> Path:
        """Save, then let the product find the pose from the exact bearing marks."""
        self.save()
        self.runner.ok("calibrate", self.folder)
        return self.folder

    def paths(self, *more: object) -> list[dict[str, Any]]:
        """Rows of ``paths`` for the lowest height of the first spot."""
        self.solve()
        height = self.data["spots"][0]["heights_m"][0]
        spot = self.data["spots"][0]["id"]
        words = ("--spot", spot, "--height", height, "--json", *more)
        return self.runner.ok("paths", self.folder, *words).rows

    def path(self, *more: object) -> dict[str, Any]:
        (row,) = self.paths(*more)
        return row


def _empty_survey(camera: Camera) -> dict[str, Any]:
    """The survey of one spot right at the camera, with exact bearing marks over the picture."""
    marks = []
    half = 150.0 if camera.full_circle else 25.0
    for n, (aside, up) in enumerate(
        [(-half, 4.0), (-half / 2, 12.0), (0.0, -3.0), (half / 3, 9.0), (half, 2.0)]
    ):
        azimuth = (camera.yaw_deg + aside) % 360.0
        marks.append(
            {"id": f"m{n}", "view": "v1", "kind": "bearing", "azimuth_deg": azimuth,
             "north": "true", "elevation_deg": up, "sigma_px": 0.2,
             "points_px": [camera.pixel_of(azimuth, up)]}
        )  # fmt: skip
    return {
        "format": "skyview-survey", "version": 1, "revision": 1, "title": "Synthetic roof",
        "site": {**SITE, "position_sigma_m": 2, "ground_amsl_m": 100,
                 "channel_plan": "americas-6mhz"},
        "spots": [{"id": "ridge", "enu_m": [0.0, 0.0, 6.5], "heights_m": [1.5]}],
        "limits": {"lines_checked": True},
        "views": [{"id": "v1", "photo": "photos/v1.png", "size_px": list(camera.size_px),
                   "spot": "ridge", "camera_enu_m": list(camera.enu_m), "camera_sigma_m": 0.05,
                   "taken": "2026-03-01T12:00:00+00:00", "leaf": "in",
                   "projection": dict(camera.projection),
                   "prior": {"yaw_deg": (camera.yaw_deg + 6.0) % 360.0, "yaw_sigma_deg": 10,
                             "pitch_deg": 0, "pitch_sigma_deg": 3, "roll_deg": 0,
                             "roll_sigma_deg": 3, "scale_sigma": 0.04}}],
        "landmarks": [], "marks": marks, "obstructions": [], "outlines": [], "stations": [],
    }  # fmt: skip


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> _Runner:
    """The command line, in this process, its output captured."""
    return _Runner(capsys)


@pytest.fixture
def make_camera() -> Callable[..., Camera]:
    """A camera; by default a full circle, looking north."""

    def make(projection: dict[str, Any] = WHOLE_CIRCLE, size_px: tuple[int, int] = (1440, 360),
             **pose: Any) -> Camera:  # fmt: skip
        return Camera(projection, size_px, **pose)

    return make


@pytest.fixture
def make_wall() -> type[Wall]:
    """Upright rectangles, written as azimuth, distance, half width, bottom and top."""
    return Wall


@pytest.fixture
def make_roof(
    tmp_path: Path, run: _Runner, make_camera: Callable[..., Camera]
) -> Callable[..., Roof]:
    """A survey with one view and exact marks; its antenna stands where the camera stood."""

    def make(camera: Camera | None = None, name: str = "s") -> Roof:
        camera = camera or make_camera()
        return Roof(tmp_path / name, run, camera, _empty_survey(camera))

    return make


@pytest.fixture
def roof(make_roof: Callable[..., Roof]) -> Roof:
    """The same with the full circle looking north."""
    return make_roof()


@pytest.fixture
def samples() -> Path:
    """The sample pictures of the checkout."""
    return Path(__file__).parents[2] / "sample_images"
