"""All frames turned together: rotations, focal lengths and distortion from shared points.

Rotation-only bundle adjustment: Gauss-Newton with analytic slopes on the difference of the two
rays of every shared point, reweighted for outliers (Cauchy), with priors on focal length and
distortion. What is left over tells how much the points lie.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.sweep.rays import bearings, nearest_rotation, turned

Ints = NDArray[np.int64]

K1_SIGMA = 0.012
"""One sigma of the distortion that a telephone leaves in its pictures: our own choice."""

MOST_K1 = 0.15

POINT_SIGMA_PX = 0.15
"""A followed point is never trusted more than this, in pixels of the grey copies: our own
choice."""

SHARED_POINTS = 25.0
"""So many points of one pair count as independent; more of them share their errors (nearness,
the lens, what moved): our own choice, held against the truth in shared/sweep_study.csv."""

HONEST_SPREAD = 0.4
"""The covariance takes points to be no better than this share of their sigma."""

FARTHEST_FOCAL = 4.0
"""Sigmas of its prior that a focal length may go."""

LEAST_SPREAD = 0.15
"""The unit of the residuals never falls below this."""

_STEPS, _LEAST_STEP = 30, 1e-7
_DAMPING = 1e-9


@dataclass(frozen=True)
class Points:
    """Points seen in two frames. Arrays of one length M."""

    first: Ints
    second: Ints
    xy_first: Array
    """(M, 2): from the first frame's middle. [px]"""
    xy_second: Array
    sigma_px: Array
    """(M,): one sigma of a coordinate in either frame. [px]"""

    def __len__(self) -> int:
        return int(self.first.size)

    def of(self, kept: NDArray[np.bool_] | Ints) -> Points:
        """Some of the points."""
        return Points(
            self.first[kept],
            self.second[kept],
            self.xy_first[kept],
            self.xy_second[kept],
            self.sigma_px[kept],
        )


@dataclass(frozen=True)
class Cameras:
    """How all frames were held. Frames of one group share their lens."""

    axes: Array
    """(N, 3, 3): rows right, down, ahead of each frame."""
    group: Ints
    """(N,): number of each frame's lens."""
    focal: Array
    """(G,): focal length of each lens. [px]"""
    k1: Array
    """(G,): its radial distortion. [unitless]"""

    def rays(self, frame: Ints, xy: Array) -> Array:
        """Unit rays (M, 3) of pixels from the middle of frames."""
        own = self.group[frame]
        unit = bearings(xy, self.focal[own], self.k1[own])[0]
        return np.asarray(np.einsum("mi,mij->mj", unit, self.axes[frame]))


@dataclass(frozen=True)
class LensPrior:
    """What is believed of each lens. (G,) each."""

    focal: Array
    sigma: Array
    """Of the logarithm of the focal length."""


@dataclass(frozen=True)
class Adjusted:
    """Cameras after the adjustment."""

    cameras: Cameras
    residual: Array
    """(M, 3): difference of the rays. [rad]"""
    trust: Array
    """(M,): weight that each point kept, 0 to 1."""
    spread: float
    """Robust sigma of the residuals over what was expected."""
    covariance: Array
    """Of the frames' turns, (3 N, 3 N), then log focal and k1 of each lens; the first frame is
    held. [rad]"""


def adjust(
    points: Points,
    start: Cameras,
    prior: LensPrior,
    scale: float = 2.0,
    steps: int = _STEPS,
    k1_sigma: float = K1_SIGMA,
) -> Adjusted:
    """The most probable cameras. ``scale``: residuals beyond it (in sigmas) count for less.

    The first frame keeps its axes. The covariance counts what points of one pair share.
    """
    cameras, count = start, len(start.axes)
    lenses = len(start.focal)
    keep = np.concatenate([np.arange(3, 3 * count), 3 * count + np.arange(2 * lenses)])
    before = np.inf
    for _ in range(steps):
        residual, sigma, slope = linear(points, cameras)
        size = np.sqrt(np.sum(residual * residual, axis=1)) / sigma
        trust = trust_of(size, scale, max(spread_of(size), LEAST_SPREAD))
        normal, pull = _normal(points, residual, slope, trust / sigma**2, cameras, prior, k1_sigma)
        step = np.zeros(normal.shape[0])
        part = normal[np.ix_(keep, keep)]
        part[np.diag_indices_from(part)] *= 1.0 + _DAMPING
        step[keep] = -np.linalg.solve(part, pull[keep])
        cameras = moved(cameras, step, prior)
        largest = float(np.abs(step).max())
        if largest < _LEAST_STEP or (largest < 1e-5 and largest > 0.7 * before):
            break
        before = largest
    residual, sigma, slope = linear(points, cameras)
    size = np.sqrt(np.sum(residual * residual, axis=1)) / sigma
    spread = spread_of(size)
    trust = trust_of(size, scale, max(spread, LEAST_SPREAD))
    shared = independent(points, trust)
    weight = trust * shared / (sigma * max(spread, HONEST_SPREAD)) ** 2
    normal, _ = _normal(points, residual, slope, weight, cameras, prior, k1_sigma)
    covariance = np.zeros_like(normal)
    covariance[np.ix_(keep, keep)] = np.linalg.inv(normal[np.ix_(keep, keep)])
    return Adjusted(cameras, residual, trust, spread, covariance)


def spread_of(size: Array) -> float:
    """Robust sigma of residuals of two dimensions: the median of their length is 1.177 sigma."""
    return float(np.median(size)) / 1.177 if size.size else 0.0


def trust_of(size: Array, scale: float, unit: float) -> Array:
    """Weights of points whose residual is ``size`` expected sigmas long (Cauchy)."""
    return np.asarray(1.0 / (1.0 + (size / (scale * unit)) ** 2))


def independent(points: Points, trust: Array) -> Array:
    """Share of each point's weight that is its own."""
    pair = points.first * (int(points.second.max(initial=0)) + 1) + points.second
    _, number = np.unique(pair, return_inverse=True)
    whole = np.bincount(number, trust)
    return np.minimum(1.0, SHARED_POINTS / np.maximum(whole, 1e-9))[number]


def linear(points: Points, cameras: Cameras) -> tuple[Array, Array, tuple[Array, ...]]:
    """Residuals (M, 3), their sigma (M,) and the pieces of their slopes."""
    sides = []
    for frame, xy in ((points.first, points.xy_first), (points.second, points.xy_second)):
        own = cameras.group[frame]
        unit, by_focal, by_k1 = bearings(xy, cameras.focal[own], cameras.k1[own])
        axes = cameras.axes[frame]
        sides.append([np.einsum("mi,mij->mj", v, axes) for v in (unit, by_focal, by_k1)])
        # One pixel is less of an angle off the axis: cos along the ring, cos^2 along the radius.
        angle = unit[:, 2] ** 1.5 / cameras.focal[own]
        sides[-1].append(angle)
    (ray_a, focal_a, k1_a, angle_a), (ray_b, focal_b, k1_b, angle_b) = sides
    sigma = points.sigma_px * np.hypot(angle_a, angle_b)
    return ray_a - ray_b, sigma, (ray_a, ray_b, focal_a, focal_b, k1_a, k1_b)


def _cross_matrix(v: Array) -> Array:
    """(M, 3, 3): slopes of a ray by the rotation vector that turns it, d(w x v)/dw."""
    x, y, z = v.T
    o = np.zeros_like(x)
    return np.stack([o, z, -y, -z, o, x, y, -x, o], axis=1).reshape(-1, 3, 3)


def _normal(
    points: Points,
    residual: Array,
    slope: tuple[Array, ...],
    weight: Array,
    cameras: Cameras,
    prior: LensPrior,
    k1_sigma: float,
) -> tuple[Array, Array]:
    """Normal matrix and gradient over all turns, then log focal and k1 of every lens."""
    column, blocks = columns_and_slopes(points, cameras, slope)
    size = 3 * len(cameras.axes) + 2 * len(cameras.focal)
    weighted = blocks * weight[:, None, None]
    normal, pull = gathered(column, blocks, weighted, residual, size)
    add_lens_prior(normal, pull, cameras, prior, k1_sigma)
    return normal, pull


def columns_and_slopes(
    points: Points, cameras: Cameras, slope: tuple[Array, ...]
) -> tuple[Ints, Array]:
    """Which unknowns each point's residual hangs on, (M, 10), and how, (M, 3, 10)."""
    last, lenses = 3 * len(cameras.axes), len(cameras.focal)
    ray_a, ray_b, focal_a, focal_b, k1_a, k1_b = slope
    blocks = np.zeros((len(points), 3, 10))
    blocks[:, :, 0:3] = _cross_matrix(ray_a)
    blocks[:, :, 3:6] = -_cross_matrix(ray_b)
    blocks[:, :, 6], blocks[:, :, 7] = focal_a, -focal_b
    blocks[:, :, 8], blocks[:, :, 9] = k1_a, -k1_b
    group_a, group_b = cameras.group[points.first], cameras.group[points.second]
    column = np.concatenate(
        [
            3 * points.first[:, None] + np.arange(3),
            3 * points.second[:, None] + np.arange(3),
            np.stack([last + group_a, last + group_b], axis=1),
            np.stack([last + lenses + group_a, last + lenses + group_b], axis=1),
        ],
        axis=1,
    )
    return column, blocks


def gathered(
    column: Ints, blocks: Array, weighted: Array, residual: Array, size: int
) -> tuple[Array, Array]:
    """Normal matrix (size, size) and gradient (size,) of all points' slopes and residuals."""
    square = np.swapaxes(weighted, 1, 2) @ blocks
    place = column[:, :, None] * size + column[:, None, :]
    normal = np.bincount(place.ravel(), square.ravel(), size * size).reshape(size, size)
    gradient = np.einsum("mki,mk->mi", weighted, residual)
    pull = np.bincount(column.ravel(), gradient.ravel(), size)
    return np.asarray(normal, float), np.asarray(pull, float)


def add_lens_prior(
    normal: Array, pull: Array, cameras: Cameras, prior: LensPrior, k1_sigma: float
) -> None:
    """What is believed of the lenses, into a normal matrix and its gradient."""
    last, lenses = 3 * len(cameras.axes), len(cameras.focal)
    focal, k1 = last + np.arange(lenses), last + lenses + np.arange(lenses)
    normal[focal, focal] += 1.0 / prior.sigma**2
    pull[focal] += np.log(cameras.focal / prior.focal) / prior.sigma**2
    normal[k1, k1] += 1.0 / k1_sigma**2
    pull[k1] += cameras.k1 / k1_sigma**2


def moved(cameras: Cameras, step: Array, prior: LensPrior) -> Cameras:
    """Cameras after a step of all turns, log focals and k1s, within what the prior allows."""
    count, lenses = len(cameras.axes), len(cameras.focal)
    turn = turned(step[: 3 * count].reshape(-1, 3))
    axes = np.stack([nearest_rotation(a @ t) for a, t in zip(cameras.axes, turn, strict=True)])
    focal = cameras.focal * np.exp(np.clip(step[3 * count : 3 * count + lenses], -0.2, 0.2))
    reach = np.exp(FARTHEST_FOCAL * prior.sigma)
    focal = np.clip(focal, prior.focal / reach, prior.focal * reach)
    k1 = np.clip(cameras.k1 + step[3 * count + lenses :], -MOST_K1, MOST_K1)
    return replace(cameras, axes=axes, focal=focal, k1=k1)
