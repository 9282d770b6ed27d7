"""Obstructions that may be one thing seen twice: proposed here, joined on the user's word.

Nothing is joined by itself: two trees in a row look alike, and a wrong match puts a thing where
none stands.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from skyview.angles import Array
from skyview.errors import InputError
from skyview.mount.meeting import Sighted, meet
from skyview.mount.pairing import NOT_PAIRED, kind_cost, pairs
from skyview.mount.sighting import Sighting
from skyview.survey.cameras import ViewCamera
from skyview.survey.kinds import TREES, WIRES
from skyview.survey.known import known_item
from skyview.survey.measurements import measurements_of
from skyview.survey.models import Obstruction, Survey, validate
from skyview.survey.sightings import middle_of, sighted, sightings_of

FAMILIES = (TREES, ("building", "own_roof"))
"""Kinds that a guess or a hand may confuse."""

CHI2_SCALE = 20.0
"""Chi-squared over its freedom at which two outlines are no longer proposed as one body."""

HIDDEN_SIGMA = np.radians(3.0)
"""One sigma of a side that something hides, where only likeness is asked."""

SHAPE_WEIGHT = 0.15
"""Cost of shapes whose height over width differs by a factor of e."""

MEASURED = ("distance_m", "distance_sigma_m", "distance_by", "distance_from")
"""Fields of a single measurement, which go together."""


@dataclass(frozen=True)
class Proposal:
    """Two obstructions that may be one."""

    first: str
    """Id of the one outlined in `first_view`."""
    second: str
    """Id of the one outlined in `second_view`."""
    first_view: str
    """Id of a view."""
    second_view: str
    """Id of another view."""
    likeness: float
    """1 where kind, angles and shape agree, 0 where the pair would not be proposed."""
    distance_m: float | None
    """Where they would stand as one thing, from the first view's camera. [m]"""
    distance_sigma_m: float | None
    """One sigma of it. [m]"""


def proposals_of(survey: Survey, cameras: dict[str, ViewCamera]) -> list[Proposal]:
    """Pairs of obstructions, outlined in different views only, that may be one; likest first."""
    things = [thing for thing in survey.obstructions if thing.kind not in WIRES]
    seen = {thing.id: sightings_of(survey, thing, cameras) for thing in things}
    found: dict[tuple[str, str], Proposal] = {}
    for one, other in combinations([view.id for view in survey.views], 2):
        first = [t for t in things if one in seen[t.id] and other not in seen[t.id]]
        second = [t for t in things if other in seen[t.id] and one not in seen[t.id]]
        if not first or not second:
            continue
        for proposal in _between(one, other, first, second, seen, cameras):
            key = (proposal.first, proposal.second)
            if key not in found or found[key].likeness < proposal.likeness:
                found[key] = proposal
    return sorted(found.values(), key=lambda p: -p.likeness)


def _between(
    one: str,
    other: str,
    first: list[Obstruction],
    second: list[Obstruction],
    seen: dict[str, dict[str, Sighting]],
    cameras: dict[str, ViewCamera],
) -> list[Proposal]:
    """Proposals between two views."""
    shape = (len(first), len(second))
    batch = _stacked(
        [
            _guessed(sighted(a.kind, {one: seen[a.id][one], other: seen[b.id][other]}, cameras))
            for a in first
            for b in second
        ]
    )
    met = meet(batch)
    fit = (met.chi2 / np.maximum(met.freedom, 1)).reshape(shape)
    impossible = (met.inverse_m < -2.0 * met.inverse_sigma).reshape(shape)
    kinds = kind_cost([a.kind for a in first], [b.kind for b in second], FAMILIES)
    aspects = [
        np.log([_aspect(seen[t.id][v]) for t in many])
        for v, many in ((one, first), (other, second))
    ]
    unlike = np.abs(aspects[0][:, None] - aspects[1][None, :])
    cost = kinds + fit / CHI2_SCALE + SHAPE_WEIGHT * unlike
    apart = np.array([[bool(set(seen[a.id]) & set(seen[b.id])) for b in second] for a in first])
    cost = np.where(impossible | apart, 2.0 * NOT_PAIRED, cost)
    bearings: list[Array] = [
        np.array([float(middle_of(seen[t.id][v])) for t in many])
        for v, many in ((one, first), (other, second))
    ]
    answer = []
    for pair in pairs(bearings[0], bearings[1], cost):
        at = pair.first * shape[1] + pair.second
        known = bool(met.inverse_m[at] > met.inverse_sigma[at])
        answer.append(
            Proposal(
                first=first[pair.first].id,
                second=second[pair.second].id,
                first_view=one,
                second_view=other,
                likeness=1.0 - pair.cost / NOT_PAIRED,
                distance_m=float(met.distance_m[at]) if known else None,
                distance_sigma_m=float(met.distance_sigma_m[at]) if known else None,
            )
        )
    return answer


def _guessed(thing: Sighted) -> Sighted:
    """Hidden sides count too, as roughly as they are known: a guess asks only what is likely."""
    more = np.where(thing.used, 0.0, HIDDEN_SIGMA**2)[..., None] * np.eye(3)
    return replace(thing, covariance=thing.covariance + more, used=np.ones_like(thing.used))


def _stacked(one_each: list[Sighted]) -> Sighted:
    """Things with the same number of views as one batch."""
    names = Sighted.__dataclass_fields__
    return replace(
        one_each[0],
        **{name: np.concatenate([getattr(s, name) for s in one_each]) for name in names},
    )


def _aspect(sighting: Sighting) -> float:
    """Height from the lower side to the top, over the width; neither under a tenth of a degree."""
    width = sighting.angles[1] - sighting.angles[0]
    height = sighting.points[2, 1] - sighting.points[:2, 1].min()
    return float(np.maximum(height, 2e-3) / np.maximum(width, 2e-3))


def joined(survey: Survey, ids: tuple[str, ...]) -> Survey:
    """The survey with several obstructions made one, which keeps the first id.

    Their outlines become its own; measurements and what it leaves open are taken over. Raises
    InputError where the ids are fewer than two or unknown, where two were outlined in the same
    view, or where what they say contradicts: nothing is thrown away.
    """
    known = {thing.id: thing for thing in survey.obstructions}
    for name in ids:
        known_item(survey.obstructions, name, "obstruction")
    if len(set(ids)) < 2:
        raise InputError(
            "one thing cannot be joined alone, nor joined with itself", mend="name two or more ids"
        )
    _refuse_same_view(survey, ids)
    data = survey.model_dump(exclude_unset=True)
    first, *others = (known[name] for name in dict.fromkeys(ids))
    merged = _merged(first, others)
    gone = {other.id for other in others}
    data["obstructions"] = [
        merged if item["id"] == first.id else item
        for item in data["obstructions"]
        if item["id"] not in gone
    ]
    for outline in data.get("outlines", []):
        if outline["obstruction"] in gone:
            outline["obstruction"] = first.id
    return validate(data)


def _refuse_same_view(survey: Survey, ids: tuple[str, ...]) -> None:
    for one, other in combinations(dict.fromkeys(ids), 2):
        views = [
            {o.view for o in survey.outlines if o.obstruction == name} for name in (one, other)
        ]
        both = views[0] & views[1]
        if both:
            raise InputError(
                f"{one} and {other} are both outlined in view {min(both)}, as two things",
                field="outlines",
                mend="remove one of the outlines first, if they are one",
            )


def _merged(first: Obstruction, others: list[Obstruction]) -> dict[str, Any]:
    """All that several obstructions say as one."""
    merged = first.model_dump(exclude_unset=True)
    measured = [m for thing in (first, *others) for m in measurements_of(thing)]
    for other in others:
        said = other.model_dump(exclude_unset=True)
        for field, value in said.items():
            if field in ("id", "measured", *MEASURED) or value is None:
                continue
            mine = merged.get(field)
            if field in ("kind", "kind_by") and first.kind_by != other.kind_by:
                # A kind that somebody named counts more than a guess.
                merged[field] = mine if first.kind_by == "hand" else value
            elif mine is None:
                merged[field] = value
            elif mine != value:
                raise InputError(
                    f"{first.id} says {field} {mine}, {other.id} says {value}",
                    field=f"obstructions.{other.id}.{field}",
                    mend="make them agree first, with skyview set",
                )
        if merged.get("distance_m") is None and other.distance_m is not None:
            merged |= {f: said[f] for f in MEASURED if said.get(f) is not None}
    own = [m for m in measured if m.distance_m != merged.get("distance_m")]
    kept = [m.model_dump(exclude_none=True) for m in own]
    return {**merged, **({"measured": kept} if kept else {})}
