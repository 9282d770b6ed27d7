"""A map of the roof: what an antenna at one height brings at every point of a grid over it.

Up to ``NODES`` points are computed; of more, nodes spread over the roof are computed and the rest
read between them, and how far that is off is measured at points left out. A coarse map comes first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.errors import InputError
from skyview.mount.hazards import roof_grid
from skyview.survey.models import Survey
from skyview.survey.mounts import FEW_SETS
from skyview.survey.refusals import Refusal, antenna_length_m, refusals, rings_of
from skyview.survey.scene import Leaf
from skyview.survey.tally import Tally, tally_at

NODES, FIRST = 90, 18
"""Points computed at most, and of the coarse map."""

CHECKED = 8
"""Points left out, at which the reading between nodes is held against the computation."""

AT_ONCE = 18
"""Points computed between two reports of progress."""


@dataclass(frozen=True)
class RoofMap:
    """What every point of the roof brings at one height above it."""

    height_m: float
    """Of the antenna above the roof. [m]"""
    step_m: float
    """Between points. [m]"""
    points_m: Array
    """East, north, up of the roof at each point. (P, 3)"""
    refused: tuple[Refusal | None, ...]
    """Why a point is refused. (P,)"""
    tally: Tally
    """What the others bring, in their order; NaN margins and chances at refused ones. (P, S)"""
    computed: NDArray[np.bool_]
    """Points that were computed, not read between others. (P,)"""
    error_db: float | None
    """Of the losses read between nodes, root mean square at points left out; None where every
    point was computed. [dB]"""
    coarse: bool
    """Whether finer is still to come."""


def roof_map(
    survey: Survey,
    step_m: float,
    height_m: float,
    leaf: Leaf = "in",
    progress: Callable[[int, int], None] = lambda done, all_: None,
    first: Callable[[RoofMap], None] = lambda coarse: None,
) -> RoofMap:
    """The map at one height; ``progress`` hears points done and to do, ``first`` gets the coarse
    map as soon as it stands.

    Raises InputError before all else where nobody looked for power lines, and where the survey
    has no roof.
    """
    rings = rings_of(survey.limits.roof_enu_m)
    points = roof_grid(rings, step_m) if rings else np.zeros((0, 3))
    height = np.full(len(points), height_m)
    length = np.full(len(points), antenna_length_m(survey))
    refused = refusals(survey, points, height, length)
    if not len(points):
        raise InputError(
            "the survey has no roof to map",
            field="limits.roof_enu_m",
            mend="give the corners of its faces: skyview set SURVEY "
            "'limits.roof_enu_m=[[[E,N,UP],[E,N,UP],[E,N,UP]]]'",
        )
    free = np.flatnonzero([r is None for r in refused])
    order = _spread(points[free])
    nodes = free[order[: min(NODES, len(order))]]
    left_out = free[order[NODES : NODES + CHECKED]]
    wanted = np.concatenate([nodes, left_out])
    made: Tally | None = None
    known: list[NDArray[np.intp]] = []
    for start in range(0, len(wanted), AT_ONCE):
        some = wanted[start : start + AT_ONCE]
        antenna = points[some] + np.array([0.0, 0.0, height_m])
        tally = tally_at(survey, [("", height_m)] * len(some), antenna, leaf, FEW_SETS)
        made = tally if made is None else _joined(made, tally)
        known.append(some)
        done = start + len(some)
        progress(done, len(wanted))
        if start < FIRST <= done < len(wanted):
            now = np.concatenate(known)
            first(_map(survey, step_m, height_m, points, refused, free, now, made, None, True))
    if made is None:
        empty = np.zeros((0, 0))
        made = Tally((), (), empty, empty, empty, (), (), ())
    error = None
    if len(left_out):
        inside, outside = _part(made, slice(0, len(nodes))), _part(made, slice(len(nodes), None))
        read = _between(points[nodes, :2], inside.loss_db, points[left_out, :2])
        error = float(np.sqrt(np.mean((read - outside.loss_db) ** 2)))
    return _map(survey, step_m, height_m, points, refused, free, wanted, made, error, False)


def _map(
    survey: Survey,
    step_m: float,
    height_m: float,
    points: Array,
    refused: list[Refusal | None],
    free: NDArray[np.intp],
    known: NDArray[np.intp],
    made: Tally,
    error_db: float | None,
    coarse: bool,
) -> RoofMap:
    """The map of all points from those that are known."""
    count = len(made.stations)
    computed = np.isin(np.arange(len(points)), known)

    def filled(own: Array) -> Array:
        values = np.full((len(points), count), np.nan)
        if len(known):
            values[free] = _between(points[known, :2], own, points[free, :2])
            values[known] = own
        return values

    return RoofMap(
        height_m=height_m,
        step_m=step_m,
        points_m=points,
        refused=tuple(refused),
        tally=_changed(made, filled),
        computed=computed,
        error_db=error_db,
        coarse=coarse,
    )


def _spread(points: Array) -> NDArray[np.intp]:
    """An order in which each point is the farthest from those before it: any beginning is spread
    over the whole roof."""
    if not len(points):
        return np.zeros(0, np.intp)
    middle = points[:, :2].mean(axis=0)
    order = [int(np.argmax(np.hypot(*(points[:, :2] - middle).T)))]
    gap = np.full(len(points), np.inf)
    for _ in range(len(points) - 1):
        gap = np.minimum(gap, np.hypot(*(points[:, :2] - points[order[-1], :2]).T))
        order.append(int(np.argmax(gap)))
    return np.array(order)


def _between(known_m: Array, values: Array, at_m: Array) -> Array:
    """Values (K, S) known at places (K, 2), read linearly at others (M, 2); beyond the outermost
    the nearest counts."""
    # Half a second to load, and few roofs are mapped.
    from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

    nearest = NearestNDInterpolator(known_m, values)(at_m)
    spread = np.ptp(known_m, axis=0)
    if len(known_m) < 4 or np.linalg.matrix_rank(known_m - known_m[0], tol=1e-6 * spread.max()) < 2:
        return np.asarray(nearest, float)
    linear = LinearNDInterpolator(known_m, values)(at_m)
    result: Array = np.where(np.isfinite(linear), linear, nearest)
    return result


def _part(tally: Tally, which: slice) -> Tally:
    return _changed(tally, lambda values: values[which])


def _changed(tally: Tally, change: Callable[[Array], Array]) -> Tally:
    return replace(
        tally,
        probability=change(tally.probability),
        margin_db=change(tally.margin_db),
        loss_db=change(tally.loss_db),
    )


def _joined(one: Tally, other: Tally) -> Tally:
    return replace(
        one,
        probability=np.concatenate([one.probability, other.probability]),
        margin_db=np.concatenate([one.margin_db, other.margin_db]),
        loss_db=np.concatenate([one.loss_db, other.loss_db]),
        warnings=tuple(dict.fromkeys([*one.warnings, *other.warnings])),
    )
