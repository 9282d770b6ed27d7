"""What many antenna positions bring, by the link budget: chances, margins, losses, counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from skyview.angles import Array
from skyview.survey.budget.draws import SETS
from skyview.survey.budget.judged import Judged, judged
from skyview.survey.budget.words import LIKELY, SURE
from skyview.survey.losses import path_word
from skyview.survey.models import Survey
from skyview.survey.refusals import Refusal
from skyview.survey.results import PathWord
from skyview.survey.scene import Leaf, scene_at

MUST_COUNTS = 3.0
"""A station that must be had counts so many times: our own choice."""


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
    paths: tuple[tuple[PathWord, ...], ...]
    """The paths' words by position and station; none where they were not asked for."""
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
    paths: dict[str, PathWord]
    """The word of every wanted station's path, as in ``PathRow``."""


def tally_at(
    survey: Survey,
    places: Sequence[tuple[str, float]],
    antenna_m: Array,
    leaf: Leaf,
    sets: int = SETS,
    words: bool = False,
) -> Tally:
    """What positions (A, 3) bring; ``places`` names their spots and heights, ``sets`` is how many
    sets of what is unsure are drawn. The paths' ``words`` take the exact loss of every path."""
    scene = scene_at(survey, places, antenna_m, leaf=leaf, quick_sets=sets, answered=words)
    told: Judged = judged(scene)
    wanted = scene.signals.wanted
    chance = np.where(told.told, told.probability, np.nan)
    return Tally(
        stations=tuple(s.id for s, w in zip(scene.stations, wanted, strict=True) if w),
        must_have=tuple(s.must_have for s, w in zip(scene.stations, wanted, strict=True) if w),
        probability=chance[:, wanted],
        margin_db=told.median_db[:, wanted],
        loss_db=np.asarray(np.median(scene.losses.loss_db, axis=0)[:, wanted], float),
        paths=tuple(
            tuple(path_word(row[s], bool(scene.photographed[a, s])) for s in np.flatnonzero(wanted))
            for a, row in enumerate(scene.answers)
        ),
        warnings=scene.warnings,
        antenna_notes=told.kit.warnings,
    )
