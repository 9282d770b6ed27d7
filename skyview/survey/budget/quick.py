"""Joint losses of many paths and many sets at once, by coarser grids than the exact ones."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.angles import Array
from skyview.constants import wavelength_m
from skyview.survey.arrivals import Arrivals
from skyview.survey.budget.sets import Sets
from skyview.survey.joint import MATTERS_DB, MOST_SCREENS
from skyview.survey.losses import Hindrance
from skyview.wave.aperture import loss_db
from skyview.wave.cascade import Quality
from skyview.wave.drawn import QUICK, drawn_fields
from skyview.wave.fresnel import knife_edge_loss_approximate_db

MAY_MATTER_DB = 0.5
"""A thing that one edge brought nearer by ``BROUGHT_NEARER`` times its moves could make cost so
much is computed in every set."""

BROUGHT_NEARER = 1.5

LIKE_MIDDLE_DB = 1.0
"""Sets whose loss lies within about this of the middle's are corrected by the middle's error."""

FARTHEST_SHARE = 0.9
"""No set puts a thing farther than this share of the way to the transmitter."""

PATHS_AT_ONCE = 8


class _Row(NamedTuple):
    """What stands before one path."""

    antenna: int
    station: int
    things: tuple[int, ...]
    """Indices into the names of the hindrance, the costliest first."""


def drawn_losses(
    met: Hindrance,
    arrivals: Arrivals,
    frequency_mhz: Array,
    drawn: dict[str, Sets],
    joint_db: Array,
    count: int,
    shares: bool,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Loss of every set (N, A, S), and with ``shares`` what each thing gives back (O, N, A, S)."""
    loss = np.repeat(joint_db[None].astype(np.float32), count, axis=0)
    gains = np.zeros((len(met.names) if shares else 0, *loss.shape), np.float32)
    sets = [drawn[name] for name in met.names]
    waves = wavelength_m(frequency_mhz)

    def work(rows: list[_Row]) -> None:
        for row in rows:
            a, s = row.antenna, row.station
            every = _losses(met, arrivals, waves, sets, row, row.things)
            change = every - every[0]
            loss[:, a, s] = (every + (joint_db[a, s] - every[0]) / _far(change))[1:]
            for o in row.things if shares else ():
                rest = tuple(other for other in row.things if other != o)
                without = _losses(met, arrivals, waves, sets, row, rest)
                gains[o, :, a, s] = (every - without)[1:]

    _in_threads(work, _rows(met, sets, waves))
    return loss, gains


def _far(change_db: Array) -> Array:
    return np.asarray(1.0 + (change_db / LIKE_MIDDLE_DB) ** 2)


def _in_threads(work: Callable[[list[_Row]], None], rows: list[_Row]) -> None:
    parts = [rows[i : i + PATHS_AT_ONCE] for i in range(0, len(rows), PATHS_AT_ONCE)]
    with ThreadPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        list(pool.map(work, parts))


def _rows(met: Hindrance, sets: list[Sets], waves: Array) -> list[_Row]:
    """Paths before which something may matter, with the costliest things."""
    cost = np.abs(np.nan_to_num(met.loss_db))
    worst = np.zeros_like(cost)
    for o, one in enumerate(sets):
        gap, radii = met.clearance_m[o], met.clearance_radii[o]
        unit = np.abs(gap / np.where(radii == 0.0, np.nan, radii))
        moved = np.sqrt(np.mean(one.right**2 + one.up**2, axis=0))
        distance = unit**2 / waves
        nearer = radii - BROUGHT_NEARER * moved * distance / unit
        nu = np.nan_to_num(-np.sqrt(2.0) * nearer, nan=-np.inf, neginf=-10.0)
        worst[o] = np.where(np.isfinite(met.loss_db[o]), knife_edge_loss_approximate_db(nu), 0.0)
    matters = (cost >= MATTERS_DB) | (worst >= MAY_MATTER_DB)
    rank = np.where(matters, np.maximum(cost, worst), -1.0)
    order = np.argsort(-rank, axis=0, kind="stable")[:MOST_SCREENS]
    found = np.take_along_axis(matters, order, axis=0)
    return [
        _Row(int(a), int(s), tuple(order[found[:, a, s], a, s].tolist()))
        for a, s in np.argwhere(found[0])
    ]


def _losses(
    met: Hindrance,
    arrivals: Arrivals,
    waves: Array,
    sets: list[Sets],
    row: _Row,
    things: tuple[int, ...],
    quality: Quality = QUICK,
) -> Array:
    """Joint loss of the middle and of every set. (1 + N,)"""
    a, s = row.antenna, row.station
    wave, far = float(waves[s]), float(arrivals.distance_m[a, s])
    screens = [met.screen(o, a, s, wave, far) for o in things]
    moves = [np.stack([sets[o].right[:, a, s], sets[o].up[:, a, s]], axis=1) for o in things]
    distances = [
        np.minimum(sets[o].distance[:, a, s] * screen.distance_m, FARTHEST_SHARE * far)
        for o, screen in zip(things, screens, strict=True)
    ]
    share = [float(abs(screen.amplitudes[0])) for screen in screens]
    passed = [one ** sets[o].foliage[:, s] for o, one in zip(things, share, strict=True)]
    count = sets[0].right.shape[0]
    return loss_db(
        drawn_fields(
            screens,
            wave,
            far,
            _with_middle(moves, np.zeros(2), count),
            _with_middle(distances, [screen.distance_m for screen in screens], count),
            _with_middle(passed, share, count),
            quality,
        )
    )


def _with_middle(drawn: Sequence[Array], middle: ArrayLike, count: int) -> Array:
    """The middle before the sets, the screens along the second axis."""
    if not drawn:
        return np.zeros((1 + count, 0))
    every = np.stack(drawn, axis=1)
    first = np.broadcast_to(np.asarray(middle, float), every.shape[1:])
    return np.concatenate([first[None], every])
