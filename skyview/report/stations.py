"""Stations on the plate: marks, poles and tags, bars of spread, and chips at the edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from skyview.angles import Array
from skyview.report import ink, words
from skyview.report.canvas import Box, Canvas
from skyview.report.frame import Window, pennant_box
from skyview.report.labels import Board, Pin, Tag, place_tags
from skyview.report.lettering import shortened, width_px
from skyview.report.marks import draw_loop, draw_mark, mark_box
from skyview.report.reception_lines import draw_reception
from skyview.report.touching import lies_on
from skyview.survey.results import PathRow

_MOST_RAILS = 4
_LONGEST_CALL_PX = 170.0
_CHOSEN_WEIGHT = 5.0
_KNEES = (24.0, 48.0, 80.0, 120.0)
_HEADROOM_COST = 2.0
_TOP_MARGIN = 9.0
_GOOD_ENOUGH = 2.5
_SKY_ABOVE_LEVEL = 230.0
"""In a tall plate the tags come down to this height above level. [px at scale 1]"""


@dataclass(frozen=True)
class Pinned:
    """One station's mark in a window. Places in px."""

    row: PathRow
    x: float
    y: float
    box: Box
    off: Literal["above", "below"] | None
    """Where it really lies when the window's top or bottom holds it back."""


@dataclass(frozen=True)
class Plan:
    """How the tags of one window hang. Places in px on the sheet."""

    pinned: tuple[Pinned, ...]
    tags: tuple[Tag | None, ...]
    headroom: float
    """Height of the rails above the window. [px]"""

    def poles(self) -> Array:
        """All pieces of all poles, (N, 4)."""
        pieces = [
            (*start, *end)
            for tag in self.tags
            if tag is not None
            for start, end in zip(tag.pole[:-1], tag.pole[1:], strict=True)
        ]
        return np.array(pieces, float).reshape(-1, 4)

    def boxes(self) -> list[Box]:
        """What marks and tags fill."""
        return [pin.box for pin in self.pinned] + [tag.box for tag in self.tags if tag]

    def untagged(self) -> list[PathRow]:
        """Stations that found no place for a tag, from left to right."""
        pairs = zip(self.pinned, self.tags, strict=True)
        left_out = [pin for pin, tag in pairs if tag is None]
        return [pin.row for pin in sorted(left_out, key=lambda pin: pin.x)]


def pin_stations(canvas: Canvas, window: Window, rows: Sequence[PathRow]) -> list[Pinned]:
    """Marks of stations whose azimuth the window holds, held back at its top and bottom."""
    radius = ink.MARK_RADIUS * canvas.scale
    high, low = window.y0 + 2.4 * radius, window.y0 + window.height - 2.4 * radius
    pinned = []
    for row in rows:
        x = float(window.x(window.unrolled(row.bearing_deg)))
        y = float(window.y(row.arrival_elevation_deg))
        off: Literal["above", "below"] | None = None
        if row.arrival_elevation_deg > window.top_deg:
            off, y = "above", high
        elif row.arrival_elevation_deg < window.bottom_deg:
            off, y = "below", low
        pinned.append(Pinned(row, x, y, mark_box(x, y, radius, row.beyond_horizon), off))
    return pinned


def _notes(row: PathRow) -> list[str]:
    notes = [words.sentence("beyond_horizon")] if row.beyond_horizon else []
    return notes + ([words.sentence("unseen_behind")] if row.unseen_behind else [])


def _call(canvas: Canvas, row: PathRow) -> str:
    style = canvas.style(ink.CALL_SIGN, bold=True)
    return shortened(row.station, style, _LONGEST_CALL_PX * canvas.scale)


def _channel(row: PathRow) -> str:
    return f"ch {row.rf_channel}"


def _sizes(canvas: Canvas, row: PathRow) -> tuple[tuple[float, float], ...]:
    """Width and height of the tag with all lines, without the channel, with the call alone."""
    s = canvas.scale
    call = width_px(_call(canvas, row), canvas.style(ink.CALL_SIGN, bold=True))
    channel = 5 * s + width_px(_channel(row), canvas.style(ink.CHANNEL))
    word = width_px(words.path_word(row.path), canvas.style(ink.WORD, bold=True))
    reception = width_px(row.reception, canvas.style(ink.WORD))
    notes = [width_px(note, canvas.style(ink.NOTE)) for note in _notes(row)]
    height = (62 + 19 * len(notes)) * s
    below = max([word, reception, *notes])
    return (max(call + channel, below), height), (max(call, below), height), (call, 22 * s)


def plan_tags(
    canvas: Canvas,
    window: Window,
    rows: Sequence[PathRow],
    selected: str | None,
    chips: Sequence[Box] = (),
    shy: Sequence[Array] = (),
) -> Plan:
    """The tags of one window on two rails, or on as many as it takes up to four.

    Tags keep off ``chips`` and would rather not lie on the shapes ``shy``. Rails that the sky has
    no height for lie above the window; ``headroom`` is what they need.
    """
    pinned = pin_stations(canvas, window, rows)
    sizes = [_sizes(canvas, row) for row in rows]
    pins = [
        Pin(pin.x, pin.box, size, _CHOSEN_WEIGHT if pin.row.station == selected else 1.0)
        for pin, size in zip(pinned, sizes, strict=True)
    ]
    s = canvas.scale
    pitch = max([height for size in sizes for _, height in size], default=0.0) + 8 * s
    pennant = pennant_box(canvas, window)
    best = Plan(tuple(pinned), tuple(None for _ in pinned), 0.0)
    best_cost = np.inf
    for inside, above in _rail_counts(window, pitch, s) if pins else ():
        rails, headroom = _rails(window, inside, above, pitch, s)
        board = Board(
            left=window.x0 + 4 * s,
            right=window.x0 + window.width - 4 * s,
            rails=rails,
            offset=10 * s,
            gap=5 * s,
            knees=tuple(s * aside for aside in _KNEES),
            solids=tuple(chips),
            quiet=(pennant, _north_line(window, pennant)) if pennant else (),
            shy=tuple(shy),
        )
        tags, cost = place_tags(pins, board)
        cost += _HEADROOM_COST * above
        if cost < best_cost:
            best, best_cost = Plan(tuple(pinned), tuple(tags), headroom), cost
        if cost < _GOOD_ENOUGH:
            break
    return best


def _north_line(window: Window, pennant: Box) -> Box:
    x = (pennant[0] + pennant[2]) / 2
    return x - 1, window.y0, x + 1, window.y0 + window.height


def _level(window: Window) -> float:
    return float(window.y(min(max(0.0, window.bottom_deg), window.top_deg)))


def _rail_counts(window: Window, pitch: float, s: float) -> list[tuple[int, int]]:
    """How many rails to try within the window and above it: the sky's first, few before many."""
    sky = _level(window) - window.y0 - (40 + _TOP_MARGIN) * s
    most = min(_MOST_RAILS, max(0, int(sky // pitch)))
    tries = [(min(count, most), max(0, count - most)) for count in range(2, _MOST_RAILS + 1)]
    return list(dict.fromkeys([*tries, (min(most, 3), 1), (min(most, 2), 2)]))


def _rails(
    window: Window, inside: int, above: int, pitch: float, s: float
) -> tuple[tuple[float, ...], float]:
    """Tops of the rails, lowest first, and the height of those above the window. [px]"""
    first = max(window.y0 + _TOP_MARGIN * s, _level(window) - _SKY_ABOVE_LEVEL * s - inside * pitch)
    rails = [first + pitch * i for i in range(inside)][::-1]
    rails += [window.y0 - pitch * (i + 1) for i in range(above)]
    return tuple(rails), above * pitch


def moved(plan: Plan, down: float) -> Plan:
    """The same plan lower on the sheet. [px]"""

    def lower(box: Box) -> Box:
        return box[0], box[1] + down, box[2], box[3] + down

    return Plan(
        tuple(replace(pin, y=pin.y + down, box=lower(pin.box)) for pin in plan.pinned),
        tuple(
            tag and replace(tag, box=lower(tag.box), pole=tuple((x, y + down) for x, y in tag.pole))
            for tag in plan.tags
        ),
        plan.headroom,
    )


def draw_stations(
    canvas: Canvas, window: Window, plan: Plan, selected: str | None, shapes: Sequence[Array] = ()
) -> None:
    """Poles, tags, bars of spread and marks; the selected station last and in pencil.

    Tags that lie on one of ``shapes`` get a thin sheet of paper beneath.
    """
    pairs = sorted(
        zip(plan.pinned, plan.tags, strict=True), key=lambda pair: pair[0].row.station == selected
    )
    for order, (pin, tag) in enumerate(pairs):
        chosen = pin.row.station == selected
        z = 20.0 + 3.0 * order / max(len(pairs), 1)
        if tag is not None:
            draw_reception(canvas, tag.pole, pin.row.reception, case=ink.CASE)
            box = np.array([tag.box])
            on_shape = any(lies_on(box, shape).any() for shape in shapes)
            _draw_tag(canvas, pin.row, tag, chosen, on_shape)
        _draw_spread(canvas, window, pin)
        draw_mark(canvas, pin.x, pin.y, pin.row.path, beyond=pin.row.beyond_horizon, z=z)
        if pin.off is not None:
            _draw_off(canvas, pin)
        if chosen:
            draw_loop(canvas, pin.x, pin.y, 21.0, z=24.0)


def _draw_tag(canvas: Canvas, row: PathRow, tag: Tag, chosen: bool, on_shape: bool) -> None:
    s = canvas.scale
    right = tag.side == "right"
    x = tag.box[0] if right else tag.box[2]
    top = tag.box[1]
    ha: Literal["left", "right"] = "left" if right else "right"
    if on_shape:
        canvas.box(tag.box, fill=ink.PAPER, alpha=0.45, z=29.0)
    call, style = _call(canvas, row), canvas.style(ink.CALL_SIGN, bold=True)
    colour = ink.PENCIL if chosen else ink.INK
    canvas.text(x, top + 17 * s, call, style, colour=colour, halo=True, ha=ha)
    if tag.form == "all":
        step = (width_px(call, style) + 5 * s) * (1 if right else -1)
        small = canvas.style(ink.CHANNEL)
        canvas.text(
            x + step, top + 17 * s, _channel(row), small, colour=ink.INK_2, halo=True, ha=ha
        )
    if tag.form == "call_sign":
        return
    word = canvas.style(ink.WORD, bold=True)
    shade = ink.WORD_COLOURS[row.path]
    canvas.text(x, top + 37 * s, words.path_word(row.path), word, colour=shade, halo=True, ha=ha)
    plain = canvas.style(ink.WORD)
    canvas.text(x, top + 56 * s, row.reception, plain, halo=True, ha=ha)
    for line, note in enumerate(_notes(row)):
        y = top + (75 + 19 * line) * s
        canvas.text(x, y, note, canvas.style(ink.NOTE), colour=ink.INK_2, halo=True, ha=ha)


def _draw_spread(canvas: Canvas, window: Window, pin: Pinned) -> None:
    """One sigma of the place as a bar with end ticks, where it is wider than the mark."""
    if pin.off is not None:
        return
    mark = 1.3 * ink.MARK_RADIUS * canvas.scale
    tick = 6 * canvas.scale
    across = pin.row.bearing_sigma_deg * window.px_per_deg
    up = (pin.row.elevation_sigma_deg or 0.0) * window.px_per_deg_up
    for half, (dx, dy) in ((across, (1.0, 0.0)), (up, (0.0, 1.0))):
        if half <= mark:
            continue
        ends = [(pin.x - dx * half, pin.y - dy * half), (pin.x + dx * half, pin.y + dy * half)]
        strokes = [ends] + [
            [(x - dy * tick, y - dx * tick), (x + dy * tick, y + dx * tick)] for x, y in ends
        ]
        for stroke in strokes:
            xs, ys = zip(*stroke, strict=True)
            canvas.line(xs, ys, 2.0, case=1.5, clip=window.box, z=18.0)


def _draw_off(canvas: Canvas, pin: Pinned) -> None:
    """An arrow from a mark that the window's top or bottom holds back."""
    s = canvas.scale
    way = -1 if pin.off == "above" else 1
    base = pin.y + way * 17 * s
    points = [(pin.x - 7 * s, base), (pin.x + 7 * s, base), (pin.x, base + way * 9 * s)]
    canvas.shape(points, fill=ink.INK, z=21.0)
