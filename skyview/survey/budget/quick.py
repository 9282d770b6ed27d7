"""Joint losses of many paths and many sets at once, by coarser grids than the exact ones."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.constants import wavelength_m
from skyview.survey.arrivals import Arrivals
from skyview.survey.budget.sets import Sets
from skyview.survey.joint import MOST_SCREENS, matters_db, screen_of
from skyview.survey.losses import Hindrance
from skyview.survey.threads import in_threads
from skyview.wave.aperture import loss_db
from skyview.wave.cascade import Quality
from skyview.wave.drawn import Drawn, drawn_fields
from skyview.wave.fresnel import knife_edge_loss_approximate_db
from skyview.wave.screens import Screen

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

CLOSER = Quality(spacing=0.06, least=0.045, clip=11.0, cells=3_000, rounded=True)
"""For the middle of many positions: shared/draw_study.csv tells its error."""


class Row(NamedTuple):
    """What stands before one path."""

    antenna: int
    station: int
    things: tuple[int, ...]
    """Indices into the names of the hindrance, the costliest first."""


def quick_losses(met: Hindrance, arrivals: Arrivals, frequency_mhz: Array) -> Array:
    """Joint loss of every path, (A, S), without shares, where there are many. [dB]

    The same things as in the exact loss on coarser grids: 0.19 dB RMS to it below 28 dB. A path
    with one thing that matters keeps its exact loss.
    """
    waves = wavelength_m(frequency_mhz)
    alone = np.nan_to_num(met.loss_db)
    alone = np.where(np.abs(alone) >= matters_db(alone), alone, 0.0)
    costliest = np.argmax(np.abs(alone), axis=0)[None]
    loss: Array = np.take_along_axis(alone, costliest, axis=0)[0]

    def work(rows: list[Row]) -> None:
        for row in rows:
            field = drawn_fields(middle_of(met, arrivals, waves, row), CLOSER)
            loss[row.antenna, row.station] = loss_db(field)[0]

    in_threads(work, [row for row in rows_of(np.abs(alone)) if len(row.things) > 1])
    return loss


def drawn_losses(
    met: Hindrance,
    arrivals: Arrivals,
    frequency_mhz: Array,
    sets: list[Sets],
    joint_db: Array | None,
    count: int,
    shares: bool,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Loss of every set (N, A, S), and with ``shares`` what each thing gives back (O, N, A, S).

    ``sets``: of each thing, the middle first; those like the middle are set right by ``joint_db``,
    the exact loss of the middle, if given.
    """
    loss = np.zeros((count, *arrivals.azimuth.shape), np.float32)
    if joint_db is not None:
        loss += joint_db.astype(np.float32)
    gains = np.zeros((len(met.names) if shares else 0, *loss.shape), np.float32)
    waves = wavelength_m(frequency_mhz)

    def work(rows: list[Row]) -> None:
        for row in rows:
            a, s = row.antenna, row.station
            every = loss_db(drawn_fields(placed(arrivals, waves, sets, row)))
            wrong = 0.0 if joint_db is None else joint_db[a, s] - every[0]
            loss[:, a, s] = (every + wrong / _far(every - every[0]))[1:]
            for o in row.things if shares else ():
                rest = row._replace(things=tuple(other for other in row.things if other != o))
                without = loss_db(drawn_fields(placed(arrivals, waves, sets, rest)))
                gains[o, :, a, s] = (every - without)[1:]

    in_threads(work, rows_of(rank_of(met, sets, waves)))
    return loss, gains


def losses_of(
    arrivals: Arrivals, waves: Array, sets: Sequence[list[Sets]], rows: Sequence[Row]
) -> Array:
    """Losses in every set of some paths, each with its own things in the way. (N, F) [dB]"""
    found = np.zeros((len(sets[0][0].right) - 1, len(rows)))

    def work(numbers: list[int]) -> None:
        for number in numbers:
            if rows[number].things:
                there = placed(arrivals, waves, sets[number], rows[number])
                found[:, number] = loss_db(drawn_fields(there))[1:]

    in_threads(work, list(range(len(rows))))
    return found


def _far(change_db: Array) -> Array:
    return np.asarray(1.0 + (change_db / LIKE_MIDDLE_DB) ** 2)


def rank_of(met: Hindrance, sets: list[Sets], waves: Array) -> Array:
    """In what order things count before each path, 0 where they do not. (O, A, S)"""
    alone = np.nan_to_num(met.loss_db)
    cost, least = np.abs(alone), matters_db(alone)
    worst = np.zeros_like(cost)
    for o, one in enumerate(sets):
        gap, radii = met.clearance_m[o], met.clearance_radii[o]
        unit = np.abs(gap / np.where(radii == 0.0, np.nan, radii))
        moved = np.sqrt(np.mean((one.right**2 + one.up**2)[1:], axis=0))
        nearer = radii - BROUGHT_NEARER * moved * unit / waves
        nu = np.nan_to_num(-np.sqrt(2.0) * nearer, nan=-np.inf)
        worst[o] = np.where(np.isfinite(met.loss_db[o]), knife_edge_loss_approximate_db(nu), 0.0)
    may = np.where(worst >= MAY_MATTER_DB, worst, 0.0)
    return np.where(cost >= least, FIRST_DB + cost, may)


def rows_of(rank: Array) -> list[Row]:
    """Paths before which something counts, with what counts most."""
    order = np.argsort(-rank, axis=0, kind="stable")[:MOST_SCREENS]
    counts = np.take_along_axis(rank, order, axis=0) > 0.0
    return [
        Row(int(a), int(s), tuple(order[counts[:, a, s], a, s].tolist()))
        for a, s in np.argwhere(counts.any(axis=0))
    ]


def middle_of(met: Hindrance, arrivals: Arrivals, waves: Array, row: Row) -> Drawn:
    """What stands before one path, as it is known."""
    a, s = row.antenna, row.station
    far = float(arrivals.distance_m[a, s])
    screens = [met.screen(o, a, s, float(waves[s]), far) for o in row.things]
    distance = np.array([[screen.distance_m for screen in screens]])
    return Drawn(
        screens,
        float(waves[s]),
        far,
        distance,
        distance,
        np.zeros((1, len(screens), 2)),
        np.full(distance.shape, -np.inf),
        np.array([[_passed(screen) for screen in screens]]),
    )


def placed(arrivals: Arrivals, waves: Array, sets: list[Sets], row: Row) -> Drawn:
    """What stands before one path in the middle and in every set."""
    a, s = row.antenna, row.station
    wave, far = float(waves[s]), float(arrivals.distance_m[a, s])
    mine = [sets[o] for o in row.things]
    screens = [screen_of(one.standing, a, s, wave, far) for one in mine]
    own = np.array([screen.distance_m for screen in screens])
    if not mine:
        nothing = np.zeros((len(sets[0].right), 0))
        return Drawn([], wave, far, nothing, nothing, nothing[..., None], nothing, nothing)

    def of(name: str) -> Array:
        return np.stack([getattr(one, name)[:, a, s] for one in mine], axis=1).astype(float)

    passed = [
        _passed(screen) ** one.foliage[:, s] for screen, one in zip(screens, mine, strict=True)
    ]
    return Drawn(
        screens,
        wave,
        far,
        np.minimum(of("distance") * own, FARTHEST_SHARE * far),
        of("across") * own,
        np.stack([of("right"), of("up")], axis=2),
        of("floor"),
        np.stack(passed, axis=1).astype(float),
    )


def _passed(screen: Screen) -> float:
    return float(abs(screen.amplitudes[0]))
