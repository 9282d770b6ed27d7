"""Frames joined into a panorama as a view of a survey, and marks made in one of its frames."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from skyview.angles import Array
from skyview.camera.pose import Camera
from skyview.camera.projections import Rectilinear
from skyview.errors import InputError
from skyview.photo.facts import PhotoFacts
from skyview.photo.projection import projection_guess
from skyview.sweep.join import COMPASS_SIGMA, Sweep
from skyview.sweep.register import FrameFacts

if TYPE_CHECKING:
    from skyview.survey.models import Frame, Mark, View

LEAST_SCALE_SIGMA = 0.0005
"""Relative sigma of angles along a panorama of frames, at best: our own choice."""

LEAST_LEVEL_SIGMA_DEG = 0.1


def frame_facts(facts: PhotoFacts, declination_deg: float | None) -> FrameFacts:
    """What a frame's metadata say before its pixels are compared.

    A magnetic compass without a known declination is used as it is.
    """
    guess = projection_guess(facts)
    focal = float(guess["focal_px"]) if guess and guess["kind"] == "rectilinear" else None
    sigma = float(guess["scale_sigma"]) if guess and focal else 0.3
    compass = facts.direction_deg
    if compass is not None and facts.direction_north == "magnetic":
        compass += declination_deg or 0.0
    tilt = facts.tilt
    longest, shortest = max(facts.width_px, facts.height_px), min(facts.width_px, facts.height_px)
    return FrameFacts(
        focal,
        sigma,
        f"{longest} x {shortest}, {facts.focal_35mm} mm",
        None if compass is None else float(np.radians(compass)),
        None if tilt is None else float(np.radians(tilt.pitch_deg)),
        None if tilt is None else float(np.radians(tilt.roll_deg)),
        np.inf if tilt is None else float(np.radians(tilt.sigma_deg)),
    )


def frame_records(
    sweep: Sweep, names: Sequence[str], sizes: Sequence[tuple[int, int]], reasons: dict[int, str]
) -> list[dict[str, Any]]:
    """Every frame as the survey keeps it, in degrees; yaws from the panorama's heading on."""
    heading = sweep.heading or 0.0
    records: list[dict[str, Any]] = []
    for number, name in enumerate(names):
        held = sweep.held.get(number)
        if held is None:
            records.append({"file": name, "used": False, "reason": reasons[number]})
            continue
        records.append(
            {
                "file": name,
                "yaw_deg": float(np.degrees(np.mod(held.yaw + heading, 2.0 * np.pi))),
                "pitch_deg": float(np.degrees(held.pitch)),
                "roll_deg": float(np.degrees(held.roll)),
                "focal_px": held.focal_px,
                "k1": held.k1,
                "size_px": list(sizes[number]),
                "sigmas": {
                    "yaw_deg": float(np.degrees(held.sigma["yaw"])),
                    "pitch_deg": float(np.degrees(held.sigma["pitch"])),
                    "roll_deg": float(np.degrees(held.sigma["roll"])),
                    "focal_px": held.sigma["focal_px"],
                },
                "used": True,
            }
        )
    return records


def view_record(sweep: Sweep, frames: list[dict[str, Any]], **given: Any) -> dict[str, Any]:
    """The panorama as a view; ``given``: id, photo, spot, camera_enu_m, taken, leaf."""
    level = max(float(np.degrees(sweep.level_sigma)), LEAST_LEVEL_SIGMA_DEG)
    prior: dict[str, Any] = {
        "pitch_deg": 0.0,
        "pitch_sigma_deg": round(level, 3),
        "roll_deg": 0.0,
        "roll_sigma_deg": round(level, 3),
        "scale_sigma": max(sweep.scale_sigma, LEAST_SCALE_SIGMA),
    }
    heading_deg = 0.0
    if sweep.heading is not None:
        heading_deg = float(np.degrees(sweep.heading))
        prior["yaw_deg"] = heading_deg
        prior["yaw_sigma_deg"] = float(np.degrees(COMPASS_SIGMA))
    return {
        **given,
        "size_px": [sweep.canvas.width, sweep.canvas.height],
        "projection": projection_record(sweep),
        "prior": prior,
        "frames": frames,
        "frames_yaw_deg": heading_deg,
        "frames_sigma_deg": float(np.degrees(sweep.local_sigma)) if sweep.local_sigma else None,
    }


def projection_record(sweep: Sweep) -> dict[str, Any]:
    """How the panorama's pixels map to directions, as the survey keeps it."""
    edges = ("left_deg", "right_deg", "top_deg", "bottom_deg")
    return {"kind": "equirectangular"} | dict(zip(edges, sweep.canvas.edges_deg(), strict=True))


def frame_of(view: View, name: str) -> Frame:
    """The view's frame of that file name; InputError if there is none, or it was left out."""
    found = next((f for f in view.frames if name in (f.file, Path(f.file).name)), None)
    field = f"views.{view.id}.frames"
    if found is None:
        known = ", ".join(f.file for f in view.frames) or "none"
        raise InputError(f"no frame is called {name}", field=field, mend=f"known: {known}")
    told = (found.yaw_deg, found.pitch_deg, found.roll_deg, found.focal_px, found.size_px)
    if found.used is False or any(value is None for value in told):
        raise InputError(
            f"the frame {name} has no pose: {found.reason or 'it was not joined'}",
            field=field,
            mend="mark the panorama or another frame",
        )
    return found


def in_panorama(view: View, name: str, x_px: Array, y_px: Array) -> tuple[Array, Array, float]:
    """Pixels of one of the view's frames as pixels of its panorama, and pixels of the panorama
    for one of the frame's middle.

    The frame's pose counts from the panorama's own axes, so that this holds whatever the
    calibration says. InputError for an unknown frame or a panorama of another kind.
    """
    from skyview.survey.priors import projection_of

    frame = frame_of(view, name)
    projection = projection_of(view)[0]
    width, height = frame.size_px or (0, 0)
    lens = Rectilinear(frame.focal_px or 1.0, (width / 2.0, height / 2.0), frame.k1 or 0.0)
    origin = view.frames_yaw_deg
    if origin is None:
        origin = view.prior.yaw_deg or 0.0
    pose = np.radians(
        [(frame.yaw_deg or 0.0) - origin, frame.pitch_deg or 0.0, frame.roll_deg or 0.0]
    )
    rays = Camera(lens, *pose.tolist()).rays(x_px, y_px)
    x, y = Camera(projection, 0.0, 0.0, 0.0).pixels(rays)
    per_rad = view.size_px[0] / _span(view)
    return x, y, per_rad / (frame.focal_px or 1.0)


def _span(view: View) -> float:
    given = view.projection
    if given is None or given.kind != "equirectangular":
        raise InputError(
            "marks in frames need an equirectangular panorama",
            field=f"views.{view.id}.projection",
            mend="join the frames with skyview sweep",
        )
    return float(np.radians((given.right_deg or 180.0) - (given.left_deg or -180.0)))


def placed(view: View, mark: Mark) -> Mark:
    """The mark with its pixels in the view's own picture, wherever it was made."""
    if mark.frame is None:
        return mark
    points = np.array(mark.points_px, float)
    x, y, scale = in_panorama(view, mark.frame, points[:, 0], points[:, 1])
    if not np.isfinite(x + y).all():
        raise InputError("it lies outside the frame", field=f"marks.{mark.id}.points_px")
    return mark.model_copy(
        update={
            "points_px": list(zip(x.tolist(), y.tolist(), strict=True)),
            "sigma_px": mark.sigma_px * scale,
            "frame": None,
        }
    )
