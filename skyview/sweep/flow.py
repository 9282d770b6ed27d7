"""Points followed between frames once it is known roughly where each frame looks.

The second frame is drawn as the first would have seen it, so that a thing looks alike in both
and can be followed to a tenth of a pixel (pyramidal Lucas and Kanade, forth and back).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.camera.projections import Rectilinear
from skyview.sweep.adjust import POINT_SIGMA_PX, Cameras, Points
from skyview.sweep.scout import Scout

Pixels = NDArray[np.uint8]

LEAST_OVERLAP = 0.12
"""Frames that share less of their width are not followed between."""

FARTHEST_PX = 24.0
"""How far from where it is expected a point may be found, in pixels of the grey copy."""

_CORNERS, _CELLS = 700, (10, 8)
_WINDOW, _LEVELS = 15, 2
_FORTH_AND_BACK_PX = 0.35
_GRID_PX = 16
_LIKENESS_PX, _COARSER = 9.0, 4
_FAINTEST, _FAINT = 1.5, 8.0
"""Local contrast in grey levels: of no use below, and of little weight up to."""


@dataclass(frozen=True)
class Evened:
    """A grey copy ready to be followed in."""

    picture: Pixels
    """Its local brightness and contrast evened, so that exposures compare."""
    corners: Array
    """(K, 2): corners, by continuous pixel."""
    sigma_px: Array
    """(K,): one sigma of each, in pixels of the grey copy; faint ones (clouds) are less sure."""


def evened(grey: Pixels) -> Evened:
    """The grey copy evened, and its corners."""
    height, width = grey.shape
    value = grey.astype(np.float32)
    size = -(-width // _COARSER), -(-height // _COARSER)

    def wide(picture: NDArray[np.float32]) -> NDArray[np.float32]:
        small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small, (0, 0), _LIKENESS_PX / _COARSER)
        return np.asarray(cv2.resize(small, (width, height)), np.float32)

    apart = value - wide(value)
    spread = np.sqrt(wide(apart * apart))
    even = apart / (spread + np.float32(4.0)) * np.float32(45.0) + np.float32(128.0)
    picture = np.asarray(np.clip(even, 0.0, 255.0), np.uint8)
    corners = _corners(picture, spread)
    column, row = corners.astype(int).T
    sigma = POINT_SIGMA_PX * np.hypot(1.0, _FAINT / np.maximum(spread[row, column], 1.0))
    return Evened(picture, corners, sigma)


def _corners(even: Pixels, spread: NDArray[np.float32]) -> Array:
    """Corners (K, 2) spread over the picture, by continuous pixel; none in plain sky."""
    found = cv2.goodFeaturesToTrack(even, 4 * _CORNERS, 0.02, 6, blockSize=5)
    if found is None:
        return np.zeros((0, 2))
    xy = found.reshape(-1, 2)
    column, row = xy.astype(int).T
    xy = xy[spread[row, column] >= _FAINTEST]
    height, width = even.shape
    cell = (xy[:, 0] * _CELLS[0] / width).astype(int) * _CELLS[1] + (
        xy[:, 1] * _CELLS[1] / height
    ).astype(int)
    order = np.argsort(cell, kind="stable")
    first = np.searchsorted(cell[order], np.arange(_CELLS[0] * _CELLS[1]))
    rank = np.arange(len(xy)) - first[cell[order]]
    kept = order[rank < 1.5 * _CORNERS / (_CELLS[0] * _CELLS[1])]
    result: Array = xy[np.sort(kept)].astype(float) + 0.5
    return result


def followed(
    first: int,
    second: int,
    scouts: Sequence[Scout],
    even: Sequence[Evened],
    cameras: Cameras,
) -> Points | None:
    """Points of one pair of frames; None where they overlap too little."""
    a, b = scouts[first], scouts[second]
    where = _through(cameras, first, second, a.offsets(even[first].corners))
    width, height = b.size_px
    margin = 0.02 * width
    kept = np.all(np.abs(where) < np.array([width, height]) / 2.0 - margin, axis=1)
    if kept.sum() < 12:
        return None
    start = even[first].corners[kept]
    low = np.maximum(start.min(axis=0).astype(int) - 24, 0)
    high = np.minimum(start.max(axis=0).astype(int) + 25, np.array(a.grey.shape[1::-1]))
    if high[0] - low[0] < LEAST_OVERLAP * a.grey.shape[1]:
        return None
    drawn = _as_seen(cameras, first, second, a, b, even[second].picture, low, high)
    part = np.ascontiguousarray(even[first].picture[low[1] : high[1], low[0] : high[0]])
    begin = (start - low - 0.5).astype(np.float32)[:, None]
    there, ok = _tracked(part, drawn, begin)
    back, ok_back = _tracked(drawn, part, there)
    away = np.hypot(*(back - begin)[:, 0].T)
    moved = np.hypot(*(there - begin)[:, 0].T)
    good = ok & ok_back
    good &= (away < _FORTH_AND_BACK_PX) & (moved < FARTHEST_PX)
    if good.sum() < 6:
        return None
    here = a.offsets(start[good])
    in_first = a.offsets(there[good, 0].astype(float) + low + 0.5)
    at = _through(cameras, first, second, in_first)
    inside = np.all(np.abs(at) < np.array([width, height]) / 2.0, axis=1)
    count = int(inside.sum())
    sigma = even[first].sigma_px[kept][good][inside] / min(a.grey_scale, b.grey_scale)
    return Points(
        np.full(count, first),
        np.full(count, second),
        here[inside],
        at[inside],
        sigma,
    )


def _tracked(
    one: Pixels, other: Pixels, places: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Where points (M, 1, 2) of one picture are in another, and which were found."""
    there, found, _ = cv2.calcOpticalFlowPyrLK(
        one, other, places, np.empty_like(places), winSize=(_WINDOW, _WINDOW), maxLevel=_LEVELS
    )
    return np.asarray(there, np.float32), np.asarray(found)[:, 0] > 0


def lens_of(cameras: Cameras, frame: int) -> Rectilinear:
    """The frame's lens, pixels counted from the middle."""
    own = cameras.group[frame]
    return Rectilinear(float(cameras.focal[own]), (0.0, 0.0), float(cameras.k1[own]))


def _through(cameras: Cameras, first: int, second: int, offset: Array) -> Array:
    """Pixels of the second frame (from its middle) that look where those of the first do."""
    world = cameras.rays(np.full(len(offset), first), offset)
    x, y = lens_of(cameras, second).pixels(world @ cameras.axes[second].T)
    return np.nan_to_num(np.stack([x, y], axis=-1), nan=1e9)


def _as_seen(
    cameras: Cameras,
    first: int,
    second: int,
    a: Scout,
    b: Scout,
    picture: Pixels,
    low: NDArray[np.int64],
    high: NDArray[np.int64],
) -> Pixels:
    """The second frame as the first would have seen it, within a box of the first's grey copy."""
    width, height = (high - low).tolist()
    across = np.arange(-1, -(-width // _GRID_PX) + 1)
    down = np.arange(-1, -(-height // _GRID_PX) + 1)
    x, y = np.meshgrid((across + 0.5) * _GRID_PX + low[0], (down + 0.5) * _GRID_PX + low[1])
    knots = a.offsets(np.stack([x.ravel(), y.ravel()], axis=1))
    there = b.grey_pixels(_through(cameras, first, second, knots)) - 0.5
    maps = there.clip(-1e4, 1e4).astype(np.float32).reshape(*x.shape, 2)
    full = cv2.resize(maps, (x.shape[1] * _GRID_PX, x.shape[0] * _GRID_PX))
    full = full[_GRID_PX : _GRID_PX + height, _GRID_PX : _GRID_PX + width]
    return np.asarray(
        cv2.remap(
            picture, full[..., 0], full[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
        )
    )
