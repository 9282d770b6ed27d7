"""What would help: changes worked out again with the same draws, the best for its effort first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.survey.budget import options, places, together, trees
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.options import Trial
from skyview.survey.budget.places import Moves
from skyview.survey.budget.together import Plan
from skyview.survey.budget.trials import Outcome, Pairs, is_single
from skyview.survey.budget.words import DOUBTFUL, LIKELY, SURE, reception_word
from skyview.survey.results import Cost, Cure

LEAST_DB = 1.0
"""A change that gains less is no cure; one that costs another station less is no cost."""

NONE = "none_on_this_roof"
"""Code of a sentence and not of a change: nothing on this roof brings the station to likely. Its
gain and probability are those of the best that there is."""

HARM = 3.0
"""Effort that each other station counts whose word gets worse: our own choice, three times that of
turning an antenna."""

NEAR_DEG = 15.0
"""Two aims as near as this are one cure."""

OFF_THE_ROOF = ("trim", "fell")


def cures_of(
    told: Judged, line_db: Array, asked: Pairs | None = None
) -> dict[tuple[int, int], tuple[Cure, ...]]:
    """Cures by position and station, for those of the paths ``asked`` (all if None) whose station
    is wanted and neither sure nor unknown. ``line_db`` (A, S) is what the line costs each path.

    Of each kind of change the one is kept that reaches the better word, of equal ones that with
    the most decibels for its effort; a change that worsens other stations counts `HARM` more for
    each. The cures stand in the order of decibels for the effort. Where no change on the roof
    reaches likely, all of them together are tried and put last, or else `NONE`.
    """
    open_paths = told.told & (np.nan_to_num(told.probability) < SURE)
    if asked is not None:
        wished = np.zeros(open_paths.shape, bool)
        wished[asked[:, 0], asked[:, 1]] = True
        open_paths &= wished
    pairs = np.argwhere(open_paths)
    if len(pairs) == 0:
        return {}
    moves = places.moves_of(told, np.unique(pairs[:, 0]))
    found: dict[tuple[int, int], list[_Change]] = {(int(a), int(s)): [] for a, s in pairs}
    for trial in _trials(told, pairs, line_db, moves):
        lost = _stations_lost(told, trial.pairs, trial.outcome)
        for number, (a, s) in enumerate(trial.pairs):
            worth = trial.outcome.gain_db[number] / (trial.effort[number] + HARM * lost[number])
            found[int(a), int(s)].append(_Change(trial, number, float(worth)))
    kept = {pair: _kept(told, pair, changes) for pair, changes in found.items()}
    last = _last_resorts(told, kept, found, moves)
    return {
        pair: tuple(_cure(told, pair, change) for change in changes) + last.get(pair, ())
        for pair, changes in kept.items()
    }


def _trials(told: Judged, pairs: Pairs, line_db: Array, moves: Moves) -> Iterator[Trial]:
    yield from options.by_gain(told, pairs)
    yield from options.by_line(told, pairs, line_db)
    yield from options.by_aim(told, pairs)
    yield from places.by_place(told, pairs, moves)
    yield from trees.by_tree(told, pairs)


@dataclass(frozen=True)
class _Change:
    """One path's share of a trial."""

    trial: Trial
    number: int
    worth: float
    """Decibels for the effort."""

    @property
    def code(self) -> str:
        return self.trial.code

    @property
    def gain_db(self) -> float:
        return float(self.trial.outcome.gain_db[self.number])

    @property
    def probability(self) -> float:
        return float(self.trial.outcome.probability[self.number])

    @property
    def amount(self) -> float:
        return float(self.trial.amount[self.number])

    @property
    def rank(self) -> tuple[int, float]:
        return int(_ranks(np.array(self.probability))), self.worth


def _stations_lost(told: Judged, pairs: Pairs, outcome: Outcome) -> Array:
    """How many other stations get a worse word by each change. (F,)"""
    a, s = pairs.T
    before = np.where(told.told[a], np.nan_to_num(told.probability[a]), 0.0)
    fallen = _ranks(np.nan_to_num(outcome.chance)) < _ranks(before)
    fallen[np.arange(len(s)), s] = False
    result: Array = np.sum(fallen, axis=1).astype(float)
    return result


def _ranks(probability: Array) -> NDArray[np.int_]:
    """How good the words of probabilities are: 3 sure, 2 likely, 1 doubtful, 0 no.

    >>> _ranks(np.array([0.95, 0.7, 0.3, 0.1])).tolist()
    [3, 2, 1, 0]
    """
    result: NDArray[np.int_] = np.sum(
        probability[..., None] >= np.array([SURE, LIKELY, DOUBTFUL]), axis=-1
    )
    return result


def _kept(told: Judged, pair: tuple[int, int], changes: Sequence[_Change]) -> list[_Change]:
    """The best change of each kind that gains anything, the most for its effort first."""
    now = float(told.probability[pair])
    best: dict[str, _Change] = {}
    for change in changes:
        if change.gain_db >= LEAST_DB and change.probability >= now:
            old = best.get(change.code)
            if old is None or change.rank > old.rank:
                best[change.code] = change
    one, all_ = best.get("reaim"), best.get("best_aim")
    if one and all_ and abs((one.amount - all_.amount + 180.0) % 360.0 - 180.0) <= NEAR_DEG:
        del best["best_aim"]
    return sorted(best.values(), key=lambda change: -change.worth)


def _last_resorts(
    told: Judged,
    kept: dict[tuple[int, int], list[_Change]],
    tried: dict[tuple[int, int], list[_Change]],
    moves: Moves,
) -> dict[tuple[int, int], tuple[Cure, ...]]:
    """For paths that no single change on the roof makes likely: all together, or none at all."""
    on_roof = {
        pair: [change for change in changes if change.code not in OFF_THE_ROOF]
        for pair, changes in kept.items()
    }
    hopeless = [
        pair
        for pair, changes in on_roof.items()
        if max([float(told.probability[pair]), *(c.probability for c in changes)]) < LIKELY
    ]
    found = {pair: _none(told, pair, on_roof[pair]) for pair in hopeless}
    plans = {pair: _plan(on_roof[pair], tried[pair]) for pair in hopeless}
    several = [pair for pair in hopeless if len(plans[pair].parts) > 1]
    several = [p for p, one in zip(several, is_single(told, _array(several)), strict=True) if one]
    if several:
        chosen = [plans[pair] for pair in several]
        outcome = together.all_at_once(told, _array(several), chosen, moves)
        for number, (pair, plan) in enumerate(zip(several, chosen, strict=True)):
            gain, chance = outcome.gain_db[number], outcome.probability[number]
            (none,) = found[pair]
            if gain >= none.gain_db + LEAST_DB and chance >= none.probability:
                both = _together(told, pair, plan, outcome, number, moves)
                rest = replace(none, gain_db=both.gain_db, probability=both.probability)
                found[pair] = (both,) if chance >= LIKELY else (both, rest)
    return found


def _array(pairs: Sequence[tuple[int, int]]) -> Pairs:
    return np.array(pairs, np.intp).reshape(-1, 2)


def _none(told: Judged, pair: tuple[int, int], changes: Sequence[_Change]) -> tuple[Cure, ...]:
    best = max(changes, key=lambda change: change.probability, default=None)
    if best is None:
        return (Cure(NONE, 0.0, float(told.probability[pair])),)
    return (Cure(NONE, best.gain_db, best.probability),)


def _plan(changes: Sequence[_Change], tried: Sequence[_Change]) -> Plan:
    """All that helps alone, of the ways to move the one that gains most."""
    moving = [change for change in tried if change.trial.move and change.gain_db >= LEAST_DB]
    best = max(moving, key=lambda change: change.gain_db, default=None)
    taken = {change.code for change in changes if not change.trial.move}
    both = {"reaim", "two_antennas"}
    taken -= {"reaim"} if both <= taken and _harms(changes) else {"two_antennas"}
    taken |= {best.code} if best else set()
    parts = tuple(code for code in together.PARTS if code in taken)
    return Plan(parts, best.trial.move[best.number] if best else None)


def _harms(changes: Sequence[_Change]) -> bool:
    """Whether turning the antenna takes other stations away."""
    turned = next(change for change in changes if change.code == "reaim")
    effort = float(turned.trial.effort[turned.number])
    return turned.worth < turned.gain_db / effort


def _together(
    told: Judged,
    pair: tuple[int, int],
    plan: Plan,
    outcome: Outcome,
    number: int,
    moves: Moves,
) -> Cure:
    move = None if plan.move is None else moves.moves[plan.move]
    limit = told.scene.survey.limits.unguyed_mast_m
    guyed = ("guys",) if move is not None and move.height_m > limit else ()
    guarded = "preamplifier" in plan.parts and options.guard_mhz(told) is not None
    return Cure(
        code="together",
        gain_db=float(outcome.gain_db[number]),
        probability=float(outcome.probability[number]),
        costs=_costs(told, pair, outcome, number),
        amount=None if move is None else (move.raised_m or move.height_m),
        thing=None if move is None else move.spot,
        parts=plan.parts,
        cautions=("roof", *guyed, *(("cellular",) if guarded else ())),
    )


def _cure(told: Judged, pair: tuple[int, int], change: _Change) -> Cure:
    trial, number = change.trial, change.number
    amount = float(trial.amount[number])
    return Cure(
        code=change.code,
        gain_db=change.gain_db,
        probability=change.probability,
        costs=_costs(told, pair, trial.outcome, number),
        amount=None if np.isnan(amount) else amount,
        thing=trial.thing[number],
        cautions=trial.cautions[number],
    )


def _costs(told: Judged, pair: tuple[int, int], outcome: Outcome, number: int) -> tuple[Cost, ...]:
    """What other stations that come in lose, the greatest loss first."""
    a, s = pair
    lost = told.median_db[a] - outcome.median_db[number]
    comes_in = told.told[a] & (np.nan_to_num(told.probability[a]) >= DOUBTFUL)
    costly = comes_in & (np.nan_to_num(lost) >= LEAST_DB)
    costly[s] = False
    order = sorted(np.flatnonzero(costly), key=lambda other: -lost[other])
    return tuple(
        Cost(
            told.scene.stations[other].id,
            float(lost[other]),
            reception_word(float(outcome.chance[number, other]), True),
        )
        for other in order
    )
