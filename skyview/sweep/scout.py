"""What is kept of a frame once it has been read: a grey copy, a thumbnail, its features."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array

Pixels = NDArray[np.uint8]

GREY_PX = 1200
"""Longest side of the grey copy at most, in which points are followed and edges found."""

FEATURE_PX = 400
"""Longest side of the copy in which features are looked for."""

THUMB_PX = 240
"""Longest side of the coloured copy that tells gains and seams."""

_MOST_FEATURES = 700
_FOUND_FEATURES = 2400
_CELLS = (8, 6)
_CELL_SHARE = 2.2
"""A cell of the grid keeps at most this multiple of its even share of the features."""


@dataclass(frozen=True)
class Scout:
    """One frame, small. Pixels are those of the frame as it is in its file, upright."""

    size_px: tuple[int, int]
    """Width and height of the frame at full size."""
    grey: Pixels
    """(h, w) uint8."""
    thumb: Pixels
    """(h, w, 3) uint8 RGB."""
    points: Array
    """(K, 2): features from the frame's middle. [px of the full size]"""
    descriptors: NDArray[np.float32]
    """(K, 128), of length one."""

    @property
    def grey_scale(self) -> float:
        """Pixels of the grey copy for one of the full size."""
        return float(self.grey.shape[1] / self.size_px[0])

    def offsets(self, grey_xy: Array) -> Array:
        """Continuous pixels of the grey copy as full pixels from the middle."""
        height, width = self.grey.shape
        return np.asarray((grey_xy - np.array([width, height]) / 2.0) / self.grey_scale)

    def grey_pixels(self, offset: Array) -> Array:
        """The inverse of ``offsets``."""
        height, width = self.grey.shape
        return np.asarray(offset * self.grey_scale + np.array([width, height]) / 2.0)


def side_to_read(size_px: tuple[int, int]) -> int:
    """Longest side at which to read a frame: halved until it is small, which decoders do fast.

    >>> side_to_read((4032, 3024)), side_to_read((3024, 4032)), side_to_read((900, 600))
    (1008, 1008, 900)
    """
    longest = max(size_px)
    halvings = max(0, math.ceil(math.log2(longest / GREY_PX)))
    return math.ceil(longest / 2.0**halvings)


def scouted(rgb: Pixels, size_px: tuple[int, int]) -> Scout:
    """The small frame from its pixels, at most ``GREY_PX`` wide or high."""
    grey = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), np.uint8)
    small = _shrunk(grey, FEATURE_PX)
    finder = cv2.SIFT.create(nfeatures=_FOUND_FEATURES, contrastThreshold=0.02)
    found, described = finder.detectAndCompute(small, None)
    if described is None:
        found, described = (), np.zeros((0, 128), np.float32)
    xy = np.array([k.pt for k in found], float).reshape(-1, 2)
    strength = np.array([k.response for k in found], float)
    kept = _spread(xy, strength, small.shape[1::-1])
    factor = size_px[0] / small.shape[1]
    middle = np.array(small.shape[1::-1]) / 2.0
    root = np.sqrt(described[kept] / np.maximum(described[kept].sum(1, keepdims=True), 1e-6))
    # A feature's pixel (0, 0) is the middle of the first pixel, which is 0.5 here.
    points = (xy[kept] + 0.5 - middle) * factor
    return Scout(size_px, grey, _shrunk(rgb, THUMB_PX), points, root.astype(np.float32))


def _shrunk(picture: Pixels, longest: int) -> Pixels:
    height, width = picture.shape[:2]
    scale = longest / max(height, width)
    if scale >= 1.0:
        return picture
    size = max(1, round(width * scale)), max(1, round(height * scale))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)


def _spread(xy: Array, strength: Array, size: tuple[int, ...]) -> NDArray[np.int64]:
    """The strongest features, no cell of a grid holding too many of them."""
    cells = np.minimum((xy / np.array(size) * np.array(_CELLS)).astype(int), np.array(_CELLS) - 1)
    cell = cells[:, 0] * _CELLS[1] + cells[:, 1]
    order = np.argsort(-strength, kind="stable")
    by_cell = order[np.argsort(cell[order], kind="stable")]
    first = np.searchsorted(cell[by_cell], np.arange(_CELLS[0] * _CELLS[1]))
    rank = np.empty(len(xy), int)
    rank[by_cell] = np.arange(len(xy)) - first[cell[by_cell]]
    most = _CELL_SHARE * _MOST_FEATURES / (_CELLS[0] * _CELLS[1])
    return np.asarray(order[rank[order] < most][:_MOST_FEATURES])
