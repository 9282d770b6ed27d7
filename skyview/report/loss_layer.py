"""The loss in every direction laid over a window of the plate: steps of one tint, and lines.

Read like a depth chart: the tint says how deep, the lines say where each step begins.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from skyview.angles import Array
from skyview.report import ink, words
from skyview.report.canvas import Box, Canvas
from skyview.report.frame import Window
from skyview.report.lettering import width_px
from skyview.report.loss_steps import STEPS
from skyview.report.touching import boxes_touch
from skyview.survey.loss_view import LossLayer

_SHORTEST = 46.0
"""A line shorter than this is a speck and is left out. [px at scale 1]"""

_LABELLED = 150.0
_LABEL_EVERY = 620.0
_CANDIDATES = 24


def draw_layer(
    canvas: Canvas, window: Window, layer: LossLayer, loss_db: Array, occupied: Sequence[Box]
) -> list[Box]:
    """Tint and lines over a window, nothing below level; the boxes of the lines' figures.

    ``loss_db`` on the layer's grid, NaN where nothing is drawn; ``occupied`` [px]: where no
    figure may stand.
    """
    left, top, right, bottom = window.box
    clip = (left, top, right, min(bottom, float(window.y(0.0))))
    lines = canvas.steps(
        window.x(layer.azimuth_deg),
        window.y(layer.elevation_deg),
        loss_db,
        [step.level_db for step in STEPS],
        fill=ink.TINT,
        alphas=[step.opacity for step in STEPS],
        clip=clip,
    )
    kept = [
        [line for line in level if _length(line) >= _SHORTEST * canvas.scale] for level in lines
    ]
    for order, (step, level) in enumerate(zip(STEPS, kept, strict=True)):
        for line in level:
            canvas.line(
                line[:, 0],
                line[:, 1],
                step.weight,
                dash=step.dash,
                case=1.5,
                clip=clip,
                z=4.0 + 0.2 * order,
            )
    return _draw_figures(canvas, clip, kept, occupied)


def _length(line: Array) -> float:
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def _draw_figures(
    canvas: Canvas, clip: Box, lines: Sequence[Sequence[Array]], occupied: Sequence[Box]
) -> list[Box]:
    """A figure on every long line and every so often along it, off whatever is laid."""
    style = canvas.style(ink.CHANNEL, bold=True)
    taken = list(occupied)
    for step, level in zip(STEPS, lines, strict=True):
        text = words.loss_label(step.level_db)
        half = np.array([0.5 * width_px(text, style), 0.5 * style.size])
        for line in sorted(level, key=_length, reverse=True):
            for places in _places(line, canvas.scale):
                box = _first_free(places, half, clip, taken, 6.0 * canvas.scale)
                if box is None:
                    continue
                x, y = 0.5 * (box[0] + box[2]), 0.5 * (box[1] + box[3])
                canvas.text(x, y + 0.36 * style.size, text, style, halo=True, ha="center", z=8.0)
                taken.append(box)
    return taken[len(occupied) :]


def _places(line: Array, scale: float) -> list[Array]:
    """For each figure of a line the places (K, 2) where it may stand, best first."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    count = int(along[-1] >= _LABELLED * scale) + int(along[-1] / (_LABEL_EVERY * scale))
    found = []
    for k in range(count):
        share = np.linspace(0.1, 0.9, _CANDIDATES)
        order = np.argsort(np.abs(share - 0.5), kind="stable")
        at = along[-1] * (k + share[order]) / count
        found.append(np.stack([np.interp(at, along, line[:, axis]) for axis in (0, 1)], axis=1))
    return found


def _first_free(
    places: Array, half: Array, clip: Box, taken: Sequence[Box], gap: float
) -> Box | None:
    boxes = np.hstack([places - half, places + half])
    low, high = np.array(clip[:2]) + gap, np.array(clip[2:]) - gap
    free = np.all((boxes[:, :2] > low) & (boxes[:, 2:] < high), axis=1)
    if taken:
        other = np.array(taken, float)
        free &= ~boxes_touch(boxes[:, np.newaxis], other[np.newaxis], gap).any(axis=1)
    if not free.any():
        return None
    left, top, right, bottom = boxes[np.argmax(free)].tolist()
    return left, top, right, bottom


def draw_steps_legend(canvas: Canvas, x: float, y: float, room: float) -> float:
    """A box with its words for every step, in as many lines as they need; their end's y. [px]"""
    s = canvas.scale
    head, text = canvas.style(ink.LEGEND_HEAD, bold=True), canvas.style(ink.LEGEND_TEXT)
    title = words.sentence("loss_legend")
    canvas.text(x, y + 21 * s, title, head)
    begin = at = x + width_px(title, head) + 24 * s
    levels = [step.level_db for step in STEPS]
    for step, low, high in zip([None, *STEPS], [None, *levels], [*levels, None], strict=True):
        name = words.loss_step(low, high)
        wide = 58 * s + width_px(name, text) + 30 * s
        if at > begin and at + wide > x + room:
            at, y = begin, y + 36 * s
        box = (at, y, at + 46 * s, y + 26 * s)
        canvas.box(box, fill=ink.PAPER)
        if step is not None:
            canvas.box(box, fill=ink.TINT, alpha=step.opacity, z=10.1)
        canvas.box(box, rim=ink.LINE, weight=0.9, z=10.2)
        if step is not None:
            canvas.line((at, at), (y, y + 26 * s), step.weight, dash=step.dash, z=10.3)
        canvas.text(at + 58 * s, y + 19 * s, name, text)
        at += wide
    return y + 26 * s
