"""What more than one fixed antenna would bring: elements for VHF, a second antenna, a rotator.

Each is tried with the same draws as the single heading, so that what differs is the change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import numpy as np

from skyview.angles import Array
from skyview.link import antenna as receiving
from skyview.survey.aims import (
    Heading,
    Sweep,
    best_index,
    counted_stations,
    few_draws,
    heard_at,
    sweep,
)
from skyview.survey.budget.gear import WITHOUT_ELEMENTS_DBD, Gear
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.listen import Row, best_of, listen
from skyview.survey.budget.options import raised
from skyview.survey.budget.trials import air_at
from skyview.survey.budget.words import LIKELY, SURE

Code = Literal["vhf_elements", "second_separate", "second_combined", "rotator"]

PAIR_STEP_DEG = 10
"""Step of the headings of two antennas on one downlead, which are all tried in pairs."""


@dataclass(frozen=True)
class Extra:
    """One change, at its own best headings."""

    code: Code
    aims_deg: tuple[float, ...]
    """True; none for a rotator, which is turned to each station. [deg]"""
    sure: int
    likely: int
    gained: tuple[str, ...]
    """Stations that become at least likely against the best single heading."""
    lost: tuple[str, ...]
    """Stations that no longer are."""
    expected_more: float
    """Expected number of stations more than at the best single heading."""


def extras(told: Judged, place: int, found: Sweep, single: Heading) -> list[Extra]:
    """All that can be tried at one position, beside the best ``single`` heading for the count."""
    return [made for trial in (_vhf, _separate, _combined, _rotator)
            for made in trial(told, place, found, single)]  # fmt: skip


def _extra(
    told: Judged, code: Code, aims: tuple[float, ...], chance: Array, single: Heading
) -> Extra:
    """What a change brings, from every station's chance (S,) with it."""
    after, before = np.nan_to_num(chance), np.nan_to_num(single.probability)
    names = [station.id for station in told.scene.stations]
    became = (after >= LIKELY) & (before < LIKELY)
    ceased = (after < LIKELY) & (before >= LIKELY)
    return Extra(
        code=code,
        aims_deg=aims,
        sure=int(np.sum(after >= SURE)),
        likely=int(np.sum((after >= LIKELY) & (after < SURE))),
        gained=tuple(n for n, yes in zip(names, became, strict=True) if yes),
        lost=tuple(n for n, yes in zip(names, ceased, strict=True) if yes),
        expected_more=float(after.sum() - before.sum()),
    )


def _chance(told: Judged, place: int, probability: Array) -> Array:
    return np.where(told.told[place], probability, np.nan)


def _vhf(told: Judged, place: int, found: Sweep, single: Heading) -> Iterator[Extra]:
    """The antenna with the elements that planning assumes, in the VHF bands that it lacks."""
    signals = told.scene.signals
    vhf = np.array([band != "uhf" for band in signals.bands])
    wanted = receiving.by_band(
        receiving.PLANNING_GAIN_DBD, signals.bands, missing=WITHOUT_ELEMENTS_DBD
    )
    gears = [row.gears[row.at[place]] for row in told.kit.rows]
    if not any(np.any(vhf & (gear.gain_dbd < 0.0) & told.told[place]) for gear in gears):
        return

    def more(gear: Gear) -> Gear:
        return raised(gear, wanted, vhf, has=False)

    changed = _with(told, more)
    again = sweep(changed, place)
    at = best_index(again, counted_stations(told, place, only_must_have=False))
    aim = float(again.heading_deg[at])
    heard = heard_at(changed, place, np.radians([aim]))
    chance = _chance(told, place, heard.probability[0])
    yield _extra(told, "vhf_elements", (aim,), chance, single)


def _with(told: Judged, change: Callable[[Gear], Gear]) -> Judged:
    rows = tuple(
        replace(row, gears=tuple(change(gear) for gear in row.gears)) for row in told.kit.rows
    )
    return replace(told, kit=replace(told.kit, rows=rows))


def _separate(told: Judged, place: int, found: Sweep, single: Heading) -> Iterator[Extra]:
    """A second antenna like the first with a downlead of its own, both at their best headings."""
    counted = counted_stations(told, place, only_must_have=False)
    chance = np.where(counted, np.nan_to_num(found.probability), 0.0)
    both = np.maximum(chance[:, None, :], chance[None, :, :]).sum(axis=-1)
    one, two = np.unravel_index(int(np.argmax(both)), both.shape)
    aims = tuple(float(found.heading_deg[i]) for i in sorted((one, two)))
    heard = [heard_at(told, place, np.radians([aim])) for aim in aims]
    best, _ = best_of(heard)
    yield _extra(told, "second_separate", aims, _chance(told, place, best.probability[0]), single)


def _combined(told: Judged, place: int, found: Sweep, single: Heading) -> Iterator[Extra]:
    """A second antenna like the first on a hybrid: half the power each, waves adding by chance."""
    row = told.kit.rows[0]
    if len(told.kit.rows) > 1 or row.other[place] >= 0:
        return
    gear = row.gears[row.at[place]]
    counted = counted_stations(told, place, only_must_have=False)
    steps = np.arange(0, 360, PAIR_STEP_DEG, dtype=float)
    pairs = np.array(list(combinations(steps, 2)))
    few = few_draws(told.air)
    worth = []
    for start in range(0, len(pairs), 60):
        some = pairs[start : start + 60]
        heard = listen(air_at(few, np.full(len(some), place)), _pairs_of(gear, some))
        chance = np.where(counted, np.nan_to_num(heard.probability), 0.0)
        worth.append(chance.sum(axis=1))
    best = pairs[int(np.argmax(np.concatenate(worth)))]
    heard = listen(air_at(told.air, np.array([place])), _pairs_of(gear, best[None]))
    aims = (float(best[0]), float(best[1]))
    chance = _chance(told, place, heard.probability[0])
    yield _extra(told, "second_combined", aims, chance, single)


def _pairs_of(gear: Gear, aims_deg: Array) -> Row:
    """Two antennas alike at each of several pairs of headings (P, 2), on one hybrid."""
    headings = np.unique(aims_deg)
    gears = tuple(replace(gear, aim=np.full(gear.aim.shape, np.radians(aim))) for aim in headings)
    index = np.searchsorted(headings, aims_deg)
    return Row(gears, index[:, 0], index[:, 1])


def _rotator(told: Judged, place: int, found: Sweep, single: Heading) -> Iterator[Extra]:
    """The antenna turned to each station in turn."""
    turning = _with(told, lambda gear: replace(gear, aim=np.full(gear.aim.shape, np.nan)))
    at = np.array([place])
    air = air_at(told.air, at)
    rows = [Row(row.gears, row.at[at], row.other[at]) for row in turning.kit.rows]
    heard = best_of([listen(air, row) for row in rows])[0]
    chance = _chance(told, place, heard.probability[0])
    yield _extra(told, "rotator", (), chance, single)
