"""Joint losses of many paths and many sets at once, by coarser grids than the exact ones."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.constants import wavelength_m
from skyview.survey.arrivals import Arrivals
from skyview.survey.budget.sets import Sets
from skyview.survey.joint import MATTERS_DB, MOST_SCREENS
from skyview.survey.losses import Hindrance
from skyview.wave.aperture import loss_db
from skyview.wave.cascade import Quality
from skyview.wave.drawn import drawn_fields
from skyview.wave.fresnel import knife_edge_loss_approximate_db
from skyview.wave.screens import Screen

Item = TypeVar("Item")

MAY_MATTER_DB = 0.5
"""A thing that one edge brought nearer by ``BROUGHT_NEARER`` times its moves could make cost so
much is computed in every set."""

BROUGHT_NEARER = 1.5

FIRST_DB = 1e3
"""What matters in the middle comes before what only may: the same things as in the exact loss."""

LIKE_MIDDLE_DB = 1.0
"""Sets whose loss lies within about this of the middle's are corrected by the middle's error."""

FARTHEST_SHARE = 0.9
"""No set puts a thing farther than this share of the way to the transmitter."""

PATHS_AT_ONCE = 8


CLOSER = Quality(spacing=0.06, least=0.045, clip=11.0, cells=3_000)
"""For the middle of many positions: shared/draw_study.csv tells its error."""


class Row(NamedTuple):
    """What stands before one path."""

    antenna: int
    station: int
    things: tuple[int, ...]
    """Indices into the names of the hindrance, the costliest first."""


def quick_losses(met: Hindrance, arrivals: Arrivals, frequency_mhz: Array) -> Array:
    """Joint loss of every path, (A, S), without shares, where there are many. [dB]

    The same things as in the exact loss on coarser grids: 0.15 dB RMS to it below 28 dB. A path
    with one thing that matters keeps its exact loss.
    """
    waves = wavelength_m(frequency_mhz)
    alone = np.nan_to_num(met.loss_db)
    alone = np.where(np.abs(alone) >= MATTERS_DB, alone, 0.0)
    loss = np.take_along_axis(alone, np.argmax(np.abs(alone), axis=0)[None], axis=0)[0]

    def work(rows: list[Row]) -> None:
        for row in rows:
            screens = _screens(met, arrivals, waves, row)
            field = drawn_fields(
                screens,
                float(waves[row.station]),
                float(arrivals.distance_m[row.antenna, row.station]),
                np.zeros((1, len(screens), 2)),
                [[screen.distance_m for screen in screens]],
                [[abs(screen.amplitudes[0]) for screen in screens]],
                CLOSER,
            )
            loss[row.antenna, row.station] = loss_db(field)[0]

    _in_threads(work, [row for row in rows_of(np.abs(alone)) if len(row.things) > 1])
    return loss


def drawn_losses(
    met: Hindrance,
    arrivals: Arrivals,
    frequency_mhz: Array,
    drawn: dict[str, Sets],
    joint_db: Array | None,
    count: int,
    shares: bool,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Loss of every set (N, A, S), and with ``shares`` what each thing gives back (O, N, A, S).

    Sets like the middle are set right by ``joint_db``, the exact loss of the middle, if given.
    """
    loss = np.zeros((count, *arrivals.azimuth.shape), np.float32)
    if joint_db is not None:
        loss += joint_db.astype(np.float32)
    gains = np.zeros((len(met.names) if shares else 0, *loss.shape), np.float32)
    sets = [drawn[name] for name in met.names]
    waves = wavelength_m(frequency_mhz)

    def work(rows: list[Row]) -> None:
        for row in rows:
            a, s = row.antenna, row.station
            every = loss_db(drawn_fields(*placed(met, arrivals, waves, sets, row)))
            wrong = 0.0 if joint_db is None else joint_db[a, s] - every[0]
            loss[:, a, s] = (every + wrong / _far(every - every[0]))[1:]
            for o in row.things if shares else ():
                rest = row._replace(things=tuple(other for other in row.things if other != o))
                without = loss_db(drawn_fields(*placed(met, arrivals, waves, sets, rest)))
                gains[o, :, a, s] = (every - without)[1:]

    _in_threads(work, rows_of(rank_of(met, sets, waves)))
    return loss, gains


def losses_of(
    met: Sequence[Hindrance],
    arrivals: Arrivals,
    waves: Array,
    sets: list[Sets],
    rows: Sequence[Row],
) -> Array:
    """Losses in every set of some paths, each with its own things in the way. (N, F) [dB]"""
    found = np.zeros((len(sets[0].right), len(rows)))

    def work(numbers: list[int]) -> None:
        for number in numbers:
            row = rows[number]
            if row.things:
                there = placed(met[number], arrivals, waves, sets, row)
                found[:, number] = loss_db(drawn_fields(*there))[1:]

    _in_threads(work, list(range(len(rows))))
    return found


def _far(change_db: Array) -> Array:
    return np.asarray(1.0 + (change_db / LIKE_MIDDLE_DB) ** 2)


def _in_threads(work: Callable[[list[Item]], None], rows: list[Item]) -> None:
    parts = [rows[i : i + PATHS_AT_ONCE] for i in range(0, len(rows), PATHS_AT_ONCE)]
    with ThreadPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        list(pool.map(work, parts))


def rank_of(met: Hindrance, sets: list[Sets], waves: Array) -> Array:
    """In what order things count before each path, 0 where they do not. (O, A, S)"""
    cost = np.abs(np.nan_to_num(met.loss_db))
    worst = np.zeros_like(cost)
    for o, one in enumerate(sets):
        gap, radii = met.clearance_m[o], met.clearance_radii[o]
        unit = np.abs(gap / np.where(radii == 0.0, np.nan, radii))
        moved = np.sqrt(np.mean(one.right**2 + one.up**2, axis=0))
        nearer = radii - BROUGHT_NEARER * moved * unit / waves
        nu = np.nan_to_num(-np.sqrt(2.0) * nearer, nan=-np.inf)
        worst[o] = np.where(np.isfinite(met.loss_db[o]), knife_edge_loss_approximate_db(nu), 0.0)
    may = np.where(worst >= MAY_MATTER_DB, worst, 0.0)
    return np.where(cost >= MATTERS_DB, FIRST_DB + cost, may)


def rows_of(rank: Array) -> list[Row]:
    """Paths before which something counts, with what counts most."""
    order = np.argsort(-rank, axis=0, kind="stable")[:MOST_SCREENS]
    counts = np.take_along_axis(rank, order, axis=0) > 0.0
    return [
        Row(int(a), int(s), tuple(order[counts[:, a, s], a, s].tolist()))
        for a, s in np.argwhere(counts.any(axis=0))
    ]


def _screens(met: Hindrance, arrivals: Arrivals, waves: Array, row: Row) -> list[Screen]:
    a, s = row.antenna, row.station
    far = float(arrivals.distance_m[a, s])
    return [met.screen(o, a, s, float(waves[s]), far) for o in row.things]


class Placed(NamedTuple):
    """Arguments of `skyview.wave.drawn.drawn_fields`: the middle, then every set."""

    screens: list[Screen]
    wavelength_m: float
    transmitter_m: float
    moves: Array
    distances_m: Array
    amplitudes: Array


def placed(met: Hindrance, arrivals: Arrivals, waves: Array, sets: list[Sets], row: Row) -> Placed:
    """What stands before one path in the middle and in every set."""
    a, s = row.antenna, row.station
    far = float(arrivals.distance_m[a, s])
    screens = _screens(met, arrivals, waves, row)
    mine = [sets[o] for o in row.things]
    share = [float(abs(screen.amplitudes[0])) for screen in screens]
    distance = [screen.distance_m for screen in screens]
    count = len(sets[0].right)
    return Placed(
        screens,
        float(waves[s]),
        far,
        _with_middle(
            [np.stack([o.right[:, a, s], o.up[:, a, s]], axis=1) for o in mine],
            np.zeros((len(mine), 2)),
            count,
        ),
        _with_middle(
            [
                np.minimum(o.distance[:, a, s] * own, FARTHEST_SHARE * far)
                for o, own in zip(mine, distance, strict=True)
            ],
            np.array(distance),
            count,
        ),
        _with_middle(
            [own ** o.foliage[:, s] for o, own in zip(mine, share, strict=True)],
            np.array(share),
            count,
        ),
    )


def _with_middle(drawn: Sequence[NDArray[np.floating]], middle: Array, count: int) -> Array:
    """The middle before the sets, the screens along the second axis."""
    every = np.zeros((1 + count, *middle.shape))
    every[0] = middle
    for thing, values in enumerate(drawn):
        every[1:, thing] = values
    return every
