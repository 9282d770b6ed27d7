"""Joint fields of many draws of the same screens, quickly.

Each draw may move every screen aside and up, put it nearer or farther and let more or less through.
The grids follow the outlines and are shared by all draws; they are coarser than those of
`skyview.wave.screens`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.wave.cascade import Quality, Stack, cascade_fields
from skyview.wave.paths import boundary_fields
from skyview.wave.screens import Screen

Reals = NDArray[np.float64]

QUICK = Quality(spacing=0.1, least=0.075, clip=8.0, cells=3_000)
"""For draws: shared/draw_study.csv tells its error."""

DRAWS_AT_ONCE = 16
"""Draws worked on together share their grids' extent."""

LEAST_GAP = 1e-4
"""A draw's screens stand at least this share of their distance apart."""


def drawn_fields(
    screens: Sequence[Screen],
    wavelength_m: float,
    transmitter_distance_m: float,
    moves: ArrayLike,
    distances_m: ArrayLike,
    amplitudes: ArrayLike,
    quality: Quality = QUICK,
) -> NDArray[np.complex128]:
    """Field at the antenna behind all screens, one a draw, over the free-space field. (P,)

    ``moves`` (P, screens, 2): how far each screen is moved to the right and up, as the tangent of
    the angle at the antenna; ``distances_m`` (P, screens) [m], before the transmitter at
    ``transmitter_distance_m``; ``amplitudes`` (P, screens): what all shapes of a screen let pass,
    instead of the screen's own. ``wavelength_m`` [m].

    One screen is computed exactly. Source: as `skyview.wave.cascade`.

    >>> house = Screen(40.0, [np.array([[-60, -30], [60, -30], [60, 0], [-60, 0]])], [0.0])
    >>> down = np.array([[[0.0, 0.0]], [[0.0, -0.1]]])  # the roof's edge on the ray, 4 m below
    >>> fields = drawn_fields([house], 1.0, np.inf, down, [[40.0], [40.0]], [[0.0], [0.0]])
    >>> (-20.0 * np.log10(np.abs(fields))).round(1).tolist()
    [6.2, -0.3]
    """
    move, distance, passed = (np.asarray(v, float) for v in (moves, distances_m, amplitudes))
    field = np.ones(len(move), complex)
    if not screens:
        return field
    outlines = [[ring / screen.distance_m for ring in screen.polygons_m] for screen in screens]
    blocked = [
        np.repeat(1.0 - passed[:, k : k + 1], len(rings), axis=1).astype(complex)
        for k, rings in enumerate(outlines)
    ]
    equivalent = 1.0 / (1.0 / distance - 1.0 / transmitter_distance_m)
    order = np.argsort(equivalent, axis=1, kind="stable")
    sequence = np.lexsort((move[:, :, 0].mean(axis=1), *order.T))
    turns = np.any(np.diff(order[sequence], axis=0) != 0, axis=1)
    for alike in np.split(sequence, np.nonzero(turns)[0] + 1):
        for start in range(0, alike.size, DRAWS_AT_ONCE):
            members = alike[start : start + DRAWS_AT_ONCE]
            near_to_far = order[members[0]]
            at = np.ix_(members, near_to_far)
            stack = Stack(
                [outlines[k] for k in near_to_far],
                [blocked[k][members] for k in near_to_far],
                _apart(equivalent[at]),
                np.full(members.size, wavelength_m),
                -move[at],
            )
            exact = boundary_fields(stack) if len(screens) == 1 else None
            field[members] = cascade_fields(stack, quality) if exact is None else exact
    return field


def _apart(distance_m: Reals) -> Reals:
    """Rising distances (P, screens), none nearer to the one before than ``LEAST_GAP``."""
    spread = np.log(distance_m) - LEAST_GAP * np.arange(distance_m.shape[1])
    return np.asarray(
        np.exp(np.maximum.accumulate(spread, axis=1) + LEAST_GAP * np.arange(distance_m.shape[1]))
    )
