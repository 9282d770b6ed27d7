"""The map of the roof: what an antenna brings at each point, lines, strips and spots beside it."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO

import numpy as np
import shapely

from skyview.angles import Array
from skyview.report import ink, legend, mount_words, spot_words
from skyview.report.canvas import Box, Canvas
from skyview.report.lettering import width_px
from skyview.report.panorama import SIDE_MARGIN, write_sheet
from skyview.survey.models import Survey
from skyview.survey.refusals import rings_of
from skyview.survey.roof_map import RoofMap

SHADES = 5
"""Steps of the tint, each an equal part of what lies between the least and the most."""

OPACITY = (0.08, 0.22, 0.38, 0.56, 0.76)
MARGIN_M, REACH_M = 2.5, 10.0
"""Round the roof; and how far beyond that a power line is still brought onto the sheet."""

TALLEST = 0.9
"""Greatest height of the map as a share of the sheet's width."""


def draw_roof(
    survey: Survey, found: RoofMap, path: Path | BinaryIO, *, sheet_px: int = 1400
) -> None:
    """Draws the map seen from above, north up: expected stations as a tint, refused points crossed.

    Raises as `draw_plate` does.
    """
    title = survey.title or "Survey"
    write_sheet(
        path,
        None,
        sheet_px,
        f"{title}: the roof",
        spot_words.map_sentence(found),
        lambda canvas: _draw(canvas, survey, found, title),
    )


class _Ground:
    """Metres east and north to px on the sheet."""

    def __init__(self, survey: Survey, found: RoofMap, box: Box, tallest: float) -> None:
        edge = np.concatenate(
            [found.points_m[:, :2], *[ring[:, :2] for ring in rings_of(survey.limits.roof_enu_m)]]
        )
        low, high = edge.min(axis=0) - MARGIN_M, edge.max(axis=0) + MARGIN_M
        for thing in survey.obstructions:
            if thing.kind == "power_line" and thing.line_enu_m:
                near = _nearest_on(np.array(thing.line_enu_m, float)[:, :2], (low + high) / 2)
                if np.all((near > low - REACH_M) & (near < high + REACH_M)):
                    low, high = np.minimum(low, near - 1.0), np.maximum(high, near + 1.0)
        left, top, right, _ = box
        self.px_per_m = min((right - left) / (high[0] - low[0]), tallest / (high[1] - low[1]))
        wide = self.px_per_m * (high[0] - low[0])
        self.left = left + (right - left - wide) / 2
        self.box = (self.left, top, self.left + wide, top + self.px_per_m * (high[1] - low[1]))
        self._origin = np.array([low[0], high[1]])

    def at(self, point_m: Array) -> tuple[float, float]:
        """One point."""
        x, y = self(point_m)
        return float(x), float(y)

    def __call__(self, points_m: Array) -> tuple[Array, Array]:
        step = (np.asarray(points_m, float)[..., :2] - self._origin) * self.px_per_m
        return self.box[0] + step[..., 0], self.box[1] - step[..., 1]


def _nearest_on(line_m: Array, point_m: Array) -> Array:
    """The point of a polyline (K, 2) nearest to another. (2,)"""
    start, step = line_m[:-1], np.diff(line_m, axis=0)
    size = np.maximum(np.sum(step * step, axis=1), 1e-12)
    share = np.clip(np.sum((point_m - start) * step, axis=1) / size, 0.0, 1.0)
    on = start + share[:, None] * step
    return np.asarray(on[np.argmin(np.hypot(*(on - point_m).T))])


def _draw(canvas: Canvas, survey: Survey, found: RoofMap, title: str) -> float:
    """Everything, from top to bottom; the sheet's height. [px]"""
    s = canvas.scale
    x, room = SIDE_MARGIN * s, canvas.width - 2 * SIDE_MARGIN * s
    head, small = canvas.style(ink.TITLE, "serif", bold=True), canvas.style(ink.SUBTITLE)
    word = "roof_coarse" if found.coarse else "roof_heading"
    y = legend.draw_paragraph(canvas, x, 9 * s, room, mount_words.sentence(word), head, ink.INK)
    y = legend.draw_paragraph(canvas, x, y - 6 * s, room, title, small)
    y = legend.draw_paragraph(canvas, x, y, room, spot_words.map_sentence(found), small) + 12 * s
    ground = _Ground(survey, found, (x, y, x + room, y), TALLEST * canvas.width)
    _draw_points(canvas, ground, found)
    _draw_things(canvas, ground, survey)
    _draw_best(canvas, ground, found)
    canvas.box(ground.box, rim=ink.LINE, weight=ink.FRAME_LINE, z=20.0)
    _draw_north(canvas, ground)
    y = _draw_scale(canvas, ground, ground.box[3] + 14 * s)
    y = _draw_key(canvas, found, x, y + 16 * s, room)
    caution = canvas.style(ink.LEGEND_TEXT, "serif", italic=True)
    return legend.draw_paragraph(canvas, x, y + 4 * s, room, spot_words.CAUTIONS, caution) + 20 * s


def _levels(found: RoofMap) -> Array:
    """Lower ends of the tint's steps and the end of the last, expected stations. (SHADES + 1,)"""
    free = np.array([r is None for r in found.refused])
    if not free.any():
        return np.linspace(0.0, 1.0, SHADES + 1)
    value = found.tally.expected[free]
    low, high = float(value.min()), float(value.max())
    return np.linspace(low, max(high, low + 0.5), SHADES + 1)


def _draw_points(canvas: Canvas, ground: _Ground, found: RoofMap) -> None:
    half = found.step_m * ground.px_per_m / 2
    levels = _levels(found)
    expected = found.tally.expected if found.tally.probability.size else np.zeros(0)
    for number, (point, refused) in enumerate(zip(found.points_m, found.refused, strict=True)):
        x, y = ground.at(point)
        cell = (x - half, y - half, x + half, y + half)
        if refused is not None:
            arm = 0.45 * half
            for sign in (-1, 1):
                canvas.line(
                    (x - arm, x + arm), (y - sign * arm, y + sign * arm), 1.4,
                    colour=ink.INK_2, z=4.0,
                )  # fmt: skip
            continue
        shade = int(np.clip(np.searchsorted(levels, expected[number], "right") - 1, 0, SHADES - 1))
        canvas.box(cell, fill=ink.TINT, alpha=OPACITY[shade], z=3.0)


def _draw_things(canvas: Canvas, ground: _Ground, survey: Survey) -> None:
    """Faces of the roof, strips to keep out of, power lines, spots, the grounding point."""
    name = canvas.style(ink.NAME, "serif", italic=True)
    for rings, weight, dash in (
        (rings_of(survey.limits.roof_enu_m), 2.0, None),
        (rings_of(survey.limits.keep_out_enu_m), 2.0, (4.0, 4.0)),
    ):
        for ring in rings:
            x, y = ground(np.vstack([ring, ring[:1]]))
            canvas.line(x, y, weight, dash=dash, clip=ground.box, z=6.0)
    for thing in survey.obstructions:
        if thing.kind != "power_line" or not thing.line_enu_m:
            continue
        x, y = ground(np.array(thing.line_enu_m, float))
        canvas.line(x, y, 3.0, case=1.7, dash=ink.DASH_POWER_LINE, clip=ground.box, z=8.0)
        _name_line(canvas, ground, f"{thing.id}, power line: keep clear", x, y)
    for spot in survey.spots:
        east, south = ground.at(np.array(spot.enu_m))
        _dot(canvas, east, south, 5.0 * canvas.scale, ink.INK)
        beside, under = east + 9 * canvas.scale, south + 5 * canvas.scale
        canvas.text(beside, under, spot.id, name, halo=True, z=30.0)
    earth = survey.limits.ground_point_enu_m
    if earth is not None:
        east, south = ground.at(np.array(earth))
        half = 7.0 * canvas.scale
        box = (east - half, south - half, east + half, south + half)
        canvas.box(box, rim=ink.INK, weight=2.0, z=9.0)
        text = mount_words.sentence("ground_point")
        canvas.text(east + 2 * half, south + 5 * canvas.scale, text, name, halo=True, z=30.0)


def _name_line(canvas: Canvas, ground: _Ground, text: str, x: Array, y: Array) -> None:
    """A power line's caution, about the middle of what the map shows of it, within the map."""
    style = canvas.style(ink.NAME, "serif", italic=True)
    left, top, right, low = ground.box
    frame = shapely.box(left, top, right, low)
    shown = shapely.intersection(shapely.LineString(np.column_stack([x, y])), frame)
    if shown.is_empty:
        return
    longest = max(getattr(shown, "geoms", [shown]), key=lambda part: part.length)
    middle = shapely.line_interpolate_point(longest, 0.15, normalized=True)
    half = width_px(text, style) / 2 + 6
    at = float(np.clip(middle.x, left + half, right - half))
    canvas.text(at, float(middle.y), text, style, halo=True, ha="center", z=30.0)


def _dot(canvas: Canvas, x: float, y: float, radius: float, colour: str) -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 33)
    ring = np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])
    canvas.shape(ring, fill=colour, z=9.0)


def _draw_best(canvas: Canvas, ground: _Ground, found: RoofMap) -> None:
    """A ring round the best point."""
    free = np.array([r is None for r in found.refused])
    if not free.any():
        return
    at = int(np.argmax(np.where(free, found.tally.worth, -np.inf)))
    x, y = ground.at(found.points_m[at])
    angle = np.linspace(0.0, 2.0 * np.pi, 65)
    radius = 13.0 * canvas.scale
    canvas.line(
        x + radius * np.cos(angle), y + radius * np.sin(angle), 3.4,
        colour=ink.PENCIL, case=1.8, z=12.0,
    )  # fmt: skip


def _draw_north(canvas: Canvas, ground: _Ground) -> None:
    s = canvas.scale
    x, y = ground.box[0] + 26 * s, ground.box[1] + 20 * s
    canvas.line((x, x), (y + 52 * s, y + 14 * s), 2.4, z=21.0)
    canvas.shape([(x - 7 * s, y + 20 * s), (x + 7 * s, y + 20 * s), (x, y)], fill=ink.INK, z=21.0)
    style = canvas.style(ink.LEGEND_HEAD, bold=True)
    canvas.text(x, y + 74 * s, "N", style, ha="center", halo=True, z=31.0)


def _draw_scale(canvas: Canvas, ground: _Ground, y: float) -> float:
    """A bar of a round number of metres; its end's y."""
    s = canvas.scale
    longest = 0.3 * (ground.box[2] - ground.box[0]) / ground.px_per_m
    metres = max(m for m in (0.5, 1, 2, 5, 10, 20, 50, 100) if m <= max(longest, 0.5))
    x = ground.box[0]
    end = x + metres * ground.px_per_m
    canvas.line((x, end), (y, y), 3.0)
    canvas.text(end + 10 * s, y + 6 * s, f"{metres:g} m", canvas.style(ink.LEGEND_TEXT))
    return y + 12 * s


def _draw_key(canvas: Canvas, found: RoofMap, x: float, y: float, room: float) -> float:
    """The tint's steps in words, the cross and the ring."""
    s = canvas.scale
    head, text = canvas.style(ink.LEGEND_HEAD, bold=True), canvas.style(ink.LEGEND_TEXT)
    canvas.text(x, y + 18 * s, mount_words.sentence("roof_key"), head)
    y += 32 * s
    levels = _levels(found)
    wide = 160 * s
    per_line = max(1, int(room // wide))
    for shade in range(SHADES):
        line, column = divmod(shade, per_line)
        left, top = x + column * wide, y + 34 * s * line
        box = (left, top, left + 44 * s, top + 24 * s)
        canvas.box(box, fill=ink.TINT, alpha=OPACITY[shade], z=3.0)
        canvas.box(box, rim=ink.LINE, weight=0.9, z=4.0)
        label = f"{levels[shade]:.1f} to {levels[shade + 1]:.1f}"
        canvas.text(box[2] + 8 * s, top + 18 * s, label, text)
    y += 34 * s * ((SHADES - 1) // per_line)
    y = legend.draw_paragraph(canvas, x, y + 26 * s, room, mount_words.sentence("roof_signs"), text)
    return y
