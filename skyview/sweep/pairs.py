"""Pairs of frames that show the same things, and the largest set that hangs together by them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.sweep.adjust import LensPrior
from skyview.sweep.matching import (
    LEAST_MATCHES,
    Pair,
    agreed_turn,
    best_focal,
    holds,
    shared_features,
)
from skyview.sweep.rays import bearings
from skyview.sweep.scout import Scout

Ints = NDArray[np.int64]
Matched = dict[tuple[int, int], Array]

UNTOLD_FOCAL_35MM = (17.0, 80.0)
"""Focal lengths tried where no frame tells its own: wide phone lenses to a portrait lens."""

CONTRADICTS = np.radians(2.5)
"""A pair that differs by more from what all pairs together say is taken for a mistake."""

_FOCAL_PAIRS = 5


def matches_of(scouts: Sequence[Scout]) -> Matched:
    """Pixels from the middle in both frames, (2, M, 2), of every pair that shares features."""
    found = {}
    for i in range(len(scouts)):
        for j in range(i + 1, len(scouts)):
            same = shared_features(scouts[i].descriptors, scouts[j].descriptors)
            if len(same) >= LEAST_MATCHES:
                found[i, j] = same
    return {
        (i, j): np.stack([scouts[i].points[m[:, 0]], scouts[j].points[m[:, 1]]])
        for (i, j), m in found.items()
    }


def first_focal(prior: LensPrior, told: bool, group: Ints, matched: Matched) -> float:
    """A factor on all focal lengths, from the pairs with most matches."""
    if told:
        sigma = float(prior.sigma.max())
        candidates = np.exp(np.arange(-2.0, 2.01, 0.5) * sigma)
    else:
        low, high = UNTOLD_FOCAL_35MM
        candidates = np.geomspace(low / 26.0, high / 26.0, 18)
    best = sorted(matched, key=lambda pair: -matched[pair].shape[1])[:_FOCAL_PAIRS]
    sides = [
        (
            *matched[i, j],
            np.full(matched[i, j].shape[1], prior.focal[group[i]]),
            np.full(matched[i, j].shape[1], prior.focal[group[j]]),
        )
        for i, j in best
    ]
    if not sides:
        return 1.0
    factor, _ = best_focal(candidates, sides)
    if not told:
        factor, _ = best_focal(factor * np.array([0.95, 0.975, 1.0, 1.025, 1.05]), sides)
    return factor


def pairs_of(scouts: Sequence[Scout], group: Ints, focal: Array, matched: Matched) -> list[Pair]:
    """Pairs whose matches agree on one turn."""
    pairs = []
    for (i, j), (xy_i, xy_j) in matched.items():
        rng = np.random.default_rng(1000 * i + j)
        none = np.zeros(len(xy_i))
        rays = [
            bearings(xy, np.full(len(xy), focal[group[f]]), none)[0]
            for f, xy in ((i, xy_i), (j, xy_j))
        ]
        turn, agree, _ = agreed_turn(rays[0], rays[1], rng)
        seen = _in_picture(rays[0] @ turn, focal[group[j]], scouts[j].size_px)
        seen &= _in_picture(rays[1] @ turn.T, focal[group[i]], scouts[i].size_px)
        if holds(int(agree.sum()), int((seen | agree).sum())):
            pairs.append(Pair(i, j, xy_i, xy_j, turn, agree))
    return pairs


def _in_picture(rays: Array, focal: float, size_px: tuple[int, int]) -> NDArray[np.bool_]:
    ahead = rays[:, 2] > 0.05
    place = np.abs(rays[:, :2] / np.maximum(rays[:, 2:], 0.05) * focal)
    return np.asarray(ahead & np.all(place < np.array(size_px) / 2.0, axis=1))


def consistent(pairs: list[Pair], count: int) -> list[Pair]:
    """Pairs without those that contradict the stronger ones around a loop."""
    order = sorted(pairs, key=lambda p: -p.count)
    axes = np.tile(np.eye(3), (count, 1, 1))
    part = np.arange(count)
    kept: list[Pair] = []
    for pair in order:
        a, b = pair.first, pair.second
        if part[a] != part[b]:
            # Bring b's part to where this pair wants it.
            want = pair.turn.T @ axes[a]
            move = axes[b].T @ want
            own = part == part[b]
            axes[own] = axes[own] @ move
            part[own] = part[a]
            kept.append(pair)
            continue
        off = axes[b] @ axes[a].T @ pair.turn
        angle = np.arccos(np.clip((np.trace(off) - 1.0) / 2.0, -1.0, 1.0))
        # Errors of the first focal length and of near things add up along a loop.
        if angle < CONTRADICTS * max(3.0, 0.6 * count):
            kept.append(pair)
    return kept


def largest(pairs: list[Pair], count: int) -> tuple[int, ...]:
    """The frames of the largest set that pairs hold together."""
    part = np.arange(count)
    for pair in pairs:
        part[part == part[pair.second]] = part[pair.first]
    sizes = np.bincount(part, minlength=count)
    return tuple(int(n) for n in np.flatnonzero(part == sizes.argmax()))


def chained(pairs: list[Pair], count: int) -> Array:
    """Axes of all frames along the strongest pairs, from the frame with most of them."""
    axes = np.tile(np.eye(3), (count, 1, 1))
    strength = np.zeros(count)
    for pair in pairs:
        strength[[pair.first, pair.second]] += pair.count
    done = {int(strength.argmax())}
    order = sorted(pairs, key=lambda p: -p.count)
    while len(done) < count:
        pair = next(p for p in order if (p.first in done) != (p.second in done))
        a, b = pair.first, pair.second
        if a in done:
            axes[b] = pair.turn.T @ axes[a]
        else:
            axes[a] = pair.turn @ axes[b]
        done |= {a, b}
    return axes
