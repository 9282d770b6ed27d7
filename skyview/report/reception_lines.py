"""The line that tells whether a station comes in: its pole in the picture, repeated in the legend.

Double is sure, single likely, dashed doubtful, cut with two end bars no, dotted unknown. Reception
never has a colour.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from skyview.angles import Array
from skyview.report import ink
from skyview.report.canvas import Canvas
from skyview.survey.results import ReceptionWord

DASH = (9.0, 5.0)
DOTS = (0.1, 6.5)
_APART = 2.1
_DOUBLE_WEIGHT = 2.0
_DOT_WEIGHT = 2.8
_SEAM = 8.2
_GAP, _GAP_SHARE = 7.0, 0.16
_BAR = 6.0
_BAR_WEIGHT = 2.4


def draw_reception(
    canvas: Canvas,
    points: Sequence[tuple[float, float]],
    reception: ReceptionWord,
    *,
    case: float = 0.0,
    z: float = 12.0,
) -> None:
    """The line of a reception word through points [px]; ``case`` is its paper seam."""
    path = np.array(points, float)
    match reception:
        case "sure":
            _double(canvas, path, case, z)
        case "likely":
            canvas.line(path[:, 0], path[:, 1], ink.POLE, case=case, z=z)
        case "doubtful":
            canvas.line(path[:, 0], path[:, 1], ink.POLE, case=case, dash=DASH, z=z)
        case "no":
            _cut(canvas, path, case, z)
        case "unknown":
            canvas.line(path[:, 0], path[:, 1], _DOT_WEIGHT, case=case, dash=DOTS, cap="round", z=z)


def _double(canvas: Canvas, path: Array, case: float, z: float) -> None:
    if case:
        canvas.line(path[:, 0], path[:, 1], _SEAM, colour=ink.PAPER, z=z - 0.2)
    for side in (-1.0, 1.0):
        beside = path + side * _APART * canvas.scale * _normals(path)
        canvas.line(beside[:, 0], beside[:, 1], _DOUBLE_WEIGHT, z=z)


def _normals(path: Array) -> Array:
    """At each point the way aside by which a parallel line runs one unit away. (N, 2)"""
    steps = np.diff(path, axis=0)
    unit = steps / np.maximum(np.hypot(*steps.T), 1e-9)[:, None]
    across = np.column_stack([-unit[:, 1], unit[:, 0]])
    first, last = across[[0, *range(len(across))]], across[[*range(len(across)), -1]]
    both = first + last
    result: Array = 2.0 * both / np.maximum(np.sum(both**2, axis=1), 1e-9)[:, None]
    return result


def _cut(canvas: Canvas, path: Array, case: float, z: float) -> None:
    """The longest piece cut in its middle, a bar at each end of the gap."""
    steps = np.diff(path, axis=0)
    lengths = np.hypot(*steps.T)
    at = int(np.argmax(lengths))
    unit = steps[at] / max(float(lengths[at]), 1e-9)
    across = np.array([-unit[1], unit[0]])
    middle = (path[at] + path[at + 1]) / 2.0
    half = min(_GAP * canvas.scale, _GAP_SHARE * float(lengths[at]))
    ends = middle - half * unit, middle + half * unit
    for piece in (np.vstack([path[: at + 1], ends[0]]), np.vstack([ends[1], path[at + 1 :]])):
        canvas.line(piece[:, 0], piece[:, 1], ink.POLE, case=case, z=z)
    for end in ends:
        bar = np.array([end - _BAR * canvas.scale * across, end + _BAR * canvas.scale * across])
        canvas.line(bar[:, 0], bar[:, 1], _BAR_WEIGHT, case=case, z=z)
