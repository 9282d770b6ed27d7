"""Which frames show the same things: features matched, and the turn that most of them agree on.

Everything here is about pairs of frames and one focal length; rotations turn row vectors, so
``rays_b = rays_a @ turn``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.sweep.rays import bearings, nearest_rotation

Ints = NDArray[np.int64]

RATIO = 0.85
"""Best distance over second best above which a match is no match."""

AGREES = 0.006
"""Matches this near to a turn agree with it. [rad]"""

LEAST_MATCHES = 8
LEAST_AGREEING, AGREEING_SHARE = 8.0, 0.2
"""A pair holds if more matches agree than 8 and a fifth of all in the overlap (after Brown and
Lowe, Automatic Panoramic Image Stitching, 2007, who take 8 and 0.3; lower for near things)."""

_TRIALS = 260


@dataclass(frozen=True)
class Pair:
    """Two frames and the features that they share."""

    first: int
    second: int
    xy_first: Array
    """(M, 2): from the first frame's middle. [px]"""
    xy_second: Array
    """(M, 2)."""
    turn: Array
    """Rows of the first camera's axes in the second's: rays_second = rays_first @ turn."""
    agreeing: NDArray[np.bool_]
    """(M,): which matches agree with it."""

    @property
    def count(self) -> int:
        """How many matches agree."""
        return int(self.agreeing.sum())


def shared_features(a: NDArray[np.float32], b: NDArray[np.float32]) -> Ints:
    """Indices (M, 2) of descriptors that are each other's nearest and clearly so."""
    if min(len(a), len(b)) < 2:
        return np.zeros((0, 2), np.int64)
    like = a @ b.T
    best = like.argmax(axis=1)
    rows = np.arange(len(a))
    top = like[rows, best]
    back = like.argmax(axis=0)
    like[rows, best] = -1.0
    second = like.max(axis=1)
    # Unit vectors: squared distance = 2 - 2 cos.
    clear = (1.0 - top) < RATIO**2 * (1.0 - second)
    kept = np.flatnonzero(clear & (back[best] == rows))
    return np.stack([kept, best[kept]], axis=1)


def agreed_turn(
    rays_a: Array, rays_b: Array, rng: np.random.Generator, trials: int = _TRIALS
) -> tuple[Array, NDArray[np.bool_], float]:
    """The turn that most matches agree on, which agree, and how well (higher is better).

    Two matches give a turn (from their middle and their difference); of ``trials`` such turns
    the one with the least truncated squared error is polished on what agrees with it.
    """
    count = len(rays_a)
    pick = rng.integers(0, count, (trials, 2))
    a, b = rays_a[pick], rays_b[pick]
    span_a = np.sum(a[:, 0] * a[:, 1], axis=1)
    span_b = np.sum(b[:, 0] * b[:, 1], axis=1)
    apart_a, apart_b = np.arccos(np.clip(span_a, -1, 1)), np.arccos(np.clip(span_b, -1, 1))
    good = (apart_a > 0.02) & (np.abs(apart_a - apart_b) < 2.0 * AGREES)
    if not good.any():
        return np.eye(3), np.zeros(count, bool), 0.0
    turns = np.swapaxes(_triad(a[good]), 1, 2) @ _triad(b[good])
    score = _scores(rays_a, rays_b, turns)
    turn = turns[int(score.argmax())]
    for _ in range(3):
        agree = _misfit2(rays_a, rays_b, turn[None])[0] < AGREES**2
        turn = nearest_rotation(rays_a[agree].T @ rays_b[agree])
    misfit2 = _misfit2(rays_a, rays_b, turn[None])[0]
    return turn, misfit2 < AGREES**2, float(np.sum(np.maximum(1.0 - misfit2 / AGREES**2, 0.0)))


def _triad(pair: Array) -> Array:
    """Three axes (K, 3, 3) from two rays (K, 2, 3): their middle, their difference, the normal."""
    middle = pair[:, 0] + pair[:, 1]
    apart = pair[:, 0] - pair[:, 1]
    middle /= np.sqrt(np.sum(middle * middle, axis=1, keepdims=True))
    apart /= np.maximum(np.sqrt(np.sum(apart * apart, axis=1, keepdims=True)), 1e-12)
    return np.stack([middle, apart, np.cross(middle, apart)], axis=1)


def _misfit2(rays_a: Array, rays_b: Array, turns: Array) -> Array:
    """Squared angles between rays of b and turned rays of a, (K, M); small angles."""
    pairs = (rays_a[:, :, None] * rays_b[:, None, :]).reshape(-1, 9)
    return np.asarray(2.0 - 2.0 * turns.reshape(-1, 9) @ pairs.T)


def _scores(rays_a: Array, rays_b: Array, turns: Array) -> Array:
    return np.asarray(
        np.sum(np.maximum(1.0 - _misfit2(rays_a, rays_b, turns) / AGREES**2, 0.0), axis=1)
    )


def best_focal(
    candidates: Array, matched: Sequence[tuple[Array, Array, Array, Array]]
) -> tuple[float, Array]:
    """The focal factor under which most matches agree, and every candidate's score.

    ``matched``: for some pairs the pixels of both frames from the middle (M, 2) and the focal
    lengths that a factor of one stands for (M,), each for first and second frame.
    """
    score = np.zeros(len(candidates))
    for index, factor in enumerate(candidates):
        rng = np.random.default_rng(7)
        for xy_a, xy_b, focal_a, focal_b in matched:
            none = np.zeros(len(xy_a))
            rays_a = bearings(xy_a, factor * focal_a, none)[0]
            rays_b = bearings(xy_b, factor * focal_b, none)[0]
            score[index] += agreed_turn(rays_a, rays_b, rng, 120)[2]
    return float(candidates[int(score.argmax())]), score


def holds(agreeing: int, in_overlap: int) -> bool:
    """Whether a pair of frames is believed to show the same things."""
    return agreeing > LEAST_AGREEING + AGREEING_SHARE * in_overlap
