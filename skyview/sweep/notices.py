"""What is worth saying about joined frames, as codes with figures."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from skyview.sweep.adjust import Cameras
from skyview.sweep.canvas import Canvas
from skyview.sweep.level import Upright
from skyview.sweep.register import Registered
from skyview.sweep.shift import REACH_M, Shifted

ROUGH_LEVEL = np.radians(0.5)
THIN_SHARED_POINTS = 12.0
SHIFT_DISTANCES_M = (5.0, 10.0, 20.0, 50.0, 100.0, 300.0)


@dataclass(frozen=True)
class Notice:
    """Something worth saying: a code, its figures, the frames that it is about."""

    code: str
    values: dict[str, float] = field(default_factory=dict)
    frames: tuple[int, ...] = ()


def notices(
    found: Registered, up: Upright, cameras: Cameras, canvas: Canvas, closed: bool
) -> tuple[Notice, ...]:
    answer = []
    if found.shifted is not None:
        answer.append(_moved_notice(found, found.shifted))
    if up.sigma > ROUGH_LEVEL:
        values = {"level_sigma_deg": float(np.degrees(up.sigma)), "edges": up.edges}
        answer.append(Notice("level_rough", values))
    if not found.focal_told:
        focal = float(cameras.focal[0])
        answer.append(Notice("focal_untold", {"focal_px": focal}))
    if not closed:
        left, right, _, _ = canvas.edges_deg()
        answer.append(Notice("not_closed", {"span_deg": right - left}))
    answer += _thin(found, cameras)
    return tuple(answer)


def shifts(found: Registered, shifted: Shifted) -> tuple[float, float]:
    """How far the nearest things shift between frames that overlap [rad], and the camera's usual
    step between those frames [m]."""
    points = found.points
    step = shifted.places[points.first] - shifted.places[points.second]
    ray = found.adjusted.cameras.rays(points.first, points.xy_first)
    across = step - ray * np.sum(step * ray, axis=1, keepdims=True)
    angle = shifted.nearness * np.sqrt(np.sum(across**2, axis=1))
    # Pictures do not tell the scale of the step; the usual reach sets it.
    to_metres = REACH_M / max(abs(shifted.reach), 0.05)
    metres = float(np.median(np.sqrt(np.sum(step**2, axis=1)))) * to_metres
    return float(np.quantile(angle, 0.97)), metres


def _moved_notice(found: Registered, shifted: Shifted) -> Notice:
    """How far near things shift, and what that is by distance."""
    worst, metres = shifts(found, shifted)
    values = {"worst_deg": float(np.degrees(worst)), "step_m": metres}
    for distance in SHIFT_DISTANCES_M:
        values[f"deg_at_{distance:g}_m"] = float(np.degrees(metres / distance))
    return Notice("moved", values, found.used)


def _thin(found: Registered, cameras: Cameras) -> list[Notice]:
    """Neighbours that hang together by little overlap or few points."""
    yaw = np.unwrap(np.sort(np.arctan2(cameras.axes[:, 2, 0], cameras.axes[:, 2, 1])))
    order = np.argsort(np.arctan2(cameras.axes[:, 2, 0], cameras.axes[:, 2, 1]))
    points, answer = found.points, []
    for a, b, step in zip(order[:-1], order[1:], np.diff(yaw), strict=True):
        pair = ((points.first == a) & (points.second == b)) | (
            (points.first == b) & (points.second == a)
        )
        weight = float(found.adjusted.trust[pair].sum())
        if 0.0 < weight < THIN_SHARED_POINTS:
            values = {"points": weight, "step_deg": float(np.degrees(step))}
            answer.append(Notice("thin_overlap", values, (found.used[a], found.used[b])))
    return answer
