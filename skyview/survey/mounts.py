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
from skyview.survey.heights import SAME_STATIONS, Enough, Knee, enough_of, knees_of
from skyview.survey.models import Survey
from skyview.survey.refusals import Refusal, antenna_length_m, refusals
from skyview.survey.scene import Leaf, places_of
from skyview.survey.tally import MUST_COUNTS, MountRow, Tally, tally_at

MANY, FEW_SETS = 20, 16
"""More places than these are judged with so many sets of what is unsure, in half the time."""


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
    refused = refused_at(survey, places, antenna_m)
    free = np.array([r is None for r in refused])
    tally = None
    if free.any():
        kept = [place for place, ok in zip(places, free, strict=True) if ok]
        sets = SETS if len(kept) <= MANY else FEW_SETS
        tally = tally_at(survey, kept, antenna_m[free], leaf, sets, words=True)
    rows = _rows(places, refused, tally)
    best, alike = _best(rows, tally)
    return Mounts(
        rows=rows,
        enough=enough_of(rows, tally),
        knees=knees_of(rows, tally),
        best=best,
        alike=alike,
        warnings=(*tally.warnings, *tally.antenna_notes) if tally else (),
    )


def refused_at(
    survey: Survey, places: Sequence[tuple[str, float]], antenna_m: Array
) -> list[Refusal | None]:
    """Why each place, spot and height [m], is refused; ``antenna_m`` (P, 3) of the antennas.

    Raises InputError where nobody looked for power lines.
    """
    height = np.array([height for _, height in places])
    foot = antenna_m - height[:, None] * np.array([0.0, 0.0, 1.0])
    lengths = np.array([antenna_length_m(survey, spot) for spot, _ in places])
    return refusals(survey, foot, height, lengths)


def unjudged(survey: Survey) -> tuple[MountRow, ...]:
    """Every spot and height as far as it can be told at once: which are refused, and why."""
    places, antenna_m = places_of(survey, None, None)
    return _rows(places, refused_at(survey, places, antenna_m), None)


def _rows(
    places: Sequence[tuple[str, float]], refused: Sequence[Refusal | None], tally: Tally | None
) -> tuple[MountRow, ...]:
    rows = []
    number = 0
    for (spot, height), why in zip(places, refused, strict=True):
        if why is not None or tally is None:
            rows.append(MountRow(spot, height, None, None, None, None, why, None, {}, {}, {}))
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
                paths=dict(zip(tally.stations, tally.paths[a], strict=True)),
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
