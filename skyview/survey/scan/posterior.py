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

AGAIN_DB = 2.5
"""One sigma of a station's level between two scans with nothing changed: our own choice."""

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
    """Bayes' rule over the faults; ``before``: an earlier scan in which none of them was.

    The earlier scan has to be of the same place and scale; its level and this one's then differ by
    `AGAIN_DB` and the fault alone.
    """
    table = _tables(expected, readings, before)
    common = _normal(COMMON)
    weights = np.log(common / common.sum())
    logs = [_log_cases(fault, table, weights) for fault in faults]
    prior = np.log(prior_of(faults))
    joint = [log + p for log, p in zip(logs, prior, strict=True)]
    total = logsumexp(np.concatenate(joint))
    cases = tuple(np.exp(log - total) for log in joint)
    middle, sigma = _common(expected, table, weights)
    return Posterior(np.array([c.sum() for c in cases]), cases, middle, sigma)


def _tables(expected: Expected, readings: Readings, before: Readings | None) -> Array:
    """Logarithm of the likelihood. (states, K, S, C, H)"""
    error = expected.offset_db + COMMON * expected.offset_sigma_db
    error = np.where(expected.shares_offset[:, None], error, 0.0)
    away = LEVELS_DB - error[:, :, None]
    where = _normal(away / expected.own_sigma_db[:, None, None])
    where = _capped(where / where.sum(axis=-1, keepdims=True), expected)[None]
    now = readings.likelihood
    if before is not None:
        where = where * before.likelihood[PLAIN][:, :, None, :]
        now = now @ _blur(AGAIN_DB)
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


def _blur(sigma_db: float) -> Array:
    kernel = _normal((LEVELS_DB[:, None] - LEVELS_DB[None, :]) / sigma_db)
    return np.asarray(kernel / kernel.sum(axis=0, keepdims=True))


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
    return middle, float(np.sqrt(chance @ (error - middle) ** 2 + 0.25 * (error[1] - error[0]) ** 2))
