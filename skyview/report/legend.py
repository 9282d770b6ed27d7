"""What stands under (or beside) the plate: legend, lists of stations, running text."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from skyview.report import figures, ink, words
from skyview.report.canvas import Canvas
from skyview.report.frame import draw_hachured
from skyview.report.lettering import Style, shortened, width_px, wrapped
from skyview.report.marks import beyond_arc, draw_loop, draw_mark
from skyview.report.reception_lines import draw_reception
from skyview.report.reception_words import RECEPTION_WORDS, reception_meaning
from skyview.survey.results import PathRow, PathWord, Plate, ReceptionWord

_SYMBOL = 50.0
_GAP = 12.0
_LINE = 34.0
_HEAD = 58.0
_BETWEEN_COLUMNS = 28.0

Symbol = Callable[[Canvas, float, float], None]
"""Draws a sample about a place on the sheet. [px]"""


@dataclass(frozen=True)
class Entry:
    """One line of the legend: a sample, a word in bold (or none), its meaning."""

    symbol: Symbol
    word: str
    meaning: str
    colour: str = ink.INK


def _mark(path: PathWord) -> Symbol:
    return lambda canvas, x, y: draw_mark(canvas, x, y, path)


def _beyond(canvas: Canvas, x: float, y: float) -> None:
    arc = beyond_arc(ink.MARK_RADIUS * canvas.scale)
    arc = arc - arc.mean(axis=0) + np.array([x, y])
    canvas.line(arc[:, 0], arc[:, 1], 2.4, cap="round")


def _stroke(dash: Sequence[float] | None) -> Symbol:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        half = 25 * canvas.scale
        canvas.line((x - half, x + half), (y, y), ink.OUTLINE, dash=dash)

    return draw


def _bar(canvas: Canvas, x: float, y: float) -> None:
    half, tick = 20 * canvas.scale, 6 * canvas.scale
    canvas.line((x - half, x + half), (y, y), 2.0)
    for end in (x - half, x + half):
        canvas.line((end, end), (y - tick, y + tick), 2.0)


def _level(canvas: Canvas, x: float, y: float) -> None:
    half = 25 * canvas.scale
    for off in (-3.5 * canvas.scale, 3.5 * canvas.scale):
        canvas.line((x - half, x + half), (y + off, y + off), ink.HAIRLINE)


def _terrain(canvas: Canvas, x: float, y: float) -> None:
    half = 25 * canvas.scale
    draw_hachured(canvas, np.array([x - half, x + half]), np.full(2, y - 2 * canvas.scale))


def _zone(canvas: Canvas, x: float, y: float) -> None:
    radius, tick = 12 * canvas.scale, 6 * canvas.scale
    angle = np.linspace(0.0, 2.0 * np.pi, 73)
    canvas.line(x + radius * np.cos(angle), y + radius * np.sin(angle), ink.ZONE)
    canvas.line((x + radius - tick, x + radius + tick), (y, y), ink.ZONE)


def _loop(canvas: Canvas, x: float, y: float) -> None:
    draw_loop(canvas, x, y, 12.0)


def _line(reception: ReceptionWord) -> Symbol:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        half = 25 * canvas.scale
        draw_reception(canvas, [(x - half, y), (x + half, y)], reception)

    return draw


def line_entries() -> list[Entry]:
    """The lines of reception, each with its word and what it means."""
    return [Entry(_line(word), word, reception_meaning(word)) for word in RECEPTION_WORDS]


def mark_entries() -> list[Entry]:
    """The marks, each with its word and what it means."""
    entries = [
        Entry(_mark(path), words.path_word(path), words.path_meaning(path), ink.WORD_COLOURS[path])
        for path in words.PATH_WORDS
    ]
    beyond = words.sentence("beyond_horizon"), words.sentence("beyond_horizon_meaning")
    return [*entries, Entry(_beyond, *beyond)]


def picture_entries(plate: Plate) -> list[Entry]:
    """The lines on the plate; what belongs to a chosen station only where there is one."""
    parts = [
        (_stroke(None), "legend_solid"),
        (_stroke(ink.DASH_TREE), "legend_tree"),
        (_stroke(ink.DASH_POWER_LINE), "legend_power_line"),
        (_level, "legend_level"),
        (_bar, "legend_spread"),
    ]
    if plate.terrain_deg is not None:
        parts.append((_terrain, "legend_terrain"))
    if plate.selected is not None:
        parts.append((_loop, "legend_chosen"))
    if plate.fresnel is not None:
        parts.append((_zone, "legend_zone"))
    return [Entry(symbol, "", words.sentence(code)) for symbol, code in parts]


def _word_style(canvas: Canvas) -> Style:
    return canvas.style(ink.LEGEND_WORD, bold=True)


def _widths(canvas: Canvas, entries: Sequence[Entry]) -> tuple[float, float]:
    """Width of the words of one column and of the whole column. [px]"""
    s = canvas.scale
    words_px = max(width_px(entry.word, _word_style(canvas)) for entry in entries)
    text = canvas.style(ink.LEGEND_TEXT)
    meanings = max(width_px(entry.meaning, text) for entry in entries)
    between = _GAP * s if words_px else 0.0
    return words_px, (_SYMBOL + _GAP) * s + words_px + between + meanings


def _columns(canvas: Canvas, entries: Sequence[Entry], room: float) -> list[Sequence[Entry]]:
    """The entries in as many columns of at least three as the room holds."""
    between = _BETWEEN_COLUMNS * canvas.scale
    for count in range(math.ceil(len(entries) / 3), 1, -1):
        lines = math.ceil(len(entries) / count)
        columns = [entries[i : i + lines] for i in range(0, len(entries), lines)]
        wide = sum(_widths(canvas, column)[1] for column in columns)
        if wide + between * (len(columns) - 1) <= room:
            return columns
    return [entries]


def draw_group(
    canvas: Canvas, x: float, y: float, room: float, head: str, entries: Sequence[Entry]
) -> float:
    """A headed group in as many columns as fit; the y where it ends. [px]"""
    s = canvas.scale
    canvas.text(x, y + 20 * s, words.sentence(head), canvas.style(ink.LEGEND_HEAD, bold=True))
    small = canvas.style(ink.LEGEND_TEXT)
    meaning = shortened(words.sentence(f"{head}_meaning"), small, room)
    canvas.text(x, y + 44 * s, meaning, small, colour=ink.INK_2)
    columns = _columns(canvas, entries, room)
    at = x
    for column in columns:
        words_px, wide = _widths(canvas, column)
        for line, entry in enumerate(column):
            middle = y + (_HEAD + _LINE * (line + 0.5)) * s
            _draw_entry(canvas, at, middle, entry, words_px, x + room)
        at += wide + _BETWEEN_COLUMNS * s
    return y + (_HEAD + _LINE * max(len(column) for column in columns)) * s


def _draw_entry(
    canvas: Canvas, x: float, middle: float, entry: Entry, words_px: float, right: float
) -> None:
    s = canvas.scale
    small = canvas.style(ink.LEGEND_TEXT)
    entry.symbol(canvas, x + _SYMBOL / 2 * s, middle)
    x += (_SYMBOL + _GAP) * s
    if entry.word:
        canvas.text(x, middle + 6 * s, entry.word, _word_style(canvas), colour=entry.colour)
        x += words_px + _GAP * s
    meaning = shortened(entry.meaning, small, right - x)
    canvas.text(x, middle + 6 * s, meaning, small, colour=ink.INK_2 if entry.word else ink.INK)


def draw_legend(canvas: Canvas, x: float, y: float, room: float, plate: Plate) -> float:
    """The groups side by side where they fit, else one under the other; the y of their end."""
    groups = [
        ("legend_marks", mark_entries()),
        ("legend_lines", line_entries()),
        ("legend_picture", picture_entries(plate)),
    ]
    between = 40 * canvas.scale
    wide = [_group_width(canvas, head, entries) for head, entries in groups]
    if sum(wide) + between * (len(groups) - 1) <= room:
        between = min((room - sum(wide)) / (len(groups) - 1), 2.5 * between)
        ends = []
        for (head, entries), own in zip(groups, wide, strict=True):
            ends.append(draw_group(canvas, x, y, own, head, entries))
            x += own + between
        return max(ends)
    for number, (head, entries) in enumerate(groups):
        y = draw_group(canvas, x, y, room, head, entries)
        y += 16 * canvas.scale if number < len(groups) - 1 else 0.0
    return y


def _group_width(canvas: Canvas, head: str, entries: Sequence[Entry]) -> float:
    """Width of a group in one column, its heading included. [px]"""
    meaning = width_px(words.sentence(f"{head}_meaning"), canvas.style(ink.LEGEND_TEXT))
    return math.ceil(max(_widths(canvas, entries)[1], meaning)) + 1.0


def draw_list(
    canvas: Canvas, x: float, y: float, room: float, head: str, rows: Sequence[PathRow]
) -> float:
    """A running list of stations, each with mark, call sign, bearing and words; its end's y."""
    if not rows:
        return y
    s = canvas.scale
    bold, plain = canvas.style(ink.LEGEND_TEXT, bold=True), canvas.style(ink.LEGEND_TEXT)
    y += 24 * s
    canvas.text(x, y, words.sentence(head), bold)
    y += 6 * s
    at, middle = x, y + 16 * s
    for row in rows:
        call = shortened(row.station, bold, 170 * s)
        word = words.path_word(row.path)
        if row.beyond_horizon:
            word = f"{word}, {words.sentence('beyond_horizon')}"
        parts = [
            (call, bold, ink.INK),
            (figures.bearing(row.bearing_deg), plain, ink.INK_2),
            (word, bold, ink.WORD_COLOURS[row.path]),
            (row.reception, plain, ink.INK),
        ]
        wide = 30 * s + sum(width_px(text, style) + 6 * s for text, style, _ in parts)
        if at > x and at + wide > x + room:
            at, middle = x, middle + 28 * s
        draw_mark(canvas, at + 11 * s, middle, row.path, radius=8.5)
        step = at + 28 * s
        for text, style, colour in parts:
            canvas.text(step, middle + 0.35 * style.size, text, style, colour=colour)
            step += width_px(text, style) + 6 * s
        at += wide + 16 * s
    return middle + 18 * s


def draw_paragraph(
    canvas: Canvas,
    x: float,
    y: float,
    room: float,
    text: str,
    style: Style,
    colour: str = ink.INK_2,
) -> float:
    """Running text in lines that fit; the y of its end."""
    for line in wrapped(text, style, room):
        y += 1.38 * style.size
        canvas.text(x, y, line, style, colour=colour)
    return y + 0.4 * style.size
