"""How high on each spot: from where a station is good enough, from where on nothing is gained."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from skyview.survey.budget.words import LIKELY, SURE
from skyview.survey.tally import MountRow, Tally

SAME_STATIONS = 0.25
"""Two places whose expected numbers of stations differ by less are alike: our own choice."""

SAME_CHANCE = 0.05
"""Two chances of a station that must be had that differ by less are alike: our own choice."""


@dataclass(frozen=True)
class Enough:
    """From what height a station that must be had is good enough on a spot."""

    spot: str
    station: str
    sure_from_m: float | None
    """The smallest height tried at which, and above which, it is sure; None for no such."""
    likely_from_m: float | None
    """The same for likely."""


@dataclass(frozen=True)
class Knee:
    """The height on a spot above which nothing more is gained, among those tried."""

    spot: str
    height_m: float
    higher_m: float
    """The greatest height that was tried."""
    lower_costs: float | None
    """Expected number of stations lost one step lower; None where there is no lower step."""


def _by_spot(rows: Sequence[MountRow]) -> dict[str, list[MountRow]]:
    """The places that are not refused, by spot, from the lowest up."""
    found: dict[str, list[MountRow]] = {}
    for row in sorted(rows, key=lambda r: r.antenna_height_m):
        if row.refused is None:
            found.setdefault(row.spot, []).append(row)
    return {spot: found[spot] for spot in dict.fromkeys(row.spot for row in rows) if spot in found}


def enough_of(rows: Sequence[MountRow], tally: Tally | None) -> tuple[Enough, ...]:
    if tally is None:
        return ()
    must = [s for s, m in zip(tally.stations, tally.must_have, strict=True) if m]
    return tuple(
        Enough(spot, station, _from(own, station, SURE), _from(own, station, LIKELY))
        for spot, own in _by_spot(rows).items()
        for station in must
    )


def _from(own: Sequence[MountRow], station: str, least: float) -> float | None:
    """The smallest height from which on the station keeps a probability, among those tried."""
    height = None
    for row in reversed(own):
        if row.probabilities.get(station, 0.0) < least:
            break
        height = row.antenna_height_m
    return height


def knees_of(rows: Sequence[MountRow], tally: Tally | None) -> tuple[Knee, ...]:
    if tally is None:
        return ()
    must = [s for s, m in zip(tally.stations, tally.must_have, strict=True) if m]
    knees = []
    for spot, own in _by_spot(rows).items():
        if len(own) < 2:
            continue
        top = max(row.expected or 0.0 for row in own)
        best = {s: max(row.probabilities.get(s, 0.0) for row in own) for s in must}
        at = next(
            i
            for i, row in enumerate(own)
            if i == len(own) - 1
            or (
                (row.expected or 0.0) >= top - SAME_STATIONS
                and all(row.probabilities.get(s, 0.0) >= best[s] - SAME_CHANCE for s in must)
            )
        )
        lower = None if at == 0 else (own[at].expected or 0.0) - (own[at - 1].expected or 0.0)
        knees.append(Knee(spot, own[at].antenna_height_m, own[-1].antenna_height_m, lower))
    return tuple(knees)
