"""Trees before a path, felled or with the top of the crown taken off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from skyview.angles import Array
from skyview.constants import wavelength_m
from skyview.survey.budget import trials
from skyview.survey.budget.chance import SEED
from skyview.survey.budget.draws import SETS, behind_db
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.options import EFFORT, Trial
from skyview.survey.budget.quick import Row, losses_of, rank_of, rows_of
from skyview.survey.budget.sets import Sets, errors_of, sets_of
from skyview.survey.budget.trials import Pairs
from skyview.survey.scene import Scene
from skyview.survey.screens import ViewScreen

TRIM_M = 2.0
"""What is taken off the top of a crown: our own choice."""

TREE_DB = 1.0
"""A tree with a smaller share of the loss is left alone: our own choice."""


@dataclass(frozen=True)
class _Case:
    """The tree that costs a path most."""

    pair: int
    """Number of the path."""
    tree: str


def by_tree(told: Judged, pairs: Pairs) -> Iterator[Trial]:
    """The tree that costs each path most, felled or lowered.

    Its joint loss is drawn anew in the same sets without the tree or with the lower one. Other
    stations get back the felled tree's share of their loss, and nothing from a lowered one. What
    was never seen behind things is not seen by felling one.
    """
    scene = told.scene
    cases = [case for number, pair in enumerate(pairs) if (case := _case(scene, number, pair))]
    if not cases:
        return
    mine = pairs[[case.pair for case in cases]]
    names = [case.tree for case in cases]
    a, s = mine.T
    before = scene.losses.loss_db[:, a, s].astype(float)
    before -= behind_db(scene.signals.ids, len(before))[:, s] * scene.unseen_behind[a, s]
    felled, lowered = (before - drawn for drawn in _drawn_db(scene, mine, names))
    shares = np.array([_shares(scene, at, name) for at, name in zip(a, names, strict=True)])
    margin = told.heard.margin_db[:, a, s] + lowered
    gain = np.median(margin, axis=0) - told.median_db[a, s]
    trimmed = trials.alone(told, mine, gain, np.mean(margin >= 0.0, axis=0))
    owners = {thing.id: thing.owner for thing in scene.survey.obstructions}
    cautions = tuple(_cautions(owners[name]) for name in names)
    for code, outcome, amount in (
        ("fell", trials.with_less_loss(told, mine, shares, felled), np.nan),
        ("trim", trimmed, TRIM_M),
    ):
        count = len(mine)
        effort, amounts = np.full(count, EFFORT[code]), np.full(count, amount)
        yield Trial(code, mine, outcome, effort, amounts, tuple(names), cautions)


def _case(scene: Scene, number: int, pair: Pairs) -> _Case | None:
    a, s = pair
    trees = {
        name: share
        for name, share in scene.answers[a][s].shares_db.items()
        if share >= TREE_DB and scene.screens[name][0].is_tree
    }
    return _Case(number, max(trees, key=lambda name: trees[name])) if trees else None


def _shares(scene: Scene, a: int, name: str) -> Array:
    """What one thing alone would give back to every station at a position. (S,) [dB]"""
    return np.array([answer.shares_db.get(name, 0.0) for answer in scene.answers[a]])


def _cautions(owner: str | None) -> tuple[str, ...]:
    whose = {"customer": (), "neighbour": ("neighbour",), "public": ("public",)}
    return ("tree_work", *whose.get(owner or "", ("whose_tree",)))


def _drawn_db(scene: Scene, pairs: Pairs, names: Sequence[str]) -> tuple[Array, Array]:
    """Draws of each path's loss without its tree, and with the tree lowered. (D, F) [dB]"""
    met, waves = scene.met, wavelength_m(scene.signals.frequency_mhz)
    sets = _sets(scene, scene.screens, met.names)
    cut = {name: [_cut_back(view) for view in scene.screens[name]] for name in set(names)}
    lower = dict(zip(cut, _sets(scene, cut, list(cut)), strict=True))
    known = {(row.antenna, row.station): row for row in rows_of(rank_of(met, sets, waves))}
    rows = [known.get((int(a), int(s)), Row(int(a), int(s), ())) for a, s in pairs]
    rest = [_without(row, met.names.index(name)) for row, name in zip(rows, names, strict=True)]
    of = {
        name: [
            lower[name] if known_as == name else one
            for known_as, one in zip(met.names, sets, strict=True)
        ]
        for name in lower
    }
    which = np.arange(len(scene.losses.loss_db)) % SETS
    felled = losses_of(scene.arrivals, waves, [sets] * len(rest), rest)
    trimmed = losses_of(scene.arrivals, waves, [of[name] for name in names], rows)
    return felled[which], trimmed[which]


def _sets(
    scene: Scene, screens: Mapping[str, list[ViewScreen]], names: Sequence[str]
) -> list[Sets]:
    """Things of a scene in every set of its draws."""
    errors = errors_of(scene.cameras, scene.arrivals, SETS, SEED)
    return [
        sets_of(
            screens[name],
            scene.survey.outlines,
            scene.antenna_m,
            scene.arrivals,
            errors,
            scene.signals.frequency_mhz,
            scene.leaf,
            SETS,
            SEED,
        )
        for name in names
    ]


def _without(row: Row, thing: int) -> Row:
    return row._replace(things=tuple(other for other in row.things if other != thing))


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
