"""The plate's frame: window, photograph, graticule, graduated border, level and north.

A full circle on a narrow sheet is cut into strips; each strip is one ``Window``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from skyview.angles import Array
from skyview.report import exposure, ink, words
from skyview.report.canvas import Box, Canvas
from skyview.report.figures import bearing, elevation
from skyview.report.lettering import width_px
from skyview.report.touching import boxes_touch
from skyview.survey.results import Plate

_CROSS_STEP_DEG = 10
_BORDER_STEP_DEG = 5
_POINTS = {0: "N", 90: "E", 180: "S", 270: "W"}
_FIGURE_ROOM = 52.0
_HACHURE, _HACHURE_STEP = 5.0, 8.0
_PENNANT_HALF = 17.0
_PENNANT_HEIGHT = 33.0


@dataclass(frozen=True)
class Window:
    """A part of the plate on the sheet; angles in degrees, places in px."""

    left_deg: float
    right_deg: float
    bottom_deg: float
    top_deg: float
    x0: float
    y0: float
    width: int
    height: int

    @property
    def box(self) -> Box:
        """The window on the sheet. [px]"""
        return self.x0, self.y0, self.x0 + self.width, self.y0 + self.height

    @property
    def px_per_deg(self) -> float:
        """Scale along azimuth. [px/deg]"""
        return self.width / (self.right_deg - self.left_deg)

    @property
    def px_per_deg_up(self) -> float:
        """Scale along elevation. [px/deg]"""
        return self.height / (self.top_deg - self.bottom_deg)

    def x(self, azimuth_deg: ArrayLike) -> Array:
        """Place of azimuths that are continuous with the window's own. [px]"""
        return self.x0 + (np.asarray(azimuth_deg, float) - self.left_deg) * self.px_per_deg

    def y(self, elevation_deg: ArrayLike) -> Array:
        """Place of elevations. [px]"""
        return self.y0 + (self.top_deg - np.asarray(elevation_deg, float)) * self.px_per_deg_up

    def unrolled(self, azimuth_deg: float) -> float:
        """The azimuth's turn that is at or next after the left edge. [deg]"""
        return self.left_deg + (azimuth_deg - self.left_deg) % 360.0

    def holds(self, azimuth_deg: float) -> bool:
        """Whether the azimuth lies in the window, its left edge included."""
        turned = self.unrolled(azimuth_deg)
        return turned < self.right_deg or math.isclose(turned, self.right_deg, abs_tol=1e-9)


def draw_photograph(canvas: Canvas, window: Window, plate: Plate) -> None:
    """The photograph on the window's grid, with the frame's line round it."""
    rgb = exposure.exposed(plate, window.left_deg, window.right_deg, window.width, window.height)
    canvas.picture(rgb, window.box, z=1.0)
    canvas.box(window.box, rim=ink.INK, weight=ink.FRAME_LINE, z=9.0)


def _multiples(step: int, low: float, high: float) -> range:
    """Multiples of ``step`` from ``low`` to ``high``, both included."""
    return range(math.ceil(low / step - 1e-9) * step, math.floor(high + 1e-9) + 1, step)


def _label_step(px_per_deg: float, room_px: float) -> int:
    """Degrees from figure to figure so that each has room. [deg]"""
    return next((step for step in (5, 10, 15, 30, 45) if step * px_per_deg >= room_px), 90)


def draw_crosses(canvas: Canvas, window: Window, occupied: Sequence[Box]) -> None:
    """A cross at each 10 x 10 degrees, but not on level, north or anything occupied."""
    arm = 6.0 * canvas.scale
    left, top, right, bottom = window.box
    taken = np.array(occupied, float).reshape(-1, 4)
    for azimuth in _multiples(_CROSS_STEP_DEG, window.left_deg, window.right_deg):
        for level_deg in _multiples(_CROSS_STEP_DEG, window.bottom_deg, window.top_deg):
            x, y = float(window.x(azimuth)), float(window.y(level_deg))
            box = np.array([x - arm, y - arm, x + arm, y + arm])
            inside = box[0] > left and box[2] < right and box[1] > top and box[3] < bottom
            if level_deg == 0 or azimuth % 360 == 0 or not inside:
                continue
            if boxes_touch(taken, box, 3.0).any():
                continue
            for weight, colour, alpha in ((3.2, ink.PAPER, 0.75), (1.1, ink.INK, 0.8)):
                for xs, ys in (((box[0], box[2]), (y, y)), ((x, x), (box[1], box[3]))):
                    canvas.line(xs, ys, weight, colour=colour, alpha=alpha, z=3.0)


def draw_level(canvas: Canvas, window: Window, plate: Plate, occupied: Sequence[Box]) -> Box | None:
    """Two hairlines at one sigma above and below level, as far apart as the calibration leaves
    open at each azimuth; gives back where its word stands."""
    if not window.bottom_deg < 0.0 < window.top_deg:
        return None
    left, top, right, _ = window.box
    ends = np.array([plate.left_deg, plate.right_deg])
    band = plate.level_band_deg
    if band is None or len(band) < 2:
        band = np.stack([ends, np.full(2, plate.elevation_sigma_deg)], axis=1)
    across, upper, lower = window.x(band[:, 0]), window.y(band[:, 1]), window.y(-band[:, 1])
    edges = [np.stack([across, edge], axis=1) for edge in (upper, lower)]
    corners = np.concatenate([edges[0], edges[1][::-1]])
    canvas.shape(corners, fill=ink.PAPER, alpha=0.42, clip=window.box, z=3.0)
    for line in (upper, lower):
        canvas.line(across, line, ink.HAIRLINE, alpha=0.85, clip=window.box, z=3.2)
    shown = (across >= left) & (across <= right)
    high = float(np.min(upper[shown], initial=float(window.y(0.0))))
    style, text = canvas.style(ink.CHANNEL), words.sentence("level")
    wide, pad = width_px(text, style), 10 * canvas.scale
    baseline = high - 6 * canvas.scale
    taken = np.array(occupied, float).reshape(-1, 4)
    for x in (left + pad, right - pad - wide):
        box = (x, baseline - style.size, x + wide, baseline + 0.25 * style.size)
        if box[1] > top and not boxes_touch(taken, np.array(box), 3.0).any():
            canvas.text(x, baseline, text, style, halo=True, z=8.0)
            return box
    return None


def draw_terrain(canvas: Canvas, window: Window, plate: Plate) -> None:
    """The terrain's skyline as a fine line with ticks downhill; broken where it is not known."""
    if plate.terrain_deg is None:
        return
    across, up = window.x(plate.terrain_deg[:, 0]), window.y(plate.terrain_deg[:, 1])
    draw_hachured(canvas, across, up, clip=window.box, case=1.0, z=3.3)


def draw_hachured(
    canvas: Canvas,
    xs: Array,
    ys: Array,
    *,
    clip: Box | None = None,
    case: float = 0.0,
    z: float = 10.0,
) -> None:
    """A line from left to right with ticks hanging from it, as maps draw the edge of a slope."""
    canvas.line(xs, ys, ink.HAIRLINE, case=case, clip=clip, z=z)
    step, length = _HACHURE_STEP * canvas.scale, _HACHURE * canvas.scale
    at = np.arange(xs[0] + step / 2.0, xs[-1], step)
    on = np.interp(at, xs, ys)
    gap = np.full(at.shape, np.nan)
    x, y = (np.stack(parts, axis=1).ravel() for parts in ((at, at, gap), (on, on + length, gap)))
    canvas.line(x, y, ink.HAIRLINE, clip=clip, z=z)


def pennant_box(canvas: Canvas, window: Window) -> Box | None:
    """Where the north pennant hangs, if north lies in the window. [px]"""
    if not window.holds(0.0):
        return None
    x, half = float(window.x(window.unrolled(0.0))), _PENNANT_HALF * canvas.scale
    return x - half, window.y0 - 1, x + half, window.y0 + _PENNANT_HEIGHT * canvas.scale


def draw_north(canvas: Canvas, window: Window) -> None:
    """The north hairline with its pennant."""
    box = pennant_box(canvas, window)
    if box is None:
        return
    left, top, right, bottom = box
    x = (left + right) / 2
    shoulder = bottom - 11 * canvas.scale
    canvas.line((x, x), (window.y0, window.y0 + window.height), ink.NORTH_LINE, case=1.2, z=3.4)
    outline = [(left, top), (right, top), (right, shoulder), (x, bottom), (left, shoulder)]
    canvas.shape(outline, fill=ink.INK, z=14.0)
    style = canvas.style(ink.NAME, bold=True)
    baseline = top + 20 * canvas.scale
    canvas.text(x, baseline, words.sentence("north"), style, colour=ink.PAPER, ha="center", z=14.1)


def draw_elevations(canvas: Canvas, window: Window) -> None:
    """Elevation figures on both sides."""
    style = canvas.style(ink.SCALE_TRUE)
    step = 5 if window.px_per_deg_up * 5 >= 90 * canvas.scale else 10
    for degrees in _multiples(step, window.bottom_deg, window.top_deg):
        y = float(window.y(degrees))
        for x, ha, way in (
            (window.box[0], "right", -1),
            (window.box[2], "left", 1),
        ):
            canvas.line((x, x + 7 * way * canvas.scale), (y, y), 1.4, z=9.0)
            canvas.text(
                x + 12 * way * canvas.scale,
                min(y + 0.35 * style.size, window.box[3]),
                elevation(degrees),
                style,
                colour=ink.INK_2,
                ha="right" if ha == "right" else "left",
            )


def draw_border(canvas: Canvas, window: Window, declination_deg: float) -> float:
    """The graduated border with true bearings, and magnetic ones beneath; its lower end. [px]"""
    s = canvas.scale
    left, _, right, bottom = window.box
    top, low = bottom + 5 * s, bottom + 14 * s
    canvas.box((left, top, right, low), fill=ink.PAPER, rim=ink.INK, weight=1.2, z=9.0)
    start = math.floor(window.left_deg / _BORDER_STEP_DEG) * _BORDER_STEP_DEG
    for azimuth in range(start, math.ceil(window.right_deg), 2 * _BORDER_STEP_DEG):
        ends = np.clip(window.x([azimuth, azimuth + _BORDER_STEP_DEG]), left, right)
        if ends[1] > ends[0]:
            canvas.box((float(ends[0]), top, float(ends[1]), low), fill=ink.INK, z=9.1)
    _true_figures(canvas, window, low)
    scale_y = low + 32 * s
    _magnetic_scale(canvas, window, scale_y, declination_deg)
    side = canvas.style(ink.SCALE_MAGNETIC)
    for text, y in (("true", low + 3 * s), ("magnetic", scale_y + 8 * s)):
        canvas.text(left - 8 * s, y, words.sentence(text), side, colour=ink.INK_2, ha="right")
    return scale_y + 30 * s


def _true_figures(canvas: Canvas, window: Window, border_low: float) -> None:
    y = border_low + 20 * canvas.scale
    plain, bold = canvas.style(ink.SCALE_TRUE), canvas.style(ink.SCALE_TRUE, bold=True)
    step = _label_step(window.px_per_deg, _FIGURE_ROOM * canvas.scale)
    points = [
        (azimuth, _POINTS[azimuth % 360])
        for azimuth in _multiples(90, window.left_deg, window.right_deg)
    ]
    figures: Iterable[int] = _multiples(step, window.left_deg, window.right_deg)
    for azimuth, letter in points:
        label = f"{letter} {azimuth % 360}°"
        if width_px(label, bold) > step * window.px_per_deg - 20 * canvas.scale:
            label = letter
        canvas.text(float(window.x(azimuth)), y, label, bold, ha="center")
    for azimuth in figures:
        if azimuth % 90:
            canvas.text(float(window.x(azimuth)), y, bearing(azimuth), plain, ha="center")


def _magnetic_scale(canvas: Canvas, window: Window, y: float, declination_deg: float) -> None:
    s = canvas.scale
    left, _, right, _ = window.box
    style = canvas.style(ink.SCALE_MAGNETIC)
    canvas.line((left, right), (y, y), 1.0, colour=ink.LINE, z=9.0)
    step = _label_step(window.px_per_deg, _FIGURE_ROOM * s)
    low, high = window.left_deg - declination_deg, window.right_deg - declination_deg
    for degrees in _multiples(_BORDER_STEP_DEG, low, high):
        x = float(window.x(degrees + declination_deg))
        big = degrees % step == 0
        length, weight = (8 * s, 1.1) if big else (4 * s, 0.8)
        canvas.line((x, x), (y, y + length), weight, colour=ink.INK_2, z=9.0)
        if big:
            canvas.text(x, y + 24 * s, bearing(degrees), style, colour=ink.INK_2, ha="center")
