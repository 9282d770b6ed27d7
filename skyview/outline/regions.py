"""A small picture cut into regions along its edges, and the order in which they melt together.

Edges in (units of noise) and labels out, all coarse. The regions are watersheds of the edges;
two neighbours part by the mean height of the wall between them, so that one gap in a wall does
not let everything through. The lowest wall melts first.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from skyview.angles import Array
from skyview.outline.coarse import Mask, Plane

MARKER_SIDE_PX = 7
"""A region begins at the lowest edge of a square of this side."""

SMALL_PX = 60.0
"""Regions smaller than this melt sooner: their walls are noise."""


@dataclass(frozen=True)
class Regions:
    """The regions of a picture."""

    label: np.ndarray
    """(h, w) int32, 0 to count - 1."""
    count: int
    first: np.ndarray
    """(E,) of every pair of neighbours, the smaller label."""
    second: np.ndarray
    """(E,) the larger label."""
    wall: Array
    """(E,) mean height of the wall between the two."""
    middle: Array
    """(E,) median height of the wall: what crosses the border's ends does not count."""
    length: Array
    """(E,) how long the wall is. [px]"""
    parent: np.ndarray
    """(2 count - 1,) what a region, or regions melted, next becomes part of; the last itself."""
    height: Array
    """(2 count - 1,) height of the wall that fell, never less than those within; 0 for regions."""

    def mean(self, plane: np.ndarray) -> Array:
        """Mean of a plane (h, w) over every region. (count,)"""
        total = np.bincount(self.label.ravel(), plane.ravel(), self.count)
        return total / self.area

    @cached_property
    def area(self) -> Array:
        """Pixels of every region. (count,)"""
        return np.bincount(self.label.ravel(), minlength=self.count).astype(float)

    def at(self, level: float) -> tuple[np.ndarray, int]:
        """Which part each region belongs to once all walls below ``level`` fell, and how many."""
        root = np.arange(len(self.parent))
        falls = self.height[self.parent] < level
        root[falls] = self.parent[falls]
        while True:
            further = root[root]
            if np.array_equal(further, root):
                break
            root = further
        part, index = np.unique(root[: self.count], return_inverse=True)
        return index, len(part)

    def joined_with(self, wanted: np.ndarray) -> np.ndarray:
        """The first node of the tree that holds a region and some ``wanted`` one. (count,)

        The last node where none is wanted.
        """
        parent = self.parent.tolist()
        held = np.concatenate([wanted, np.zeros(len(parent) - self.count, bool)]).tolist()
        for node in range(len(parent) - 1):
            if held[node]:
                held[parent[node]] = True
        first = list(range(len(parent)))
        for node in range(len(parent) - 2, -1, -1):
            if not held[node]:
                first[node] = first[parent[node]]
        return np.array(first[: self.count])

    def reached_at(self, wanted: np.ndarray) -> Array:
        """Height of the walls that fall until a region is one with some ``wanted`` one. (count,)

        0 for those themselves; above all heights if there are none.
        """
        top = float(self.height[-1]) + 1.0
        return self.height[self.joined_with(wanted)] if wanted.any() else np.full(self.count, top)

    def basin(self, region: int, against: np.ndarray) -> Mask:
        """What a region can become part of before some of ``against`` (count,) joins. (count,)"""
        barred = self.melted_sum(against.astype(float)) > 0
        node, parent = region, self.parent
        while parent[node] != node and not barred[parent[node]]:
            node = parent[node]
        held = [False] * len(parent)
        held[node] = True
        for below in range(node - 1, -1, -1):
            held[below] = held[parent[below]]
        return np.array(held[: self.count])

    def melted_sum(self, values: Array) -> Array:
        """Sum of the regions' ``values`` (count,) over what every node holds. (2 count - 1,)"""
        total = [*values.tolist(), *[0.0] * (len(self.parent) - self.count)]
        for node, parent in enumerate(self.parent[:-1].tolist()):
            total[parent] += total[node]
        return np.array(total)


def regions_of(edge: Plane, split: np.ndarray | None = None) -> Regions:
    """The regions of a plane of edges (h, w), none of them on both sides of ``split``.

    ``split`` (h, w): small whole numbers or bool that tell what lies apart.

    >>> edge = np.zeros((40, 60), np.float32)
    >>> edge[20] = 5.0
    >>> part, count = regions_of(edge).at(2.0)
    >>> count
    2
    """
    smooth = cv2.GaussianBlur(edge, (0, 0), 1.0)
    low = cv2.erode(smooth, np.ones((MARKER_SIDE_PX, MARKER_SIDE_PX), np.uint8))
    _, marker = cv2.connectedComponents((smooth <= low).astype(np.uint8), connectivity=8)
    label = _watershed(edge + 0.05 * smooth, marker.astype(np.int32))
    if split is not None:
        _, label = np.unique(4 * label + split, return_inverse=True)
        label = label.reshape(edge.shape).astype(np.int32)
    first, second, wall, middle, length = _neighbours(label, edge)
    count = int(label.max()) + 1
    parent, height = _melted(count, first, second, wall, length, label)
    return Regions(label, count, first, second, wall, middle, length, parent, height)


def _watershed(edge: Plane, marker: np.ndarray) -> np.ndarray:
    """Labels of the markers' basins: a smallest forest of walls, one tree for each marker.

    Cousty, Bertrand, Najman and Couprie, 'Watershed cuts: minimum spanning forests and the drop
    of water principle', IEEE Transactions on Pattern Analysis and Machine Intelligence 31(8), 2009.
    """
    node = np.arange(edge.size, dtype=np.int32).reshape(edge.shape)
    root = np.int32(edge.size)
    within = np.flatnonzero(marker)
    _, first = np.unique(marker.ravel()[within], return_index=True)
    start = within[first].astype(np.int32)
    inner = np.where(marker.ravel() > 0, 0.0, edge.ravel())
    one = np.concatenate([node[1:].ravel(), node[:, 1:].ravel(), start])
    other = np.concatenate([node[:-1].ravel(), node[:, :-1].ravel(), np.full(len(start), root)])
    height = np.maximum(inner[one], np.append(inner, 0.0)[other]) + 1e-3
    height[-len(start) :] = 1e-6
    graph = sparse.coo_array((height, (one, other)), shape=(edge.size + 1,) * 2).tocsr()
    forest = csgraph.minimum_spanning_tree(graph).tocoo()
    held = (forest.col != root) & (forest.row != root)
    kept = sparse.coo_array(
        (forest.data[held], (forest.row[held], forest.col[held])), shape=graph.shape
    )
    _, label = csgraph.connected_components(kept.tocsr(), directed=False)
    _, label = np.unique(label[:-1], return_inverse=True)
    return label.reshape(edge.shape).astype(np.int32)


def _neighbours(
    label: np.ndarray, edge: Plane
) -> tuple[np.ndarray, np.ndarray, Array, Array, Array]:
    """Pairs of regions that touch; mean and median height of the wall between, its length."""
    ridge = cv2.dilate(edge, np.ones((3, 3), np.uint8))
    ones, others, heights = [], [], []
    for one, other, a, b in (
        (label[1:], label[:-1], ridge[1:], ridge[:-1]),
        (label[:, 1:], label[:, :-1], ridge[:, 1:], ridge[:, :-1]),
    ):
        apart = one != other
        ones.append(np.minimum(one[apart], other[apart]))
        others.append(np.maximum(one[apart], other[apart]))
        heights.append(np.minimum(a[apart], b[apart]))
    pairs = np.concatenate(ones).astype(np.int64) * (label.max() + 1) + np.concatenate(others)
    known, index = np.unique(pairs, return_inverse=True)
    high = np.concatenate(heights)
    length = np.bincount(index)
    wall = np.bincount(index, high) / np.maximum(length, 1)
    middle = high[np.lexsort((high, index))][np.cumsum(length) - 1 - length // 2]
    base = label.max() + 1
    # The oldest scipy that is allowed takes graphs with short indices alone.
    first, second = (known // base).astype(np.int32), (known % base).astype(np.int32)
    return first, second, wall, middle.astype(float), length.astype(float)


def _melted(
    count: int,
    first: np.ndarray,
    second: np.ndarray,
    wall: Array,
    length: Array,
    label: np.ndarray,
) -> tuple[np.ndarray, Array]:
    """The tree of melting: the lowest wall falls first; small parts melt sooner."""
    area = np.bincount(label.ravel(), minlength=count).astype(float).tolist()
    around: list[dict[int, tuple[float, float]]] = [{} for _ in range(count)]
    heap = []

    def rank(a: int, b: int, height: float) -> float:
        return float(height * min(1.0, 0.3 + min(area[a], area[b]) / SMALL_PX))

    for a, b, w, n in zip(
        first.tolist(), second.tolist(), wall.tolist(), length.tolist(), strict=True
    ):
        around[a][b] = around[b][a] = (w * n, n)
        heap.append((rank(a, b, w), a, b))
    heapq.heapify(heap)
    parent, height = list(range(count)), [0.0] * count
    highest = 0.0
    while heap:
        level, a, b = heapq.heappop(heap)
        if parent[a] != a or parent[b] != b:
            continue
        new = len(parent)
        highest = max(highest, level)
        parent[a] = parent[b] = new
        parent.append(new)
        height.append(highest)
        area.append(area[a] + area[b])
        if len(around[a]) < len(around[b]):
            a, b = b, a
        merged = around[a]
        merged.pop(b, None)
        for other, (total, n) in around[b].items():
            if other != a:
                before = merged.get(other, (0.0, 0.0))
                merged[other] = (before[0] + total, before[1] + n)
        around.append(merged)
        around[a] = around[b] = {}
        for other, (total, n) in merged.items():
            mine = around[other]
            mine.pop(a, None)
            mine.pop(b, None)
            mine[new] = (total, n)
            heapq.heappush(heap, (rank(new, other, total / n), other, new))
    return np.array(parent), np.array(height)
