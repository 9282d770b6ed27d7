"""The terrain's skyline in a view's pixels, as the plate that ``draw`` makes has it."""

from __future__ import annotations

from typing import Any

import numpy as np

from skyview.angles import Array, unit_from_azimuth_elevation
from skyview.survey.cameras import camera_of
from skyview.survey.models import Survey, View
from skyview.survey.raster import ground_of
from skyview.survey.terrain import skyline
from skyview.workbench.poses import pixels_of

STEP_DEG = 0.5


def ground_message(survey: Survey, view: View, eye_m: Array | None) -> dict[str, Any]:
    """Lines, broken where the terrain file does not reach; none without a file.

    ``eye_m`` (3,) east, north, up of who looks: the camera if not told. InputError for a file that
    is not there.
    """
    lines: list[list[list[float]]] = []
    ground = ground_of(survey)
    if ground is not None:
        camera = camera_of(survey, view)
        eye = np.array(view.camera_enu_m, float) if eye_m is None else eye_m
        width, height = view.size_px
        middle = camera.picture.camera.directions(width / 2.0, height / 2.0)[0]
        azimuth = float(middle) + np.radians(np.arange(-180.0, 180.0 + STEP_DEG / 2.0, STEP_DEG))
        elevation, _ = skyline(survey, ground, eye, azimuth)
        rays = unit_from_azimuth_elevation(azimuth, np.radians(np.nan_to_num(elevation)))
        shown = np.isfinite(elevation) & camera.covers(rays)
        near = width * (azimuth - azimuth[0]) / (2.0 * np.pi) if camera.full_circle else None
        lines = _runs(pixels_of(camera, azimuth, np.radians(elevation), near_x=near), shown)
    return {
        "format": "skyview.ground",
        "version": 1,
        "revision": survey.revision,
        "view": view.id,
        "known": ground is not None,
        "lines_px": lines,
    }


def _runs(pixels: Array, shown: Array) -> list[list[list[float]]]:
    """Stretches of two points or more that are shown."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], shown.astype(int), [0]])))
    pairs = edges.reshape(-1, 2)
    return [np.round(pixels[a:b], 1).tolist() for a, b in pairs if b - a > 1]
