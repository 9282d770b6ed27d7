"""What may be changed on a roof: other parts, the aim, a second antenna, the place, the trees.

Each function gives trials: one change with what it makes of some paths, ``pairs`` (F, 2) of
position and station.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from skyview.angles import Array
from skyview.link import antenna as receiving
from skyview.link.line import FILTER_LOSS_DB, FILTER_STOP_DB
from skyview.place.channels import width_mhz
from skyview.survey.budget import edits, trials
from skyview.survey.budget.gear import WITHOUT_ELEMENTS_DBD, Gear
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.listen import OVERLOAD_SLOPE, Row
from skyview.survey.budget.parts import Bools
from skyview.survey.budget.trials import Outcome, Pairs
from skyview.survey.models import Antenna, Survey

LARGER_DBD = {"low_vhf": 6.0, "high_vhf": 9.0, "uhf": 13.0}
"""Gain of a large antenna by band: common practice, no source."""

LINE_LIMITS_DB = 3.0
"""A preamplifier is only tried where the line costs this: our own choice."""

OVERLOADED_IN = 0.1
"""Share of the draws with overload that forbids a preamplifier: our own choice."""

EFFORT = {
    "reaim": 1.0,
    "best_aim": 1.0,
    "no_preamplifier": 1.0,
    "cable": 2.0,
    "preamplifier": 2.0,
    "filter": 2.0,
    "larger_antenna": 3.0,
    "vhf_elements": 3.0,
    "uhf_elements": 3.0,
    "another_spot": 4.0,
    "two_antennas": 5.0,
    "trim": 6.0,
    "fell": 9.0,
}
"""Effort of each change against that of turning an antenna: our own choice. A raise takes 2 and 1
for each metre; above the tallest mast without guys 3 more and 1 more for each metre."""

VHF_MHZ, UHF_MHZ = (30.0, 300.0), (300.0, 3000.0)
"""What a filter that keeps the other band out lets pass: ITU Radio Regulations No. 2.1."""

OWN_LINE = 6.0
"""The effort of a second antenna with a downlead of its own."""


@dataclass(frozen=True)
class Trial:
    """One change, and what it makes of some paths."""

    code: str
    pairs: Pairs
    outcome: Outcome
    effort: Array
    """By path. (F,)"""
    amount: Array
    """By path: metres or degrees as `skyview.survey.results.Cure` has it, NaN for none. (F,)"""
    thing: tuple[str | None, ...]
    """By path: the obstruction, the spot, how two antennas are joined."""
    cautions: tuple[tuple[str, ...], ...]
    """By path."""
    move: tuple[int, ...] = ()
    """By path: the number of the move, where the place is what changes."""


def plain(
    code: str,
    pairs: Pairs,
    outcome: Outcome,
    *,
    effort: float | None = None,
    amount: Array | None = None,
    thing: str | None = None,
    cautions: tuple[str, ...] = ("roof",),
) -> Trial:
    """A trial whose paths differ in nothing but the amount."""
    count = len(pairs)
    return Trial(
        code,
        pairs,
        outcome,
        np.full(count, EFFORT[code] if effort is None else effort),
        np.full(count, np.nan) if amount is None else amount,
        (thing,) * count,
        (cautions,) * count,
    )


def by_gain(told: Judged, pairs: Pairs) -> Iterator[Trial]:
    """An antenna with more gain, or with the elements that it lacks."""
    signals = told.scene.signals
    gain = np.stack([gear.gain_dbd for gear in trials.served(told, pairs)])
    has = gain[np.arange(len(pairs)), pairs[:, 1]] >= 0.0
    uhf = np.array([band == "uhf" for band in signals.bands])
    missing: tuple[tuple[str, dict[str, float], Bools, Bools], ...] = (
        ("larger_antenna", LARGER_DBD, has, np.ones(len(uhf), bool)),
        ("vhf_elements", receiving.PLANNING_GAIN_DBD, ~has & ~uhf[pairs[:, 1]], ~uhf),
        ("uhf_elements", receiving.PLANNING_GAIN_DBD, ~has & uhf[pairs[:, 1]], uhf),
    )
    for code, values, asked, bands in missing:
        if np.any(asked):
            wanted = receiving.by_band(values, signals.bands, missing=WITHOUT_ELEMENTS_DBD)
            change = _raiser(wanted, bands, code == "larger_antenna")
            yield plain(code, pairs[asked], trials.with_gears(told, pairs[asked], change))


def _raiser(gain_dbd: Array, bands: Bools, has: bool) -> Callable[[Row], Row]:
    def change(row: Row) -> Row:
        return Row(tuple(raised(g, gain_dbd, bands, has) for g in row.gears), row.at, row.other)

    return change


def raised(gear: Gear, gain_dbd: Array, bands: Bools, has: bool) -> Gear:
    """At least ``gain_dbd`` (S,) in the ``bands`` (S,) that the antenna has, or has not."""
    here = bands & ((gear.gain_dbd >= 0.0) == has)
    return replace(
        gear, gain_dbd=np.where(here, np.maximum(gear.gain_dbd, gain_dbd), gear.gain_dbd)
    )


def by_line(told: Judged, pairs: Pairs, line_db: Array) -> Iterator[Trial]:
    """Other parts of the downlead; ``line_db`` (A, S) is what the line costs each path.

    A filter that gains no more than its own loss does against overload keeps nothing out.
    """
    a, s = pairs.T
    scene = told.scene
    survey, wanted = scene.survey, scene.signals.wanted
    guard = guard_mhz(told)
    uhf = np.array([band == "uhf" for band in scene.signals.bands])
    limits = line_db[a, s] >= LINE_LIMITS_DB
    everywhere = np.ones(len(pairs), bool)
    tried: list[tuple[str, Callable[[Antenna], Antenna | None], Bools]] = [
        ("cable", edits.better_cable, everywhere),
        ("preamplifier", lambda old: edits.amplified(old, guard), limits),
        ("no_preamplifier", edits.unamplified, everywhere),
    ]
    for side, pass_mhz in ((uhf, UHF_MHZ), (~uhf, VHF_MHZ)):
        if np.any(wanted & side):
            tried.append(("filter", _filterer(pass_mhz), side[s]))
    for code, edit, asked in tried:
        changed = edited(survey, edit)
        if changed is None or not np.any(asked):
            continue
        outcome, overloaded = trials.with_survey(told, pairs[asked], changed)
        mine = pairs[asked]
        if code == "preamplifier":
            free = overloaded < OVERLOADED_IN
            mine, outcome = mine[free], outcome.of(free)
        if code == "filter":
            more = outcome.gain_db > OVERLOAD_SLOPE * FILTER_LOSS_DB
            mine, outcome = mine[more], outcome.of(more)
        if len(mine):
            cautions = ("roof", "cellular") if guard and code == "preamplifier" else ("roof",)
            yield plain(code, mine, outcome, cautions=cautions)


def guard_mhz(told: Judged) -> tuple[float, float] | None:
    """What a filter before a preamplifier lets pass where a mobile-phone mast is marked: the
    channels of all stations, wanted or not, since it keeps out telephones and no television."""
    scene = told.scene
    marked = any(thing.transmits == "cellular" for thing in scene.survey.obstructions)
    if not marked or not np.any(scene.signals.wanted):
        return None
    channels = np.array([station.rf_channel for station in scene.stations])
    half = np.asarray(width_mhz(scene.survey.site.channel_plan, channels), float) / 2.0
    f = scene.signals.frequency_mhz
    return float(np.min(f - half)), float(np.max(f + half))


def edited(survey: Survey, edit: Callable[[Antenna], Antenna | None]) -> Survey | None:
    """The survey with every antenna changed that can be; None where none can."""
    new = [edit(antenna) for antenna in survey.antennas]
    if all(antenna is None for antenna in new):
        return None
    both = zip(new, survey.antennas, strict=True)
    return survey.model_copy(update={"antennas": [made or old for made, old in both]})


def _filterer(pass_mhz: tuple[float, float]) -> Callable[[Antenna], Antenna | None]:
    return lambda old: edits.filtered(old, pass_mhz)


def by_aim(told: Judged, pairs: Pairs) -> Iterator[Trial]:
    """The antenna turned to the station, or to where it serves the roof best; or a second one
    turned to it, by a diplexer, by a hybrid or on its own line."""
    gears = trials.served(told, pairs)
    fixed = ~np.isnan([gear.aim[s] for gear, (_, s) in zip(gears, pairs, strict=True)])
    mine = pairs[fixed & trials.is_single(told, pairs)]
    if len(mine) == 0:
        return
    to_it = trials.reaimed(told, mine)
    azimuth = np.degrees(told.air.azimuth[mine[:, 0], mine[:, 1]])
    yield plain("reaim", mine, to_it, amount=azimuth)
    if len(told.each) == 1:
        best, outcome = trials.best_aimed(told, mine)
        yield plain("best_aim", mine, outcome, amount=np.degrees(best))
        yield from _by_second_antenna(told, mine, to_it)


def _by_second_antenna(told: Judged, mine: Pairs, to_it: Outcome) -> Iterator[Trial]:
    signals = told.scene.signals
    apart = trials.on_own_downlead(told, mine, to_it)
    yield plain("two_antennas", mine, apart, thing="separate", effort=OWN_LINE)
    yield plain("two_antennas", mine, trials.on_hybrid(told, mine), thing="hybrid")
    uhf = np.array([band == "uhf" for band in signals.bands])
    if np.all(uhf) or not np.any(uhf):
        return
    planned = receiving.by_band(
        receiving.PLANNING_GAIN_DBD, signals.bands, missing=WITHOUT_ELEMENTS_DBD
    )
    outcome = trials.on_diplexer(told, mine, planned, -FILTER_STOP_DB)
    yield plain("two_antennas", mine, outcome, thing="diplexer")
