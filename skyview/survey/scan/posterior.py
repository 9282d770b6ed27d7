"""The probability of every fault once the scan is read.

Each station's true level is its prediction, an error common to all, an error of its own and what
the fault moves; given the common error and the fault the stations are independent. All is summed
on grids: no sampling. Shapes: K scales of the receiver, S stations, C common errors, H shifts,
P cases of a fault.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from skyview.angles import Array
from skyview.survey.scan.expected import Expected
from skyview.survey.scan.faults import Fault, prior_of
from skyview.survey.scan.readings import LEVELS_DB, PLAIN, STEP_DB, Readings

COMMON = np.linspace(-3.0, 3.0, 17)
"""Common error in its sigmas. (C,)"""

SHIFTS_DB = np.arange(-60.0, 48.1, STEP_DB)
"""What a fault may move. (H,)"""

LEAST = 1e-30


@dataclass(frozen=True)
class Posterior:
    """What the scan says."""

    probability: Array
    """Of each fault. (F,)"""
    cases: tuple[Array, ...]
    """By fault, of each of its cases; their sum is the fault's. (P,)"""
    common_db: float
    """Middle of the common error where nothing is wrong with the line."""
    common_sigma_db: float


def posterior_of(
    expected: Expected, readings: Readings, faults: Sequence[Fault], before: Readings | None = None
) -> Posterior:
    """Bayes' rule over the faults; ``before``: an earlier scan.

    Both scans saw the same level but for what changes between days and for the faults that are
    ``new``; all other faults were there before too.
    """
    common = _normal(COMMON)
    weights = np.log(common / common.sum())
    now = readings.likelihood
    changed = None
    if before is not None:
        now = (now[..., None, :] @ _blur(expected.again_sigma_db))[..., 0, :]
        if any(fault.new for fault in faults):
            changed = _tables(expected, now, before.likelihood[PLAIN])
        now = now * before.likelihood
    table = _tables(expected, now)
    logs = [
        _log_cases(fault, changed if fault.new and changed is not None else table, weights)
        for fault in faults
    ]
    prior = np.log(prior_of(faults))
    joint = [log + p for log, p in zip(logs, prior, strict=True)]
    total = logsumexp(np.concatenate(joint))
    cases = tuple(np.exp(log - total) for log in joint)
    middle, sigma = _common(expected, table, weights)
    return Posterior(np.array([c.sum() for c in cases]), cases, middle, sigma)


def _tables(expected: Expected, now: Array, before: Array | None = None) -> Array:
    """Logarithm of the likelihood of readings ``now`` (states, K, S, X), moved, and of those
    ``before`` (K, S, X), not moved. (states, K, S, C, H)"""
    error = expected.offset_db + COMMON * expected.offset_sigma_db
    error = np.where(expected.shares_offset[:, None], error, 0.0)
    away = LEVELS_DB - error[:, :, None]
    where = _normal(away / expected.own_sigma_db[:, None, None])
    where = _capped(where / where.sum(axis=-1, keepdims=True), expected)[None]
    if before is not None:
        where = where * before[:, :, None, :]
    at = np.arange(len(LEVELS_DB))[:, None] + np.round(SHIFTS_DB / STEP_DB).astype(int)
    moved = now[..., np.clip(at, 0, len(LEVELS_DB) - 1)]
    return np.asarray(np.log(np.maximum(where @ moved, LEAST)))


def _capped(where: Array, expected: Expected) -> Array:
    """Chances of levels (S, C, X); what would lie above the highest possible lies at it."""
    over = expected.highest_dbm - expected.level_dbm
    top = np.where(np.isnan(over), len(LEVELS_DB) - 1, np.searchsorted(LEVELS_DB, over))
    top = np.minimum(top, len(LEVELS_DB) - 1)
    above = np.arange(len(LEVELS_DB)) > top[:, None]
    surplus = np.sum(where * above[:, None, :], axis=-1)
    kept = np.where(above[:, None, :], 0.0, where)
    kept[np.arange(len(top)), :, top] += surplus
    return kept


def _blur(sigma_db: Array) -> Array:
    """What a level of each station may become on another day. (S, X, X)"""
    apart = LEVELS_DB[:, None] - LEVELS_DB[None, :]
    kernel = _normal(apart / sigma_db[:, None, None])
    return np.asarray(kernel / kernel.sum(axis=-2, keepdims=True))


def _normal(x: Array) -> Array:
    return np.asarray(np.exp(-0.5 * x**2))


def _log_cases(fault: Fault, table: Array, common: Array) -> Array:
    """Logarithm of the likelihood of each case, its weight included. (P,)"""
    h = np.clip(np.round((fault.shift_db - SHIFTS_DB[0]) / STEP_DB), 0, len(SHIFTS_DB) - 1)
    stations = np.arange(table.shape[2])
    # Advanced indices apart from one another come first: (P, S, K, C).
    each = table[fault.state, :, stations[None, :], :, h.astype(int)]
    whole = each.sum(axis=1) + common
    return np.asarray(logsumexp(whole, axis=(1, 2)) + np.log(fault.weight) - np.log(table.shape[1]))


def _common(expected: Expected, table: Array, weights: Array) -> tuple[float, float]:
    """Middle and sigma of the common error by itself, from its prior before any correction.

    A station may be off by itself: with one chance in ten its reading counts for nothing.
    """
    zero = int(np.argmin(np.abs(SHIFTS_DB)))
    error = expected.offset_db + COMMON * expected.offset_sigma_db
    wide = _normal(error / expected.prior_sigma_db) / _normal(COMMON)
    plain = table[PLAIN, :, :, :, zero]
    outside = np.log(np.mean(np.exp(table[PLAIN]), axis=-1))
    mixed = np.logaddexp(np.log(0.9) + plain, np.log(0.1) + outside).sum(axis=1)
    log = logsumexp(mixed, axis=0) + weights + np.log(wide)
    chance = np.exp(log - logsumexp(log))
    middle = float(chance @ error)
    own = chance @ (error - middle) ** 2
    return middle, float(np.sqrt(own + (error[1] - error[0]) ** 2 / 12.0))
