"""How often two-view distances hold what they state: random bodies, cameras, poses and hands.

Every case draws a solid body (a pole, a house, a cone or a ball of leaves), cameras on a roof, and
errors of all that is not exact: the camera's place, the pose by its own covariance, the vertices of
the outline. The body's silhouettes are exact for its shape; the estimate knows nothing of the shape
but its kind. The true distance is that of the axis, of a house that of the two edges which make its
silhouette, halfway.

    python tests/mount/study_meeting.py       writes shared/two_view_study.csv
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np

from skyview.calibrate.spread import PosedPicture
from skyview.camera.projections import Equirectangular
from skyview.mount.meeting import Sighted, interval_m, meet
from skyview.mount.sighting import sighting_of
from skyview.survey.sightings import BLUR, DEPTH_SHARE, ROUND

ROOT = Path(__file__).parents[2]
STUDY = ROOT / "shared" / "two_view_study.csv"
SIZE = (4096, 1024)
CLICK_PX = 2.0
KINDS = ("mast", "building", "conifer", "broadleaf")
LAYOUTS = {
    "across": [[0.0, 0.0, 0.0], [4.0, 0.0, 0.0]],
    "up": [[0.0, 0.0, 0.0], [0.0, 0.0, 2.0]],
    "three": [[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [0.0, 0.0, 2.0]],
}
"""Cameras beside the first: right of it as it looks at the body, ahead, up. [m]"""
SEED = 20260201


def body(kind: str, random: np.random.Generator) -> np.ndarray:
    """Surface points (P, 3) of a body about its axis at the origin of the ground. [m]"""
    if kind == "mast":
        radius, top = random.uniform(0.08, 0.25), random.uniform(8.0, 18.0)
        turn = np.linspace(0.0, 2.0 * np.pi, 60)
        rim = radius * np.column_stack([np.cos(turn), np.sin(turn)])
        return np.vstack([np.column_stack([rim, np.full(60, z)]) for z in (0.0, top)])
    if kind == "building":
        wide, deep, eaves = random.uniform(5, 14), random.uniform(5, 11), random.uniform(4, 12)
        rise = random.choice([0.0, random.uniform(1.5, 3.5)])
        x, y = np.array([-1, 1, 1, -1]) * wide / 2, np.array([-1, -1, 1, 1]) * deep / 2
        walls = np.vstack([np.column_stack([x, y, np.full(4, z)]) for z in (0.0, eaves)])
        ridge = np.array([[-wide / 2, 0.0, eaves + rise], [wide / 2, 0.0, eaves + rise]])
        points, angle = np.vstack([walls, ridge]), random.uniform(0.0, np.pi)
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        return np.column_stack([points[:, :2] @ turn.T, points[:, 2]])
    return crown(kind, random)


def crown(kind: str, random: np.random.Generator) -> np.ndarray:
    """A cone or an ellipsoid with a dozen and a half lumps of foliage."""
    radius, top = random.uniform(1.5, 4.5), random.uniform(8.0, 17.0)
    turn, share = np.meshgrid(np.linspace(0, 2 * np.pi, 181)[:-1], np.linspace(0.0, 1.0, 80))
    lump = np.zeros_like(turn)
    for _ in range(18):
        at, height = random.uniform(0, 2 * np.pi), random.uniform(0.0, 1.0)
        size, wide = random.uniform(-0.1, 0.15), random.uniform(0.2, 0.5)
        aside = np.remainder(turn - at + np.pi, 2 * np.pi) - np.pi
        lump += size * np.exp(-(aside**2 + (4.0 * (share - height)) ** 2) / (2 * wide**2))
    if kind == "conifer":
        out, up = radius * (1.0 - share), 1.0 + (top - 1.0) * share
    else:
        low = top * random.uniform(0.15, 0.4)
        out = radius * np.sqrt(np.maximum(1.0 - (2.0 * share - 1.0) ** 2, 0.0))
        up = low + (top - low) * share
    out = out * (1.0 + lump)
    aside = random.normal(size=2) * 0.08 * radius * share[..., None]
    x, y = out * np.cos(turn) + aside[..., 0], out * np.sin(turn) + aside[..., 1]
    return np.column_stack(
        [x.ravel(), y.ravel(), (up + 0.3 * lump * radius * (share > 0.8)).ravel()]
    )


def picture_with_error(
    yaw: float, random: np.random.Generator
) -> tuple[PosedPicture, PosedPicture]:
    """A full circle as it was taken and as its calibration has it."""
    edges = np.radians([-180.0, 180.0, 60.0, -30.0]).tolist()
    turn = Equirectangular((float(SIZE[0]), float(SIZE[1])), *edges)
    sigma = np.radians(random.uniform([0.05, 0.03, 0.05], [0.4, 0.2, 0.3]))
    sigma = np.append(sigma, random.uniform(0.0005, 0.003))
    stated = np.array([yaw, *random.normal(size=2) * 0.02, 0.0])
    true = stated + sigma * random.normal(size=4)
    covariance = np.diag(sigma**2)
    return PosedPicture(turn, true, covariance), PosedPicture(turn, stated, covariance)


def case(kind: str, layout: str, random: np.random.Generator) -> tuple[Sighted, float]:
    """One body as the pictures show it, and its true distance from the first camera."""
    solid = body(kind, random)
    reach = float(np.hypot(*solid[:, :2].T).max())
    distance = reach + float(np.exp(random.uniform(np.log(6.0), np.log(60.0))))
    azimuth, swing = random.uniform(0, 2 * np.pi), np.radians(random.uniform(-50.0, 50.0))
    ahead = np.array([np.sin(azimuth), np.cos(azimuth)])
    right = np.array([np.cos(azimuth + swing), -np.sin(azimuth + swing)])
    eye = np.array([0.0, 0.0, random.uniform(5.0, 8.0)])
    sigma = random.uniform(0.03, 0.2)
    cameras, angles, spreads = [], [], []
    points = solid + np.append(distance * ahead, 0.0)
    for aside, _, up in LAYOUTS[layout]:
        stated = eye + np.append(aside * right, up)
        true = stated + sigma * random.normal(size=3)
        taken, posed = picture_with_error(azimuth, random)
        offset = points - true
        ray = offset / np.linalg.norm(offset, axis=1, keepdims=True)
        x, y = taken.camera.pixels(ray)
        pixels = np.column_stack([x, y])
        turned = np.remainder(np.arctan2(offset[:, 0], offset[:, 1]) - azimuth + np.pi, 2 * np.pi)
        corner = [np.argmin(turned), np.argmax(turned), np.argmax(ray[:, 2])]
        drawn = pixels[corner] + CLICK_PX * random.normal(size=(3, 2))
        wide = np.ptp(turned) * SIZE[0] / (2 * np.pi)
        drawn += BLUR.get(kind, 0.0) * wide * random.normal(size=(3, 2))
        seen = sighting_of(posed, [drawn], CLICK_PX, BLUR.get(kind, 0.0), SIZE, full_circle=True)
        cameras.append(stated)
        angles.append(seen.angles)
        spreads.append(seen.covariance)
        if len(cameras) == 1:
            truth = true_distance(kind, points, true, azimuth, corner)
    count = len(cameras)
    return Sighted(
        np.array(cameras)[None],
        np.array(angles)[None],
        np.array(spreads)[None],
        np.full((1, count), sigma),
        np.array([DEPTH_SHARE[kind]]),
        np.array([kind in ROUND]),
        np.ones((1, count, 3), bool),
    ), truth


def true_distance(
    kind: str, points: np.ndarray, camera: np.ndarray, azimuth: float, corner: list[int]
) -> float:
    """From the first camera: of the axis, of a house of its silhouette's two edges halfway."""
    level = points[:, :2] - camera[:2]
    if kind == "building":
        return float((level[corner[:2]] @ np.array([np.sin(azimuth), np.cos(azimuth)])).mean())
    return float(np.hypot(*(points[:, :2].mean(axis=0) - camera[:2])))


def stacked(cases: list[Sighted]) -> Sighted:
    """Many things as one batch."""
    names = (
        "camera_m",
        "angles",
        "covariance",
        "camera_sigma_m",
        "depth_share",
        "is_round",
        "used",
    )
    return Sighted(*(np.concatenate([getattr(c, n) for c in cases]) for n in names))


def study(kind: str, layout: str, count: int, random: np.random.Generator) -> dict[str, object]:
    """One row: how often the interval held, how wide it was, how far the estimate was off."""
    cases = [case(kind, layout, random) for _ in range(count)]
    found = meet(stacked([c for c, _ in cases]))
    truth = np.array([t for _, t in cases])
    low, high = interval_m(found.inverse_m, found.inverse_sigma)
    score = (1.0 / truth - found.inverse_m) / found.inverse_sigma
    return {
        "kind": kind,
        "layout": layout,
        "cases": count,
        "held_percent": round(100.0 * float(np.mean((low <= truth) & (truth <= high))), 1),
        "median_sigma_percent": round(100 * float(np.median(found.inverse_sigma * truth)), 1),
        "bias_sigmas": round(float(np.mean(score)), 2),
        "robust_spread_sigmas": round(float(np.diff(np.percentile(score, [16, 84]))[0] / 2), 2),
        "median_chi2_per_freedom": round(float(np.median(found.chi2 / found.freedom)), 2),
    }


def main() -> None:
    """Write the study's table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    rows = [
        study(kind, layout, count, np.random.default_rng([SEED, i, j]))
        for i, kind in enumerate(KINDS)
        for j, layout in enumerate(LAYOUTS)
    ]
    with STUDY.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
