"""Joint fields of many draws of the same screens, quickly.

Each draw may move every screen aside and up, put it nearer or farther and let more or less through.
The grids follow the outlines and are shared by all draws; they are coarser than those of
`skyview.wave.screens`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from skyview.wave.cascade import Grid, Quality, Stack, cascade_fields, screen_grids
from skyview.wave.paths import boundary_fields
from skyview.wave.screens import Screen

Reals = NDArray[np.float64]

QUICK = Quality(spacing=0.115, least=0.086, clip=8.0, cells=5_000, rounded=True)
"""For draws: shared/draw_study.csv tells its error."""

DRAWS_AT_ONCE = 8
"""Draws worked on together share their grids' extent; the grids are those of all draws."""

LEAST_GAP = 1e-4
"""A draw's screens stand at least this share of their distance apart."""


class Drawn(NamedTuple):
    """What one path looks through, P draws of each of its screens.

    A draw puts a screen's outlines elsewhere as a whole: what lies at the slope s, metres over the
    screen's own distance, then lies at ``(s + moves) across_m`` metres from the ray.
    """

    screens: Sequence[Screen]
    wavelength_m: float
    transmitter_m: float
    """May be infinite."""
    distances_m: Reals
    """(P, screens), before the transmitter."""
    across_m: Reals
    """(P, screens), the distance where the outlines keep their size as seen from the antenna."""
    moves: Reals
    """To the right and up. (P, screens, 2)"""
    floor: Reals
    """Slope of the outline below which nothing stands, -inf for no floor. (P, screens)"""
    amplitudes: Reals
    """What all shapes of a screen let pass, instead of the screen's own. (P, screens)"""


def drawn_fields(drawn: Drawn, quality: Quality = QUICK) -> NDArray[np.complex128]:
    """Field at the antenna behind all screens, one a draw, over the free-space field. (P,)

    One screen without a floor is computed exactly. Source: as `skyview.wave.cascade`.

    >>> house = Screen(40.0, [np.array([[-60, -30], [60, -30], [60, 0], [-60, 0]])], [0.0])
    >>> twice = np.full((2, 1), 40.0)
    >>> down = np.array([[[0.0, 0.0]], [[0.0, -0.1]]])  # the roof's edge on the ray, 4 m below
    >>> none = np.zeros((2, 1))
    >>> two = Drawn([house], 1.0, np.inf, twice, twice, down, none - np.inf, none)
    >>> (-20.0 * np.log10(np.abs(drawn_fields(two)))).round(1).tolist()
    [6.2, -0.3]
    """
    field = np.ones(len(drawn.moves), complex)
    if not drawn.screens:
        return field
    outlines = [
        [ring / screen.distance_m for ring in screen.polygons_m] for screen in drawn.screens
    ]
    blocked = [
        np.repeat(1.0 - drawn.amplitudes[:, k : k + 1], len(rings), axis=1).astype(complex)
        for k, rings in enumerate(outlines)
    ]
    farther = 1.0 / (1.0 - drawn.distances_m / drawn.transmitter_m)
    equivalent = farther * drawn.distances_m
    order = np.argsort(equivalent, axis=1, kind="stable")
    whole = Stack(
        outlines,
        blocked,
        _apart(equivalent, order),
        np.full(len(equivalent), drawn.wavelength_m),
        -drawn.moves,
        farther * drawn.across_m,
        drawn.floor if np.isfinite(drawn.floor).any() else None,
    )
    if len(outlines) == 1 and whole.floor is None:
        exact = boundary_fields(whole)
        if exact is not None:
            return exact
    grids = screen_grids(whole, quality)
    sequence = np.lexsort((drawn.moves[:, :, 0].mean(axis=1), *order.T))
    turns = np.any(np.diff(order[sequence], axis=0) != 0, axis=1)
    for alike in np.split(sequence, np.nonzero(turns)[0] + 1):
        for members in np.array_split(alike, -(-alike.size // DRAWS_AT_ONCE)):
            near_to_far = order[members[0]]
            here = [_of(grids[k], members) for k in near_to_far]
            field[members] = cascade_fields(whole.part(members, near_to_far), quality, here)
    return field


def _of(grid: Grid | None, members: NDArray[np.intp]) -> Grid | None:
    """The grid with what blocks some of the paths."""
    if grid is None or len(grid.blocked) == 1:
        return grid
    return grid._replace(blocked=grid.blocked[members])


def _apart(distance_m: Reals, order: NDArray[np.intp]) -> Reals:
    """Distances (P, screens), none nearer to the one before in its ``order`` than ``LEAST_GAP``."""
    steps = LEAST_GAP * np.arange(distance_m.shape[1])
    rising = np.log(np.take_along_axis(distance_m, order, axis=1))
    rising = np.exp(np.maximum.accumulate(rising - steps, axis=1) + steps)
    found: Reals = np.empty_like(rising)
    np.put_along_axis(found, order, rising, axis=1)
    return found
