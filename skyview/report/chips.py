"""Stations outside the plate: a chip at that edge, with an arrow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from skyview.report import figures, ink, words
from skyview.report.canvas import Box, Canvas
from skyview.report.frame import Window
from skyview.report.lettering import shortened, width_px
from skyview.report.marks import draw_mark
from skyview.report.touching import boxes_touch
from skyview.survey.results import PathRow

Edge = Literal["left", "right"]

_LINE = 25.0
_PAD = 8.0
_MARK = 24.0
_ARROW = 18.0
_MOST_LINES = 5
_MOST_LINES_NARROW = 3
_NARROW = 900.0
_LONGEST_CALL_PX = 120.0


@dataclass(frozen=True)
class Chip:
    """What one edge's chip says and where it lies. [px]"""

    edge: Edge
    rows: tuple[PathRow, ...]
    more: int
    """How many stations are left for the list under the picture."""
    box: Box


def nearest_edge(window: Window, last: Window, azimuth_deg: float) -> Edge:
    """The edge of the plate that a direction outside it is nearer to."""
    beyond_right = (azimuth_deg - last.right_deg) % 360.0
    beyond_left = (window.left_deg - azimuth_deg) % 360.0
    return "right" if beyond_right <= beyond_left else "left"


def _line_texts(canvas: Canvas, row: PathRow) -> tuple[str, str, str, str]:
    style = canvas.style(ink.CHANNEL, bold=True)
    call = shortened(row.station, style, _LONGEST_CALL_PX * canvas.scale)
    return call, figures.bearing(row.bearing_deg), words.path_word(row.path), row.reception


def _line_width(canvas: Canvas, row: PathRow) -> float:
    call, bearing, word, reception = _line_texts(canvas, row)
    bold, plain = canvas.style(ink.CHANNEL, bold=True), canvas.style(ink.CHANNEL)
    wide = width_px(call, bold) + width_px(word, bold)
    wide += width_px(bearing, plain) + width_px(reception, plain)
    return wide + 18 * canvas.scale


def plan_chip(
    canvas: Canvas, window: Window, edge: Edge, rows: Sequence[PathRow], marks: Sequence[Box]
) -> Chip | None:
    """A chip at the window's edge, with as many lines as find a place; None where none does.

    It covers no mark and stands in no pole's way.
    """
    room = _MOST_LINES if window.width >= _NARROW * canvas.scale else _MOST_LINES_NARROW
    for most in range(min(len(rows), room), 0, -1):
        shown = tuple(rows[: most if most == len(rows) else max(most - 1, 1)])
        more = len(rows) - len(shown)
        box = _chip_box(canvas, window, edge, shown, more, marks)
        if box is not None:
            return Chip(edge, shown, more, box)
    return None


def _chip_box(
    canvas: Canvas,
    window: Window,
    edge: Edge,
    shown: Sequence[PathRow],
    more: int,
    marks: Sequence[Box],
) -> Box | None:
    """A free box at the edge, at the window's top or else at its bottom.

    Each mark counts with all that lies above it, where its pole will stand.
    """
    s = canvas.scale
    lines = [_line_width(canvas, row) for row in shown]
    if more:
        lines.append(width_px(words.and_more(more), canvas.style(ink.CHANNEL)))
    width = max(lines) + (_MARK + _ARROW + 2 * _PAD) * s
    height = (_LINE * len(lines) + _PAD) * s
    if width > 0.6 * window.width or height > 0.8 * window.height:
        return None
    left = window.x0 if edge == "left" else window.x0 + window.width - width
    high, low = window.y0 + 12 * s, window.y0 + window.height - height - 12 * s
    stems = np.array(marks, float).reshape(-1, 4)
    stems[:, 1] = window.y0
    for top in (high, low):
        box = (left, top, left + width, top + height)
        if not boxes_touch(np.array(box), stems, 4 * s).any():
            return box
    return None


def lowered(box: Box, down: float) -> Box:
    """A box lower on the sheet. [px]"""
    return box[0], box[1] + down, box[2], box[3] + down


def draw_chip(canvas: Canvas, chip: Chip) -> None:
    """The chip: paper, one line a station, the arrow outward."""
    s = canvas.scale
    left, top, right, bottom = chip.box
    canvas.box(chip.box, fill=ink.PAPER, z=15.0)
    canvas.box(chip.box, rim=ink.LINE, weight=1.0, z=15.1)
    middle, arrow = (top + bottom) / 2, _ARROW * s
    way = -1 if chip.edge == "left" else 1
    tip = left + 5 * s if chip.edge == "left" else right - 5 * s
    points = [
        (tip, middle),
        (tip - way * 11 * s, middle - 9 * s),
        (tip - way * 11 * s, middle + 9 * s),
    ]
    canvas.shape(points, fill=ink.INK, z=15.2)
    x = left + _PAD * s + (arrow if chip.edge == "left" else 0.0)
    bold, plain = canvas.style(ink.CHANNEL, bold=True), canvas.style(ink.CHANNEL)
    for line, row in enumerate(chip.rows):
        y = top + (_LINE * (line + 0.5) + _PAD / 2) * s
        draw_mark(canvas, x + 9 * s, y, row.path, radius=7.5, z=16.0)
        at, baseline = x + _MARK * s, y + 0.35 * bold.size
        call, bearing, word, reception = _line_texts(canvas, row)
        for text, style, colour in (
            (call, bold, ink.INK),
            (bearing, plain, ink.INK_2),
            (word, bold, ink.WORD_COLOURS[row.path]),
            (reception, plain, ink.INK),
        ):
            canvas.text(at, baseline, text, style, colour=colour)
            at += width_px(text, style) + 6 * s
    if chip.more:
        y = top + (_LINE * (len(chip.rows) + 0.5) + _PAD / 2) * s + 0.35 * plain.size
        canvas.text(x + _MARK * s, y, words.and_more(chip.more), plain, colour=ink.INK_2)
