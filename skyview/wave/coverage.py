"""How much of every cell of a rectangular grid a polygon covers, exactly.

The grid is separable: its lines need not be evenly spaced. Each edge of the polygon is cut where
it crosses a line; a piece that lies in one cell then settles that cell's share and, through a
running sum, that of all cells below it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Indices = NDArray[np.int64]


def cell_coverage(polygon_m: Reals, x_lines_m: Reals, y_lines_m: Reals) -> Reals:
    """Covered share of every cell, 0 to 1. [unitless, (rows, columns)]

    ``polygon_m`` (N, 2) [m], a simple ring in either orientation, concave or keyholed, which may
    reach beyond the grid; ``x_lines_m`` (columns + 1,) and ``y_lines_m`` (rows + 1,) [m], rising.
    Row 0 lies between the first two y lines.

    Source: Green's theorem, the area below every edge summed with the sign of its direction.

    >>> triangle = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 2.0]])
    >>> lines = np.array([0.0, 1.0, 2.0])
    >>> cell_coverage(triangle, lines, lines).tolist()
    [[0.5, 1.0], [0.0, 0.5]]
    """
    rows, columns = y_lines_m.size - 1, x_lines_m.size - 1
    begin, end, row, column = edge_pieces(polygon_m, x_lines_m, y_lines_m)
    width = end[:, 0] - begin[:, 0]
    above = row == rows
    inside = np.minimum(row, rows - 1)
    rise = (0.5 * (begin + end)[:, 1] - y_lines_m[inside]) / np.diff(y_lines_m)[inside]
    cell = row * columns + column
    size = (rows + 1) * columns
    full = np.bincount(cell, width, size).reshape(rows + 1, columns)
    part = np.bincount(cell, np.where(above, 0.0, width * rise), size)[: rows * columns]
    below = np.cumsum(full[::-1], axis=0)[::-1][1:]
    share = (part.reshape(rows, columns) + below) / np.diff(x_lines_m)
    return np.clip(np.abs(share), 0.0, 1.0)


def edge_pieces(
    polygon_m: Reals, x_lines_m: Reals, y_lines_m: Reals
) -> tuple[Reals, Reals, Indices, Indices]:
    """The edges of a polygon cut at the lines of a grid: begins, ends, rows and columns.

    Arguments as in `cell_coverage`. Begins and ends (M, 2) [m], rows and columns (M,). Pieces
    below the grid or beside it are left out, and so are upright ones; those above it are in row
    ``len(y_lines_m) - 1``.

    >>> square = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0]])
    >>> lines = np.array([0.0, 1.0, 2.0])
    >>> begin, _end, row, column = edge_pieces(square, lines, lines[:2])
    >>> begin[:, 0].tolist(), row.tolist(), column.tolist()
    ([0.0, 1.0, 2.0, 1.0], [0, 0, 1, 1], [0, 1, 1, 0])
    """
    along = np.roll(polygon_m, -1, axis=0) - polygon_m
    edge_x, at_x = _crossings(polygon_m[:, 0], along[:, 0], x_lines_m)
    edge_y, at_y = _crossings(polygon_m[:, 1], along[:, 1], y_lines_m)
    every = np.arange(polygon_m.shape[0])
    edge = np.concatenate([every, edge_x, edge_y, every])
    at = np.concatenate([np.zeros(every.size), at_x, at_y, np.ones(every.size)])
    order = np.argsort(edge + 0.5 * at, kind="stable")
    edge, at = edge[order], at[order, np.newaxis]
    same = edge[1:] == edge[:-1]
    edge = edge[:-1][same]
    begin = polygon_m[edge] + along[edge] * at[:-1][same]
    end = polygon_m[edge] + along[edge] * at[1:][same]
    middle = 0.5 * (begin + end)
    column = np.searchsorted(x_lines_m, middle[:, 0], "right") - 1
    row = np.searchsorted(y_lines_m, middle[:, 1], "right") - 1
    counts = (column >= 0) & (column < x_lines_m.size - 1) & (row >= 0)
    counts &= begin[:, 0] != end[:, 0]
    return begin[counts], end[counts], row[counts], column[counts]


def _crossings(start: Reals, along: Reals, lines: Reals) -> tuple[Indices, Reals]:
    """Every edge's index and share of length (0 to 1) where it crosses one of the lines."""
    first = np.searchsorted(lines, np.minimum(start, start + along), "right")
    count = np.searchsorted(lines, np.maximum(start, start + along), "left") - first
    count = np.maximum(count, 0)
    edge = np.repeat(np.arange(start.size), count)
    before = np.cumsum(count) - count
    line = np.arange(edge.size) - before[edge] + first[edge]
    return edge, np.clip((lines[line] - start[edge]) / along[edge], 0.0, 1.0)
