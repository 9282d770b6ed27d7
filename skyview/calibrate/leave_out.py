"""What the other marks say of each mark: leave-one-out residuals, to first order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincc, ndtri

from skyview.angles import Array
from skyview.calibrate.problem import Problem
from skyview.calibrate.rows import Ints
from skyview.calibrate.search import Fit


@dataclass(frozen=True)
class Left:
    """Residuals against the answer of all other marks, arrays (M,), NaN where none. [rad]"""

    azimuth: Array
    elevation: Array
    line: Array
    doubt: Array
    """How many sigmas of a normal variable that misfit is worth, the others' sigma included."""

    @staticmethod
    def nothing(count: int) -> Left:
        """No mark, or none that is used."""
        return Left(*(np.full(count, np.nan) for _ in range(4)))

    def of(self, marks: Ints) -> Left:
        """Some of the marks."""
        return Left(self.azimuth[marks], self.elevation[marks], self.line[marks], self.doubt[marks])


def left_out(problem: Problem, fit: Fit) -> Left:
    """Each sight, then each line, held against the answer without it.

    To first order: its rows are taken out of the normal matrix, what it shares with other marks
    of its group stays with them.
    """
    sights = problem.sight_at.size
    answer = Left.nothing(sights + sum(len(p.lines) for p in problem.pictures))
    a, e = problem.az.size, problem.el.size
    mark = np.concatenate([problem.az, problem.el, sights + problem.line])
    for index in np.unique(mark):
        rows = np.flatnonzero(mark == index)
        residual, covariance = _without(problem, fit, rows)
        length2 = float(residual @ np.linalg.solve(covariance, residual))
        answer.doubt[index] = sigmas_of(length2, rows.size)
        for row, value in zip(rows, residual, strict=True):
            kind = answer.azimuth if row < a else answer.elevation if row < a + e else answer.line
            kind[index] = value
    return answer


def _without(problem: Problem, fit: Fit, rows: Ints) -> tuple[Array, Array]:
    """Residual of rows against the answer without them, and its covariance."""
    slope, residual, noise = fit.at.slope, fit.at.residual, fit.at.covariance
    block = problem.block[rows[0]]
    whole = np.flatnonzero(problem.block == block)
    rest = np.setdiff1d(whole, rows)
    trust = fit.trust[block]
    normal, pull = _taken_in(slope, residual, noise, whole)
    less, less_pull = _taken_in(slope, residual, noise, rest)
    remaining = fit.normal - trust * (normal - less)
    step = np.linalg.solve(remaining, trust * (pull - less_pull))
    moved = residual[rows] + slope[rows] @ step
    spread = noise[np.ix_(rows, rows)]
    by = slope[rows]
    if rest.size:
        gain = np.linalg.solve(noise[np.ix_(rest, rest)], noise[np.ix_(rest, rows)]).T
        moved = moved - gain @ (residual[rest] + slope[rest] @ step)
        spread = spread - gain @ noise[np.ix_(rest, rows)]
        by = by - gain @ slope[rest]
    return moved, spread + by @ np.linalg.solve(remaining, by.T)


def _taken_in(slope: Array, residual: Array, noise: Array, rows: Ints) -> tuple[Array, Array]:
    if not rows.size:
        return np.zeros((slope.shape[1],) * 2), np.zeros(slope.shape[1])
    weighed = np.linalg.solve(noise[np.ix_(rows, rows)], slope[rows]).T
    return weighed @ slope[rows], weighed @ residual[rows]


def sigmas_of(length2: float, count: int) -> float:
    """Sigmas of one normal variable as improbable as this squared length of ``count``.

    >>> round(sigmas_of(4.0, 1), 3), round(sigmas_of(11.83, 2), 2)
    (2.0, 3.0)
    """
    tail = float(gammaincc(count / 2.0, length2 / 2.0))
    return float(-ndtri(tail / 2.0)) if tail > 1e-300 else float(np.sqrt(length2))
