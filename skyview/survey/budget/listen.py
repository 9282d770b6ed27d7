"""What an antenna makes of the waves that reach it: carriers, noise, what disturbs, margins.

Arrays run over random draws (D), antenna positions (A) and stations (S). Powers are those at the
antenna's terminals, in dBm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.link import chain
from skyview.link.antenna import dipole_factor_db
from skyview.link.line import HYBRID_EXCESS_DB
from skyview.survey.budget.gear import Gear, pattern_db, polarization_db, unwanted_db
from skyview.survey.budget.signals import Signals

OVERLOAD_SLOPE = 2.0
"""Decibels that the margin loses for each decibel of too much power at a preamplifier: products of
the third order rise three for one, so that they gain two on the carrier. Textbook."""


@dataclass(frozen=True)
class Air:
    """What arrives: powers of a matched half-wave dipole, everything nearby included."""

    signals: Signals
    azimuth: Array
    """Of the stations at each position. (A, S) [rad]"""
    wanted_dbm: Array
    """Dependable power, F(50,90). (D, A, S)"""
    unwanted_dbm: Array
    """Power that is exceeded a tenth of the time, F(50,10). (D, A, S)"""
    phase: Array
    """Of the second antenna's wave against the first, for hybrids. (D, S) [rad]"""

    @property
    def draws(self) -> int:
        """How many draws there are."""
        return int(self.wanted_dbm.shape[0])


@dataclass(frozen=True)
class Row:
    """One antenna, or two on one downlead, at every position."""

    gears: tuple[Gear, ...]
    """The different antennas."""
    at: NDArray[np.intp]
    """Which of them stands at each position. (A,)"""
    other: NDArray[np.intp]
    """The second antenna of a hybrid, -1 for none. (A,)"""


@dataclass(frozen=True)
class Heard:
    """What the set gets. NaN where a power or a threshold is not known."""

    margin_db: Array
    """Carrier to noise and disturbance over what the station needs. (D, A, S)"""
    carrier_dbm: Array
    """(D, A, S)"""
    noise_dbm: Array
    """Without what disturbs. (A, S)"""
    disturbance_dbm: Array
    """Every other station as noise; -inf for none. (D, A, S)"""
    excess_db: Array
    """Power into the preamplifier over its overload point, 0 or more. (D, A, S)"""

    @property
    def median_db(self) -> Array:
        """The middle of the margin's draws; NaN where unknown. (A, S)"""
        return middle(self.margin_db)

    @property
    def probability(self) -> Array:
        """Share of the draws with a margin of 0 or more; NaN where unknown. (A, S)"""
        known = ~np.any(np.isnan(self.margin_db), axis=0)
        return np.where(known, np.mean(self.margin_db >= 0.0, axis=0), np.nan)


def middle(values: Array) -> Array:
    """The median along the first axis, several times as fast as NumPy's for many columns.

    >>> middle(np.array([[3.0, np.nan], [1.0, np.nan], [2.0, np.nan], [9.0, np.nan]])).tolist()
    [2.5, nan]
    """
    count = len(values)
    halves = (count - 1) // 2, count // 2
    columns = np.ascontiguousarray(np.moveaxis(values, 0, -1))
    return np.asarray(np.mean(np.partition(columns, halves, axis=-1)[..., list(halves)], axis=-1))


def air_of(
    signals: Signals,
    azimuth: Array,
    wanted_dbuv_m: Array,
    unwanted_dbuv_m: Array,
    loss_db: NDArray[np.floating],
    phase: Array,
) -> Air:
    """The waves at the antennas, from fields (D, A, S) [dB(uV/m)] and the loss of everything marked
    near the paths (D, A, S) [dB]. An unknown power disturbs nobody."""
    dipole = dipole_factor_db(signals.frequency_mhz) - loss_db
    unwanted = unwanted_dbuv_m + dipole
    return Air(
        signals,
        azimuth,
        wanted_dbuv_m + dipole,
        np.where(np.isnan(unwanted), -np.inf, unwanted),
        phase,
    )


def listen(air: Air, row: Row, aim: Array | None = None) -> Heard:
    """Margins of every draw, position and station with one row of antennas.

    ``aim`` (A,) [rad] replaces the antennas' own.
    """
    carrier = air.wanted_dbm + wanted_gain_dbd(air, row, row.at, aim)
    if np.any(row.other >= 0):
        carrier = _hybrid(air, row, carrier, aim)
    figure = np.stack([gear.noise_figure_db for gear in row.gears])[row.at]
    external = np.stack([gear.external_db for gear in row.gears])[row.at]
    noise = chain.noise_power_dbm(
        air.signals.bandwidth_mhz, chain.system_noise_figure_db(figure, external)
    )
    toward = _unwanted_gain_dbd(air, row, row.at, aim)
    if np.any(row.other >= 0):
        toward = _hybrid_unwanted(air, row, toward, aim)
    disturbance = _summed(air.unwanted_dbm, toward, air.signals.disturbance)
    excess = _excess(air, row, toward)
    margin = chain.margin_db(carrier, noise, air.signals.required_cn_db, disturbance)
    return Heard(margin - OVERLOAD_SLOPE * excess, carrier, noise, disturbance, excess)


def best_of(heard: Sequence[Heard]) -> tuple[Heard, NDArray[np.intp]]:
    """Of several antennas with a downlead each, for each path the one that serves it best, and
    which that is. (A, S)"""
    if len(heard) == 1:
        return heard[0], np.zeros(heard[0].noise_dbm.shape, np.intp)
    score = np.stack([h.median_db for h in heard])
    which = np.argmax(np.nan_to_num(score, nan=-np.inf), axis=0)

    def pick(field: str) -> Array:
        values = np.stack([getattr(h, field) for h in heard])
        index = np.broadcast_to(which, values.shape[1:])[None]
        return np.asarray(np.take_along_axis(values, index, axis=0)[0])

    names = ("margin_db", "carrier_dbm", "noise_dbm", "disturbance_dbm", "excess_db")
    return Heard(*map(pick, names)), which


def strongest_disturber(air: Air, row: Row) -> NDArray[np.intp]:
    """Which station disturbs each one most, in the middle of the draws. (A, S)

    Of a hybrid the first antenna is asked. Where nothing disturbs the answer means nothing.
    """
    toward = _unwanted_gain_dbd(air, row, row.at, None)
    with np.errstate(divide="ignore"):
        weight = 10.0 * np.log10(air.signals.disturbance)
    power = np.median(air.unwanted_dbm, axis=0)[:, :, None]
    return np.asarray(np.argmax(power + toward + weight, axis=1))


def wanted_gain_dbd(air: Air, row: Row, which: NDArray[np.intp], aim: Array | None = None) -> Array:
    """Gain towards each wanted station of the antennas ``which`` (A,), their pattern and
    polarization included. (A, S) [dBd]"""
    found = np.empty(air.azimuth.shape)
    for number, gear in enumerate(row.gears):
        here = which == number
        offset = air.azimuth[here] - _aim(gear, aim, here)
        pattern = pattern_db(gear, air.signals, np.nan_to_num(offset))
        found[here] = gear.gain_dbd + pattern + polarization_db(gear, air.signals)
    return found


def _aim(gear: Gear, aim: Array | None, here: NDArray[np.bool_]) -> Array:
    """Azimuths that the antenna points to at some positions. (A', 1 or S)"""
    return gear.aim[None, :] if aim is None else np.asarray(aim, float)[here, None]


def _unwanted_gain_dbd(air: Air, row: Row, which: NDArray[np.intp], aim: Array | None) -> Array:
    """Gain towards station u while station w is watched. (A, S of u, S of w)"""
    count = air.azimuth.shape[1]
    found = np.empty((len(which), count, count))
    for number, gear in enumerate(row.gears):
        here = which == number
        azimuth = air.azimuth[here]
        fixed = np.broadcast_to(_aim(gear, aim, here), azimuth.shape)[:, None, :]
        offset = azimuth[:, None, :] - np.where(np.isnan(fixed), azimuth[:, :, None], fixed)
        gain = gear.gain_dbd + unwanted_db(gear, air.signals, offset)
        found[here] = np.moveaxis(gain, 1, 2)
    return found


def _summed(power_dbm: Array, gain_dbd: Array, weight: Array) -> Array:
    """Sum over u of power (D, A, U) times gain (A, U, W) times weight (U, W). (D, A, W) [dBm]"""
    milliwatt = np.moveaxis(np.exp(power_dbm * (np.log(10.0) / 10.0)), 1, 0)
    total = np.matmul(milliwatt, 10.0 ** (gain_dbd / 10.0) * weight)
    with np.errstate(divide="ignore"):
        return np.moveaxis(10.0 * np.log10(total), 0, 1)


def _excess(air: Air, row: Row, toward: Array) -> Array:
    """Decibels of all stations together over the overload point of the first amplifier."""
    limit = np.array([gear.overload_dbm for gear in row.gears])[row.at]
    if np.all(np.isinf(limit)):
        return np.zeros(air.wanted_dbm.shape)
    load = np.stack([gear.load_db for gear in row.gears])[row.at]
    into = _summed(air.unwanted_dbm, toward + load[:, :, None], np.ones(toward.shape[1:]))
    result: Array = np.maximum(into - limit[None, :, None], 0.0)
    return result


def _hybrid(air: Air, row: Row, carrier: Array, aim: Array | None) -> Array:
    """Carriers of two antennas on one hybrid, their waves adding with a phase of chance."""
    paired = row.other >= 0
    gain = wanted_gain_dbd(air, row, np.where(paired, row.other, row.at), aim)
    one, two = 10.0 ** (carrier / 20.0), 10.0 ** ((air.wanted_dbm + gain) / 20.0)
    summed = np.abs(one + two * np.exp(1j * air.phase[:, None, :])) / np.sqrt(2.0)
    both = 20.0 * np.log10(np.maximum(summed, 1e-12 * one)) - HYBRID_EXCESS_DB
    return np.where(paired[None, :, None], both, carrier)


def _hybrid_unwanted(air: Air, row: Row, toward: Array, aim: Array | None) -> Array:
    """Unwanted gain of two antennas on one hybrid: their powers, halved each. (A, U, W)"""
    paired = row.other >= 0
    other = _unwanted_gain_dbd(air, row, np.where(paired, row.other, row.at), aim)
    both = 10.0 * np.log10(0.5 * (10.0 ** (toward / 10.0) + 10.0 ** (other / 10.0)))
    return np.where(paired[:, None, None], both - HYBRID_EXCESS_DB, toward)
