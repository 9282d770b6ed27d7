"""The shape that stands for each path word, round a centre, in px.

The ring is the opening that the wave comes through; what fills it stands in the way. The shapes
are pure points, so that they keep their form at any scale of the plate. y runs down.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from skyview.angles import Array
from skyview.report import ink
from skyview.report.canvas import Box, Canvas
from skyview.survey.results import PathWord

_GROUND = 1.23
_RING_WEIGHT = 2.8
_LOBES = 8
_GAPS = ((-0.38, 0.12), (0.36, 0.30), (0.04, -0.42))
_BROKEN_PIECES = 8
_BEYOND_DROP = 6.5
_BEYOND_SAG = 5.0
_BEYOND_HALF_WIDTH = 1.75


@dataclass(frozen=True)
class Shape:
    """A filled shape, or a stroke where ``weight`` is more than 0 (px at scale 1)."""

    points: Array
    colour: str
    weight: float = 0.0


def _arc(radius: float, start: float, end: float, count: int = 49) -> Array:
    """Points on a circle about the origin, from angle to angle [rad], 0 right, clockwise."""
    angle = np.linspace(start, end, count)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def _disc(radius: float, x: float = 0.0, y: float = 0.0) -> Array:
    result: Array = _arc(radius, 0.0, 2.0 * np.pi) + np.array([x, y])
    return result


def _square(half: float) -> Array:
    return half * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


def _crown(radius: float) -> Array:
    """A scalloped disc of eight lobes."""
    angle = np.linspace(0.0, 2.0 * np.pi, _LOBES * 24 + 1)
    reach = radius * (0.86 + 0.17 * np.abs(np.sin(_LOBES * angle / 2)))
    return np.column_stack([reach * np.cos(angle), reach * np.sin(angle)])


def mark_shapes(path: PathWord, radius: float) -> list[Shape]:
    """The shapes of a word's mark about (0, 0), in the order of drawing, the paper ground first.

    ``radius`` is that of the ring. [px]

    >>> [shape.colour for shape in mark_shapes("blocked", 11.0)]
    ['#FCFAF4', '#330F30']
    """
    colour = ink.WORD_COLOURS[path]
    ground = Shape(_disc(radius * _GROUND), ink.PAPER)
    ring = Shape(_disc(radius * 0.87), colour, _RING_WEIGHT)
    if path == "clear":
        return [ground, ring, Shape(_disc(radius * 0.22), colour)]
    if path == "grazing":
        return [ground, Shape(_arc(radius * 0.9, 0.0, np.pi), colour), ring]
    if path == "through_trees":
        gaps = [Shape(_disc(radius * 0.2, radius * x, radius * y), ink.PAPER) for x, y in _GAPS]
        return [
            Shape(_crown(radius * 1.36), ink.PAPER),
            Shape(_crown(radius * 1.09), colour),
            *gaps,
        ]
    if path == "blocked":
        return [Shape(_square(radius * 1.13), ink.PAPER), Shape(_square(radius * 0.88), colour)]
    step = 2.0 * np.pi / _BROKEN_PIECES
    pieces = [
        Shape(_arc(radius * 0.88, step * i, step * (i + 0.58), 9), colour, _RING_WEIGHT - 0.2)
        for i in range(_BROKEN_PIECES)
    ]
    return [ground, *pieces]


def beyond_arc(radius: float) -> Array:
    """The shallow arc below a mark: the earth hides the transmitter. Points (N, 2) about it."""
    t = np.linspace(-1.0, 1.0, 31)
    unit = radius / ink.MARK_RADIUS
    y = radius + unit * (_BEYOND_DROP + _BEYOND_SAG * t**2)
    return np.column_stack([t * radius * _BEYOND_HALF_WIDTH, y])


def mark_box(x: float, y: float, radius: float, beyond: bool) -> Box:
    """The rectangle that a mark, its ground and its arc fill. [px]"""
    half = 1.36 * radius
    if not beyond:
        return x - half, y - half, x + half, y + half
    unit = radius / ink.MARK_RADIUS
    wide = max(half, _BEYOND_HALF_WIDTH * radius + 2.0 * unit)
    return x - wide, y - half, x + wide, y + radius + unit * (_BEYOND_DROP + _BEYOND_SAG + 2.0)


def draw_mark(
    canvas: Canvas,
    x: float,
    y: float,
    path: PathWord,
    *,
    radius: float = ink.MARK_RADIUS,
    beyond: bool = False,
    z: float = 20.0,
) -> None:
    """Draws a word's mark with its centre at (x, y) px; ``radius`` at scale 1."""
    size = radius * canvas.scale
    for step, shape in enumerate(mark_shapes(path, size)):
        points = shape.points + np.array([x, y])
        order = z + 0.01 * step
        if shape.weight:
            weight = shape.weight * radius / ink.MARK_RADIUS
            canvas.line(points[:, 0], points[:, 1], weight, colour=shape.colour, z=order)
        else:
            canvas.shape(points, fill=shape.colour, z=order)
    if beyond:
        arc = beyond_arc(size) + np.array([x, y])
        weight = 2.4 * radius / ink.MARK_RADIUS
        canvas.line(arc[:, 0], arc[:, 1], weight, case=1.8, cap="round", z=z + 0.3)


def draw_loop(canvas: Canvas, x: float, y: float, radius: float, z: float = 22.0) -> None:
    """The pencil's loop round what the user holds; ``radius`` at scale 1."""
    turn = np.linspace(-0.4, 2.0 * np.pi + 0.35, 121)
    grow = radius * canvas.scale * (1.0 + 0.011 * (turn - turn[0]))
    canvas.line(
        x + 1.08 * grow * np.cos(turn - 2.2),
        y + 0.98 * grow * np.sin(turn - 2.2),
        ink.LOOP,
        colour=ink.PENCIL,
        case=1.6,
        cap="round",
        z=z,
    )
