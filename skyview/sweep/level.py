"""Which way is up: from upright edges in the frames, how the frames were held, what the phone felt.

Walls, poles and corners are upright; the plane through the camera and such an edge contains the
upright direction whatever the edge's distance. Over a sweep these planes look from all sides, so
that trees, gables and leaning things scatter while upright edges agree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.sweep.adjust import Cameras
from skyview.sweep.scout import Scout

HELD_SIGMA = np.radians(3.0)
"""One sigma of the roll of a frame held level by hand: common practice, no source."""

LEAST_EDGE_SHARE = 0.02
"""Shortest edge, as a share of the grey copy's longer side."""

WIDEST_LEAN = np.radians(14.0)
"""Edges that lean more than this against the first guess are not looked at."""

END_SIGMA_PX = 0.25
"""One sigma of an edge's end, square to it, in the grey copy: our own choice."""

LEAST_SLOPE = 8.0
"""Grey levels a pixel below which there is no edge."""

STEEPEST = 0.4
"""Slope along over slope across beyond which an edge is not near the upright."""

CROOKED_PX = 0.6
"""Edges that stray more from their line (root mean square) are not straight."""

EDGE_SIGMA = np.radians(0.25)
"""One sigma of how upright an upright edge is: our own choice."""

SHARED_EDGES = 40.0
"""So many edges at most count as independent: our own choice (shared/sweep_study.csv)."""

_NARROWING = np.radians([4.0, 2.0, 1.2, 0.8, 0.6])
_STARTS = np.radians(np.arange(-5.0, 5.1, 1.0))
_LEAST_EDGES = 8.0


@dataclass(frozen=True)
class Upright:
    """The upright direction in the world's axes of the frames."""

    up: Array
    """(3,) unit."""
    covariance: Array
    """(3, 3) of ``up``, square to it. [rad^2]"""
    edges: float
    """Weight of the edges that agree; 0 where the answer rests on how the frames were held."""

    @property
    def sigma(self) -> float:
        """One sigma of the lean, in its worse direction. [rad]"""
        return float(np.sqrt(max(np.linalg.eigvalsh(self.covariance)[-1], 0.0)))


def edge_planes(scouts: Sequence[Scout], cameras: Cameras, up: Array) -> tuple[Array, Array, Array]:
    """Normals (E, 3) of the planes through straight edges, their sigma (E,) and weight (E,)."""
    normals, sigmas, weights = [], [], []
    quarter = np.abs(cameras.axes[:, 0] @ up) > np.abs(cameras.axes[:, 1] @ up)
    for index, scout in enumerate(scouts):
        ends = _edges(scout, not quarter[index])
        if not len(ends):
            continue
        offset = scout.offsets(ends.reshape(-1, 2))
        ray = cameras.rays(np.full(len(offset), index), offset).reshape(-1, 2, 3)
        normal = np.cross(ray[:, 0], ray[:, 1])
        size = np.sqrt(np.sum(normal * normal, axis=1))
        length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
        normals.append(normal / size[:, None])
        sigmas.append(np.hypot(EDGE_SIGMA, END_SIGMA_PX * np.sqrt(2.0) / length))
        weights.append(np.minimum(length / max(scout.grey.shape), 0.25) ** 0.5)
    if not normals:
        return np.zeros((0, 3)), np.zeros(0), np.zeros(0)
    return np.concatenate(normals), np.concatenate(sigmas), np.concatenate(weights)


def _edges(scout: Scout, upright_rows: bool) -> Array:
    """Straight edges near the picture's upright: both ends (E, 2, 2), in pixels of the grey copy.

    Ridges of the slope across, followed from row to row and fitted by a line each.
    """
    grey = scout.grey if upright_rows else np.ascontiguousarray(scout.grey.T)
    smooth = cv2.GaussianBlur(grey, (0, 0), 0.9)
    across = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)
    along = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)
    strength = np.abs(across)
    middle = strength[:, 1:-1]
    ridge = (middle > LEAST_SLOPE) & (np.abs(along[:, 1:-1]) < STEEPEST * middle)
    ridge &= (middle >= strength[:, :-2]) & (middle > strength[:, 2:])
    rows, columns = np.nonzero(ridge)
    columns += 1
    if not rows.size:
        return np.zeros((0, 2, 2))
    left, top, right = (strength[rows, columns + k] for k in (-1, 0, 1))
    x = np.asarray(
        columns + 0.5 + 0.5 * (left - right) / np.minimum(left - 2.0 * top + right, -1e-6), float
    )
    sign = across[rows, columns] > 0.0
    label = np.zeros(rows.size, np.int64)
    last = 0
    for side in (True, False):
        own = np.flatnonzero(sign == side)
        mask = np.zeros(grey.shape, np.uint8)
        mask[rows[own], columns[own]] = 1
        count, names = cv2.connectedComponents(mask, connectivity=8)
        label[own] = names[rows[own], columns[own]] + last
        last += count
    ends = _fitted(label, np.asarray(rows, float) + 0.5, x, LEAST_EDGE_SHARE * max(grey.shape))
    return ends if upright_rows else ends[:, :, ::-1]


def _fitted(label: NDArray[np.int64], row: Array, x: Array, least: float) -> Array:
    """Lines through chains of points, by least squares; crooked and short ones left out."""
    count = np.bincount(label)
    many = np.maximum(count, 1)
    mean_r, mean_x = np.bincount(label, row) / many, np.bincount(label, x) / many
    dr, dx = row - mean_r[label], x - mean_x[label]
    rr = np.bincount(label, dr * dr)
    slope = np.bincount(label, dr * dx) / np.maximum(rr, 1e-9)
    off = dx - slope[label] * dr
    rough = np.sqrt(np.bincount(label, off * off) / many)
    # An even spread over a length has a variance of its square over twelve.
    half = np.sqrt(3.0 * rr / many)
    good = (2.0 * half > least) & (rough < CROOKED_PX) & (count > 0.8 * 2.0 * half)
    centre = np.stack([mean_x, mean_r], axis=1)[good]
    run = np.stack([slope, np.ones_like(slope)], axis=1)[good] * half[good, None]
    return np.stack([centre - run, centre + run], axis=1)


def first_guess(cameras: Cameras) -> tuple[Array, Array]:
    """Up as the frames were held, and its covariance: level to ``HELD_SIGMA``, each by itself.

    A frame turned by a quarter has its long side upright: of the picture's two axes the one that
    lies nearer to the level counts.
    """
    mean = -cameras.axes[:, 1].sum(axis=0)
    up = mean / np.sqrt(mean @ mean)
    for _ in range(4):
        across, down = cameras.axes[:, 0], cameras.axes[:, 1]
        quarter = np.abs(across @ up) > np.abs(down @ up)
        level = np.where(quarter[:, None], down, across)
        square = level.T @ level / HELD_SIGMA**2
        # How far down the frames look is not known: 15 deg either way, all alike.
        ahead = cameras.axes[:, 2].mean(axis=0)
        square += np.outer(ahead, ahead) / np.radians(15.0) ** 2
        values, vectors = np.linalg.eigh(square)
        up = vectors[:, 0] * np.sign(vectors[:, 0] @ up)
    return up, np.asarray((vectors[:, 1:] / values[1:]) @ vectors[:, 1:].T)


def upright(
    scouts: Sequence[Scout],
    cameras: Cameras,
    felt: Array | None = None,
    felt_sigma: Array | None = None,
) -> Upright:
    """The most probable upright direction.

    ``felt`` (F, 3): up as the phone felt it in frames that tell it, in the world's axes, with
    sigmas ``felt_sigma`` (F,) [rad].
    """
    up, covariance = first_guess(cameras)
    if felt is not None and felt_sigma is not None and len(felt):
        up, covariance = _with_felt(up, covariance, felt, felt_sigma)
    normals, sigmas, weights = edge_planes(scouts, cameras, up)
    near = np.abs(normals @ up) < np.sin(WIDEST_LEAN)
    normals, sigmas, weights = normals[near], sigmas[near], weights[near]
    if weights.sum() < 1.0:
        return Upright(up, covariance, 0.0)
    best = _search(normals, sigmas, weights, up, covariance)
    return _polished(normals, sigmas, weights, best, up, covariance)


def _with_felt(up: Array, covariance: Array, felt: Array, sigma: Array) -> tuple[Array, Array]:
    east, north = _square_to(up)
    plane = np.stack([east, north], axis=1)
    inverse = np.linalg.inv(plane.T @ covariance @ plane)
    # What the phone feels is wrong in all frames alike by half of its sigma.
    weight = 1.0 / (sigma**2 * (1.0 + len(felt)) / 2.0)
    pull = (felt @ plane * weight[:, None]).sum(axis=0)
    inverse = inverse + np.eye(2) * weight.sum()
    move = plane @ np.linalg.solve(inverse, pull)
    new = up + move
    return new / np.sqrt(new @ new), plane @ np.linalg.inv(inverse) @ plane.T


def _square_to(up: Array) -> tuple[Array, Array]:
    other = np.eye(3)[int(np.argmin(np.abs(up)))]
    east = np.cross(other, up)
    east /= np.sqrt(east @ east)
    return east, np.cross(up, east)


def _search(normals: Array, sigmas: Array, weights: Array, up: Array, covariance: Array) -> Array:
    """The direction on a grid around the first guess that most edges agree with."""
    east, north = _square_to(up)
    x, y = np.meshgrid(_STARTS, _STARTS)
    trial = up + x.reshape(-1, 1) * east + y.reshape(-1, 1) * north
    trial /= np.sqrt(np.sum(trial * trial, axis=1, keepdims=True))
    lean = normals @ trial.T
    wide = np.hypot(sigmas, np.radians(0.6))[:, None]
    score = (weights[:, None] * np.exp(-0.5 * (lean / wide) ** 2)).sum(axis=0)
    plane = np.stack([east, north])
    inverse = np.linalg.inv(plane @ covariance @ plane.T)
    away = np.stack([x.ravel(), y.ravel()], axis=1)
    score -= 0.5 * np.einsum("ki,ij,kj->k", away, inverse, away)
    return np.asarray(trial[int(score.argmax())])


def _polished(
    normals: Array, sigmas: Array, weights: Array, start: Array, held: Array, covariance: Array
) -> Upright:
    up = start
    for width in np.repeat(_NARROWING, 3):
        east, north = _square_to(up)
        plane = np.stack([east, north], axis=1)
        lean = normals @ up
        size = lean / np.hypot(sigmas, 0.25 * width)
        trust = weights * np.exp(-0.5 * (lean / np.hypot(width, sigmas)) ** 2) / (1.0 + size**2)
        rows = normals @ plane
        inverse = np.linalg.inv(plane.T @ covariance @ plane)
        square = (rows * (trust / sigmas**2)[:, None]).T @ rows + inverse
        pull = (rows * (trust / sigmas**2 * lean)[:, None]).sum(axis=0)
        pull += inverse @ (plane.T @ (up - held))
        up = up - plane @ np.linalg.solve(square, pull)
        up = up / np.sqrt(up @ up)
    total = float(trust.sum())
    if total < 0.5:
        return Upright(held, covariance, 0.0)
    own = min(1.0, SHARED_EDGES / total)
    spread = np.sqrt(np.sum(trust * lean**2) / total / np.mean(sigmas**2))
    square = own / max(spread, 1.0) ** 2 * (rows * (trust / sigmas**2)[:, None]).T @ rows + inverse
    return Upright(up, plane @ np.linalg.inv(square) @ plane.T, total)
