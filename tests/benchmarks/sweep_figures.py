"""How true the angles of joined frames are, on frames whose poses are known.

    python tests/benchmarks/sweep_figures.py [shared/sweep_study.csv]

Two kinds of frames: invented streets that are ray-cast (exact parallax, moving clouds and a car),
and frames cut from the sample street's full circle (photo-like). Fields of view, counts, spans,
tilts, exposures, noise, distortion and the place of the camera vary; the focal length in the
metadata is 3 % off or missing. OpenCV's own stitcher joins the same frames in the same run.
"""

from __future__ import annotations

import csv
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "helpers")]

import street_frames as sf  # noqa: E402

from skyview.photo.pixels import read_pixels  # noqa: E402
from skyview.sweep.join import Sweep, panorama, turn_frames  # noqa: E402
from skyview.sweep.register import FrameFacts  # noqa: E402

CIRCLE = ROOT / "sample_images" / "gable_circle.jpg"
CIRCLE_LEFT_DEG, CIRCLE_TOP_DEG, CIRCLE_PX_PER_DEG = 203.15, 60.0, 4096 / 360.0


@dataclass(frozen=True)
class Case:
    """One turn."""

    name: str
    source: str
    seed: int
    count: int
    span_deg: float
    width_deg: float
    size_px: tuple[int, int] = (520, 390)
    tilt_deg: float = 3.0
    reach_m: float = 0.0
    k1: float = 0.0
    noise: float = 0.01
    near: bool = True
    told: bool = True
    stops: float = 0.0
    """Every other frame so much lighter, the others darker."""
    upright: bool = False
    """One frame taken with the telephone turned."""


CASES = [
    Case("street 1", "street", 1, 8, 360, 66),
    Case("street 2", "street", 2, 9, 234, 66),
    Case("street 3", "street", 3, 5, 150, 66, tilt_deg=4, k1=-0.02, near=False),
    Case("street 4", "street", 4, 12, 360, 55, noise=0.02, told=False),
    Case("street 5", "street", 5, 3, 70, 66, near=False),
    Case("street 6", "street", 6, 7, 230, 75, tilt_deg=5, k1=0.03, near=False, told=False),
    Case("street 9", "street", 9, 10, 300, 60, (390, 520), noise=0.015, near=False),
    Case("street 10", "street", 10, 6, 360, 95, tilt_deg=4, k1=-0.01, told=False),
    Case("street 12", "street", 12, 4, 120, 66, tilt_deg=6, noise=0.02),
    Case("street 15", "street", 15, 11, 300, 55, (440, 330), k1=0.02, told=False),
    Case("circle 1", "circle", 1, 9, 234, 66, (900, 675), noise=0.007),
    Case("circle 2", "circle", 2, 9, 360, 66, (900, 675), noise=0.007, told=False),
    Case("circle 3", "circle", 3, 8, 234, 66, (900, 675), noise=0.007),
    Case("circle 4", "circle", 4, 12, 360, 60, (800, 600), k1=-0.015, told=False),
    Case("circle 5", "circle", 5, 5, 150, 66, (900, 675), tilt_deg=2, noise=0.007),
    Case("circle 6", "circle", 6, 3, 70, 66, (900, 675), noise=0.007, told=False),
    Case("circle 7", "circle", 7, 7, 234, 80, (900, 675), k1=0.02, noise=0.007),
    Case("circle 8", "circle", 8, 10, 250, 50, (675, 900), told=False),
    Case("circle 9", "circle", 9, 4, 110, 66, (900, 675), noise=0.02),
    Case("circle 10", "circle", 10, 9, 300, 66, (900, 675), noise=0.007, told=False),
    Case("large 20", "street", 20, 9, 300, 66, (1200, 900)),
    Case("upright 21", "street", 21, 9, 270, 66, (800, 600), upright=True),
    Case("exposure 22", "circle", 22, 9, 300, 66, (900, 675), noise=0.02, stops=0.7),
    Case("sparse 23", "street", 23, 6, 270, 66, (800, 600)),
    Case("sparse 24", "circle", 24, 7, 330, 66, (900, 675), told=False),
    Case("moved 7", "street", 7, 9, 234, 66, reach_m=0.3),
    Case("moved 8", "street", 8, 10, 360, 66, reach_m=0.4),
    Case("moved 11", "street", 11, 9, 234, 66, reach_m=0.3, near=False),
    Case("moved 14", "street", 14, 8, 210, 66, (440, 330), reach_m=1.0),
    Case("moved 16", "street", 16, 7, 234, 75, (440, 330), reach_m=0.2),
    Case("moved 17", "street", 17, 8, 300, 66, reach_m=0.15, near=False),
]


def frames_of(case: Case, folder: Path) -> tuple[list[Path], list[sf.Pose]]:
    """Files and poses in a mixed-up order."""
    width = case.size_px[0]
    focal = width / 2 / np.tan(np.radians(case.width_deg / 2))
    same = {"size_px": case.size_px, "focal_px": float(focal), "k1": case.k1}
    poses = sf.sweep_poses(
        case.seed + 50, case.count, case.span_deg, case.tilt_deg, case.reach_m, **same
    )
    car = poses[0].yaw_deg + 20
    poses = [
        replace(p, clouds_deg=0.15 * i, cars=(car + 3 * i,)) if case.source == "street" else p
        for i, p in enumerate(poses)
    ]
    poses = [replace(p, stops=p.stops + case.stops * (-1) ** i) for i, p in enumerate(poses)]
    if case.upright:
        poses[2] = replace(poses[2], size_px=case.size_px[::-1])
    np.random.default_rng(case.seed).shuffle(poses)
    if case.source == "street":
        scene = sf.street(case.seed, case.near)
        return sf.write(folder, scene, poses, case.seed, case.noise), poses
    whole = cv2.imread(str(CIRCLE)).astype(np.float32)
    files = []
    for index, pose in enumerate(poses):
        files.append(folder / f"f{index:02d}.jpg")
        rgb = cut(whole, pose, case.seed + index, case.noise)
        cv2.imwrite(str(files[-1]), rgb, [cv2.IMWRITE_JPEG_QUALITY, 88])
    return files, poses


def cut(whole: np.ndarray, pose: sf.Pose, seed: int, noise: float) -> np.ndarray:
    """A frame out of the full circle, with its own exposure and noise."""
    ray = sf.rays_of(pose)
    azimuth = np.degrees(np.arctan2(ray[..., 0], ray[..., 1]))
    elevation = np.degrees(np.arcsin(ray[..., 2]))
    x = np.mod(azimuth - CIRCLE_LEFT_DEG, 360.0) * CIRCLE_PX_PER_DEG - 0.5 + 4
    y = (CIRCLE_TOP_DEG - elevation) * CIRCLE_PX_PER_DEG - 0.5
    padded = np.concatenate([whole[:, -4:], whole, whole[:, :4]], axis=1)
    maps = x.astype(np.float32), y.astype(np.float32)
    seen = cv2.remap(padded, *maps, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    value = np.clip(seen / 255.0, 0.0, 1.0) * 2.0 ** (pose.stops / 2.2) * np.array(pose.tint)
    value = value + np.random.default_rng(seed).normal(0.0, noise, value.shape)
    return np.clip(255.0 * value + 0.5, 0, 255).astype(np.uint8)


def figures(case: Case) -> dict[str, object]:
    """Errors and times of one case."""
    with tempfile.TemporaryDirectory() as name:
        files, poses = frames_of(case, Path(name))
        told = 1.03 if case.seed % 2 else 0.97
        facts = [FrameFacts(told * p.focal_px if case.told else None, 0.04, "one") for p in poses]

        def read(number: int, longest: int | None) -> np.ndarray:
            return read_pixels(files[number], longest)

        begin = time.perf_counter()
        found = turn_frames([p.size_px for p in poses], facts, read)
        panorama(found, read)
        own_s = time.perf_counter() - begin
        begin = time.perf_counter()
        stitcher = cv2.Stitcher.create(cv2.Stitcher_PANORAMA)
        stitcher.stitch([cv2.imread(str(f)) for f in files])
        other_s = time.perf_counter() - begin
        kept = len(stitcher.component())
    yaw = np.array([np.degrees(h.yaw) - poses[n].yaw_deg for n, h in found.held.items()])
    yaw = (yaw - yaw[0] + 180.0) % 360.0 - 180.0
    ups = [sf.axes_of(poses[n])[:, 2] @ found.cameras.axes[i] for i, n in enumerate(found.held)]
    east, north, up = np.mean(ups, axis=0)
    moved = [n for n in found.notices if n.code == "moved"]
    return {
        "case": case.name,
        "frames": case.count,
        "span_deg": case.span_deg,
        "width_px": case.size_px[0],
        "reach_m": case.reach_m,
        "focal_told": case.told,
        "used": len(found.held),
        "azimuth_error_deg": round(float(np.ptp(yaw)), 4),
        "after_two_deg": round(after_two_deg(found, poses), 4),
        "azimuth_sigma_deg": round(
            float(np.degrees(max(h.sigma["yaw"] for h in found.held.values()))), 4
        ),
        "tilt_error_deg": round(float(np.degrees(np.arctan2(np.hypot(east, north), up))), 4),
        "tilt_sigma_deg": round(float(np.degrees(found.level_sigma)), 4),
        "moved": bool(moved),
        "worst_shift_deg": round(moved[0].values["worst_deg"], 2) if moved else "",
        "seconds": round(own_s, 2),
        "stitcher_seconds": round(other_s, 2),
        "stitcher_used": kept,
    }


def after_two_deg(found: Sweep, poses: list[sf.Pose]) -> float:
    """Greatest error of azimuth once two true directions, a quarter from either end, set yaw and,
    where the circle is open, scale. [deg]"""
    yaw = np.degrees([h.yaw for h in found.held.values()])
    order = np.argsort(yaw)
    yaw, true = yaw[order], np.array([poses[n].yaw_deg for n in found.held])[order]
    off = (yaw - true - (yaw[0] - true[0]) + 180.0) % 360.0 - 180.0
    first, second = len(yaw) // 4, len(yaw) - 1 - len(yaw) // 4
    if found.canvas.closed:
        off -= (off[first] + off[second]) / 2.0
    else:
        slope = (off[second] - off[first]) / (yaw[second] - yaw[first])
        off -= off[first] + slope * (yaw - yaw[first])
    return float(np.abs(off).max())


def main() -> None:
    """All cases into the table."""
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "shared" / "sweep_study.csv"
    rows = []
    for case in CASES:
        rows.append(figures(case))
        print(rows[-1], flush=True)
    with target.open("w", newline="", encoding="utf-8") as out:
        table = csv.DictWriter(out, list(rows[0]))
        table.writeheader()
        table.writerows(rows)


if __name__ == "__main__":
    main()
