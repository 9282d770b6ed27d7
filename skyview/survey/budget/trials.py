"""Changes tried out: the same scene and the same draws with one thing different.

Every trial belongs to some paths, ``pairs`` (F, 2) of position and station, and ends in an
`Outcome` for each of them. Draws are those of the scene, so that what differs is the change.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.survey.budget.gear import Gear, diplexed
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.kit import kit_of
from skyview.survey.budget.listen import Air, Heard, Row, best_of, listen
from skyview.survey.budget.parts import Bools
from skyview.survey.models import Survey

Pairs = NDArray[np.intp]

PIECE = 2_000_000
"""Numbers of one array that are held at once."""

AIM_STEP, THINNED, MUST_HAVE = np.radians(5.0), 5, 3.0
"""Steps of the aims that are tried, every how many-th draw they are tried with, and how much more
a station that must be had counts: our own choice."""


@dataclass(frozen=True)
class Outcome:
    """What a change makes of some paths, and of all other stations there."""

    gain_db: Array
    """Of the middle of the margin of each path. (F,) [dB]"""
    probability: Array
    """(F,)"""
    median_db: Array
    """Middle of every station's margin with the change. (F, S) [dB]"""
    chance: Array
    """Of every station's reception with the change. (F, S)"""

    def of(self, kept: Bools) -> Outcome:
        """The outcome of some of the paths. (F,)"""
        return Outcome(
            self.gain_db[kept], self.probability[kept], self.median_db[kept], self.chance[kept]
        )


def outcome_of(told: Judged, pairs: Pairs, heard: Heard, at: NDArray[np.intp]) -> Outcome:
    """The outcome for paths that find themselves at positions ``at`` (F,) of ``heard``."""
    median, chance = heard.median_db[at], heard.probability[at]
    a, s = pairs.T
    each = np.arange(len(pairs))
    return Outcome(median[each, s] - told.median_db[a, s], chance[each, s], median, chance)


def in_pieces(told: Judged, pairs: Pairs, build: Callable[[NDArray[np.intp]], Heard]) -> Outcome:
    """The outcome of what ``build`` hears for some of the pairs, given by number: one position
    for each pair."""
    draws, _, stations = told.heard.margin_db.shape
    step = max(1, PIECE // (draws * stations))
    found = []
    for start in range(0, len(pairs), step):
        piece = np.arange(start, min(start + step, len(pairs)))
        found.append(outcome_of(told, pairs[piece], build(piece), np.arange(len(piece))))
    names = ("gain_db", "probability", "median_db", "chance")
    return Outcome(*(np.concatenate([getattr(part, name) for part in found]) for name in names))


def air_at(air: Air, at: NDArray[np.intp]) -> Air:
    """The waves at some of the positions, (F,) of them, repeated as asked."""
    return replace(
        air,
        azimuth=air.azimuth[at],
        wanted_dbm=air.wanted_dbm[:, at],
        unwanted_dbm=air.unwanted_dbm[:, at],
    )


def served(told: Judged, pairs: Pairs) -> list[Gear]:
    """The antenna that serves each path."""
    found = []
    for a, s in pairs:
        row = told.kit.rows[told.which[a, s]]
        found.append(row.gears[row.at[a]])
    return found


def is_single(told: Judged, pairs: Pairs) -> Bools:
    """Whether the antenna that serves each path is not one of a hybrid's two. (F,)"""
    others = np.stack([row.other for row in told.kit.rows])
    a, s = pairs.T
    return np.asarray(others[told.which[a, s], a] < 0)


def one_each(gears: Sequence[Gear], second: Sequence[Gear] = ()) -> Row:
    """A row with an antenna of its own for each position, or two of them on a hybrid."""
    count = len(gears)
    other = count + np.arange(count) if second else np.full(count, -1)
    return Row((*gears, *second), np.arange(count), other)


def beside(told: Judged, pairs: Pairs, air: Air, heard: Heard) -> Heard:
    """With what the antennas on other downleads hear in ``air``, one position a path."""
    if len(told.each) == 1:
        return heard
    a, s = pairs.T
    mine = told.which[a, s]
    all_heard = [heard]
    for number, row in enumerate(told.kit.rows):
        own = listen(air, Row(row.gears, row.at[a], row.other[a]))
        blind = np.where(mine == number, np.nan, 0.0)[None, :, None]
        all_heard.append(replace(own, margin_db=own.margin_db + blind))
    return best_of(all_heard)[0]


def turned(told: Judged, gear: Gear, a: int, s: int) -> Gear:
    """The antenna with its aim on a station; of a diplexer's two the one that serves it."""
    here = gear.aim == gear.aim[s]
    return replace(gear, aim=np.where(here, told.air.azimuth[a, s], gear.aim))


def all_turned(told: Judged, pairs: Pairs) -> list[Gear]:
    """The antenna that serves each path, with its aim on the station."""
    gears = served(told, pairs)
    return [turned(told, g, a, s) for g, (a, s) in zip(gears, pairs, strict=True)]


def reaimed(told: Judged, pairs: Pairs) -> Outcome:
    """The antenna that serves each path, turned to its station."""

    def build(numbers: NDArray[np.intp]) -> Heard:
        piece = pairs[numbers]
        air = air_at(told.air, piece[:, 0])
        return beside(told, piece, air, listen(air, one_each(all_turned(told, piece))))

    return in_pieces(told, pairs, build)


def on_own_downlead(told: Judged, pairs: Pairs, turned_to: Outcome) -> Outcome:
    """A second antenna like the first with a downlead of its own: what turning the first one
    makes of the station, ``turned_to``, and all else as it is."""
    return alone(told, pairs, turned_to.gain_db, turned_to.probability)


def alone(told: Judged, pairs: Pairs, gain_db: Array, probability: Array) -> Outcome:
    """A change that the station of each path alone feels."""
    a, s = pairs.T
    each = np.arange(len(pairs))
    median, chance = told.median_db[a], told.probability[a]
    median[each, s] += gain_db
    chance[each, s] = probability
    return Outcome(gain_db, probability, median, chance)


def on_hybrid(told: Judged, pairs: Pairs) -> Outcome:
    """A second antenna like the first, turned to the station, on the same downlead."""

    def build(numbers: NDArray[np.intp]) -> Heard:
        piece = pairs[numbers]
        both = one_each(served(told, piece), all_turned(told, piece))
        return listen(air_at(told.air, piece[:, 0]), both)

    return in_pieces(told, pairs, build)


def on_diplexer(told: Judged, pairs: Pairs, gain_dbd: Array, lost_dbd: float) -> Outcome:
    """A second antenna for the station's side of a UHF/VHF diplexer, turned to it.

    It is like the first one where that has elements, else it gains ``gain_dbd`` (S,) in each
    station's band; on its side the first antenna's wave is kept out, ``lost_dbd``.
    """
    uhf = np.array([band == "uhf" for band in told.scene.signals.bands])

    def pair(gear: Gear, a: int, s: int) -> Gear:
        side = uhf == uhf[s]
        first = replace(gear, gain_dbd=np.where(side, lost_dbd, gear.gain_dbd))
        aim = np.full(len(side), told.air.azimuth[a, s])
        gain = np.where(gear.gain_dbd >= 0.0, gear.gain_dbd, gain_dbd)
        second = replace(gear, aim=aim, gain_dbd=np.where(side, gain, 2.0 * lost_dbd))
        return diplexed(first, second, told.scene.signals)

    def build(numbers: NDArray[np.intp]) -> Heard:
        piece = pairs[numbers]
        gears = [pair(g, a, s) for g, (a, s) in zip(served(told, piece), piece, strict=True)]
        return listen(air_at(told.air, piece[:, 0]), one_each(gears))

    return in_pieces(told, pairs, build)


def with_gears(told: Judged, pairs: Pairs, change: Callable[[Row], Row]) -> Outcome:
    """The antenna that serves each path, with all its row's antennas changed alike."""
    found = []
    for number, row in enumerate(told.kit.rows):
        rest = [own for other, own in enumerate(told.each) if other != number]
        found.append(best_of([listen(told.air, change(row)), *rest])[0])
    a, s = pairs.T
    if len(found) == 1:
        return outcome_of(told, pairs, found[0], a)
    parts = [outcome_of(told, pairs, heard, a) for heard in found]
    mine = told.which[a, s]

    def pick(name: str) -> Array:
        values = np.stack([getattr(part, name) for part in parts])
        return np.asarray(values[mine, np.arange(len(pairs))])

    return Outcome(*map(pick, ("gain_db", "probability", "median_db", "chance")))


def moved(
    told: Judged, pairs: Pairs, air: Air, source: NDArray[np.intp], at: NDArray[np.intp]
) -> Outcome:
    """All antennas of a position moved together.

    ``air`` at the new positions (P,), each with the antennas of position ``source`` (P,); ``at``
    (F,) is where each path then finds itself.
    """
    rows = [Row(row.gears, row.at[source], row.other[source]) for row in told.kit.rows]
    return outcome_of(told, pairs, best_of([listen(air, row) for row in rows])[0], at)


def with_less_loss(told: Judged, pairs: Pairs, others_db: Array, own_db: Array) -> Outcome:
    """Everything as it stands, but the waves at each path's position stronger by ``others_db``
    (F, S), that of its own station by ``own_db`` (D, F)."""

    def build(numbers: NDArray[np.intp]) -> Heard:
        a, s = pairs[numbers].T
        more = np.broadcast_to(others_db[numbers], (len(own_db), len(numbers), others_db.shape[1]))
        more = more.copy()
        more[:, np.arange(len(numbers)), s] = own_db[:, numbers]
        air = air_at(told.air, a)
        air = replace(air, wanted_dbm=air.wanted_dbm + more, unwanted_dbm=air.unwanted_dbm + more)
        rows = [Row(row.gears, row.at[a], row.other[a]) for row in told.kit.rows]
        return best_of([listen(air, row) for row in rows])[0]

    return in_pieces(told, pairs, build)


def with_survey(told: Judged, pairs: Pairs, changed: Survey) -> tuple[Outcome, Array]:
    """Other parts of the downlead, as ``changed`` has them; and the share of the draws in which
    too much power meets a preamplifier. (F,)"""
    kit = kit_of(changed, told.scene.places, told.scene.signals)
    heard = best_of([listen(told.air, row) for row in kit.rows])[0]
    a, s = pairs.T
    overloaded = np.mean(heard.excess_db[:, a, s] > 0.0, axis=0)
    return outcome_of(told, pairs, heard, a), np.asarray(overloaded)


def best_aimed(told: Judged, pairs: Pairs) -> tuple[Array, Outcome]:
    """The one aim at which most stations come in at each path's position, and what it makes.

    A station counts with its probability, one that must be had `MUST_HAVE` times. The aim is
    looked for in steps of `AIM_STEP` with a part of the draws. (F,) [rad]
    """
    few = replace(
        told.air,
        wanted_dbm=told.air.wanted_dbm[::THINNED],
        unwanted_dbm=told.air.unwanted_dbm[::THINNED],
        phase=told.air.phase[::THINNED],
    )
    count = len(told.scene.places)
    must = np.array([station.must_have for station in told.scene.stations])
    weight = np.where(must, MUST_HAVE, 1.0) * told.told
    aims = np.arange(0.0, 2.0 * np.pi, AIM_STEP)
    worth = np.empty((len(aims), count))
    for number, aim in enumerate(aims):
        heard = best_of([listen(few, row, np.full(count, aim)) for row in told.kit.rows])[0]
        worth[number] = np.sum(weight * np.nan_to_num(heard.probability), axis=1)
    best = aims[np.argmax(worth, axis=0)]
    heard = best_of([listen(told.air, row, best) for row in told.kit.rows])[0]
    return best[pairs[:, 0]], outcome_of(told, pairs, heard, pairs[:, 0])
