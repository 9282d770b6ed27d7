"""What may be wrong, each as the pattern that it would leave in a scan.

A fault is a set of equally shaped cases (P): how many decibels each station's level moves, and
which state its signal is in. Sizes and their weights are our own choices, no source, unless a
line says otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.survey.scan.expected import Expected, turned_db
from skyview.survey.scan.readings import (
    CO_CHANNEL,
    ECHOES,
    OVERLOAD,
    OVERLOAD_DB,
    PLAIN,
)

NONE_SHARE = 1.0 / 3.0
"""Scans in which nothing is wrong; the rest is shared evenly by the faults that can be."""

LINE_DB = np.arange(6.0, 37.0, 3.0)
BAND_DB = np.arange(6.0, 31.0, 3.0)
ONE_DB = np.arange(9.0, 43.0, 3.0)
SURPLUS_DB = np.arange(12.0, 46.0, 3.0)
LEAVES_DB = np.array([3.0, 5.0, 7.5, 11.0, 16.0])
"""Sizes of a fault; of leaves on the path through the costliest crown: published models differ so
much that only the pattern of their predictions is used."""

CROWN_DB = 1.0
"""A crown that costs less has no leaves to speak of in the way."""

TURNS = np.radians(np.concatenate([np.arange(-180.0, -19.0, 5.0), np.arange(20.0, 180.0, 5.0)]))
"""By how much an antenna may be off its aim; less is not worth a climb."""

TURN_SCALE = np.radians(60.0)
"""Great turns are rarer: weight falls by e in so much."""

OPEN_MHZ = 200.0
"""A conductor that touches nothing passes high frequencies: its loss is given at this one."""

UNLIKELY = 0.2
"""A station predicted with less than this was not to be received."""

LOUD_DBM = -45.0
"""Without an amplifier nothing below this at the set overloads it: our own choice."""


@dataclass(frozen=True)
class Fault:
    """One thing that may be wrong."""

    code: str
    shift_db: Array
    """Of each station's level. (P, S)"""
    state: NDArray[np.intp]
    """Of each station's signal. (P, S)"""
    weight: Array
    """Of each case; their sum is 1. (P,)"""
    subject: NDArray[np.intp]
    """Station that is meant, or number of the band; -1 for none. (P,)"""
    size: Array
    """Decibels, or the turn [rad]. (P,)"""
    new: bool = False
    """It was not there when the earlier scan was made."""


def faults_of(expected: Expected, seen_rows: NDArray[np.bool_], greened: bool) -> list[Fault]:
    """Every fault that can be with this antenna and these stations, the absence of any first.

    ``seen_rows`` (S,): stations that the scan speaks of; ``greened``: a scan of bare trees
    stands before it, so that leaves can be told.
    """
    asked = np.flatnonzero(seen_rows & ~np.isnan(expected.level_dbm))
    count = len(expected.level_dbm)
    found = [_shifted("none", np.zeros((1, count)))]
    if not expected.at_terminals:
        found.append(_line(expected))
    found += _bands(expected, asked)
    if np.any(~np.isnan(expected.gear.aim)):
        found.append(_aim(expected))
    found.append(_one(asked, count))
    found += [_stated("multipath", np.full((1, count), ECHOES), np.array([-1]))]
    shared = asked[expected.co_channel[asked]]
    if len(shared):
        states = np.full((len(shared), count), PLAIN)
        states[np.arange(len(shared)), shared] = CO_CHANNEL
        found.append(_stated("co_channel", states, shared))
    if expected.amplifier_db > 0.0 or np.nanmax(expected.level_dbm, initial=-200.0) > LOUD_DBM:
        states = np.tile(OVERLOAD + np.arange(len(OVERLOAD_DB))[:, None], (1, count))
        found.append(_stated("overload", states, np.full(len(OVERLOAD_DB), -1)))
    crowns = np.where(expected.crowns_db >= CROWN_DB, expected.crowns_db, 0.0)
    if greened and np.any(crowns[asked] > 0.0):
        moved = -LEAVES_DB[:, None] * crowns / crowns.max()
        found.append(_shifted("foliage", moved, LEAVES_DB))
    weak = asked[np.nan_to_num(expected.probability[asked], nan=1.0) < UNLIKELY]
    if len(weak):
        found.append(_surplus(weak, count))
    return found


def between(before: Sequence[Fault], faults: Sequence[Fault], crossed: bool) -> list[Fault]:
    """Faults of two scans: those there all the time, then the new ones.

    ``before`` and ``faults`` are those that each scan may show. ``crossed``: one scan was made at
    the antenna's terminals and the other, of the same time, below the line, so that only the line
    stands between them.
    """
    if crossed:
        new = [fault for fault in faults if fault.code == "line"]
        return [*before, *(replace(fault, new=True) for fault in new)]
    lasting = [fault for fault in faults if fault.code != "foliage"]
    return [*lasting, *(replace(fault, new=True) for fault in faults if fault.code != "none")]


def prior_of(faults: Sequence[Fault]) -> Array:
    """Probability of each before the scan; the first is that nothing is wrong, and a cause that
    may be old or new is shared by both."""
    codes = [fault.code for fault in faults]
    share = (1.0 - NONE_SHARE) / max(len(set(codes)) - 1, 1)
    return np.array([NONE_SHARE if code == "none" else share / codes.count(code) for code in codes])


def _shifted(
    code: str,
    shift_db: Array,
    size: Array | None = None,
    subject: NDArray[np.intp] | None = None,
    weight: Array | None = None,
) -> Fault:
    cases = len(shift_db)
    weight = np.ones(cases) if weight is None else weight
    return Fault(
        code,
        np.nan_to_num(shift_db),
        np.full(shift_db.shape, PLAIN),
        weight / weight.sum(),
        np.full(cases, -1) if subject is None else subject,
        np.zeros(cases) if size is None else size,
    )


def _stated(code: str, state: NDArray[np.intp], subject: NDArray[np.intp]) -> Fault:
    cases = len(state)
    even = np.full(cases, 1.0 / cases)
    return Fault(code, np.zeros(state.shape), state, even, subject, np.zeros(cases))


def _line(expected: Expected) -> Fault:
    """The whole line: the same for all, more at high frequencies (wet cable), more at low ones
    (a conductor that touches nothing)."""
    f = expected.signals.frequency_mhz
    flat = np.ones(len(f))
    wet = np.sqrt(f / np.median(f))
    corner = OPEN_MHZ * np.sqrt(np.maximum(10.0 ** (LINE_DB / 10.0) - 1.0, 0.0))
    apart = 10.0 * np.log10(1.0 + (corner[:, None] / f) ** 2)
    shift = np.concatenate([LINE_DB[:, None] * flat, LINE_DB[:, None] * wet, apart])
    weight = np.repeat([0.5, 0.25, 0.25], len(LINE_DB)) * np.tile(_falling(LINE_DB), 3)
    return _shifted("line", -shift, np.tile(LINE_DB, 3), weight=weight)


def _falling(size_db: Array) -> Array:
    """Weights that favour small faults a little."""
    return np.exp(-size_db / 20.0)


def _bands(expected: Expected, asked: NDArray[np.intp]) -> list[Fault]:
    """One band low; only where the scan speaks of another band too."""
    bands = np.array(expected.signals.bands)
    present = sorted(set(bands[asked]))
    if len(present) < 2:
        return []
    names = np.array([number for number, _ in enumerate(present)])
    inside = np.array([bands == band for band in present])
    shift = -(BAND_DB[None, :, None] * inside[:, None, :]).reshape(-1, len(bands))
    size = np.tile(BAND_DB, len(present))
    return [_shifted("band", shift, size, np.repeat(names, len(BAND_DB)), _falling(size))]


def band_named(expected: Expected, asked: NDArray[np.intp], subject: int) -> str:
    """The band that a fault of one band means."""
    return str(sorted(set(np.array(expected.signals.bands)[asked]))[subject])


def _aim(expected: Expected) -> Fault:
    return _shifted(
        "aim", turned_db(expected, TURNS), TURNS, weight=np.exp(-np.abs(TURNS) / TURN_SCALE)
    )


def _one(asked: NDArray[np.intp], count: int) -> Fault:
    which, size = np.repeat(asked, len(ONE_DB)), np.tile(ONE_DB, len(asked))
    shift = np.zeros((len(which), count))
    shift[np.arange(len(which)), which] = -size
    return _shifted("one_low", shift, size, which)


def _surplus(weak: NDArray[np.intp], count: int) -> Fault:
    """Stations that come in although their own path cannot bring them."""
    which, size = np.repeat(weak, len(SURPLUS_DB)), np.tile(SURPLUS_DB, len(weak))
    shift = np.zeros((len(which), count))
    shift[np.arange(len(which)), which] = size
    return _shifted("not_predicted", shift, size, which)
