"""How probable a receiver's readings are at each true level, for every state of the signal.

The levels are a grid of decibels about the prediction, so that one table serves every fault. The
sigmas and scales of receivers here are our own choices, no source, unless a line says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.special import ndtr

from skyview.angles import Array
from skyview.survey.scan.expected import Expected
from skyview.survey.scan.observed import Observed

STEP_DB = 1.5
"""Step of the grid of levels."""

LEVELS_DB = np.arange(-72.0, 48.1, STEP_DB)
"""True level over the predicted one. (X,)"""

METER_DB, METER_COMMON_DB = 2.0, 3.0
"""A receiver's strength: one sigma of each reading, and of what all readings share."""

FIRST_BAR_DBM = (-92.0, -87.0, -82.0, -77.0, -72.0)
FIVE_BARS_DB = np.array([25.0, 37.5, 50.0, 65.0])
EMPTY_DBM, FULL_DBM = (-96.0, -90.0, -84.0, -78.0), (-55.0, -45.0, -35.0, -25.0)
"""Where a display's first bar may come, how much all its bars may span, and where a scale of per
cent may begin and end; any pair of them is as likely as any other."""

CN_DB, CN_TOP_DB = 2.5, 34.0
"""One sigma of a carrier to noise against the predicted noise; no receiver shows more than the
second."""

EDGE_DB = 2.0
"""How gradually reception sets in about the threshold."""

STEADY_DB = 3.0
"""Margin at which one reception in two is without drop-outs."""

STRAY = 0.02
"""Share of readings that anything may have made."""

SPOILT_DB = (4.0, 8.0, 12.0, 16.0, 20.0, 24.0)
"""The carrier to noise beyond which echoes, or another station on the channel, let none rise."""

OVERLOAD_DB = (6.0, 12.0, 18.0, 25.0, 33.0, 42.0)
"""By how much an overloaded amplifier may raise the noise on every channel."""

DISTURBED_DB, DISTURBED_SHARE = (-24.0, -12.0, 0.0, 8.0), (0.15, 0.35, 0.35, 0.15)
"""By how much what other stations add to the noise may miss its prediction, and how often: theirs
are far stations at the back of the antenna, of which less is known than of those that it sees."""

PLAIN, ECHOES, CO_CHANNEL, OVERLOAD = 0, 1, 2, 3
"""Index of each state of a signal; overload takes one state a raise of the noise."""

ECHO_SHARE = 0.35
"""Share of the stations that echoes spoil where they spoil any."""


@dataclass(frozen=True)
class Readings:
    """Likelihoods of all readings. K scales of the receiver that may be, S stations, X levels."""

    likelihood: Array
    """(states, K, S, X)"""
    scales: int
    """K, all equally likely."""


def readings_of(expected: Expected, seen: Observed) -> Readings:
    """The likelihood of a scan's readings at every level, in every state of the signal."""
    level = expected.level_dbm[:, None] + LEVELS_DB
    strength = _strength(seen, power_sum_dbm(level, noise_at(expected)[:, None]))
    states = np.zeros((OVERLOAD + len(OVERLOAD_DB), *level.shape))
    for off, share in zip(DISTURBED_DB, DISTURBED_SHARE, strict=True):
        states += share * _states(expected, seen, level - noise_at(expected, off)[:, None])
    unknown = np.isnan(expected.level_dbm)
    table = strength[None] * states[:, None]
    table[:, :, unknown] = 1.0
    return Readings(table, len(strength))


def noise_at(expected: Expected, off_db: float = 0.0) -> Array:
    """Noise and disturbance together where the latter is so much stronger than predicted. [dBm]"""
    return power_sum_dbm(expected.noise_dbm, expected.disturbance_dbm + off_db)


def power_sum_dbm(one: Array, other: Array) -> Array:
    """Two powers together. [dBm]"""
    return np.asarray(10.0 * np.log10(10.0 ** (one / 10.0) + 10.0 ** (other / 10.0)))


def _states(expected: Expected, seen: Observed, ratio: Array) -> Array:
    """Likelihood of what was read beside the strengths, by state. (states, S, X)"""
    needed = expected.signals.required_cn_db[:, None]
    plain = _quality(seen, ratio, needed, None)
    ceilings = [_parallel(ratio, top) for top in SPOILT_DB]
    spoilt = [_quality(seen, under, needed, 0.45) for under in ceilings]
    echoes = (1.0 - ECHO_SHARE) * plain + ECHO_SHARE * np.mean(spoilt, axis=0)
    co_channel = np.mean([_quality(seen, under, needed, 0.3) for under in ceilings], axis=0)
    loud = [_quality(seen, ratio - raised, needed, 0.2) for raised in OVERLOAD_DB]
    return np.stack([plain, echoes, co_channel, *loud])


def _strength(seen: Observed, level: Array) -> Array:
    """Likelihood of the strengths by scale of the receiver, at all the power in the channel, noise
    included. (K, S, X)"""
    value = seen.strength[:, None]
    if seen.scale == "dbm":
        shifts = METER_COMMON_DB * np.array([-1.2247, 0.0, 1.2247])
        tables = [_bell(value - level - shift, METER_DB) / METER_DB for shift in shifts]
    elif seen.scale == "percent":
        tables = [
            _percent(value, level, empty, full) for empty, full in product(EMPTY_DBM, FULL_DBM)
        ]
    else:
        tables = [
            _bars(value, level, first, step, seen.bars)
            for first, step in product(FIRST_BAR_DBM, FIVE_BARS_DB / seen.bars)
        ]
    found = np.stack(tables)
    found = (1.0 - STRAY) * found + STRAY * _even(seen)
    return np.where(np.isnan(value)[None], 1.0, found)


def _even(seen: Observed) -> float:
    """Probability of a reading that says nothing."""
    return {"dbm": 0.01, "percent": 0.01, "bars": 1.0 / (seen.bars + 1)}[seen.scale]


def _percent(value: Array, level: Array, empty: float, full: float) -> Array:
    slope = 100.0 / (full - empty)
    told = (level - empty) * slope
    sigma = METER_DB * slope
    inside = _bell(value - told, sigma) / sigma
    ends = np.where(value >= 100.0, ndtr((told - 100.0) / sigma), ndtr(-told / sigma))
    return np.where((value <= 0.0) | (value >= 100.0), ends, inside)


def _bars(value: Array, level: Array, first: float, step: float, bars: int) -> Array:
    """``first``: level at which the first bar comes; one more each ``step``. [dBm, dB]"""
    shown = np.minimum(np.round(value), bars)
    upper = np.where(shown >= bars, 1.0, ndtr((first + shown * step - level) / METER_DB))
    lower = np.where(shown <= 0.0, 0.0, ndtr((first + (shown - 1.0) * step - level) / METER_DB))
    result: Array = np.maximum(upper - lower, 1e-12)
    return result


def _quality(seen: Observed, ratio: Array, needed: Array, steady: float | None) -> Array:
    """Likelihood of carrier to noise, reception and steadiness at true ratios (S, X). [dB]

    ``steady``: probability of it in a spoilt signal; None for a plain one.
    """
    value = seen.cn_db[:, None]
    shown = _parallel(ratio, CN_TOP_DB)
    carrier = (1.0 - STRAY) * _bell(value - shown, CN_DB) / CN_DB + STRAY * 0.02
    found = np.where(np.isnan(value), 1.0, carrier)
    margin = ratio - needed
    comes = STRAY + (1.0 - 2.0 * STRAY) * ndtr(margin / EDGE_DB)
    received = seen.received[:, None]
    told = np.where(received > 0.5, comes, 1.0 - comes)
    found = found * np.where(np.isnan(received) | np.isnan(needed), 1.0, told)
    calm = 0.95 * ndtr((margin - STEADY_DB) / EDGE_DB) + STRAY
    calm = calm if steady is None else np.minimum(calm, steady)
    still = seen.steady[:, None]
    told = np.where(still > 0.5, calm, 1.0 - calm)
    speaks = (received > 0.5) & ~np.isnan(still) & ~np.isnan(needed)
    return np.asarray(found * np.where(speaks, told, 1.0))


def _parallel(ratio: Array, top: float) -> Array:
    """A ratio with one more noise, that alone would leave ``top``. [dB]"""
    return np.asarray(-10.0 * np.log10(10.0 ** (-ratio / 10.0) + 10.0 ** (-top / 10.0)))


def _bell(error: Array, sigma: float) -> Array:
    return np.asarray(np.exp(-0.5 * (error / sigma) ** 2) / np.sqrt(2.0 * np.pi))
