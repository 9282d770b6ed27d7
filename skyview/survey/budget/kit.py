"""Which antenna stands at each position: the survey's own, one moved there, or none yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from skyview.link.antenna import PLANNING_GAIN_DBD
from skyview.survey.budget.gear import Gear, diplexed, gear_of
from skyview.survey.budget.listen import Row
from skyview.survey.budget.signals import Signals
from skyview.survey.models import Antenna, Survey


@dataclass(frozen=True)
class Kit:
    """All antennas at all positions: one row for each downlead, the better one serves a path."""

    rows: tuple[Row, ...]
    stands: tuple[tuple[str | None, ...], ...]
    """By row and position: id of the antenna that truly stands there, else None."""
    warnings: tuple[str, ...]


def kit_of(survey: Survey, places: Sequence[tuple[str, float]], signals: Signals) -> Kit:
    """The antennas for positions, given as id of the spot and height above it [m].

    A position at which none stands gets the one of its spot, else the survey's first, moved
    there with its aim; where the survey has none, the antenna that planning assumes is turned to
    each station in turn. Either is said.
    """
    second = {a.combined_with for a in survey.antennas if a.combined_with}
    leading = [a for a in survey.antennas if a.id not in second]
    known = {a.id: a for a in survey.antennas}
    gears: list[Gear] = []
    numbers: dict[str | None, tuple[int, int]] = {}
    for antenna in [*leading, *([] if leading else [None])]:
        numbers[antenna.id if antenna else None] = _added(gears, survey, antenna, known, signals)
    sets = [_standing(leading, place) for place in places]
    depth = max((len(found) for found, _ in sets), default=1)
    rows, stands = [], []
    for level in range(depth):
        chosen = [found[min(level, len(found) - 1)] for found, _ in sets]
        pair = np.array([numbers[name] for name in chosen], int).reshape(-1, 2)
        rows.append(Row(tuple(gears), pair[:, 0], pair[:, 1]))
        stands.append(tuple(n if own else None for n, (_, own) in zip(chosen, sets, strict=True)))
    return Kit(tuple(rows), tuple(stands), _notes(survey, leading, places, sets, known, signals))


def _added(
    gears: list[Gear],
    survey: Survey,
    antenna: Antenna | None,
    known: dict[str, Antenna],
    signals: Signals,
) -> tuple[int, int]:
    """The antenna's number in the growing list, and that of a hybrid's other one or -1."""
    gear = gear_of(survey, antenna, signals)
    if antenna is None or antenna.combined_with is None:
        gears.append(gear)
        return len(gears) - 1, -1
    other = gear_of(survey, known[antenna.combined_with], signals)
    if antenna.combined_by == "diplexer":
        gears.append(diplexed(gear, other, signals))
        return len(gears) - 1, -1
    gears.extend([gear, other])
    return len(gears) - 2, len(gears) - 1


def _standing(
    leading: Sequence[Antenna], place: tuple[str, float]
) -> tuple[list[str | None], bool]:
    """Ids of the antennas for a position, and whether they truly stand there."""
    spot, height = place
    here = [a.id for a in leading if a.spot == spot and a.height_m == height]
    if here:
        return list(here), True
    moved = [a.id for a in leading if a.spot == spot] or [a.id for a in leading]
    return [moved[0] if moved else None], False


def _notes(
    survey: Survey,
    leading: Sequence[Antenna],
    places: Sequence[tuple[str, float]],
    sets: Sequence[tuple[list[str | None], bool]],
    known: dict[str, Antenna],
    signals: Signals,
) -> tuple[str, ...]:
    if not leading:
        return (
            "the survey has no antenna: reception is told for the one that planning assumes, "
            "turned to each station in turn",
        )
    moved: dict[str, list[str]] = {}
    for (spot, height), (names, own) in zip(places, sets, strict=True):
        if not own:
            moved.setdefault(str(names[0]), []).append(f"{spot} {height:g} m")
    notes = [
        f"antenna {name} is taken as moved to {_listed(where)}" for name, where in moved.items()
    ]
    notes += _alike(leading, known, signals)
    notes += [
        f"antenna {a.id} has no aim: it is taken as turned to each station in turn"
        for a in survey.antennas
        if a.aim_true_deg is None
    ]
    notes += [
        f"antenna {a.id} names no gain: that of the antenna which planning assumes is taken"
        for a in survey.antennas
        if a.gain_dbd is None
    ]
    notes += [
        f"antenna {a.id} has no downlead: the loss that planning assumes is taken"
        for a in leading
        if not a.downlead
    ]
    return tuple(notes)


def _alike(leading: Sequence[Antenna], known: dict[str, Antenna], signals: Signals) -> list[str]:
    """Pairs on a diplexer of which it cannot be told which antenna serves a band."""
    notes = []
    for first in leading:
        if first.combined_with is None or first.combined_by != "diplexer":
            continue
        second = known[first.combined_with]
        one, two = (
            PLANNING_GAIN_DBD if a.gain_dbd is None else a.gain_dbd for a in (first, second)
        )
        bands = [b for b in dict.fromkeys(signals.bands) if b in two and one.get(b) == two[b]]
        if bands:
            notes.append(
                f"antennas {first.id} and {second.id} gain alike in {' and '.join(bands)}: "
                f"{first.id} is taken for that side of their diplexer; leave the band out of "
                f"{first.id}'s gain_dbd where {second.id} serves it"
            )
    return notes


def _listed(places: Sequence[str]) -> str:
    """The first few of some positions in words."""
    return ", ".join(places[:3]) + (f" and {len(places) - 3} more" if len(places) > 3 else "")
