"""The sheet of spots: for each spot and station a small profile, the chance against the height."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import BinaryIO

import numpy as np

from skyview.report import ink, legend, mount_words, spot_words
from skyview.report.canvas import Canvas
from skyview.report.lettering import shortened, width_px
from skyview.report.panorama import SIDE_MARGIN, write_sheet
from skyview.survey.budget.words import LIKELY, SURE
from skyview.survey.mounts import Mounts
from skyview.survey.tally import MountRow

NAME_PX, CELL_PX, WIDEST_PX, HIGH_PX = 120.0, 98.0, 300.0, 46.0
"""Widths of the names and, least and most, of a profile; height of a line. [px at scale 1]"""

MOST_STATIONS = 24


def draw_spots(found: Mounts, title: str, path: Path | BinaryIO, *, sheet_px: int = 1600) -> None:
    """Draws what every spot brings at every height: a table of small profiles.

    Each cell is a station on a spot, from the lowest height tried at the left to the highest, its
    chance of reception from none to sure upwards; must-haves first. Raises as `draw_plate` does.
    """
    write_sheet(
        path,
        None,
        sheet_px,
        f"{title}: spots and heights",
        spot_words.best_sentence(found),
        lambda canvas: _draw(canvas, found, title),
    )


def _draw(canvas: Canvas, found: Mounts, title: str) -> float:
    """Everything, from top to bottom; the sheet's height. [px]"""
    s = canvas.scale
    x, room = SIDE_MARGIN * s, canvas.width - 2 * SIDE_MARGIN * s
    head, small = canvas.style(ink.TITLE, "serif", bold=True), canvas.style(ink.SUBTITLE)
    y = legend.draw_paragraph(
        canvas, x, 9 * s, room, mount_words.sentence("spots_heading"), head, ink.INK
    )
    y = legend.draw_paragraph(canvas, x, y - 6 * s, room, title, small)
    y = legend.draw_paragraph(canvas, x, y, room, spot_words.best_sentence(found), small, ink.INK)
    spots = list(dict.fromkeys(row.spot for row in found.rows))
    per_line = max(1, int((room - NAME_PX * s) // (CELL_PX * s)))
    cell = min((room / s - NAME_PX) / min(len(spots), per_line), WIDEST_PX)
    for start in range(0, len(spots), per_line):
        y = _draw_block(canvas, found, spots[start : start + per_line], x, y + 16 * s, cell)
    y = _draw_key(canvas, x, y + 18 * s, room)
    text = canvas.style(ink.LEGEND_TEXT)
    for sentence in (
        *map(spot_words.knee_sentence, found.knees),
        *spot_words.refused_lines(found.rows),
    ):
        y = legend.draw_paragraph(canvas, x, y, room, sentence, text)
    caution = canvas.style(ink.LEGEND_TEXT, "serif", italic=True)
    return legend.draw_paragraph(canvas, x, y + 4 * s, room, spot_words.CAUTIONS, caution) + 20 * s


def _stations_of(found: Mounts) -> list[tuple[str, bool]]:
    """Stations in the order of the rows: what must be had, then the likeliest first."""
    must = {enough.station for enough in found.enough}
    best: dict[str, float] = {}
    for row in found.rows:
        for name, chance in row.probabilities.items():
            best[name] = max(best.get(name, 0.0), chance)
    order = sorted(best, key=lambda name: (name not in must, -best[name], name))
    return [(name, name in must) for name in order]


def _draw_block(
    canvas: Canvas, found: Mounts, spots: Sequence[str], x: float, y: float, cell: float
) -> float:
    """One table of as many spots as fit beside each other, ``cell`` px wide each; its end's y."""
    s = canvas.scale
    bold, plain = canvas.style(ink.LEGEND_WORD, bold=True), canvas.style(ink.LEGEND_TEXT)
    names = _stations_of(found)
    shown, left = names[:MOST_STATIONS], len(names) - MOST_STATIONS
    right = x + (NAME_PX + cell * len(spots)) * s
    for column, spot in enumerate(spots):
        at = x + (NAME_PX + cell * column) * s
        rows = [row for row in found.rows if row.spot == spot]
        canvas.text(at, y + 20 * s, shortened(spot, bold, (cell - 10) * s), bold)
        low, high = (f(row.antenna_height_m for row in rows) for f in (min, max))
        span = f"{low:g} m" if low == high else f"{low:g} to {high:g} m"
        canvas.text(at, y + 42 * s, span, plain, colour=ink.INK_2)
        for line, text in enumerate(_counts(rows)):
            canvas.text(at, y + (64 + 22 * line) * s, text, plain, colour=ink.INK_2)
    y += 96 * s
    canvas.line((x, right), (y, y), ink.FRAME_LINE, colour=ink.LINE)
    for name, must in shown:
        low_y = y + HIGH_PX * s
        style = bold if must else plain
        canvas.text(x, low_y - 14 * s, shortened(name, style, (NAME_PX - 20) * s), style)
        for column, spot in enumerate(spots):
            at = x + (NAME_PX + cell * column) * s
            rows = [row for row in found.rows if row.spot == spot]
            _draw_cell(canvas, at, low_y - 7 * s, cell, rows, name, found.best)
        y = low_y
        canvas.line((x, right), (y, y), ink.HAIRLINE, colour=ink.RULE)
    if left > 0:
        y += 24 * s
        canvas.text(x, y, f"and {left} stations that are less likely", plain, colour=ink.INK_2)
    return y + 8 * s


def _counts(rows: Sequence[MountRow]) -> tuple[str, ...]:
    """What the spot's best height brings."""
    free = [row for row in rows if row.refused is None and row.expected is not None]
    if not free:
        return (mount_words.sentence("refused_word"),)
    best = max(free, key=lambda row: row.expected or 0.0)
    return f"{best.sure} sure", f"{best.likely} likely"


def _draw_cell(
    canvas: Canvas,
    x: float,
    base: float,
    cell: float,
    rows: Sequence[MountRow],
    station: str,
    best: tuple[str, float] | None,
) -> None:
    """One profile: the height to the right, the chance up; lines at likely and at sure."""
    s = canvas.scale
    wide, high = (cell - 14) * s, (HIGH_PX - 14) * s
    canvas.box((x, base - high, x + wide, base), fill=ink.PANEL, z=2.0)
    for level in (LIKELY, SURE):
        y = base - level * high
        canvas.line((x, x + wide), (y, y), ink.HAIRLINE, colour=ink.LINE, dash=(2.0, 3.0), z=3.0)
    free = sorted(
        (row for row in rows if row.refused is None), key=lambda row: row.antenna_height_m
    )
    told = [row for row in free if station in row.probabilities]
    if not told:
        word = "refused_word" if not free else "unknown_word"
        style = canvas.style(ink.NOTE, "serif", italic=True)
        canvas.text(
            x + 6 * s, base - 0.3 * high, mount_words.sentence(word), style, colour=ink.INK_2
        )
        return
    heights = np.array([row.antenna_height_m for row in rows])
    span = max(float(np.ptp(heights)), 1e-9)

    def across(row: MountRow) -> float:
        if len(heights) == 1:
            return x + wide / 2
        share = float(row.antenna_height_m - heights.min()) / span
        return x + 8 * s + (wide - 16 * s) * share

    for row in rows:
        if row.refused is not None:
            mid, arm = across(row), 4.0 * s
            for sign in (-1, 1):
                canvas.line(
                    (mid - arm, mid + arm),
                    (base - high / 2 - sign * arm, base - high / 2 + sign * arm),
                    1.4,
                    colour=ink.INK_2,
                    z=4.0,
                )
    at = np.array([across(row) for row in told])
    chance = base - high * np.array([row.probabilities[station] for row in told])
    if len(told) > 1:
        area = np.column_stack([[at[0], *at, at[-1]], [base, *chance, base]])
        canvas.shape(area, fill=ink.TINT, alpha=0.28, z=4.0)
        canvas.line(at, chance, 2.0, z=5.0)
    for px, py, row in zip(at, chance, told, strict=True):
        chosen = best == (row.spot, row.antenna_height_m)
        radius = (4.5 if chosen else 2.6) * s
        angle = np.linspace(0.0, 2.0 * np.pi, 25)
        ring = np.column_stack([px + radius * np.cos(angle), py + radius * np.sin(angle)])
        canvas.shape(ring, fill=ink.PENCIL if chosen else ink.INK, z=6.0)


def _draw_key(canvas: Canvas, x: float, y: float, room: float) -> float:
    """How to read a profile."""
    s = canvas.scale
    text = canvas.style(ink.LEGEND_TEXT)
    sample = (0.2, 0.45, 0.8, 0.95)
    row = [
        MountRow("a", float(i), 0, 0, None, None, None, 0.0, {"S": p}, {}, {})
        for i, p in enumerate(sample)
    ]
    _draw_cell(canvas, x, y + (HIGH_PX - 7) * s, CELL_PX, row, "S", ("a", 2.0))
    words = mount_words.sentence("spots_key")
    beside = CELL_PX * s
    if width_px(words, text) <= room - beside:
        canvas.text(x + beside, y + 26 * s, words, text, colour=ink.INK_2)
        return y + HIGH_PX * s
    return max(
        legend.draw_paragraph(canvas, x + beside, y - 8 * s, room - beside, words, text),
        y + HIGH_PX * s,
    )
