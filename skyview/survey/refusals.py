"""Places where no antenna may stand, by the survey's limits and its power lines.

A place that is not refused is not thereby free of danger: the utility, the local code and whoever
is licensed for the work decide.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.errors import InputError
from skyview.mount.hazards import inside, level_distance_m, line_clearance_m
from skyview.mount.meeting import NORMAL_95
from skyview.survey.models import Obstruction, Survey

LINE_SIGMA_M = 1.0
"""One sigma, each way, of a power line's place that names none: our own choice, always said."""

PLACE_SIGMA_M = 0.3
"""One sigma, each way, of a place on the roof: our own choice."""

USUAL_LENGTH_M = 2.0
"""Length of an antenna that names none: common practice, no source."""

Code = Literal["line", "line_unknown", "keep_out", "mast", "ground"]


@dataclass(frozen=True)
class Refusal:
    """Why a place is refused."""

    code: Code
    """line: a power line too near; line_unknown: nobody knows where it runs; keep_out: a strip to
    keep out of; mast: too tall without guys; ground: out of the grounding conductor's reach."""
    thing: str | None = None
    """Id of the power line."""
    distance_m: float | None = None
    """Of the line, horizontally; or of the grounding point. [m]"""
    least_m: float | None = None
    """The line's distance at the lower end of its 95 % interval. [m]"""
    needed_m: float | None = None
    """What the place would need, or what the limit allows. [m]"""
    mast_m: float | None = None
    """Height of the mast. [m]"""
    antenna_m: float | None = None
    """Length of the antenna. [m]"""
    voltage_kv: float | None = None
    """Of the line; None where it is not known. [kV]"""


def require_lines_checked(survey: Survey) -> None:
    """InputError unless somebody has noted that power lines were looked for.

    Nothing is said about any spot before that.
    """
    if not survey.limits.lines_checked:
        raise InputError(
            "nobody has noted that power lines were looked for, so no spot is named: look first, "
            "from the ground, also for the drop to the house",
            field="limits.lines_checked",
            mend="then note it with: skyview set SURVEY limits.lines_checked=yes",
        )


def antenna_length_m(survey: Survey, spot: str | None = None) -> float:
    """Length of the longest antenna that may stand on a spot, or on any. [m]

    An antenna that names no length is taken as ``USUAL_LENGTH_M`` long.
    """
    there = [a for a in survey.antennas if spot is None or a.spot == spot] or survey.antennas
    return max((a.length_m or USUAL_LENGTH_M for a in there), default=USUAL_LENGTH_M)


def refusals(
    survey: Survey, foot_m: Array, height_m: Array, length_m: Array
) -> list[Refusal | None]:
    """For each place why it is refused, None where nothing marked forbids it.

    ``foot_m`` (P, 3) of the mast, ``height_m`` (P,) of the antenna above it, ``length_m`` (P,) of
    the antenna. Power lines come first. Raises InputError where nobody looked for them.
    """
    require_lines_checked(survey)
    answer: list[Refusal | None] = [None] * len(foot_m)
    lines = [t for t in survey.obstructions if t.kind == "power_line"]
    for found in (
        _unknown_lines(lines, len(foot_m)),
        _near_lines(lines, foot_m, height_m, length_m),
        _limits(survey, foot_m, height_m),
    ):
        answer = [old or new for old, new in zip(answer, found, strict=True)]
    return answer


def may_be_proposed(
    survey: Survey, foot_m: Array, height_m: Array, length_m: Array
) -> NDArray[np.bool_]:
    """Places that may be named as a change for the better. (P,)

    None where nobody looked for power lines, and none that is refused, but for a mast that guys
    would hold: who proposes it says so.
    """
    if not survey.limits.lines_checked:
        return np.zeros(len(foot_m), bool)
    guyed = survey.limits.model_copy(update={"unguyed_mast_m": float("inf")})
    there = refusals(survey.model_copy(update={"limits": guyed}), foot_m, height_m, length_m)
    return np.array([refused is None for refused in there], bool)


def _unknown_lines(lines: list[Obstruction], count: int) -> list[Refusal | None]:
    lost = next((line.id for line in lines if not line.line_enu_m), None)
    return [Refusal("line_unknown", lost) if lost is not None else None] * count


def _near_lines(
    lines: list[Obstruction], foot_m: Array, height_m: Array, length_m: Array
) -> list[Refusal | None]:
    """The line that comes nearest to being reached by the mast as it falls."""
    known = [line for line in lines if line.line_enu_m]
    if not known:
        return [None] * len(foot_m)
    distance = level_distance_m(foot_m, [np.array(line.line_enu_m, float) for line in known])
    sigma = np.array([_line_sigma_m(line) for line in known])
    least = distance - NORMAL_95 * np.hypot(sigma, PLACE_SIGMA_M)
    clearance = np.array([line_clearance_m(line.voltage_kv) for line in known])
    needed = (height_m + length_m)[:, None] + clearance
    worst = np.argmin(least - needed, axis=1)
    answer: list[Refusal | None] = []
    for place, line in enumerate(worst):
        if least[place, line] >= needed[place, line]:
            answer.append(None)
            continue
        answer.append(
            Refusal(
                code="line",
                thing=known[line].id,
                distance_m=float(distance[place, line]),
                least_m=max(float(least[place, line]), 0.0),
                needed_m=float(needed[place, line]),
                mast_m=float(height_m[place]),
                antenna_m=float(length_m[place]),
                voltage_kv=known[line].voltage_kv,
            )
        )
    return answer


def _line_sigma_m(line: Obstruction) -> float:
    return LINE_SIGMA_M if line.line_sigma_m is None else line.line_sigma_m


def _limits(survey: Survey, foot_m: Array, height_m: Array) -> list[Refusal | None]:
    """The user's own limits."""
    limits = survey.limits
    kept_out = inside(foot_m, rings_of(limits.keep_out_enu_m))
    reach = np.full(len(foot_m), 0.0)
    if limits.ground_point_enu_m is not None and limits.ground_reach_m is not None:
        reach = np.linalg.norm(foot_m - np.array(limits.ground_point_enu_m), axis=1)
    answer: list[Refusal | None] = []
    for place, height in enumerate(height_m):
        if kept_out[place]:
            answer.append(Refusal("keep_out"))
        elif height > limits.unguyed_mast_m + 1e-9:
            answer.append(Refusal("mast", mast_m=float(height), needed_m=limits.unguyed_mast_m))
        elif limits.ground_reach_m is not None and reach[place] > limits.ground_reach_m:
            answer.append(
                Refusal("ground", distance_m=float(reach[place]), needed_m=limits.ground_reach_m)
            )
        else:
            answer.append(None)
    return answer


def rings_of(value: object) -> list[Array]:
    """One ring or a list of rings of the survey file as arrays (K, 3); none for an empty list."""
    if not isinstance(value, list) or not value:
        return []
    rings = value if isinstance(value[0], list) else [value]
    return [np.array(ring, float) for ring in rings if len(ring) > 2]
