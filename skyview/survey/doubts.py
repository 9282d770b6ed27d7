"""What may have gone wrong with a view's marks, each tried as another reading of them.

A reading that makes the marks agree where the given one does not is told, never taken.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from skyview.calibrate.estimate import PoseEstimate
from skyview.calibrate.marks import Picture, Sights
from skyview.calibrate.problem import Problem
from skyview.calibrate.search import lowest_cost, search
from skyview.place.declination import Declination
from skyview.survey.models import Survey, View
from skyview.survey.sights import MarkSet, mark_sets

GAIN = 5.0
"""A reading must be more probable by this many units of natural log to be told."""

DOUBTFUL_SIGMAS = 3.3
"""A mark that misses the others by more is doubtful: once in a thousand."""

PRIOR_SIGMAS = 2.5
"""A pose farther from what was known before is doubtful."""

MOST_HOURS = 12


@dataclass(frozen=True)
class Reading:
    """Another reading of a view's marks."""

    code: str
    """swapped, magnetic_for_true, true_for_magnetic, hour_slip, mirrored or upside_down."""
    marks: list[str]
    """Ids of the marks that it changes; empty: all."""
    picture: Picture
    values: dict[str, float] = field(default_factory=dict)


def is_doubtful(found: PoseEstimate, picture: Picture) -> bool:
    """Whether the marks disagree with each other or with what was known before."""
    if found.other_answers > 0.05 or np.any(found.trust < 0.5):
        return True
    if np.any(found.without.doubt > DOUBTFUL_SIGMAS):
        return True
    prior = picture.prior
    away = [(found.pitch - prior.pitch) / prior.pitch_sigma]
    away.append((found.roll - prior.roll) / prior.roll_sigma)
    away.append(np.log(found.scale) / prior.scale_sigma)
    if prior.yaw is not None:
        away.append(np.angle(np.exp(1j * (found.yaw - prior.yaw))) / prior.yaw_sigma)
    return bool(np.max(np.abs(away)) > PRIOR_SIGMAS)


def better_reading(
    survey: Survey, view: View, marks: MarkSet, picture: Picture, magnetic: Declination
) -> Reading | None:
    """The reading under which the marks agree best, if that is much better than as given."""
    given = search(Problem([picture]))[0].cost
    best, best_cost = None, given - GAIN
    for reading in _readings(survey, view, marks, picture, magnetic):
        cost = lowest_cost(Problem([reading.picture]))
        if cost < best_cost:
            best, best_cost = reading, cost
    return best


def _readings(
    survey: Survey, view: View, marks: MarkSet, picture: Picture, magnetic: Declination
) -> Iterator[Reading]:
    kinds = {mark.id: mark for mark in survey.marks if mark.view == view.id}
    sights = marks.sights
    yield from _turned_pictures(view, picture)
    for north, code, sign in (
        ("true", "magnetic_for_true", 1.0),
        ("magnetic", "true_for_magnetic", -1.0),
    ):
        own = [i for i, m in enumerate(marks.sight_ids) if kinds[m].north == north]
        own = [i for i in own if kinds[marks.sight_ids[i]].kind == "bearing"]
        groups = [own, *([i] for i in own)] if len(own) > 1 else [own]
        for group in groups if own else []:
            azimuth = sights.azimuth.copy()
            azimuth[group] += sign * np.radians(magnetic.declination_deg)
            yield Reading(
                code,
                [marks.sight_ids[i] for i in group],
                replace(picture, sights=replace(sights, azimuth=azimuth)),
                {"declination_deg": magnetic.declination_deg},
            )
    placed = [i for i, m in enumerate(marks.sight_ids) if kinds[m].kind in ("landmark", "station")]
    for i, j in combinations(placed, 2):
        if sights.group[i] != sights.group[j]:
            pair = [marks.sight_ids[i], marks.sight_ids[j]]
            yield Reading("swapped", pair, replace(picture, sights=_swapped(sights, i, j)))
    yield from _slipped(survey, view, marks, picture, magnetic)


def _swapped(sights: Sights, i: int, j: int) -> Sights:
    x, y = sights.x_px.copy(), sights.y_px.copy()
    x[[i, j]], y[[i, j]] = x[[j, i]], y[[j, i]]
    return replace(sights, x_px=x, y_px=y)


def _turned_pictures(view: View, picture: Picture) -> Iterator[Reading]:
    width, height = view.size_px
    sights, lines = picture.sights, picture.lines
    for code, down in (("mirrored", False), ("upside_down", True)):
        rows = (height - sights.y_px, height - lines.y_px) if down else (sights.y_px, lines.y_px)
        yield Reading(
            code,
            [],
            replace(
                picture,
                sights=replace(sights, x_px=width - sights.x_px, y_px=rows[0]),
                lines=replace(lines, x_px=width - lines.x_px, y_px=rows[1]),
            ),
        )


def _slipped(
    survey: Survey, view: View, marks: MarkSet, picture: Picture, magnetic: Declination
) -> Iterator[Reading]:
    """The photo's time off by whole hours."""
    by_sun = [m.id for m in survey.marks if m.view == view.id and m.kind in ("sun", "shadow")]
    used = [m for m in by_sun if m in marks.sight_ids or m in marks.line_ids]
    if not used:
        return
    for hours in range(-MOST_HOURS, MOST_HOURS + 1):
        if hours:
            other = mark_sets(survey, [view], magnetic, 3600.0 * hours)[0]
            if other.sight_ids == marks.sight_ids and other.line_ids == marks.line_ids:
                moved = replace(picture, sights=other.sights, lines=other.lines)
                yield Reading("hour_slip", used, moved, {"hours": float(hours)})
