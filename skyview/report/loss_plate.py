"""The sheet of loss layers: for each frequency the plate once more, one above the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO

import numpy as np

from skyview.angles import Array
from skyview.report import frame, ink, legend, stations, words
from skyview.report.canvas import Canvas
from skyview.report.frame import Window
from skyview.report.lettering import width_px
from skyview.report.loss_layer import draw_layer, draw_steps_legend
from skyview.report.loss_steps import drawn_loss
from skyview.report.marks import draw_loop, draw_mark
from skyview.report.panorama import SIDE_MARGIN, sorted_rows, windows_of, write_sheet
from skyview.survey.loss_view import LossLayer
from skyview.survey.results import PathRow, Plate

_SAME_MHZ = 3.5
"""A station within half a channel of the frequency gives it its channel's number."""

_LOW_SKY_DEG, _SAID_DB = 10.0, 6.0


def draw_loss_plates(
    plate: Plate,
    layers: Sequence[LossLayer],
    path: Path | BinaryIO,
    *,
    file_format: str | None = None,
    width_px: int = 2200,
) -> None:
    """Draws the loss in every direction over the photograph, one plate for each layer.

    Outlines and tags are hidden, marks stay. Format, width, errors raised and sameness of the
    bytes as in `skyview.report.panorama.draw_plate`.
    """
    shown = [(layer, drawn_loss(layer, plate)) for layer in layers]
    text = " ".join(f"{_frequency(plate, layer)}: {_share(layer, loss)}" for layer, loss in shown)
    write_sheet(
        path,
        file_format,
        width_px,
        words.loss_heading(plate),
        f"{words.subtitle(plate)} {text} {words.sentence('loss_caption')}",
        lambda canvas: _draw(canvas, plate, shown),
    )


def _frequency(plate: Plate, layer: LossLayer) -> str:
    near = [r for r in plate.rows if abs(r.frequency_mhz - layer.frequency_mhz) < _SAME_MHZ]
    row = min(near, key=lambda r: abs(r.frequency_mhz - layer.frequency_mhz), default=None)
    return words.loss_frequency(layer.frequency_mhz, row.rf_channel if row else None)


def _share(layer: LossLayer, loss_db: Array) -> str:
    """How much of the photographed low sky costs more than ``_SAID_DB``."""
    low = loss_db[layer.elevation_deg <= _LOW_SKY_DEG]
    known = low[np.isfinite(low)]
    share = float(np.mean(known > _SAID_DB)) if known.size else 0.0
    return words.loss_share(share, _LOW_SKY_DEG, _SAID_DB)


def _draw(canvas: Canvas, plate: Plate, shown: Sequence[tuple[LossLayer, Array]]) -> float:
    """Everything on the sheet, from top to bottom; its height. [px]"""
    s = canvas.scale
    x, room = SIDE_MARGIN * s, canvas.width - 2 * SIDE_MARGIN * s
    title = canvas.style(ink.TITLE, "serif", bold=True)
    small = canvas.style(ink.SUBTITLE)
    y = legend.draw_paragraph(canvas, x, 9 * s, room, words.loss_heading(plate), title, ink.INK)
    y = legend.draw_paragraph(canvas, x, y - 6 * s, room, words.sentence("loss_reading"), small)
    y = legend.draw_paragraph(canvas, x, y - 6 * s, room, words.subtitle(plate), small)
    windows = windows_of(canvas, plate, x, room)
    rows, _, _ = sorted_rows(windows, plate.rows)
    for layer, loss in shown:
        y = _draw_head(canvas, x, y + 10 * s, room, _frequency(plate, layer), _share(layer, loss))
        for window, inside in zip(windows, rows, strict=True):
            y = _draw_window(canvas, plate, replace(window, y0=round(y)), inside, layer, loss)
            y += 14 * s
    y = draw_steps_legend(canvas, x, y + 8 * s, room)
    caption = canvas.style(ink.LEGEND_TEXT, "serif", italic=True)
    text = words.sentence("loss_caption")
    return legend.draw_paragraph(canvas, x, y + 8 * s, room, text, caption) + 20 * s


def _draw_head(canvas: Canvas, x: float, y: float, room: float, name: str, share: str) -> float:
    """A layer's frequency and what it comes to; the y where its plate begins. [px]"""
    s = canvas.scale
    bold, plain = canvas.style(ink.CALL_SIGN, "serif", bold=True), canvas.style(ink.SUBTITLE)
    canvas.text(x, y + 20 * s, name, bold)
    beside = width_px(name, bold) + 20 * s
    if beside + width_px(share, plain) <= room:
        canvas.text(x + beside, y + 20 * s, share, plain, colour=ink.INK_2)
        return y + 34 * s
    return legend.draw_paragraph(canvas, x, y + 20 * s, room, share, plain) + 6 * s


def _draw_window(
    canvas: Canvas,
    plate: Plate,
    window: Window,
    rows: Sequence[PathRow],
    layer: LossLayer,
    loss_db: Array,
) -> float:
    """One window with its frame, layer and marks; its lower end. [px]"""
    frame.draw_photograph(canvas, window, plate)
    pins = stations.pin_stations(canvas, window, rows)
    pennant = frame.pennant_box(canvas, window)
    taken = [pin.box for pin in pins] + ([pennant] if pennant else [])
    frame.draw_north(canvas, window)
    taken += draw_layer(canvas, window, layer, loss_db, taken)
    level = frame.draw_level(canvas, window, plate, taken)
    taken += [level] if level else []
    for pin in pins:
        draw_mark(canvas, pin.x, pin.y, pin.row.path, beyond=pin.row.beyond_horizon)
        if pin.row.station == plate.selected:
            draw_loop(canvas, pin.x, pin.y, 21.0, z=24.0)
    frame.draw_crosses(canvas, window, taken)
    frame.draw_elevations(canvas, window)
    return frame.draw_border(canvas, window, plate.declination_deg)
