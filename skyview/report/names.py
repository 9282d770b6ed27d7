"""Names beside the outlines, where there is room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.path import Path

from skyview.angles import Array
from skyview.report import ink, words
from skyview.report.canvas import Box, Canvas
from skyview.report.frame import Window
from skyview.report.lettering import width_px
from skyview.report.silhouettes import chosen_obstruction, drawn_ring, shapes_in, turns_into
from skyview.report.touching import boxes_touch, segments_touch_boxes
from skyview.survey.results import Plate, Silhouette

_STEP_PX = 4.0
_RANK_COST = 0.06
_EDGE_COST = 1.0
_LEVEL_COST = 0.4
_NORTH_COST = 0.7
_POLE_COST = 0.8
_FOREIGN_COST = 1.6
COSTS_DB = 0.3
"""What costs no station as much is drawn without its name."""

_MOST_COST = 2.5
"""A name that would lie on more than this is left out, unless it names a hazard."""


def draw_names(
    canvas: Canvas, window: Window, plate: Plate, taken: Sequence[Box], poles: Array
) -> list[Box]:
    """Writes each outline's name and distance where it touches nothing; the boxes they fill.

    ``taken`` are boxes to keep off, ``poles`` (N, 4) segments. The name of a power line or wire
    may lie on a pole where nothing else is free, so that a hazard is named.
    """
    style = canvas.style(ink.NAME, "serif", italic=True)
    height = 1.3 * style.size
    chosen = chosen_obstruction(plate)
    edges = [np.hstack([shape, np.roll(shape, -1, axis=0)]) for shape in shapes_in(window, plate)]
    boxes: list[Box] = []
    named: set[str] = set()
    grounds = _grounds(window, plate)
    for silhouette in _worth_naming(plate, chosen):
        if silhouette.obstruction in named:
            continue
        text = words.obstruction_name(
            silhouette.obstruction, silhouette.kind, silhouette.distance_m
        )
        places = _places(window, silhouette, width_px(text, style), height)
        keep_off = np.array([*taken, *boxes], float).reshape(-1, 4)
        fits = _inside(places, window.box, 0.25 * style.size)
        fits &= ~boxes_touch(places[:, None], keep_off[None], 0.2 * style.size).any(axis=1)
        crossed = segments_touch_boxes(poles[None], places[:, None], 0.2 * style.size).sum(axis=1)
        cost = _costs(window, places, edges)
        cost += _FOREIGN_COST * _on_another(places, silhouette.obstruction, grounds)
        hazard = silhouette.kind in words.LINE_KINDS
        choice = _best(
            np.where(fits & (crossed == 0), cost, np.inf), np.inf if hazard else _MOST_COST
        )
        if choice is None and hazard:
            choice = _best(np.where(fits, cost + _POLE_COST * crossed, np.inf), np.inf)
        if choice is None:
            continue
        x0, y0, x1, y1 = (float(edge) for edge in places[choice])
        colour = ink.PENCIL if silhouette.obstruction == chosen else ink.INK
        canvas.text(x0, y1 - 0.3 * style.size, text, style, colour=colour, halo=True, z=13.0)
        boxes.append((x0, y0, x1, y1))
        named.add(silhouette.obstruction)
    return boxes


def _by_weight(plate: Plate, chosen: str | None) -> list[Silhouette]:
    """The chosen station's costliest, then hazards, then what costs any station, then tall."""
    costly = {row.obstruction for row in plate.rows}
    return sorted(
        plate.silhouettes,
        key=lambda silhouette: (
            silhouette.obstruction != chosen,
            silhouette.kind not in words.LINE_KINDS,
            silhouette.obstruction not in costly,
            -float(np.ptp(silhouette.rings_deg[0][:, 1])),
        ),
    )


def _worth_naming(plate: Plate, chosen: str | None) -> list[Silhouette]:
    """Hazards, the chosen station's costliest, and what costs any station something."""
    costly = {row.obstruction for row in plate.rows if words.share(row) >= COSTS_DB}
    return [
        silhouette
        for silhouette in _by_weight(plate, chosen)
        if silhouette.obstruction == chosen
        or silhouette.kind in words.LINE_KINDS
        or silhouette.obstruction in costly
    ]


def _grounds(window: Window, plate: Plate) -> list[tuple[str, Path]]:
    """The area of every outline on the picture, with whose it is. [px]"""
    return [
        (
            silhouette.obstruction,
            Path(np.stack([window.x(ring[:, 0] + turn), window.y(ring[:, 1])], axis=1)),
        )
        for silhouette in plate.silhouettes
        if silhouette.kind not in words.LINE_KINDS
        for ring in silhouette.rings_deg[:1]
        for turn in turns_into(window, ring[:, 0])
    ]


def _on_another(places: Array, name: str, grounds: Sequence[tuple[str, Path]]) -> Array:
    """1 where a name's middle would lie on another thing's outline, which it seems to name."""
    middle = (places[:, :2] + places[:, 2:]) / 2.0
    inside = [area.contains_points(middle) for owner, area in grounds if owner != name]
    return np.any(inside, axis=0).astype(float) if inside else np.zeros(len(places))


def _best(costs: Array, most: float) -> int | None:
    if not costs.size:
        return None
    choice = int(np.argmin(costs))
    return choice if np.isfinite(costs[choice]) and costs[choice] <= most else None


def _inside(places: Array, box: Box, gap: float) -> np.ndarray:
    left, top, right, bottom = box
    return (
        (places[:, 0] > left + gap)
        & (places[:, 2] < right - gap)
        & (places[:, 1] > top + gap)
        & (places[:, 3] < bottom - gap)
    )


def _costs(window: Window, places: Array, edges: Sequence[Array]) -> Array:
    """What a name would lie on: outlines' edges, the level lines, the north line; (n,)."""
    cost = _RANK_COST * np.arange(len(places), dtype=float)
    for segments in edges:
        on_edge = segments_touch_boxes(segments[None], places[:, None]).any(axis=1)
        cost += _EDGE_COST * on_edge
    left, top, right, bottom = window.box
    level, north = float(window.y(0.0)), float(window.x(window.unrolled(0.0)))
    cost += _LEVEL_COST * segments_touch_boxes(np.array([left, level, right, level]), places)
    cost += _NORTH_COST * segments_touch_boxes(np.array([north, top, north, bottom]), places)
    return cost


def _outline_px(window: Window, points: Array) -> tuple[Array, Array]:
    """Points along the visible part of an outline, close together. [px]"""
    x, y = window.x(points[:, 0]), window.y(points[:, 1])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    at = np.linspace(0.0, along[-1], max(2, int(along[-1] / _STEP_PX)))
    x, y = np.interp(at, along, x), np.interp(at, along, y)
    left, top, right, bottom = window.box
    seen = (x >= left) & (x <= right) & (y >= top) & (y <= bottom)
    return x[seen], y[seen]


def _places(window: Window, silhouette: Silhouette, width: float, height: float) -> Array:
    """Places (n, 4) for a name about an outline, best first: above it, beside it, within it."""
    ring = silhouette.rings_deg[0]
    line = silhouette.kind in words.LINE_KINDS
    spots: list[tuple[float, float]] = []
    for turn in turns_into(window, ring[:, 0]):
        x, y = _outline_px(window, drawn_ring(ring) + np.array([turn, 0.0]))
        if x.size:
            spots += _above(x, y, width, height, below=line)
            spots += _beside(x, y, width, height)
            spots += _within(x, y, width, height) if not line else []
    corner = np.array(spots, float).reshape(-1, 2)
    return np.hstack([corner, corner + np.array([width, height])])


def _above(
    x: Array, y: Array, width: float, height: float, below: bool
) -> list[tuple[float, float]]:
    """Just above the outline, nearest its peak first; for a line also just below it."""
    gap = 0.25 * height
    peak = float(x[np.argmin(y)])
    low, high = float(x.min()) - 0.8 * width, float(x.max()) - 0.2 * width
    lefts = np.linspace(low, high, 13)
    lefts = lefts[np.argsort(np.abs(lefts + width / 2 - peak), kind="stable")]
    spots = []
    for left in [peak - width / 2, *lefts.tolist()]:
        under = (x >= left) & (x <= left + width)
        if under.any():
            spots.append((left, float(y[under].min()) - gap - height))
            if below:
                spots.append((left, float(y[under].max()) + gap))
    return spots


def _beside(x: Array, y: Array, width: float, height: float) -> list[tuple[float, float]]:
    """Right and left of the outline at several heights, upper ones first."""
    gap = 0.4 * height
    spots = []
    for share in (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95):
        middle = float(y.min() + share * np.ptp(y))
        near = np.abs(y - middle) <= 0.7 * height
        if near.any():
            spots.append((float(x[near].max()) + gap, middle - height / 2))
            spots.append((float(x[near].min()) - gap - width, middle - height / 2))
    return spots


def _within(x: Array, y: Array, width: float, height: float) -> list[tuple[float, float]]:
    """On the silhouette itself, from the middle outward."""
    spots = []
    for up in (0.5, 0.65, 0.8, 0.35):
        for across in (0.5, 0.35, 0.65):
            left = float(x.min() + across * np.ptp(x)) - width / 2
            spots.append((left, float(y.min() + up * np.ptp(y)) - height / 2))
    return spots
