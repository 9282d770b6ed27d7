"""Where the views look: calibrated anew when their inputs change, told in pixels and sentences."""

from __future__ import annotations

import contextlib
import time
from dataclasses import dataclass
from typing import Any

import numpy as np

from skyview.angles import Array, unit_from_azimuth_elevation
from skyview.errors import SkyviewError
from skyview.report.pose_words import sentences, suggestion
from skyview.survey.cameras import ViewCamera, camera_of, digest_of, solve
from skyview.survey.models import Mark, Residual, Survey, View
from skyview.survey.sweeps import placed

_TELLS_AZIMUTH = ("landmark", "bearing", "sun", "shadow", "station", "tie")


@dataclass(frozen=True)
class Solved:
    """What was calibrated along with a change."""

    views: tuple[str, ...]
    notes: tuple[str, ...]
    took_ms: float


def calibrate_stale(survey: Survey) -> Solved:
    """Calibrate, in place, every view that has marks, or had any, and whose inputs changed.

    A calibration without a digest is another program's and is left alone. A view that cannot be
    solved keeps its marks, loses its stale calibration, and the reason is among the notes.
    """
    start = time.perf_counter()
    done: list[str] = []
    notes: list[str] = []
    marked = {mark.view for mark in survey.marks}
    for view in survey.views:
        stored = view.calibration
        if stored is None and view.id not in marked:
            continue
        if stored is not None and (not stored.digest or stored.digest == digest_of(survey, view)):
            continue
        done.append(view.id)
        try:
            view.calibration, more = solve(survey, view)
        except SkyviewError as error:
            view.calibration = None
            notes.append(f"view {view.id} cannot be calibrated: {error.message}")
            continue
        notes += more
    took_ms = 1000.0 * (time.perf_counter() - start)
    return Solved(tuple(done), tuple(dict.fromkeys(notes)), round(took_ms, 1))


def tells_azimuth(survey: Survey, view: View) -> bool:
    """Whether anything says which way the view looks."""
    marked = any(m.view == view.id and m.kind in _TELLS_AZIMUTH for m in survey.marks)
    foreign = view.calibration is not None and not view.calibration.digest
    return marked or foreign or view.prior.yaw_deg is not None


def pose_message(survey: Survey, view: View) -> dict[str, Any]:
    """A view's pose for the page: angles, sentences, and each mark's residual as an arrow."""
    calibration = view.calibration
    if calibration is None:
        calibration, _ = solve(survey, view)
    camera = camera_of(survey, view)
    arrows = _arrows(survey, view, camera, calibration.residuals)
    return {
        "view": view.id,
        "calibrated": tells_azimuth(survey, view),
        "yaw_deg": calibration.yaw_deg,
        "pitch_deg": calibration.pitch_deg,
        "roll_deg": calibration.roll_deg,
        "azimuth_sigma_deg": calibration.azimuth_sigma_deg,
        "elevation_sigma_deg": calibration.elevation_sigma_deg,
        "solved": list(calibration.solved),
        "sentences": sentences(view.id, calibration),
        "suggestion": suggestion(calibration),
        "in_picture": [{"mark": m.id, "points_px": m.points_px} for m in in_picture(survey, view)],
        "residuals": [
            {
                "mark": r.mark,
                "azimuth_residual_deg": r.azimuth_residual_deg,
                "elevation_residual_deg": r.elevation_residual_deg,
                "line_residual_deg": r.line_residual_deg,
                "doubt_sigmas": r.doubt_sigmas,
                "trust": r.trust,
                "from_px": arrows[r.mark][0] if r.mark in arrows else None,
                "to_px": arrows[r.mark][1] if r.mark in arrows else None,
            }
            for r in calibration.residuals
        ],
    }


def in_picture(survey: Survey, view: View) -> list[Mark]:
    """The view's marks that were made in a frame, with their pixels in the view's own picture."""
    found = []
    for mark in survey.marks:
        if mark.view == view.id and mark.frame:
            # One whose frame has no pose is left out by the calibration, which says so.
            with contextlib.suppress(SkyviewError):
                found.append(placed(view, mark))
    return found


def _arrows(
    survey: Survey, view: View, camera: ViewCamera, residuals: list[Residual]
) -> dict[str, tuple[list[float], list[float]]]:
    """For marks with a direction: the pixel as marked, and where the calibration puts it."""
    marks = [m for m in survey.marks if m.view == view.id and not m.frame]
    points = {m.id: m.points_px[0] for m in [*marks, *in_picture(survey, view)]}
    sighted = [
        r
        for r in residuals
        if r.mark in points
        and (r.azimuth_residual_deg is not None or r.elevation_residual_deg is not None)
    ]
    if not sighted:
        return {}
    start = np.array([points[r.mark] for r in sighted], float)
    off = np.radians(
        [[r.azimuth_residual_deg or 0.0, r.elevation_residual_deg or 0.0] for r in sighted]
    )
    azimuth, elevation = camera.picture.camera.directions(start[:, 0], start[:, 1])
    # A residual is what was measured less what the marks' own data say.
    end = pixels_of(camera, azimuth - off[:, 0], elevation - off[:, 1], near_x=start[:, 0])
    return {
        r.mark: (start[i].tolist(), np.round(end[i], 2).tolist())
        for i, r in enumerate(sighted)
        if np.isfinite(end[i]).all()
    }


def pixels_of(
    camera: ViewCamera, azimuth: Array, elevation: Array, near_x: Array | float | None = None
) -> Array:
    """Pixels (..., 2) of directions [rad]; in a full circle the turn nearest to ``near_x``."""
    rays = unit_from_azimuth_elevation(azimuth, elevation)
    x, y = camera.picture.camera.pixels(rays)
    if camera.full_circle:
        width = camera.view.size_px[0]
        x = np.mod(x, width)
        if near_x is not None:
            x = x + width * np.round((near_x - x) / width)
    return np.stack(np.broadcast_arrays(x, y), axis=-1)
