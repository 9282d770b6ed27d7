"""Which way to turn the antenna: the heading swept round with the pattern of every band.

A heading is worth the expected number of stations that come in, all of them or those that must be
had; interference and overload are part of each chance. Among headings that are worth alike the one
is best which leaves the weakest of the received stations the most margin. Arrays run over headings
(H), stations (S) and draws (D).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array, wrap_360_deg
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.listen import Air, Heard, Row, best_of, listen
from skyview.survey.budget.trials import air_at
from skyview.survey.budget.words import LIKELY, SURE

STEP_DEG = 1.0
"""Step of the sweep."""

THINNED = 5
"""Pairs of headings are tried with every so many-th draw."""

AT_ONCE = 40
"""Headings computed together."""

ALIKE = 0.05
"""Headings whose expected numbers of stations differ by less are worth alike: our own choice."""

WITHIN_DB = 1.0
"""A range of headings costs no received station more than this."""


@dataclass(frozen=True)
class Sweep:
    """What every heading brings at one position."""

    heading_deg: Array
    """True. (H,)"""
    probability: Array
    """NaN where it is not told. (H, S)"""
    margin_db: Array
    """Middle of the draws. (H, S)"""


@dataclass(frozen=True)
class Heading:
    """The best heading for some stations, and how far it may be missed."""

    aim_deg: float
    """True. [deg]"""
    low_deg: float
    """Farthest to the left at which no received station loses more than ``WITHIN_DB``. [deg]"""
    high_deg: float
    """Farthest to the right, likewise; clockwise from ``low_deg``, both in 0..360. [deg]"""
    anywhere: bool
    """Every heading is within that."""
    probability: Array
    """Of every station at it; NaN where it is not told. (S,)"""
    margin_db: Array
    """(S,)"""

    @property
    def sure(self) -> int:
        """How many stations are sure."""
        return int(np.sum(np.nan_to_num(self.probability) >= SURE))

    @property
    def likely(self) -> int:
        """How many more are likely."""
        chance = np.nan_to_num(self.probability)
        return int(np.sum((chance >= LIKELY) & (chance < SURE)))


def few_draws(air: Air, every: int = THINNED) -> Air:
    """The waves with a part of the draws."""
    return replace(
        air,
        wanted_dbm=air.wanted_dbm[::every],
        unwanted_dbm=air.unwanted_dbm[::every],
        phase=air.phase[::every],
    )


def heard_at(told: Judged, place: int, aims: Array, number: int = 0) -> Heard:
    """What the antennas of one position hear with antenna row ``number`` turned to each of
    ``aims`` (H,) [rad], those on other downleads as they are; one position a heading."""
    at = np.full(len(aims), place)
    here = air_at(told.air, at)
    found = []
    for index, row in enumerate(told.kit.rows):
        mine = Row(row.gears, row.at[at], row.other[at])
        found.append(listen(here, mine, aims if index == number else None))
    return best_of(found)[0]


def sweep(told: Judged, place: int, number: int = 0) -> Sweep:
    """All headings at one position of a judged scene, the antenna of row ``number`` turned."""
    heading = np.arange(0.0, 360.0, STEP_DEG)
    chance, margin = [], []
    for start in range(0, len(heading), AT_ONCE):
        aims = np.radians(heading[start : start + AT_ONCE])
        heard = heard_at(told, place, aims, number)
        chance.append(heard.probability)
        margin.append(heard.median_db)
    return Sweep(heading, _told(told, place, np.concatenate(chance)), np.concatenate(margin))


def _told(told: Judged, place: int, probability: Array) -> Array:
    return np.where(told.told[place], probability, np.nan)


def best_heading(
    told: Judged, place: int, found: Sweep, counted: NDArray[np.bool_], number: int = 0
) -> Heading:
    """The best single heading for the stations that are ``counted`` (S,)."""
    at = best_index(found, counted)
    return heading_at(told, place, found, float(found.heading_deg[at]), counted, number)


def best_index(found: Sweep, counted: NDArray[np.bool_]) -> int:
    """Which heading of a sweep is worth most for the stations that are ``counted`` (S,).

    >>> chance = np.array([[1.0, 0.2], [1.0, 1.0], [1.0, 0.98]])
    >>> margin = np.array([[9.0, -5.0], [4.0, 3.0], [5.0, 6.0]])
    >>> best_index(Sweep(np.arange(3.0), chance, margin), np.array([True, True]))
    2
    """
    chance = np.where(counted, np.nan_to_num(found.probability), 0.0)
    worth = chance.sum(axis=1)
    alike = worth >= worth.max() - ALIKE
    received = chance[np.argmax(worth)] >= LIKELY
    margin = np.nan_to_num(found.margin_db, nan=-1e3)
    if received.any():
        weakest = margin[:, received].min(axis=1)
    else:
        weakest = np.where(counted, margin, 0.0).sum(axis=1)
    return int(np.argmax(np.where(alike, weakest, -np.inf)))


def heading_at(
    told: Judged,
    place: int,
    found: Sweep,
    aim_deg: float,
    counted: NDArray[np.bool_],
    number: int = 0,
) -> Heading:
    """What one heading brings, and the range about it."""
    heard = heard_at(told, place, np.radians([aim_deg]), number)
    chance = _told(told, place, heard.probability)[0]
    low, high, anywhere = around(found, aim_deg, _kept(chance, counted))
    return Heading(
        aim_deg=float(wrap_360_deg(aim_deg)),
        low_deg=low,
        high_deg=high,
        anywhere=anywhere,
        probability=chance,
        margin_db=heard.median_db[0],
    )


def _kept(chance: Array, counted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The counted stations that a heading shall not lose: the received ones, else the likeliest."""
    own = np.where(counted, np.nan_to_num(chance), -1.0)
    received = own >= LIKELY
    return np.asarray(received if received.any() else (own == own.max()) & counted)


def around(found: Sweep, aim_deg: float, received: NDArray[np.bool_]) -> tuple[float, float, bool]:
    """Range of headings about one at which no ``received`` station loses more than ``WITHIN_DB``,
    and whether that is all of them. [deg]"""
    count = len(found.heading_deg)
    start = round(aim_deg / STEP_DEG) % count
    margin = np.nan_to_num(found.margin_db[:, received], nan=-1e3)
    fine = np.all(margin >= margin[start] - WITHIN_DB, axis=1)
    if fine.all():
        return 0.0, 360.0, True
    rolled = np.roll(fine, -start)
    right = int(np.argmin(rolled)) - 1
    left = int(np.argmin(rolled[::-1]))
    low, high = ((start + step) % count * STEP_DEG for step in (-left, right))
    return float(low), float(high), False


def counted_stations(told: Judged, place: int, only_must_have: bool) -> NDArray[np.bool_]:
    """Stations that a heading is judged by: told ones, all or those that must be had. (S,)"""
    must = np.array([station.must_have for station in told.scene.stations], bool)
    result: NDArray[np.bool_] = told.told[place] & (must | (not only_must_have))
    return result


def names_of(told: Judged, chosen: NDArray[np.bool_]) -> Sequence[str]:
    """Ids of some of the stations."""
    return [s.id for s, yes in zip(told.scene.stations, chosen, strict=True) if yes]
