"""The sheet that holds outlines of one view against a photograph taken from another place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

import numpy as np

from skyview.angles import Array
from skyview.report import frame, ink, legend, mount_words, words
from skyview.report.canvas import Box, Canvas
from skyview.report.frame import Window
from skyview.report.lettering import width_px
from skyview.report.panorama import SIDE_MARGIN, windows_of, write_sheet
from skyview.report.silhouettes import drawn_ring, turns_into
from skyview.survey.carried import Carried
from skyview.survey.results import Plate

_TRIES = 8
"""Lines by which a name may be moved up to come free of others."""


def draw_carried_plate(
    plate: Plate,
    found: Sequence[Carried],
    source: str,
    path: Path | BinaryIO,
    *,
    file_format: str | None = None,
    width_px: int = 2200,
) -> None:
    """Draws the plate's photograph with the outlines of view ``source`` as they should lie on it.

    Where the thing is outlined in this view as well, that outline is drawn under it, and the gap
    between both is told. Format, width and errors as in `skyview.report.panorama.draw_plate`.
    """
    title = mount_words.carried_heading(source, plate.view)
    write_sheet(
        path,
        file_format,
        width_px,
        title,
        mount_words.carried_reading(source, plate.view),
        lambda canvas: _draw(canvas, plate, found, source),
    )


def _draw(canvas: Canvas, plate: Plate, found: Sequence[Carried], source: str) -> float:
    """Everything on the sheet, from top to bottom; its height. [px]"""
    s = canvas.scale
    x, room = SIDE_MARGIN * s, canvas.width - 2 * SIDE_MARGIN * s
    title = canvas.style(ink.TITLE, "serif", bold=True)
    small = canvas.style(ink.SUBTITLE)
    y = legend.draw_paragraph(
        canvas, x, 9 * s, room, mount_words.carried_heading(source, plate.view), title, ink.INK
    )
    text = mount_words.carried_reading(source, plate.view)
    y = legend.draw_paragraph(canvas, x, y - 6 * s, room, text, small) + 12 * s
    for window in windows_of(canvas, plate, x, room):
        y = _draw_window(canvas, plate, replace(window, y0=round(y)), found) + 14 * s
    return _draw_gaps(canvas, found, x, y, room) + 20 * s


def _draw_window(canvas: Canvas, plate: Plate, window: Window, found: Sequence[Carried]) -> float:
    frame.draw_photograph(canvas, window, plate)
    frame.draw_north(canvas, window)
    for thing in found:
        for rings, weight, colour, z in (
            (thing.marked_deg, ink.OUTLINE, ink.INK, 5.0),
            (thing.rings_deg, ink.OUTLINE_CHOSEN, ink.PENCIL, 6.0),
        ):
            for ring in rings:
                points = drawn_ring(ring)
                for turn in turns_into(window, points[:, 0]):
                    canvas.line(
                        window.x(points[:, 0] + turn),
                        window.y(points[:, 1]),
                        weight,
                        colour=colour,
                        case=1.7,
                        dash=ink.DASH_TREE if thing.kind in words.TREE_KINDS else None,
                        clip=window.box,
                        z=z,
                    )
    taken = _draw_names(canvas, window, found)
    level = frame.draw_level(canvas, window, plate, taken)
    frame.draw_crosses(canvas, window, taken + ([level] if level else []))
    frame.draw_elevations(canvas, window)
    return frame.draw_border(canvas, window, plate.declination_deg)


def _draw_names(canvas: Canvas, window: Window, found: Sequence[Carried]) -> list[Box]:
    """Each thing's name above its carried outline, the tallest first; the boxes they fill."""
    style = canvas.style(ink.NAME, "serif", italic=True)
    boxes: list[Box] = []
    left, top, right, _ = window.box
    for thing in sorted(found, key=lambda c: -float(c.rings_deg[0][:, 1].max())):
        ring = thing.rings_deg[0]
        for turn in turns_into(window, ring[:, 0]):
            x, y = window.x(ring[:, 0] + turn), window.y(ring[:, 1])
            highest = int(np.argmin(y))
            box = _free_box(
                float(x[highest]), float(y[highest]), width_px(thing.obstruction, style),
                style.size, boxes,
            )  # fmt: skip
            if box is None or box[0] < left or box[2] > right or box[1] < top:
                continue
            canvas.text(box[0], box[3] - 0.3 * style.size, thing.obstruction, style, halo=True)
            boxes.append(box)
    return boxes


def _free_box(x: float, y: float, wide: float, size: float, taken: Sequence[Box]) -> Box | None:
    """Room for a name above a point, moved up until it touches no other."""
    others: Array = np.array(taken, float).reshape(-1, 4)
    for lift in range(_TRIES):
        low = y - 0.4 * size - lift * 1.3 * size
        box = (x - wide / 2, low - 1.3 * size, x + wide / 2, low)
        apart = (
            (others[:, 0] > box[2])
            | (others[:, 2] < box[0])
            | (others[:, 1] > box[3])
            | (others[:, 3] < box[1])
        )
        if apart.all():
            return box
    return None


def _draw_gaps(canvas: Canvas, found: Sequence[Carried], x: float, y: float, room: float) -> float:
    """What the outlines are off by, the widest gap first; the end's y."""
    s = canvas.scale
    head = canvas.style(ink.LEGEND_HEAD, bold=True)
    canvas.text(x, y + 24 * s, mount_words.sentence("carried_gaps"), head)
    y += 30 * s
    plain = canvas.style(ink.LEGEND_TEXT)
    lines = [mount_words.gap_text(c) for c in sorted(found, key=_widest_first)]
    wide = max((width_px(line, plain) for line in lines), default=1.0) + 40 * s
    columns = max(1, min(len(lines), int(room // wide)))
    rows = -(-len(lines) // columns)
    for index, line in enumerate(lines):
        column, row = divmod(index, rows)
        canvas.text(x + column * wide, y + (row + 1) * 24 * s, line, plain)
    y += (rows + 1) * 24 * s
    caption = canvas.style(ink.LEGEND_TEXT, "serif", italic=True)
    return legend.draw_paragraph(
        canvas, x, y, room, mount_words.sentence("carried_caption"), caption
    )


def _widest_first(thing: Carried) -> float:
    return -(thing.gap_deg if thing.gap_deg is not None else -1.0)
