"""The most probable pose of pictures from their marks, and how well it is known.

Every unknown has a prior, so that the answer exists from the first mark on: what the marks do
not carry stays at its prior, and its prior sigma shows in the covariance. The errors of the
site, of the cameras' places and of the landmarks' are estimated along.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from skyview.angles import Array
from skyview.calibrate.leave_out import Left, left_out
from skyview.calibrate.marks import Lines, Picture, PosePrior, Sights, Ties, no_lines
from skyview.calibrate.problem import Problem
from skyview.calibrate.search import Fit, covariance_of, search, search_together
from skyview.calibrate.slopes import NAMES, STRETCH, camera_at
from skyview.camera.projections import Projection

__all__ = [
    "NAMES",
    "SOLVED_SHARE",
    "PoseEstimate",
    "PosePrior",
    "Sights",
    "camera_at",
    "estimate",
    "estimate_together",
]

SOLVED_SHARE = 0.5
"""A parameter counts as solved when its sigma falls below this share of its prior sigma; the yaw
as soon as one azimuth is known."""


@dataclass(frozen=True)
class PoseEstimate:
    """The pose and how well it is known."""

    yaw: float
    """Azimuth of the axis in [0, 2 pi)."""
    pitch: float
    roll: float
    scale: float
    """Multiplies the projection's pixels per radian."""
    level_row_px: float | None
    """Row of a cylinder's level plane, else None."""
    parameters: tuple[str, ...]
    """Names of the covariance's rows."""
    covariance: Array
    """(P, P) in the parameters' units: radians, natural log of scale, pixels."""
    solved: tuple[str, ...]
    """Parameters that the marks carry."""
    held: tuple[str, ...]
    """Parameters that stay at their prior for want of marks."""
    azimuth_residual: Array
    """Measured less true azimuth of each sight, NaN where none was known. (N,)"""
    elevation_residual: Array
    """The same in elevation. (N,)"""
    vector: Array = field(default_factory=lambda: np.empty(0))
    """The parameters' values, in their order."""
    line_residual: Array = field(default_factory=lambda: np.empty(0))
    """Lean of each plumb line, or azimuth of each shadow less the true one, NaN if unused. (K,)"""
    trust: Array = field(default_factory=lambda: np.empty(0))
    """Share 0 to 1 that each sight, then each line kept in the answer. (N + K,)"""
    without: Left = field(default_factory=lambda: Left.nothing(0))
    """What the other marks say of each sight, then of each line. (N + K,)"""
    cost: float = 0.0
    """Negative logarithm of the probability, of all pictures solved together."""
    other_answers: float = 0.0
    """Probability that another, distinct answer is the right one, 0 to 1."""
    other_trust: Array = field(default_factory=lambda: np.empty(0))
    """The share of trust that each sight, then each line has in the next best answer. (N + K,)"""

    @property
    def sigma(self) -> dict[str, float]:
        """One sigma of each parameter by its name."""
        spread = np.sqrt(np.diag(self.covariance)).tolist()
        return dict(zip(self.parameters, spread, strict=True))

    def value(self, name: str) -> float | None:
        """A parameter's value, None where the picture does not have it."""
        return float(self.vector[self.parameters.index(name)]) if name in self.parameters else None

    @property
    def stretch(self) -> tuple[float, ...]:
        """A sweep's stretch by shape. [rad]"""
        pairs = zip(self.parameters, self.vector.tolist(), strict=True)
        return tuple(value for name, value in pairs if name.startswith(STRETCH))


def estimate(
    projection: Projection, prior: PosePrior, sights: Sights, lines: Lines | None = None
) -> PoseEstimate:
    """The most probable pose of one picture (maximum a posteriori), robust to wrong marks.

    The covariance is the inverse of the normal matrix at the minimum (Gauss-Newton); where marks
    contradict each other, it spans the answers that remain possible. Without any azimuth known
    and without a compass the yaw stays 0 with its prior sigma.

    >>> from skyview.camera.projections import Rectilinear
    >>> prior = PosePrior(None, 3.2, 0.0, 0.03, 0.0, 0.03, 0.04, 1.0, 0.0)
    >>> one = Sights(*(np.array([v]) for v in (500.0, 400.0, 1.0, 2.0, 0.1, 1e-4, 1e-4, 1e3)))
    >>> found = estimate(Rectilinear(1000.0, (500.0, 400.0)), prior, one)
    >>> round(found.yaw, 4), found.solved, found.held
    (2.0, ('yaw', 'pitch'), ('roll', 'log_scale'))
    """
    return estimate_together([Picture(projection, prior, sights, lines or no_lines())])[0]


def estimate_together(pictures: Sequence[Picture], ties: Ties | None = None) -> list[PoseEstimate]:
    """The same for pictures that share landmarks or ties, one answer a picture."""
    problem = Problem(pictures, ties)
    singles = [Problem([p]) for p in pictures] if len(pictures) > 1 else [problem]
    alone = [search(single) for single in singles]
    best = alone[0][0] if len(pictures) == 1 else search_together(problem, alone)
    covariance = np.asarray(np.linalg.inv(best.normal), float)
    without = left_out(problem, best)
    answer = []
    for index, (single, fits) in enumerate(zip(singles, alone, strict=True)):
        found = _of_picture(problem, best, covariance, without, index)
        answer.append(_with_other_answers(found, single, fits))
    return answer


def _with_other_answers(found: PoseEstimate, single: Problem, fits: list[Fit]) -> PoseEstimate:
    """What stays ambiguous in a picture alone stays so: its covariance spans all answers."""
    if len(fits) == 1:
        return replace(found, other_trust=found.trust)
    whole, share = covariance_of(single, fits)
    extra = (whole - np.linalg.inv(fits[0].normal))[: single.pose_size, : single.pose_size]
    return replace(
        found,
        covariance=found.covariance + extra,
        other_answers=share,
        other_trust=_by_mark(single, fits[1])[3],
    )


def _of_picture(
    problem: Problem, fit: Fit, covariance: Array, without: Left, index: int
) -> PoseEstimate:
    part, names = problem.parts[index], problem.names[index]
    vector, own = fit.x[part].copy(), covariance[part, part]
    vector[0] = np.mod(vector[0], 2.0 * np.pi)
    azimuth, elevation, line, trust = _by_mark(problem, fit)
    sight = problem.sight_at.size
    mine = np.flatnonzero(problem.sight_picture == index)
    line_picture = np.repeat(
        np.arange(len(problem.pictures)), [len(p.lines) for p in problem.pictures]
    )
    my_lines = np.flatnonzero(line_picture == index)
    marks = np.concatenate([mine, sight + my_lines])
    found = np.sqrt(np.diag(own)) < SOLVED_SHARE * problem.sigma[part]
    found[0] |= bool(np.any(np.isfinite(azimuth[mine])))
    given = dict(zip(names, vector.tolist(), strict=True))
    return PoseEstimate(
        yaw=given["yaw"],
        pitch=given["pitch"],
        roll=given["roll"],
        scale=float(np.exp(given["log_scale"])),
        level_row_px=given.get("level_row_px"),
        parameters=names,
        covariance=own,
        solved=tuple(n for n, yes in zip(names, found, strict=True) if yes),
        held=tuple(n for n, yes in zip(names, found, strict=True) if not yes),
        azimuth_residual=azimuth[mine],
        elevation_residual=elevation[mine],
        vector=vector,
        line_residual=line[my_lines],
        trust=trust[marks],
        without=without.of(marks),
        cost=fit.cost,
    )


def _by_mark(problem: Problem, fit: Fit) -> tuple[Array, Array, Array, Array]:
    """Residuals and trust of the rows, back at their sights and lines; NaN where unused."""
    a, e = problem.az.size, problem.el.size
    k = problem.line.size
    lines = sum(len(p.lines) for p in problem.pictures)
    azimuth = np.full(problem.sight_at.size, np.nan)
    elevation, line = azimuth.copy(), np.full(lines, np.nan)
    trust = np.full(azimuth.size + lines, np.nan)
    residual, weight = fit.at.residual, fit.trust[problem.block]
    azimuth[problem.az], elevation[problem.el] = residual[:a], residual[a : a + e]
    line[problem.line] = residual[a + e : a + e + k]
    trust[problem.az], trust[problem.el] = weight[:a], weight[a : a + e]
    trust[azimuth.size + problem.line] = weight[a + e : a + e + k]
    return azimuth, elevation, line, trust
