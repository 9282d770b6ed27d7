"""Other places for the antenna, and trees cut back or felled: trials that change the scene."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.survey.budget import trials
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.listen import Air
from skyview.survey.budget.options import EFFORT, Trial
from skyview.survey.budget.trials import Pairs
from skyview.survey.losses import Hindrance, hindrances
from skyview.survey.scene import Scene, air_in, joint_db, places_of, scene_at
from skyview.survey.screens import ViewScreen

RAISES_M = (0.5, 1.0, 2.0, 3.0, 4.0)
"""How much mast is added: our own choice within half a metre to four."""

TRIM_M = 2.0
"""What is taken off the top of a crown: our own choice."""

TREE_DB = 1.0
"""A tree with a smaller share of the loss is left alone: our own choice."""


@dataclass(frozen=True)
class Move:
    """One other place for the antennas of one position."""

    source: int
    """Position that is left."""
    spot: str
    height_m: float
    """Above that spot."""
    raised_m: float
    """Metres more of mast on the same spot, 0 for another spot."""


@dataclass(frozen=True)
class Moves:
    """All other places at once."""

    moves: tuple[Move, ...]
    scene: Scene
    """At the different places of them."""
    air: Air
    """At each move. (M,)"""
    source: NDArray[np.intp]
    """Position that each leaves. (M,)"""


def moves_of(told: Judged, positions: NDArray[np.intp]) -> Moves:
    """Higher on the same spot, or on another spot of the survey at its own heights."""
    scene = told.scene
    everywhere, _ = places_of(scene.survey, None, None)
    found = []
    for a in positions:
        spot, height = scene.places[a]
        found += [Move(int(a), spot, height + more, more) for more in RAISES_M]
        found += [Move(int(a), name, up, 0.0) for name, up in everywhere if name != spot]
    foot = {spot.id: np.array(spot.enu_m, float) for spot in scene.survey.spots}
    places = list(dict.fromkeys((move.spot, move.height_m) for move in found))
    points = np.array([foot[spot] + np.array([0.0, 0.0, height]) for spot, height in places])
    draws = len(scene.losses.loss_db)
    there = scene_at(scene.survey, places, points, leaf=scene.leaf, draws=draws, explained=False)
    at = np.array([places.index((move.spot, move.height_m)) for move in found])
    source = np.array([move.source for move in found])
    return Moves(tuple(found), there, trials.air_at(air_in(there), at), source)


def by_place(told: Judged, pairs: Pairs, moves: Moves) -> Iterator[Trial]:
    """The antennas of each path's position moved, every move a trial of its own."""
    which, move = np.nonzero(pairs[:, :1] == moves.source[None, :])
    mine = pairs[which]
    outcome = trials.moved(told, mine, moves.air, moves.source, move)
    raised = np.array([moves.moves[m].raised_m for m in move])
    height = np.array([moves.moves[m].height_m for m in move])
    spots = tuple(moves.moves[m].spot for m in move)
    limit = told.scene.survey.limits.unguyed_mast_m
    over = np.maximum(height - limit, 0.0)
    up, aside = raised > 0.0, raised == 0.0
    for code, here, effort, amount in (
        ("raise", up, 2.0 + raised + np.where(over > 0.0, 3.0 + over, 0.0), raised),
        ("another_spot", aside, EFFORT["another_spot"] + over, height),
    ):
        if np.any(here):
            rows = np.flatnonzero(here)
            cautions = [("roof", "guys") if over[i] > 0.0 else ("roof",) for i in rows]
            yield Trial(
                code,
                mine[rows],
                outcome.of(here),
                effort[rows],
                amount[rows],
                tuple(spots[i] for i in rows),
                tuple(cautions),
                tuple(int(move[i]) for i in rows),
            )


def by_tree(told: Judged, pairs: Pairs) -> Iterator[Trial]:
    """Each tree before a path felled, or the top of its crown taken off.

    Without a tree the joint loss falls by the tree's share, and what was unsure of the tree no
    longer is; without its top by as much as the joint loss computed anew falls, for the station
    that it is done for.
    """
    scene = told.scene
    if len(scene.losses.shares_db) == 0:
        return
    order = {name: number for number, name in enumerate(scene.losses.names)}
    found = []
    for number, (a, s) in enumerate(pairs):
        for name, share in scene.answers[a][s].shares_db.items():
            if share >= TREE_DB and scene.screens[name][0].is_tree:
                found.append((number, order[name]))
    if not found:
        return
    which, tree = np.array(found).T
    mine = pairs[which]
    names = tuple(scene.losses.names[o] for o in tree)
    felled, places = list(dict.fromkeys(names)), np.unique(mine[:, 0])
    owners = {thing.id: thing.owner for thing in scene.survey.obstructions}
    cautions = tuple(_tree_cautions(owners[name]) for name in names)

    share = np.array([[_shares(scene, a, name) for a in places] for name in felled])
    row = np.array([felled.index(name) for name in names])
    own = scene.met.loss_db[tree, mine[:, 0]]
    middle = np.where(np.isfinite(own), own, 0.0)
    given_back = share[row, np.searchsorted(places, mine[:, 0])] - middle

    def without(piece: NDArray[np.intp]) -> Array:
        drawn = [scene.losses.shares_db[tree[i], :, mine[i, 0]] for i in piece]
        return np.stack(drawn, axis=1) + given_back[piece]

    a, s = mine.T
    lower = np.maximum(trimmed_gain_db(scene, mine, names), 0.0)
    margin = told.heard.margin_db[:, a, s] + lower
    trimmed = trials.alone(told, mine, lower, np.mean(margin >= 0.0, axis=0))
    for code, outcome, amount in (
        ("fell", trials.with_less_loss(told, mine, without), np.full(len(mine), np.nan)),
        ("trim", trimmed, np.full(len(mine), TRIM_M)),
    ):
        effort = np.full(len(mine), EFFORT[code])
        yield Trial(code, mine, outcome, effort, amount, names, cautions)


def _shares(scene: Scene, a: int, name: str) -> Array:
    """What one thing alone would give back to every station at a position. (S,) [dB]"""
    return np.array([answer.shares_db.get(name, 0.0) for answer in scene.answers[a]])


def _tree_cautions(owner: str | None) -> tuple[str, ...]:
    whose = {"customer": (), "neighbour": ("neighbour",), "public": ("public",)}
    return ("tree_work", *whose.get(owner or "", ("whose_tree",)))


def trimmed_gain_db(scene: Scene, pairs: Pairs, names: Sequence[str]) -> list[float]:
    """What the joint loss of each path falls by with the top of one crown taken off. [dB]"""
    cut = {name: [_cut_back(view) for view in views] for name, views in scene.screens.items()}
    frequency = scene.signals.frequency_mhz
    lower = hindrances(scene.antenna_m, scene.arrivals, frequency, cut, scene.cameras, scene.leaf)
    found = []
    for (a, s), name in zip(pairs, names, strict=True):
        mixed = _with_one(scene.met, lower, name)
        found.append(scene.answers[a][s].loss_db - joint_db(scene, mixed, a, s))
    return found


def _with_one(met: Hindrance, other: Hindrance, name: str) -> Hindrance:
    """What stands in the way, one of the things taken from another scene."""
    row = np.array([known == name for known in met.names])[:, None, None]
    return replace(
        met,
        loss_db=np.where(row, other.loss_db, met.loss_db),
        standing={**met.standing, name: other.standing[name]},
    )


def _cut_back(view: ViewScreen) -> ViewScreen:
    """A tree's screen with `TRIM_M` off its top; anything else as it is."""
    if not view.is_tree:
        return view
    top = max(float(ring[:, 1].max()) for part in view.screen.parts for ring in part)
    level = top - TRIM_M
    parts = tuple(
        tuple(np.column_stack([ring[:, 0], np.minimum(ring[:, 1], level)]) for ring in part)
        for part in view.screen.parts
        if min(float(ring[:, 1].min()) for ring in part) < level
    )
    return view if not parts else replace(view, screen=replace(view.screen, parts=parts))
