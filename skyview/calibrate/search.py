"""The most probable guess of a problem, robustly: wrong marks lose their say.

Each block of residuals is right with its Gaussian covariance or plain wrong: its cost is
-log(exp(-m^2/2) + exp(-T^2/2)) with m its Mahalanobis length, which leaves good marks their
full weight and bounds what a wrong one may pull. A compass is doubted the same way, and sooner.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from skyview.angles import Array
from skyview.calibrate.problem import Linear, Problem

COMPASS_LIMIT2 = 12.0
"""Square of the departure in sigmas at which a compass is as likely wrong as right."""

MOST_SUBSETS = 48
"""How many small sets of marks a search may start from."""

LEAST_MODE = 0.01
"""An answer less probable than this share of the best is forgotten."""

FARTHEST_STEP = 10.0
"""No unknown moves by more prior sigmas than this in one step."""

LEAST_SAY = 1e-4
"""A compass that is plainly wrong keeps this share of its weight, so that a yaw exists."""

_STEPS = 40
_SETTLED = 1e-12


@dataclass(frozen=True)
class Fit:
    """A minimum: the guess, its cost, the system there and each block's share of trust."""

    x: Array
    cost: float
    at: Linear
    whitener: Array
    trust: Array
    """Weight 0 to 1 of each block."""
    normal: Array
    """Normal matrix: the inverse covariance of all unknowns."""


def limits2(problem: Problem) -> Array:
    """T^2 of each block: 16 for one residual, 4 more for each further one. Our own choice."""
    rows = np.bincount(problem.block, minlength=problem.blocks).astype(float)
    return 12.0 + 4.0 * rows


def whitener_of(covariance: Array) -> Array:
    """Matrix that makes residuals of this covariance independent with unit sigma."""
    if not covariance.size:
        return covariance
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)), float)


def descend(problem: Problem, start: Array, trust: Array | None, steps: int = _STEPS) -> Fit:
    """Levenberg-Marquardt from a start; fixed trust of each block, or None: by the residuals."""
    limit2 = limits2(problem)
    yaws = [
        part.start
        for part, picture in zip(problem.parts, problem.pictures, strict=True)
        if picture.prior.yaw is not None
    ]
    far = FARTHEST_STEP * problem.sigma
    x, damping = start.copy(), 0.0
    at = problem.linear(x)
    whitener = whitener_of(at.covariance)
    for _ in range(steps):
        cost, weight, say = _cost(problem, x, at.residual, whitener, limit2, yaws, trust)
        z, slope = whitener @ at.residual, whitener @ at.slope
        row = weight[problem.block]
        normal = (slope.T * row) @ slope + np.diag(say)
        pull = slope.T @ (row * z) + say * (x - problem.mean)
        damped = normal + damping * np.diag(np.diag(normal))
        step = -np.linalg.solve(damped, pull)
        step /= max(1.0, float(np.max(np.abs(step) / far)))
        new = problem.linear(x + step)
        new_cost, _, _ = _cost(problem, x + step, new.residual, whitener, limit2, yaws, trust)
        gain = float(step @ normal @ step)
        if new_cost <= cost + 1e-9 * (1.0 + abs(cost)):
            x, at, damping = x + step, new, damping / 10.0 if damping > 1e-6 else 0.0
            whitener = whitener_of(at.covariance)
            if gain < _SETTLED * (1.0 + abs(cost)):
                break
        else:
            damping = max(10.0 * damping, 1e-3)
            if damping > 1e8:
                break
    cost, weight, say = _cost(problem, x, at.residual, whitener, limit2, yaws, None)
    slope = whitener @ at.slope
    normal = (slope.T * weight[problem.block]) @ slope + np.diag(say)
    return Fit(x, cost, at, whitener, weight, normal)


def _cost(
    problem: Problem,
    x: Array,
    residual: Array,
    whitener: Array,
    limit2: Array,
    yaws: list[int],
    trust: Array | None,
) -> tuple[float, Array, Array]:
    """Cost, weight of each block and weight of each prior."""
    z = whitener @ residual
    length2 = np.asarray(np.bincount(problem.block, z * z, minlength=problem.blocks), float)
    away2 = ((x - problem.mean) / problem.sigma) ** 2
    say = 1.0 / problem.sigma**2
    doubted = np.zeros(x.size, bool)
    doubted[yaws] = True
    cost = 0.5 * float(away2[~doubted].sum())
    cost += float(_bounded(away2[doubted], COMPASS_LIMIT2).sum())
    say = np.where(doubted, say * np.maximum(_share(away2, COMPASS_LIMIT2), LEAST_SAY), say)
    if trust is not None:
        return cost + 0.5 * float(trust @ length2), trust, say
    return cost + float(_bounded(length2, limit2).sum()), _share(length2, limit2), say


def _bounded(length2: Array, limit2: Array | float) -> Array:
    none = np.logaddexp(0.0, -0.5 * np.asarray(limit2))
    return none - np.logaddexp(-0.5 * length2, -0.5 * np.asarray(limit2))


def _share(length2: Array, limit2: Array | float) -> Array:
    none = 1.0 + np.exp(-0.5 * np.asarray(limit2))
    return none / (1.0 + np.exp(np.minimum(0.5 * (length2 - limit2), 500.0)))


def search(problem: Problem) -> list[Fit]:
    """The minima found, best first; one alone where the marks agree with all that is known."""
    start = _first(problem)
    plain = descend(problem, start, np.ones(problem.blocks))
    found = descend(problem, plain.x, None)
    if _agrees(problem, found):
        return [found]
    fits = [found, descend(problem, start, None)]
    seen = [start, plain.x]
    for trust in _subsets(problem):
        small = descend(problem, start, trust, 8)
        if all(_apart2(problem, small, x) > 0.01 for x in seen):
            fits.append(descend(problem, small.x, None, 20))
            seen.append(small.x)
    return _distinct(problem, fits)


def lowest_cost(problem: Problem) -> float:
    """Cost of the better of two descents, without a search: an upper bound, quickly."""
    start = _first(problem)
    plain = descend(problem, start, np.ones(problem.blocks))
    return min(descend(problem, x, None).cost for x in (plain.x, start))


def search_together(problem: Problem, alone: list[list[Fit]]) -> Fit:
    """The best minimum of several pictures, from what was found for each alone."""
    x = problem.mean.copy()
    for part, fits in zip(problem.parts, alone, strict=True):
        x[part] = fits[0].x[: part.stop - part.start]
    fits = [descend(problem, x, None)]
    plain = descend(problem, x, np.ones(problem.blocks))
    fits.append(descend(problem, plain.x, None))
    return min(fits, key=lambda fit: fit.cost)


def _agrees(problem: Problem, fit: Fit) -> bool:
    away2 = ((fit.x - problem.mean) / problem.sigma)[: problem.pose_size] ** 2
    return bool(np.all(fit.trust > 0.9) and np.all(away2 < 12.0))


def _subsets(problem: Problem) -> list[Array]:
    """One block trusted alone, then pairs: a right answer hangs on few marks."""
    sets = [*((b,) for b in range(problem.blocks)), *combinations(range(problem.blocks), 2)]
    if problem.blocks < 2:
        sets = []
    if len(sets) > MOST_SUBSETS:
        sets = [sets[i] for i in np.linspace(0, len(sets) - 1, MOST_SUBSETS).astype(int)]
    trusts = np.zeros((len(sets), problem.blocks))
    for trust, members in zip(trusts, sets, strict=True):
        trust[list(members)] = 1.0
    return list(trusts)


def _first(problem: Problem) -> Array:
    """The prior, each picture turned to where most of its marks want it."""
    x = problem.mean.copy()
    turns, picture = problem.camera_yaw_turns(x).T
    for index, part in enumerate(problem.parts):
        own = turns[picture == index]
        own = own[np.isfinite(own)]
        if own.size:
            apart = np.abs(np.angle(np.exp(1j * (own[:, None] - own[None, :])))).sum(axis=1)
            x[part.start] += own[np.argmin(apart)]
            if problem.pictures[index].prior.yaw is None:
                problem.mean[part.start] = x[part.start]
    return x


def _distinct(problem: Problem, fits: list[Fit]) -> list[Fit]:
    """Best first, without repetitions and without what is far less probable."""
    kept: list[Fit] = []
    for fit in sorted(fits, key=lambda f: f.cost):
        away = [_apart2(problem, other, fit.x) for other in kept]
        if all(a > 1.0 for a in away):
            kept.append(fit)
    return kept


def _apart2(problem: Problem, fit: Fit, x: Array) -> float:
    """Squared distance of a guess from a fit, in sigmas of the fit."""
    step = steps_apart(problem, x, fit.x)
    return float(step @ fit.normal @ step)


def steps_apart(problem: Problem, x: Array, origin: Array) -> Array:
    """Difference of two guesses, yaws wrapped."""
    step = x - origin
    yaws = [part.start for part in problem.parts]
    step[yaws] = np.remainder(step[yaws] + np.pi, 2.0 * np.pi) - np.pi
    return step


def covariance_of(problem: Problem, fits: list[Fit]) -> tuple[Array, float]:
    """Covariance of all unknowns about the best minimum, and the other minima's probability."""
    best = fits[0]
    covariances = [np.linalg.inv(fit.normal) for fit in fits]
    size = [0.5 * np.linalg.slogdet(c)[1] - f.cost for c, f in zip(covariances, fits, strict=True)]
    share = np.exp(np.array(size) - max(size))
    share /= share.sum()
    share[share < LEAST_MODE] = 0.0
    share[0] = max(share[0], LEAST_MODE)
    share /= share.sum()
    total = np.zeros_like(covariances[0])
    for part, covariance, fit in zip(share, covariances, fits, strict=True):
        step = steps_apart(problem, fit.x, best.x)
        total += part * (covariance + np.outer(step, step))
    return total, float(1.0 - share[0])
