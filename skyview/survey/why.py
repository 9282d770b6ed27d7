"""One station explained: whether it comes in, what weakens it, what would help."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from skyview.survey.assess import Assessment, assess
from skyview.survey.budget.causes import Causes
from skyview.survey.models import Station, Survey
from skyview.survey.results import Cause, PathRow, Why
from skyview.survey.scene import Leaf, places_of


@dataclass(frozen=True)
class Explained:
    """What was asked, with what it rests on."""

    why: Why
    warnings: tuple[str, ...]
    """Plain sentences: what was assumed, what is missing."""


def why(
    survey: Survey,
    station: str,
    spot: str | None = None,
    height_m: float | None = None,
    leaf: Leaf = "in",
) -> Explained:
    """Why a station comes in or not at one antenna position, and what would help.

    Without a spot and a height the survey's first antenna tells them, else the first spot and its
    greatest height. Raises InputError for an unknown id, or where nothing can be said.
    """
    place = position_of(survey, spot, height_m)
    found = assess(
        survey, spots=[place[0]], heights_m=[place[1]], stations=[station], leaf=leaf, cures=True
    )
    other: Leaf = "out" if leaf == "in" else "in"
    (there,) = assess(
        survey, spots=[place[0]], heights_m=[place[1]], stations=[station], leaf=other
    ).rows
    return Explained(explained(survey, found, found.rows[0], leaf, there), found.warnings)


def explained(
    survey: Survey, found: Assessment, row: PathRow, leaf: Leaf, other_leaf: PathRow
) -> Why:
    """One row of an assessment explained; ``other_leaf`` is the same in the other season."""
    known = {s.id: s for s in survey.stations}
    kinds = {thing.id: str(thing.kind) for thing in survey.obstructions}
    return Why(
        row=row,
        name=known[row.station].name or row.station,
        causes=causes_in_order(found, row, kinds),
        leaf=leaf,
        other_leaf=other_leaf.reception,
        other_leaf_probability=other_leaf.reception_probability,
        missing=_missing(found, known[row.station], row),
        kinds=kinds,
    )


def causes_in_order(found: Assessment, row: PathRow, kinds: dict[str, str]) -> tuple[Cause, ...]:
    """The causes of a row, the costliest first, obstructions and disturbing stations named."""
    scene, causes = found.scene, found.causes
    a = scene.places.index((row.spot, row.antenna_height_m))
    s = scene.signals.ids.index(row.station)
    return tuple(
        _cause(key, db, causes, a, s, scene.signals.ids, kinds) for key, db in row.losses_db.items()
    )


def _cause(
    key: str,
    db: float,
    causes: Causes,
    a: int,
    s: int,
    stations: tuple[str, ...],
    kinds: dict[str, str],
) -> Cause:
    code, _, thing = key.partition(":")
    if thing:
        return Cause(code, db, thing, kinds.get(thing))
    if code == "interference":
        other = stations[int(causes.disturber[a, s])]
        return Cause(code, db, station=other, on_channel=bool(causes.on_channel[a, s]))
    return Cause(code, db)


def position_of(survey: Survey, spot: str | None, height_m: float | None) -> tuple[str, float]:
    """The spot and the height above it that are meant where not both are told."""
    standing = [
        (a.spot, float(a.height_m))
        for a in survey.antennas
        if a.height_m is not None and spot in (None, a.spot)
    ]
    if height_m is not None:
        name = spot or (standing[0][0] if standing else None)
        places, _ = places_of(survey, None if name is None else [name], [height_m])
        return places[0]
    if standing:
        return standing[0]
    places, _ = places_of(survey, None if spot is None else [spot], None)
    return max((p for p in places if p[0] == places[0][0]), key=lambda place: place[1])


def _missing(found: Assessment, station: Station, row: PathRow) -> tuple[str, ...]:
    s = found.scene.signals.ids.index(station.id)
    codes = []
    if station.role != "wanted":
        codes.append("role")
    if row.field_dbuv_m is None:
        codes.append("power")
    if np.isnan(found.scene.signals.required_cn_db[s]):
        codes.append("threshold")
    if row.path == "not_seen":
        codes.append("view")
    return tuple(codes)
