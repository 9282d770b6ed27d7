"""Frames taken from slightly different places: turns, places and nearness of points together.

A photographer who turns on the spot carries the camera round in front of the feet, and near
things shift against far ones by the step over their distance. Here every point has a nearness
(one over its distance, never negative), every frame a place; the nearness of each point is
eliminated, so that what it shifts along the step says nothing and the rest of it all.

Places and distances have one common scale, which pictures alone do not tell; it is set by how a
telephone is usually held and told as such.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

import numpy as np

from skyview.angles import Array
from skyview.sweep.adjust import (
    HONEST_SPREAD,
    Adjusted,
    Cameras,
    Ints,
    LensPrior,
    Points,
    add_lens_prior,
    columns_and_slopes,
    gathered,
    independent,
    linear,
    moved,
    spread_of,
    trust_of,
)

REACH_M, REACH_SIGMA_M = 0.35, 0.08
"""How far in front of the feet's middle a telephone is held: common practice, no source."""

PLACE_SIGMA_M = 0.12
"""One sigma of a frame's place beside that circle, each way: common practice, no source."""

LEAST_SHIFTS = (100.0, 30.0)
"""Shifts are taken for log-uniform down to so many sigmas of a point, one pass each: our own
choice. Without it a shift of all points alike would pass for another focal length."""

SHIFTED_K1_SIGMA = 0.002
"""Distortion is held tighter here, since near things would pass for it: our own choice."""

STRETCH_SIGMA = 0.02
"""What a shift of all points leaves open of the angle between frames where the circle does not
close, as a share of it: our own choice (shared/sweep_study.csv)."""

_STEPS = 40
_DAMPING = 1e-3


@dataclass(frozen=True)
class Shifted:
    """Frames with their places."""

    adjusted: Adjusted
    places: Array
    """(N, 3) of the cameras, in the world's axes, about their middle. [m, by the usual reach]"""
    reach: float
    """Radius of the circle on which the camera went. [m, likewise]"""
    nearness: Array
    """(M,) of the points: one over their distance. [1/m, likewise]"""


def adjust_shifted(points: Points, start: Cameras, prior: LensPrior, scale: float = 2.0) -> Shifted:
    """The most probable turns, places and lenses; the first frame keeps its axes."""
    for least in LEAST_SHIFTS:
        found = _descended(points, start, prior, scale, least)
        start = found.adjusted.cameras
    return found


def _descended(
    points: Points, start: Cameras, prior: LensPrior, scale: float, least: float
) -> Shifted:
    cameras, count, lenses = start, len(start.axes), len(start.focal)
    reach, damping = REACH_M, _DAMPING
    places = reach * start.axes[:, 2]
    turn_size = 3 * count + 2 * lenses
    keep = np.arange(3, turn_size + 3 * count + 1)
    state = _State(points, cameras, places, scale, least)
    best = state.cost + _prior_cost(cameras, places, reach, prior)
    for _ in range(_STEPS):
        normal, pull = _system(state, cameras, places, reach, prior)
        part = normal[np.ix_(keep, keep)].copy()
        part[np.diag_indices_from(part)] *= 1.0 + damping
        step = np.zeros(normal.shape[0])
        step[keep] = -np.linalg.solve(part, pull[keep])
        new = moved(cameras, step[:turn_size], prior)
        new_places = places + step[turn_size:-1].reshape(-1, 3)
        new_reach = reach + float(step[-1])
        trial = _State(points, new, new_places, scale, least, state, state.unit)
        cost = trial.cost + _prior_cost(new, new_places, new_reach, prior)
        if cost < best:
            done = best - cost < 1e-5 * best
            cameras, places, reach, state, best = new, new_places, new_reach, trial, cost
            damping = max(damping / 4.0, 1e-7)
            if done and state.unit <= 1.2 * spread_of(state.size):
                break
            state = _State(points, cameras, places, scale, least, trial)
            best = state.cost + _prior_cost(cameras, places, reach, prior)
        else:
            damping *= 6.0
            if damping > 1e4:
                break
    return _result(points, state, cameras, places, reach, prior, keep)


class _State:
    """Residuals of the points at one guess, their nearness and trust."""

    def __init__(
        self,
        points: Points,
        cameras: Cameras,
        places: Array,
        scale: float,
        least: float,
        before: _State | None = None,
        unit: float = 0.0,
    ) -> None:
        self.points = points
        first, self.sigma, self.slope = linear(points, cameras)
        ray = self.slope[0]
        step = places[points.first] - places[points.second]
        self.along = step - ray * np.sum(ray * step, axis=1, keepdims=True)
        self.length2 = np.maximum(np.sum(self.along * self.along, axis=1), 1e-12)
        # The logarithm of a shift as a parabola through the shift that it had before.
        smallest = least * self.sigma
        last = np.maximum(smallest if before is None else before.shift, 0.25 * smallest)
        self.ease = self.length2 * self.sigma**2 / (last * (last + smallest))
        nearness = -np.sum(self.along * first, axis=1) / (self.length2 + self.ease)
        self.nearness = np.maximum(nearness, 0.0)
        self.free = nearness > 0.0
        self.shift: Array = self.nearness * np.sqrt(self.length2)
        self.residual = first + self.nearness[:, None] * self.along
        self.size = np.sqrt(np.sum(self.residual**2, axis=1)) / self.sigma
        self.unit = unit or max(spread_of(self.size), 0.2)
        self.trust = trust_of(self.size, scale, self.unit)
        wide = (scale * self.unit) ** 2
        self.cost = 0.5 * wide * float(np.sum(np.log1p(self.size**2 / wide)))
        self.cost += float(np.sum(self.trust * np.log1p(self.shift / smallest)))


def _prior_cost(cameras: Cameras, places: Array, reach: float, prior: LensPrior) -> float:
    off = places - reach * cameras.axes[:, 2]
    lens = np.sum((np.log(cameras.focal / prior.focal) / prior.sigma) ** 2)
    return 0.5 * float(
        np.sum(off**2) / PLACE_SIGMA_M**2 + ((reach - REACH_M) / REACH_SIGMA_M) ** 2 + lens
    )


def _system(
    state: _State, cameras: Cameras, places: Array, reach: float, prior: LensPrior
) -> tuple[Array, Array]:
    """Normal matrix and gradient over turns and lenses, then places, then the reach."""
    points, count = state.points, len(cameras.axes)
    turns = 3 * count + 2 * len(cameras.focal)
    column, blocks = columns_and_slopes(points, cameras, state.slope)
    ray = state.slope[0]
    by_place = state.nearness[:, None, None] * (np.eye(3) - ray[:, :, None] * ray[:, None, :])
    blocks = np.concatenate([blocks, by_place, -by_place], axis=2)
    places_a = turns + 3 * points.first[:, None] + np.arange(3)
    places_b = turns + 3 * points.second[:, None] + np.arange(3)
    column = np.concatenate([column, places_a, places_b], axis=1)
    # What a free nearness takes up of a change is no residual.
    hold = np.where(state.free, 1.0 / (state.length2 + state.ease), 0.0)
    along = np.einsum("mk,mki->mi", state.along, blocks)
    weight = state.trust / state.sigma**2
    left = blocks - (hold[:, None] * state.along)[:, :, None] * along[:, None, :]
    size = turns + 3 * count + 1
    normal, pull = gathered(column, blocks, left * weight[:, None, None], state.residual, size)
    # The gradient is that of the whole residual, which the free nearness has made square to it.
    gradient = np.einsum("mki,mk->mi", blocks, state.residual * weight[:, None])
    pull = np.asarray(np.bincount(column.ravel(), gradient.ravel(), size), float)
    add_lens_prior(normal, pull, cameras, prior, SHIFTED_K1_SIGMA)
    _add_place_prior(normal, pull, cameras, places, reach, turns)
    return normal, pull


def _add_place_prior(
    normal: Array, pull: Array, cameras: Cameras, places: Array, reach: float, turns: int
) -> None:
    """Places lie on a circle about the feet, roughly."""
    rows = turns + np.arange(places.size)
    ahead = cameras.axes[:, 2].ravel()
    off = places.ravel() - reach * ahead
    weight = 1.0 / PLACE_SIGMA_M**2
    normal[rows, rows] += weight
    normal[rows, -1] -= weight * ahead
    normal[-1, rows] -= weight * ahead
    normal[-1, -1] += weight * float(ahead @ ahead) + 1.0 / REACH_SIGMA_M**2
    pull[rows] += weight * off
    pull[-1] += -weight * float(off @ ahead) + (reach - REACH_M) / REACH_SIGMA_M**2


def _result(
    points: Points,
    state: _State,
    cameras: Cameras,
    places: Array,
    reach: float,
    prior: LensPrior,
    keep: Ints,
) -> Shifted:
    spread = spread_of(state.size)
    shared = independent(points, state.trust)
    honest = _weighted_by(state, state.trust * shared / max(spread, HONEST_SPREAD) ** 2)
    normal, _ = _system(honest, cameras, places, reach, prior)
    whole = np.zeros_like(normal)
    whole[np.ix_(keep, keep)] = np.linalg.inv(normal[np.ix_(keep, keep)])
    turns = 3 * len(cameras.axes) + 2 * len(cameras.focal)
    adjusted = Adjusted(cameras, state.residual, state.trust, spread, whole[:turns, :turns])
    return Shifted(adjusted, places - places.mean(axis=0), reach, state.nearness)


def _weighted_by(state: _State, trust: Array) -> _State:
    """The same state with other weights."""
    other = copy(state)
    other.trust = trust
    return other
