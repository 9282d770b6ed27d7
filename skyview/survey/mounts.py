"""Which spot and how high: what each candidate place brings, and which are refused.

Every place is judged with the link budget at once, by the quick joint losses of `scene_at`; refused
places are not computed. A station comes in as ``reception_word`` has it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from skyview.angles import Array
from skyview.survey.budget.draws import SETS
from skyview.survey.budget.judged import Judged, judged
from skyview.survey.budget.words import LIKELY, SURE
from skyview.survey.models import Survey
from skyview.survey.refusals import Refusal, antenna_length_m, refusals
from skyview.survey.scene import Leaf, places_of, scene_at

MUST_COUNTS = 3.0
"""A station that must be had counts so many times: our own choice."""

SAME_STATIONS = 0.25
"""Two places whose expected numbers of stations differ by less are alike: our own choice."""

SAME_CHANCE = 0.05
"""Two chances of a station that must be had that differ by less are alike: our own choice."""


MANY, FEW_SETS = 20, 16
"""More places than these are judged with so many sets of what is unsure, in half the time."""


@dataclass(frozen=True)
class Tally:
    """What places bring, arrays over positions (A) and stations (S)."""

    stations: tuple[str, ...]
    """Ids of the wanted stations."""
    must_have: tuple[bool, ...]
    """Whether the customer insists on each."""
    probability: Array
    """Of reception; NaN where it is not told. (A, S)"""
    margin_db: Array
    """Middle of the margin; NaN where not known. (A, S)"""
    loss_db: Array
    """Middle of what stands in the way. (A, S)"""
    warnings: tuple[str, ...]
    """What was assumed, what is missing."""
    antenna_notes: tuple[str, ...]
    """The same of the antennas that were moved there."""

    @property
    def sure(self) -> Array:
        """How many stations are sure. (A,)"""
        return np.asarray(np.sum(np.nan_to_num(self.probability) >= SURE, axis=1))

    @property
    def likely(self) -> Array:
        """How many are likely and not sure. (A,)"""
        chance = np.nan_to_num(self.probability)
        return np.asarray(np.sum((chance >= LIKELY) & (chance < SURE), axis=1))

    @property
    def expected(self) -> Array:
        """Expected number of stations. (A,)"""
        return np.asarray(np.nan_to_num(self.probability).sum(axis=1))

    @property
    def worth(self) -> Array:
        """The same, what must be had counted ``MUST_COUNTS`` times. (A,)"""
        weight = np.where(self.must_have, MUST_COUNTS, 1.0)
        return np.asarray(np.nan_to_num(self.probability) @ weight)

    @property
    def worst_must_have(self) -> Array:
        """Index of the station that must be had and is least probable, -1 for none. (A,)"""
        must = np.array(self.must_have, bool)
        if not must.any():
            return np.full(len(self.probability), -1)
        chance = np.where(must, np.nan_to_num(self.probability), np.inf)
        tied = np.where(must, np.nan_to_num(self.margin_db, nan=-1e3), np.inf)
        return np.array([np.lexsort((m, c))[0] for c, m in zip(chance, tied, strict=True)])


@dataclass(frozen=True)
class MountRow:
    """One spot at one height."""

    spot: str
    """Id of the spot."""
    antenna_height_m: float
    """Height of the antenna above it. [m]"""
    sure: int | None
    """How many stations come in for sure; None where the place is refused."""
    likely: int | None
    """How many more are likely."""
    worst_must_have: str | None
    """Id of the least probable station that the customer insists on."""
    worst_probability: float | None
    """Its probability."""
    refused: Refusal | None
    """Why nothing may stand there; None where nothing that is marked forbids it."""
    expected: float | None
    """Expected number of stations."""
    probabilities: dict[str, float]
    """Of every wanted station whose reception is told."""
    losses_db: dict[str, float]
    """What stands in the way of every wanted station, the middle of what is likely. [dB]"""


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


@dataclass(frozen=True)
class Mounts:
    """All candidate places of a survey."""

    rows: tuple[MountRow, ...]
    enough: tuple[Enough, ...]
    knees: tuple[Knee, ...]
    best: tuple[str, float] | None
    """The place of the greatest worth, the lower one of those alike; None if all are refused."""
    alike: tuple[tuple[str, float], ...]
    """Places that do not differ from it in what is known."""
    warnings: tuple[str, ...]


def mounts_of(
    survey: Survey,
    *,
    spots: Sequence[str] | None = None,
    heights_m: Sequence[float] | None = None,
    leaf: Leaf = "in",
) -> Mounts:
    """Every spot at every height of a survey, or some of them.

    Raises InputError before all else where nobody looked for power lines, and where nothing can
    be said: no spot, no station, an unknown id.
    """
    places, antenna_m = places_of(survey, spots, heights_m)
    height = np.array([height for _, height in places])
    foot = antenna_m - np.stack([0 * height, 0 * height, height], axis=1)
    lengths = np.array([antenna_length_m(survey, spot) for spot, _ in places])
    refused = refusals(survey, foot, height, lengths)
    free = np.array([r is None for r in refused])
    tally = None
    if free.any():
        kept = [place for place, ok in zip(places, free, strict=True) if ok]
        sets = SETS if len(kept) <= MANY else FEW_SETS
        tally = tally_at(survey, kept, antenna_m[free], leaf, sets)
    rows = _rows(places, refused, tally)
    best, alike = _best(rows, tally)
    return Mounts(
        rows=rows,
        enough=_enough(rows, tally),
        knees=_knees(rows, tally),
        best=best,
        alike=alike,
        warnings=(*tally.warnings, *tally.antenna_notes) if tally else (),
    )


def tally_at(
    survey: Survey,
    places: Sequence[tuple[str, float]],
    antenna_m: Array,
    leaf: Leaf,
    sets: int = SETS,
) -> Tally:
    """What positions (A, 3) bring; ``places`` names their spots and heights, ``sets`` is how many
    sets of what is unsure are drawn."""
    scene = scene_at(survey, places, antenna_m, leaf=leaf, quick_sets=sets)
    told: Judged = judged(scene)
    wanted = scene.signals.wanted
    chance = np.where(told.told, told.probability, np.nan)
    return Tally(
        stations=tuple(s.id for s, w in zip(scene.stations, wanted, strict=True) if w),
        must_have=tuple(s.must_have for s, w in zip(scene.stations, wanted, strict=True) if w),
        probability=chance[:, wanted],
        margin_db=told.median_db[:, wanted],
        loss_db=np.asarray(np.median(scene.losses.loss_db, axis=0)[:, wanted], float),
        warnings=scene.warnings,
        antenna_notes=told.kit.warnings,
    )


def _rows(
    places: Sequence[tuple[str, float]], refused: Sequence[Refusal | None], tally: Tally | None
) -> tuple[MountRow, ...]:
    rows = []
    number = 0
    for (spot, height), why in zip(places, refused, strict=True):
        if why is not None or tally is None:
            rows.append(MountRow(spot, height, None, None, None, None, why, None, {}, {}))
            continue
        a, number = number, number + 1
        worst = int(tally.worst_must_have[a])
        chance = tally.probability[a]
        rows.append(
            MountRow(
                spot=spot,
                antenna_height_m=height,
                sure=int(tally.sure[a]),
                likely=int(tally.likely[a]),
                worst_must_have=tally.stations[worst] if worst >= 0 else None,
                worst_probability=(
                    float(chance[worst]) if worst >= 0 and np.isfinite(chance[worst]) else None
                ),
                refused=None,
                expected=float(tally.expected[a]),
                probabilities={
                    name: float(p)
                    for name, p in zip(tally.stations, chance, strict=True)
                    if np.isfinite(p)
                },
                losses_db={
                    name: float(v) for name, v in zip(tally.stations, tally.loss_db[a], strict=True)
                },
            )
        )
    return tuple(rows)


def _worth(row: MountRow, tally: Tally) -> float:
    weight = {
        name: MUST_COUNTS if must else 1.0
        for name, must in zip(tally.stations, tally.must_have, strict=True)
    }
    return sum(weight[name] * p for name, p in row.probabilities.items())


def _best(
    rows: Sequence[MountRow], tally: Tally | None
) -> tuple[tuple[str, float] | None, tuple[tuple[str, float], ...]]:
    """The best place and those alike; of those alike the lowest mast is the best."""
    free = [row for row in rows if row.refused is None]
    if not free or tally is None:
        return None, ()
    most = max(_worth(row, tally) for row in free)
    good = [row for row in free if _worth(row, tally) >= most - SAME_STATIONS]
    best = min(good, key=lambda row: (row.antenna_height_m, -_worth(row, tally)))
    names = [(row.spot, row.antenna_height_m) for row in good if row is not best]
    return (best.spot, best.antenna_height_m), tuple(names)


def _by_spot(rows: Sequence[MountRow]) -> dict[str, list[MountRow]]:
    """The places that are not refused, by spot, from the lowest up."""
    found: dict[str, list[MountRow]] = {}
    for row in sorted(rows, key=lambda r: r.antenna_height_m):
        if row.refused is None:
            found.setdefault(row.spot, []).append(row)
    return {spot: found[spot] for spot in dict.fromkeys(row.spot for row in rows) if spot in found}


def _enough(rows: Sequence[MountRow], tally: Tally | None) -> tuple[Enough, ...]:
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


def _knees(rows: Sequence[MountRow], tally: Tally | None) -> tuple[Knee, ...]:
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
