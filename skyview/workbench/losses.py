"""The loss in every direction of a view at one frequency, as areas and lines in its pixels."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from contourpy import FillType, LineType, contour_generator

from skyview.angles import Array
from skyview.errors import InputError
from skyview.place.channels import centre_mhz
from skyview.report.loss_steps import STEPS, drawn_loss
from skyview.report.words import loss_frequency, loss_step
from skyview.survey.cameras import ViewCamera
from skyview.survey.loss_view import layer_of
from skyview.survey.models import Survey
from skyview.survey.plates import plate_of
from skyview.workbench.answers import Position
from skyview.workbench.jobs import Report
from skyview.workbench.poses import pixels_of

SIMPLIFIED_DEG = 0.03
"""Lines may leave the layer's own by this much."""

SHORTEST_DEG = 2.0
"""Lines shorter than this are specks and are left out, as on the printed plate."""

_PROBE_PX = 64
_DEEPEST_DB = 1e6


def frequency_of(survey: Survey, channel: int | None, frequency_mhz: float | None) -> float:
    """The frequency asked for, by channel or plainly. InputError for neither or no channel."""
    if frequency_mhz is not None:
        return frequency_mhz
    if channel is None:
        if not survey.stations:
            raise InputError("at which channel?", None, "channel", "give a channel")
        channel = survey.stations[0].rf_channel
    try:
        return float(centre_mhz(survey.site.channel_plan, channel))
    except InputError as error:
        raise InputError(error.message, None, "channel", error.mend) from None


def loss_message(
    report: Report,
    survey: Survey,
    folder: Path,
    position: Position,
    view: str,
    frequency_mhz: float,
    channel: int | None,
) -> dict[str, Any]:
    """The layer of one view for one antenna position: areas to tint, lines, where figures go."""
    plate = plate_of(
        survey,
        folder,
        position.found,
        view=view,
        spot=position.spot,
        height_m=position.height_m,
        leaf=position.leaf,
        longest_px=_PROBE_PX,
    )
    report(0.1)
    layer = layer_of(survey, position.found, plate, frequency_mhz)
    report(0.7)
    loss = np.ma.masked_invalid(drawn_loss(layer, plate))
    report(0.85)
    camera = position.found.cameras[view]
    drawing = contour_generator(
        layer.azimuth_deg,
        layer.elevation_deg,
        loss,
        line_type=LineType.Separate,
        fill_type=FillType.OuterOffset,
    )
    levels = [step.level_db for step in STEPS]
    carry = _Carrier(camera, float(layer.azimuth_deg[0]))
    return {
        "format": "skyview.loss",
        "version": 1,
        "revision": survey.revision,
        "view": view,
        "spot": position.spot,
        "height_m": position.height_m,
        "leaf": position.leaf,
        "channel": channel,
        "frequency_mhz": frequency_mhz,
        "text": loss_frequency(frequency_mhz, channel),
        "steps": [
            {
                "level_db": step.level_db,
                "opacity": step.opacity,
                "text": loss_step(step.level_db, None if upper is None else upper),
                "areas_px": _areas(drawing, step.level_db, upper, carry),
                **_lines(drawing, step.level_db, carry),
            }
            for step, upper in zip(STEPS, [*levels[1:], None], strict=True)
        ],
    }


class _Carrier:
    """Carries directions [deg] into a view's pixels, continuous over a full circle."""

    def __init__(self, camera: ViewCamera, left_deg: float) -> None:
        self._camera, self._left = camera, left_deg
        self._start = float(pixels_of(camera, np.radians([left_deg]), np.zeros(1))[0, 0])

    def __call__(self, line_deg: Array) -> list[list[float]]:
        near = None
        if self._camera.full_circle:
            width = self._camera.view.size_px[0]
            near = self._start + width * (line_deg[:, 0] - self._left) / 360.0
        azimuth, elevation = np.radians(line_deg).T
        pixels = pixels_of(self._camera, azimuth, elevation, near_x=near)
        return [list(point) for point in np.round(pixels[np.isfinite(pixels[:, 0])], 1).tolist()]


def _areas(
    drawing: Any, level_db: float, upper_db: float | None, carry: _Carrier
) -> list[list[list[list[float]]]]:
    """Polygons, each its edge and then its holes, of what costs between two levels."""
    points, offsets = drawing.filled(level_db, _DEEPEST_DB if upper_db is None else upper_db)
    areas = []
    for polygon, cuts in zip(points, offsets, strict=True):
        rings = [polygon[a:b] for a, b in pairwise(cuts)]
        carried = [carry(_simpler(ring)) for ring in rings]
        if len(carried[0]) >= 3:
            areas.append([ring for ring in carried if len(ring) >= 3])
    return areas


def _lines(drawing: Any, level_db: float, carry: _Carrier) -> dict[str, Any]:
    lines, labels = [], []
    for line in drawing.lines(level_db):
        if np.hypot(*np.diff(line, axis=0).T).sum() >= SHORTEST_DEG:
            lines.append(carry(_simpler(line)))
            labels.append(carry(line[len(line) // 2 : len(line) // 2 + 1]))
    return {"lines_px": lines, "labels_px": [label[0] for label in labels if label]}


def _simpler(line_deg: Array) -> Array:
    simple = shapely.simplify(shapely.LineString(line_deg), SIMPLIFIED_DEG)
    return np.asarray(shapely.get_coordinates(simple))
