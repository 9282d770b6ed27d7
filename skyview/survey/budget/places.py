"""Other places for the antennas: higher on the same spot, or another spot of the survey."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.survey.budget import trials
from skyview.survey.budget.draws import SETS
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.listen import Air
from skyview.survey.budget.options import EFFORT, Trial
from skyview.survey.budget.parts import Bools
from skyview.survey.budget.trials import Pairs
from skyview.survey.refusals import antenna_length_m, may_be_proposed
from skyview.survey.scene import air_in, places_of, scene_at

RAISES_M = (0.5, 1.0, 2.0, 3.0, 4.0)
"""How much mast is added: our own choice within half a metre to four."""

FEW_PATHS, LESS_SETS = 400, 8
"""Where more paths than these are tried the losses are drawn in fewer sets: a gain is then good to
0.9 dB RMS (40 stations behind 20 outlines), else to the draws' own 0.4 dB."""


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
    seen: Bools
    """Whether a picture shows each station's direction from there. (M, S)"""
    air: Air
    """At each move. (M,)"""
    source: NDArray[np.intp]
    """Position that each leaves. (M,)"""
    proposed: Bools
    """Whether it may be proposed: no power line or limit of the survey forbids it. (M,)"""


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
    at = np.array([places.index((move.spot, move.height_m)) for move in found])
    source = np.array([move.source for move in found])
    there = scene_at(
        scene.survey,
        places,
        points,
        leaf=scene.leaf,
        draws=len(scene.losses.loss_db),
        quick_sets=SETS if len(places) * len(scene.stations) <= FEW_PATHS else LESS_SETS,
    )
    air = trials.air_at(air_in(there), at)
    height = np.array([height for _, height in places])
    length = np.array([antenna_length_m(scene.survey, spot) for spot, _ in places])
    base = np.array([foot[spot] for spot, _ in places])
    proposed = may_be_proposed(scene.survey, base, height, length)[at]
    return Moves(tuple(found), there.photographed[at], air, source, proposed)


def by_place(told: Judged, pairs: Pairs, moves: Moves) -> Iterator[Trial]:
    """The antennas of each path's position moved to where its station's direction was seen too,
    and where nothing forbids a mast."""
    seen = (moves.seen & moves.proposed[:, None])[:, pairs[:, 1]].T
    which, move = np.nonzero((pairs[:, :1] == moves.source[None, :]) & seen)
    if len(which) == 0:
        return
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
