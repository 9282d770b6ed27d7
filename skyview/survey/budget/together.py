"""Everything at once: all that helps a path on its roof, done together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.link import antenna as receiving
from skyview.survey.budget import edits, trials
from skyview.survey.budget.gear import WITHOUT_ELEMENTS_DBD, Gear
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.kit import Kit, kit_of
from skyview.survey.budget.listen import Heard, best_of, listen
from skyview.survey.budget.options import LARGER_DBD, edited, guard_mhz, raised
from skyview.survey.budget.places import Moves
from skyview.survey.budget.trials import Outcome, Pairs

PARTS = (
    "raise",
    "another_spot",
    "reaim",
    "two_antennas",
    "larger_antenna",
    "vhf_elements",
    "uhf_elements",
    "cable",
    "preamplifier",
)
"""What can be done together, in the order in which it is told."""


@dataclass(frozen=True)
class Plan:
    """What is done together for one path."""

    parts: tuple[str, ...]
    """Codes of `PARTS`."""
    move: int | None
    """Number of the move, None where the antenna stays."""


def all_at_once(told: Judged, pairs: Pairs, plans: Sequence[Plan], moves: Moves) -> Outcome:
    """What the plans make of their paths; a second antenna has a downlead of its own."""
    places = len(told.scene.places)
    air = replace(
        told.air,
        azimuth=np.concatenate([told.air.azimuth, moves.air.azimuth]),
        wanted_dbm=np.concatenate([told.air.wanted_dbm, moves.air.wanted_dbm], axis=1),
        unwanted_dbm=np.concatenate([told.air.unwanted_dbm, moves.air.unwanted_dbm], axis=1),
    )
    at = np.array(
        [a if p.move is None else places + p.move for (a, _), p in zip(pairs, plans, strict=True)]
    )
    kits = _kits(told)

    def build(numbers: NDArray[np.intp]) -> Heard:
        gears = [_gear(told, kits, air.azimuth[at[i]], pairs[i], plans[i]) for i in numbers]
        here = trials.air_at(air, at[numbers])
        heard = listen(here, trials.one_each(gears))
        stays = np.array(["two_antennas" in plans[i].parts for i in numbers])
        if np.any(stays):
            first = listen(here, trials.one_each(trials.served(told, pairs[numbers])))
            blind = np.where(stays, 0.0, np.nan)[None, :, None]
            heard = best_of([heard, replace(first, margin_db=first.margin_db + blind)])[0]
        return trials.beside(told, pairs[numbers], here, heard)

    return trials.in_pieces(told, pairs, build)


def _kits(told: Judged) -> dict[tuple[bool, bool], Kit]:
    """The antennas with a better cable or not, with a preamplifier or not."""
    scene, guard = told.scene, guard_mhz(told)
    found = {(False, False): told.kit}
    surveys = {(False, False): scene.survey}
    surveys[True, False] = edited(scene.survey, edits.better_cable) or scene.survey
    for better in (False, True):
        base = surveys[better, False]
        surveys[better, True] = edited(base, lambda old: edits.amplified(old, guard)) or base
    for key, survey in surveys.items():
        if key not in found:
            found[key] = kit_of(survey, scene.places, scene.signals)
    return found


def _gear(
    told: Judged,
    kits: Mapping[tuple[bool, bool], Kit],
    azimuth: Array,
    pair: NDArray[np.intp],
    plan: Plan,
) -> Gear:
    """The antenna that serves a path, with all of its plan but the place."""
    a, s = pair
    row = kits["cable" in plan.parts, "preamplifier" in plan.parts].rows[told.which[a, s]]
    gear: Gear = row.gears[row.at[a]]
    bands = told.scene.signals.bands
    planned, larger = (
        receiving.by_band(values, bands, missing=WITHOUT_ELEMENTS_DBD)
        for values in (receiving.PLANNING_GAIN_DBD, LARGER_DBD)
    )
    uhf = np.array([band == "uhf" for band in bands])
    if "vhf_elements" in plan.parts:
        gear = raised(gear, planned, ~uhf, has=False)
    if "uhf_elements" in plan.parts:
        gear = raised(gear, planned, uhf, has=False)
    if "larger_antenna" in plan.parts:
        gear = raised(gear, larger, np.ones(len(uhf), bool), has=True)
    if "reaim" in plan.parts or "two_antennas" in plan.parts:
        gear = replace(gear, aim=np.where(gear.aim == gear.aim[s], azimuth[s], gear.aim))
    return gear
