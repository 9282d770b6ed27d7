"""Where the panorama's pixels look, and where frames lie on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from skyview.angles import Array
from skyview.sweep.adjust import Cameras
from skyview.sweep.flow import lens_of

MOST_COLUMNS = 16384
"""Columns of a whole turn at most: 0.022 deg each."""

_STEEPEST = np.radians(85.0)
_EDGE_POINTS = 24


@dataclass(frozen=True)
class Canvas:
    """An equirectangular picture, part of the full sphere of ``full_px`` x ``full_px``/2 pixels.

    The full picture's middle column looks north in the world's axes, its middle row level.
    """

    full_px: int
    left_px: int
    top_px: int
    width: int
    height: int

    @property
    def closed(self) -> bool:
        """Whether it goes once round."""
        return self.width == self.full_px

    @property
    def per_rad(self) -> float:
        """Pixels for a radian."""
        return self.full_px / (2.0 * np.pi)

    def scaled(self, divisor: int) -> Canvas:
        """The same picture with fewer pixels; everything must divide."""
        return Canvas(
            self.full_px // divisor,
            self.left_px // divisor,
            self.top_px // divisor,
            self.width // divisor,
            self.height // divisor,
        )

    def rays(self, x_px: Array, y_px: Array) -> Array:
        """Unit rays (..., 3), east north up, of continuous pixels."""
        azimuth = (x_px + self.left_px) / self.per_rad - np.pi
        elevation = np.pi / 2.0 - (y_px + self.top_px) / self.per_rad
        level = np.cos(elevation)
        return np.stack(
            [np.sin(azimuth) * level, np.cos(azimuth) * level, np.sin(elevation)], axis=-1
        )

    def edges_deg(self) -> tuple[float, float, float, float]:
        """Left, right, top, bottom against the full picture's middle. [deg]"""
        column = 360.0 / self.full_px
        left, top = self.left_px * column - 180.0, 90.0 - self.top_px * column
        return left, left + self.width * column, top, top - self.height * column


def border(size_px: tuple[int, int]) -> Array:
    """Points along a frame's border, from its middle. (4 n, 2) [px]"""
    t = np.linspace(-0.5, 0.5, _EDGE_POINTS)
    one = np.full_like(t, 0.5)
    xy = np.concatenate(
        [
            np.stack([t, -one], axis=1),
            np.stack([t, one], axis=1),
            np.stack([-one, t], axis=1),
            np.stack([one, t], axis=1),
        ]
    )
    return np.asarray(xy * np.array(size_px, float))


def spans(cameras: Cameras, sizes: Sequence[tuple[int, int]]) -> Array:
    """Azimuth from and to, elevation from and to of frames. (N, 4)

    Azimuths are those of the middle of the frame's sides, an eighth of its border beyond each.
    """
    rows = []
    for frame, size in enumerate(sizes):
        ring = border(size)
        ray = cameras.rays(np.full(len(ring), frame), ring)
        axis = np.arctan2(*cameras.axes[frame, 2, :2])
        turn = np.arctan2(ray[:, 0], ray[:, 1]) - axis
        turn = np.remainder(turn + np.pi, 2.0 * np.pi) - np.pi
        elevation = np.arcsin(np.clip(ray[:, 2], -1.0, 1.0))
        left, right = np.quantile(turn, [0.125, 0.875])
        rows.append([axis + left, axis + right, elevation.min(), elevation.max()])
    return np.array(rows)


def middle_and_span(reach: Array) -> tuple[float, float]:
    """Azimuth opposite to the widest gap between frames, and the angle they cover. [rad]"""
    start = np.mod(reach[:, 0], 2.0 * np.pi)
    order = np.argsort(start)
    begin = start[order]
    end = begin + (reach[order, 1] - reach[order, 0])
    last = np.maximum.accumulate(np.concatenate([end, end - 2.0 * np.pi])[: len(end)])
    last = np.maximum(last, (end - 2.0 * np.pi).max())
    following = np.append(begin[1:], begin[0] + 2.0 * np.pi)
    gap = following - last
    widest = int(gap.argmax())
    if gap[widest] <= 0.0:
        return float(np.mod(last[widest] + np.pi, 2.0 * np.pi)), 2.0 * np.pi
    middle_of_gap = (last[widest] + following[widest]) / 2.0
    return float(np.mod(middle_of_gap + np.pi, 2.0 * np.pi)), float(2.0 * np.pi - gap[widest])


def canvas_for(
    cameras: Cameras, sizes: Sequence[tuple[int, int]], closed: bool, divisor: int
) -> Canvas:
    """The panorama of levelled frames whose middle looks north, in steps of ``divisor`` pixels."""
    own = cameras.focal[cameras.group]
    full = min(float(2.0 * np.pi * own.max()), float(MOST_COLUMNS))
    full_px = max(2, round(full / (2 * divisor))) * 2 * divisor
    per_rad = full_px / (2.0 * np.pi)
    reach = spans(cameras, sizes)
    # One frame held high makes no tower; below there is roof, above there are trees.
    top = min(float(np.quantile(reach[:, 3], 0.75)), _STEEPEST)
    bottom = max(float(np.quantile(reach[:, 2], 0.5)), -_STEEPEST)
    first = int(np.floor((np.pi / 2.0 - top) * per_rad / divisor)) * divisor
    last = int(np.ceil((np.pi / 2.0 - bottom) * per_rad / divisor)) * divisor
    if closed:
        return Canvas(full_px, 0, first, full_px, last - first)
    middle = (reach[:, 0] + reach[:, 1]) / 2.0
    middle = np.remainder(middle + np.pi, 2.0 * np.pi) - np.pi
    half = (reach[:, 1] - reach[:, 0]) / 2.0
    left, right = float((middle - half).min()), float((middle + half).max())
    begin = max(0, int(np.ceil((left + np.pi) * per_rad / divisor))) * divisor
    end = min(full_px, int(np.floor((right + np.pi) * per_rad / divisor)) * divisor)
    return Canvas(full_px, begin, first, end - begin, last - first)


def through_lens(cameras: Cameras, frame: int, rays: Array) -> Array:
    """Pixels (..., 2) from the frame's middle where it sees rays; NaN behind it."""
    x, y = lens_of(cameras, frame).pixels(rays @ cameras.axes[frame].T)
    return np.stack([x, y], axis=-1)
