"""What is told to the customer and to the installer about one antenna where it will stand."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from skyview.survey.assess import Assessment, assess
from skyview.survey.known import known_item
from skyview.survey.models import Antenna, Survey
from skyview.survey.results import Why
from skyview.survey.scene import Leaf
from skyview.survey.why import explained, position_of

MOST_EXPLAINED = 12
"""With more stations only the weakest one's cures are worked out."""


@dataclass(frozen=True)
class Handover:
    """The answers at one antenna position, trees in leaf."""

    survey: Survey
    spot: str
    height_m: float
    """Height of the antenna above the spot. [m]"""
    antenna: Antenna | None
    """The survey's antenna that stands there, else the one that is taken as moved there."""
    found: Assessment
    """Every station there."""
    whys: tuple[Why, ...]
    """The customer's stations explained: what must be had, or all that are wanted."""
    asked: bool
    """Whether any station must be had."""
    weakest: Why | None
    """The one to explain at length; None where all are sure or none can be told."""


def handover_of(survey: Survey, station: str | None = None) -> Handover:
    """All that the papers after a visit tell; ``station`` is the one to explain at length.

    Raises InputError where nothing can be said: no spot, no station, an unknown id.
    """
    spot, height = position_of(survey, None, None)
    found = assess(survey, spots=[spot], heights_m=[height])
    wanted = [s.id for s in survey.stations if s.role == "wanted"]
    must = [s.id for s in survey.stations if s.must_have]
    chosen = must or wanted
    if station is not None:
        told = [s for s in survey.stations if s.role == "wanted"]
        known_item(told, station, "station to explain", field="stations")
        chosen = [*chosen, *([] if station in chosen else [station])]
    by_id = {row.station: row for row in found.rows}
    weakest = station or _weakest(found, chosen, ("likely", "doubtful", "no"), bool(must))
    weak = [s for s in chosen if by_id[s].reception in ("likely", "doubtful", "no")]
    asked_for = weak if len(chosen) <= MOST_EXPLAINED else [s for s in weak if s == weakest]
    if asked_for:
        cured = assess(survey, spots=[spot], heights_m=[height], stations=asked_for, cures=True)
        by_id |= {row.station: row for row in cured.rows}
    other: Leaf = "out"
    bare = assess(survey, spots=[spot], heights_m=[height], leaf=other)
    there = {row.station: row for row in bare.rows}
    whys = {s: explained(survey, found, by_id[s], "in", there[s]) for s in chosen}
    standing = [a for a in survey.antennas if a.spot == spot and a.height_m == height]
    return Handover(
        survey=survey,
        spot=spot,
        height_m=height,
        antenna=next(iter([*standing, *survey.antennas]), None),
        found=replace(found, rows=tuple(by_id[row.station] for row in found.rows)),
        whys=tuple(whys.values()),
        asked=bool(must),
        weakest=whys.get(weakest) if weakest else None,
    )


def _weakest(
    found: Assessment, chosen: list[str], words: tuple[str, ...], asked: bool
) -> str | None:
    """Of some stations the least probable of those that are told and not sure; where nobody asked
    for any, one that may fade before one that is out of reach."""
    rows = [row for row in found.rows if row.station in chosen and row.reception in words]
    if not asked:
        rows = [row for row in rows if row.reception != "no"] or rows
    chances = [np.inf if r.reception_probability is None else r.reception_probability for r in rows]
    return rows[int(np.argmin(chances))].station if rows else None
