"""The photograph carried to a regular grid of azimuth and elevation."""

from __future__ import annotations

import math

import cv2
import numpy as np
from matplotlib.colors import to_rgb

from skyview.angles import Array
from skyview.report import ink
from skyview.survey.results import Plate

_LONGEST_SIDE_PX = 32_000
"""cv2.remap takes pictures of at most 32767 px a side (its maps are 16 bit inside)."""
_PAPER_RGB = np.round(255 * np.array(to_rgb(ink.PAPER))).astype(np.uint8)


def exposed(
    plate: Plate, left_deg: float, right_deg: float, width_px: int, height_px: int
) -> np.ndarray:
    """The part of the plate between two azimuths as a picture (height, width, 3) uint8.

    Columns are even in azimuth, rows in elevation from the plate's top to its bottom; the paper
    shows where the photograph does not reach. A full circle is read round its seam.
    """
    columns = left_deg + (np.arange(width_px) + 0.5) * (right_deg - left_deg) / width_px
    rows = plate.top_deg - (np.arange(height_px) + 0.5) * (plate.top_deg - plate.bottom_deg) / (
        height_px
    )
    x, y = plate.pixel_of(*np.meshgrid(columns, rows))
    return _taken_up(plate.photo_rgb, np.asarray(x, float), np.asarray(y, float), _closed(plate))


def _closed(plate: Plate) -> bool:
    return plate.right_deg - plate.left_deg >= 360.0 - 1e-6


def _density(x: Array, y: Array, turn: float | None) -> float:
    """How many photograph pixels one grid step covers, in the middle of the spread. [unitless]"""
    steps = []
    for axis in (0, 1):
        dx = np.diff(x, axis=axis)
        if turn is not None:
            dx = (dx + turn / 2) % turn - turn / 2
        length = np.hypot(dx, np.diff(y, axis=axis)).ravel()
        steps.append(length[np.isfinite(length)])
    together = np.concatenate(steps)
    return float(np.median(together)) if together.size else 1.0


def _taken_up(photo: np.ndarray, x: Array, y: Array, closed: bool) -> np.ndarray:
    """The photograph's colours at continuous pixels; ``closed`` joins its two ends."""
    height, width = photo.shape[:2]
    with np.errstate(invalid="ignore"):
        closed = closed or bool(((x < -1.0) | (x > width + 1.0)).any())
        reached = np.isfinite(x) & np.isfinite(y) & (y >= -1.0) & (y <= height + 1.0)
    if not reached.any():
        return np.broadcast_to(_PAPER_RGB, (*x.shape, 3)).copy()
    x = np.where(reached, x % width if closed else x, 0.0)
    y = np.where(reached, y, 0.0)
    left, right = (0, width) if closed else _bounds(x[reached], width)
    top, bottom = _bounds(y[reached], height)
    part = photo[top:bottom, left:right]
    fewer = max(
        1.0,
        math.floor(_density(np.where(reached, x, np.nan), y, float(width) if closed else None)),
        max(part.shape[:2]) / _LONGEST_SIDE_PX,
    )
    small = _shrunk(part, fewer)
    x = (x - left) * small.shape[1] / part.shape[1] - 0.5
    y = (y - top) * small.shape[0] / part.shape[0] - 0.5
    if closed:
        small = np.hstack([small[:, -1:], small, small[:, :1]])
        x += 1.0
    picture = cv2.remap(
        np.ascontiguousarray(small),
        x.astype(np.float32),
        y.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    picture[~reached] = _PAPER_RGB
    return picture


def _bounds(values: Array, size: int) -> tuple[int, int]:
    """First and last pixel that the values need, with a rim for the filter."""
    low = min(max(int(values.min()) - 64, 0), size - 1)
    high = min(max(int(values.max()) + 64, low + 1), size)
    return low, high


def _shrunk(picture: np.ndarray, fewer: float) -> np.ndarray:
    """The picture with its sides divided, each new pixel the mean of those it covers."""
    if fewer <= 1.0:
        return picture
    size = (
        max(1, round(picture.shape[1] / fewer)),
        max(1, round(picture.shape[0] / fewer)),
    )
    return cv2.resize(np.ascontiguousarray(picture), size, interpolation=cv2.INTER_AREA)
