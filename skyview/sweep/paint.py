"""The panorama at full size, one frame after the other, a strip of rows at a time."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from skyview.sweep.adjust import Cameras
from skyview.sweep.blend import Recipe
from skyview.sweep.canvas import Canvas, through_lens

Pixels = NDArray[np.uint8]
Map = NDArray[Any]

_KNOT_PX = 16
_STRIP_PIXELS = 2_000_000


def blank(recipe: Recipe, canvas: Canvas) -> Pixels:
    """The panorama before any frame: what stands where none looks."""
    out = np.zeros((canvas.height, canvas.width, 3), np.uint8)
    colors = cv2.convertScaleAbs(recipe.filling)
    divisor = canvas.width // recipe.canvas.width
    filled = np.asarray(np.any(recipe.filling, axis=2))
    for first, last in _stretches(np.any(filled, axis=1), divisor, canvas.height):
        rows = filled[first // divisor : -(-last // divisor)]
        for left, right in _stretches(np.any(rows, axis=0), divisor, canvas.width):
            for top, bottom in _strips(first, last, right - left):
                out[top:bottom, left:right] = _enlarged(
                    colors, recipe.canvas, canvas, (left, right), (top, bottom)
                )
    return out


def paint(
    out: Pixels,
    rgb: Pixels,
    size_px: tuple[int, int],
    cameras: Cameras,
    frame: int,
    recipe: Recipe,
    canvas: Canvas,
) -> None:
    """Add one frame's share of the panorama.

    ``rgb`` may hold fewer pixels than the frame's own ``size_px``, which the cameras count in.
    """
    weight = recipe.weight[frame]
    rows = np.flatnonzero(weight.any(axis=(1, 2)))
    if not rows.size:
        return
    divisor = canvas.width // recipe.canvas.width
    top = max(0, (int(rows[0]) - 1) * divisor)
    bottom = min(canvas.height, (int(rows[-1]) + 2) * divisor)
    for left, right in _stretches(np.any(weight, axis=(0, 2)), divisor, canvas.width):
        for first, last in _strips(top, bottom, right - left):
            maps = _maps(cameras, frame, canvas, (rgb, size_px), (left, right), (first, last))
            seen = cv2.remap(
                rgb, maps[0], maps[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
            )
            part = _enlarged(weight, recipe.canvas, canvas, (left, right), (first, last))
            share = cv2.multiply(seen, part, dtype=cv2.CV_8U)
            box = out[first:last, left:right]
            cv2.add(box, share, dst=box)


def _strips(top: int, bottom: int, width: int) -> list[tuple[int, int]]:
    step = max(_KNOT_PX, _STRIP_PIXELS // max(width, 1))
    return [(row, min(row + step, bottom)) for row in range(top, bottom, step)]


def _stretches(used: NDArray[np.bool_], divisor: int, width: int) -> list[tuple[int, int]]:
    """Runs of columns or rows, at full size and a small pixel wider each way, none overlapping."""
    wide = used.copy()
    wide[:-1] |= used[1:]
    wide[1:] |= used[:-1]
    steps = np.flatnonzero(np.diff(np.concatenate([[0], wide.astype(int), [0]])))
    return [
        (int(a) * divisor, min(int(b) * divisor, width))
        for a, b in zip(steps[::2], steps[1::2], strict=True)
    ]


def _maps(
    cameras: Cameras,
    frame: int,
    canvas: Canvas,
    picture: tuple[Pixels, tuple[int, int]],
    columns: tuple[int, int],
    rows: tuple[int, int],
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Where in the frame the pixels of a box lie: exact at knots, linear between them."""
    across = np.arange(-1, -(-(columns[1] - columns[0]) // _KNOT_PX) + 1)
    down = np.arange(-1, -(-(rows[1] - rows[0]) // _KNOT_PX) + 1)
    x, y = np.meshgrid((across + 0.5) * _KNOT_PX + columns[0], (down + 0.5) * _KNOT_PX + rows[0])
    place = through_lens(cameras, frame, canvas.rays(x, y))
    size_read = np.array(picture[0].shape[1::-1], float)
    knots = (place / np.array(picture[1], float) + 0.5) * size_read - 0.5
    knots = np.nan_to_num(knots, nan=-1e5).clip(-1e5, 1e5).astype(np.float32)
    size = len(across) * _KNOT_PX, len(down) * _KNOT_PX
    out = []
    for part in (knots[..., 0], knots[..., 1]):
        full = cv2.resize(np.ascontiguousarray(part), size, interpolation=cv2.INTER_LINEAR)
        out.append(
            np.asarray(full, np.float32)[
                _KNOT_PX : _KNOT_PX + rows[1] - rows[0],
                _KNOT_PX : _KNOT_PX + columns[1] - columns[0],
            ]
        )
    return out[0], out[1]


def _enlarged(
    small: Map,
    small_canvas: Canvas,
    canvas: Canvas,
    columns: tuple[int, int],
    rows: tuple[int, int],
) -> Map:
    """A box of the panorama's size out of a map on the small canvas, linear between its pixels."""
    divisor = canvas.width // small_canvas.width
    left, right = columns[0] // divisor - 1, -(-columns[1] // divisor) + 1
    top, bottom = rows[0] // divisor - 1, -(-rows[1] // divisor) + 1
    across = np.arange(left, right)
    if canvas.closed:
        across = np.mod(across, small_canvas.width)
    else:
        across = across.clip(0, small_canvas.width - 1)
    down = np.arange(top, bottom).clip(0, small_canvas.height - 1)
    block = np.ascontiguousarray(small[down][:, across])
    size = len(across) * divisor, len(down) * divisor
    full = cv2.resize(block, size, interpolation=cv2.INTER_LINEAR)
    y, x = rows[0] - top * divisor, columns[0] - left * divisor
    return full[y : y + rows[1] - rows[0], x : x + columns[1] - columns[0]]
