"""The field behind several screens, by what they block.

Only what is blocked radiates. With B = 1 - transmission of a screen, zero where nothing stands,
and P the propagation between two screens, the field that reaches screen i is

    u_i = 1 - sum over the farther screens j of P[B_j u_j],

and the same sum over all screens at the antenna is the answer (Babinet's principle, screen by
screen; for one screen Rec. ITU-R P.526-15, section 5.2.2). B and u are held as averages over the
cells of a grid per screen, between which propagation is exact (`skyview.wave.kernel`); nothing has
to be cut out of the plane but what is blocked far off the ray.

All lengths across the ray are handled as slopes, metres over metres of distance: there outlines
stay where they are when distances are drawn at random or the transmitter comes near.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from skyview.wave.coverage import cell_coverage
from skyview.wave.grid import axis_lines, straight_edge_weights
from skyview.wave.kernel import to_cells, to_cells_rounded, to_ray

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex64]

FADE_FROM = 0.7
"""Share of the clip limit from which what is blocked fades out, on the sides really cut."""

CUT_FROM = 1.0 - 1e-9
"""Share of the clip limit that a shape must reach to count as cut."""

LEAST_GAP = 1e-6
"""Gaps between screens count as at least this share of the distance."""


class Quality(NamedTuple):
    """Sizes in units of a Fresnel length: ``spacing`` of the lines in sqrt(wavelength x z),
    1/z = 1/distance + 1/gap to either neighbour, but not below ``least`` sqrt(wavelength x
    distance); shapes reach to ``clip`` sqrt(wavelength x distance) off the ray. Up to ``cells`` a
    screen the spacing is that; then it grows, so that wide screens do not take longer, up to
    `WIDEST` times. ``rounded``: see `to_cells_rounded`."""

    spacing: float
    least: float
    clip: float
    cells: int = 12_000
    rounded: bool = False


FINE = Quality(spacing=0.04, least=0.03, clip=15.0)
COARSE = Quality(spacing=0.06, least=0.045, clip=11.0)

WIDEST = 1.6

BELOW_RESONANCE = 0.6
"""Largest spacing as a share of wavelength x distance over the offset from the ray: there the phase
of the wave turns once from cell to cell, and all cells radiate as one."""


class Stack(NamedTuple):
    """Screens from near to far, and the paths that look through them.

    ``outlines``: for each screen its rings (N, 2) as slopes; ``blocked``: for each screen
    (P or 1, shapes), 1 less the amplitude; ``distance_m`` (P, screens) [m], rising along the
    screens, of the equivalent plane wave; ``wavelength_m`` (P,) [m]; ``slopes`` (P, screens, 2),
    where each path's ray lies among each screen's outlines; ``across_m`` (P, screens) [m], the
    metres that a slope of 1 is, the distance if None; ``floor`` (P, screens), the slope below
    which a screen's shapes do not go on, nowhere if None.
    """

    outlines: list[list[Reals]]
    blocked: list[NDArray[np.complex128]]
    distance_m: Reals
    wavelength_m: Reals
    slopes: Reals
    across_m: Reals | None = None
    floor: Reals | None = None

    def metres(self, level: int) -> Reals:
        """Metres across one screen for a slope of 1. (P,)"""
        scale = self.distance_m if self.across_m is None else self.across_m
        return scale[:, level]

    def part(self, paths: NDArray[np.intp], levels: NDArray[np.intp]) -> Stack:
        """Some of the paths through some of the screens, in that order."""
        at = np.ix_(paths, levels)
        several = [share if len(share) == 1 else share[paths] for share in self.blocked]
        return Stack(
            [self.outlines[k] for k in levels],
            [several[k] for k in levels],
            self.distance_m[at],
            self.wavelength_m[paths],
            self.slopes[at],
            None if self.across_m is None else self.across_m[at],
            None if self.floor is None else self.floor[at],
        )


class Grid(NamedTuple):
    """The cells of one screen."""

    x_lines: Reals
    """As slopes, rising."""
    y_lines: Reals
    blocked: NDArray[Any]
    """Blocked share of every cell. (P or 1, rows, columns)"""


class _Source(NamedTuple):
    x_lines_m: Reals
    y_lines_m: Reals
    distance_m: Reals
    lit: Complexes
    """What its cells radiate: with all farther screens there, then without each of them, the
    farthest first, where that is asked. (cases, P, rows, columns)"""


def cascade_fields(
    stack: Stack, quality: Quality = FINE, grids: Sequence[Grid | None] | None = None
) -> NDArray[np.complex128]:
    """Field at the antenna over the free-space field, one a path. [unitless, (P,)]

    All paths of one call share each screen's grid: they should be of similar wavelength and
    direction. ``grids``: those of `screen_grids` for more paths than these, if there are any.
    Phase convention of `skyview.wave.aperture`.

    >>> wall = np.array([[-99.0, -99.0], [99.0, -99.0], [99.0, 0.0], [-99.0, 0.0]])  # to the ray
    >>> ahead = np.zeros((1, 1, 2))
    >>> one = Stack([[wall]], [np.ones((1, 1))], np.array([[10.0]]), np.ones(1), ahead)
    >>> abs(cascade_fields(one)).round(2).tolist()
    [0.5]
    """
    return np.asarray(_cascade(stack, quality, grids, each=False)[0])


def cascade_fields_without(stack: Stack, quality: Quality = FINE) -> NDArray[np.complex128]:
    """The field behind all screens, then without each of them. [unitless, (1 + screens, P)]

    As `cascade_fields`, all on the grids of all screens: what does not change when a screen is
    left out is computed once.

    >>> wall = np.array([[-99.0, -99.0], [99.0, -99.0], [99.0, 0.0], [-99.0, 0.0]])
    >>> distance, ahead = np.array([[10.0, 30.0]]), np.zeros((1, 2, 2))
    >>> two = Stack([[wall], [wall]], [np.ones((1, 1))] * 2, distance, np.ones(1), ahead)
    >>> abs(cascade_fields_without(two)).round(2).ravel().tolist()
    [0.35, 0.5, 0.5]
    """
    return _cascade(stack, quality, None, each=True)


def _cascade(
    stack: Stack, quality: Quality, grids: Sequence[Grid | None] | None, each: bool
) -> NDArray[np.complex128]:
    """The field behind all screens and, with ``each``, without each of them. (1 or more, P)"""
    if grids is None:
        grids = screen_grids(stack, quality)
    levels = len(stack.outlines)
    field = np.ones((1 + levels if each else 1, stack.wavelength_m.size), complex)
    case = np.zeros(1 + levels, int)
    sources: list[_Source] = []
    for level in reversed(range(levels)):
        grid = _within(grids[level], _limits(stack, level, quality))
        if grid is None:
            continue
        distance = stack.distance_m[:, level]
        x_lines, y_lines = (
            (line - slope[:, np.newaxis]) * stack.metres(level)[:, np.newaxis]
            for line, slope in zip(grid[:2], stack.slopes[:, level].T, strict=True)
        )
        rows = _fade(stack, level, 1, y_lines, quality)
        if stack.floor is not None:
            rows = rows * _above(grid.y_lines, stack.floor[:, level])
        columns = _fade(stack, level, 0, x_lines, quality).astype(np.float32)
        stands = grid.blocked * rows.astype(np.float32)[:, :, np.newaxis]
        lit: Complexes = np.complex64(0.5j) * (stands * columns[:, np.newaxis, :])
        here = _Source(x_lines, y_lines, distance, lit[np.newaxis])
        here = here._replace(lit=lit * _reaching(here, sources, stack.wavelength_m, quality, each))
        along_y = to_ray(y_lines, stack.wavelength_m, distance)[:, np.newaxis, :]
        along_x = to_ray(x_lines, stack.wavelength_m, distance)[:, :, np.newaxis]
        _add(field, (along_y @ here.lit @ along_x)[..., 0, 0], len(sources))
        sources.append(here)
        case[1 + level] = len(sources)
    return field[case] if each else field


def clip_slopes(stack: Stack, level: int, quality: Quality = FINE) -> Reals:
    """How far off the ray, as a slope, one screen's shapes count. (P,)"""
    metres = quality.clip * np.sqrt(stack.wavelength_m * stack.distance_m[:, level])
    return np.asarray(metres / stack.metres(level))


def screen_grids(stack: Stack, quality: Quality = FINE) -> list[Grid | None]:
    """The grids of all screens, whatever their order in each path; None for a screen of which no
    shape is within reach of any path."""
    grids: list[Grid | None] = []
    curvature = _curvature(stack.distance_m)
    for level in range(len(stack.outlines)):
        lines = _lines(stack, level, curvature[:, level], quality)
        grids.append(lines and Grid(*lines, _blocked(stack, level, lines)))
    return grids


def _curvature(distance_m: Reals) -> Reals:
    """1/distance + 1/gap to either neighbour of each screen. (P, screens) [1/m]"""
    order = np.argsort(distance_m, axis=1, kind="stable")
    rising = np.take_along_axis(distance_m, order, axis=1)
    gap = np.maximum(np.diff(rising), LEAST_GAP * rising[:, :-1])
    curvature = 1.0 / rising
    curvature[:, 1:] += 1.0 / gap
    curvature[:, :-1] += 1.0 / gap
    found = np.empty_like(curvature)
    np.put_along_axis(found, order, curvature, axis=1)
    return found


def _limits(stack: Stack, level: int, quality: Quality) -> tuple[Reals, Reals]:
    """Least and greatest slope, x and y, within reach of any path. (2,)"""
    reach = clip_slopes(stack, level, quality)[:, np.newaxis]
    slopes = stack.slopes[:, level]
    return (slopes - reach).min(axis=0), (slopes + reach).max(axis=0)


def _within(grid: Grid | None, limits: tuple[Reals, Reals]) -> Grid | None:
    """The part of a grid that covers what lies within limits; None where none does."""
    if grid is None:
        return None
    spans = []
    for lines, low, high in zip(grid[:2], *limits, strict=True):
        start = max(int(np.searchsorted(lines, low, "right")) - 1, 0)
        stop = min(int(np.searchsorted(lines, high, "left")) + 1, lines.size)
        if stop - start < 2:
            return None
        spans.append(slice(start, stop))
    columns, rows = (slice(span.start, span.stop - 1) for span in spans)
    return Grid(grid.x_lines[spans[0]], grid.y_lines[spans[1]], grid.blocked[:, rows, columns])


def _lines(
    stack: Stack, level: int, curvature: Reals, quality: Quality
) -> tuple[Reals, Reals] | None:
    """Lines of a screen's grid as slopes; None where no shape is within reach of any path."""
    distance = stack.distance_m[:, level]
    across = stack.metres(level)
    spacing = np.maximum(
        quality.spacing * np.sqrt(stack.wavelength_m / curvature) / across,
        quality.least * np.sqrt(stack.wavelength_m * distance) / across,
    ).min()
    low, high = _limits(stack, level, quality)
    vertices = np.concatenate(stack.outlines[level])
    cells = np.prod(np.ptp(np.clip(vertices, low, high), axis=0)) / spacing**2
    spacing *= np.clip(np.sqrt(cells / quality.cells), 1.0, WIDEST)
    offset = np.abs(vertices - stack.slopes[:, level, np.newaxis]).max(axis=(1, 2))
    resonant = stack.wavelength_m * distance / across**2
    resonant = resonant / np.minimum(offset, clip_slopes(stack, level, quality))
    spacing = np.minimum(spacing, BELOW_RESONANCE * resonant.min())
    weights = straight_edge_weights(stack.outlines[level])
    x_lines, y_lines = (
        axis_lines(vertices[:, axis], weights[axis], spacing, low[axis], high[axis])
        for axis in (0, 1)
    )
    return (x_lines, y_lines) if x_lines.size and y_lines.size else None


def _blocked(stack: Stack, level: int, lines: tuple[Reals, Reals]) -> NDArray[Any]:
    """Blocked share of every cell, (P or 1, rows, columns)."""
    x_lines, y_lines = lines
    shares: NDArray[Any] = stack.blocked[level].astype(np.complex64)
    if not np.any(shares.imag):
        shares = shares.real
    if np.all(shares == shares[0]):
        shares = shares[:1]
    passed = np.ones((shares.shape[0], y_lines.size - 1, x_lines.size - 1), shares.dtype)
    for outline, share in zip(stack.outlines[level], shares.T, strict=True):
        rows = _span(y_lines, outline[:, 1])
        columns = _span(x_lines, outline[:, 0])
        if rows.stop > rows.start and columns.stop > columns.start:
            part = cell_coverage(
                outline,
                x_lines[columns.start : columns.stop + 1],
                y_lines[rows.start : rows.stop + 1],
            )
            part = part.astype(np.float32)
            passed[:, rows, columns] *= 1.0 - share[:, np.newaxis, np.newaxis] * part
    return 1.0 - passed


def _above(lines: Reals, floor: Reals) -> Reals:
    """Share of every row of cells above each path's floor. (P, rows)"""
    share = (lines[1:] - floor[:, np.newaxis]) / np.diff(lines)
    return np.asarray(np.clip(share, 0.0, 1.0))


def _span(lines: Reals, coordinates: Reals) -> slice:
    """The cells that a shape can touch."""
    start = np.searchsorted(lines, coordinates.min(), "right") - 1
    stop = np.searchsorted(lines, coordinates.max(), "left")
    return slice(max(int(start), 0), min(int(stop), lines.size - 1))


def _fade(stack: Stack, level: int, axis: int, lines_m: Reals, quality: Quality) -> Reals:
    """Raised cosine along one axis, 0 at the clip limit, on the sides where shapes go beyond it."""
    limit = (clip_slopes(stack, level, quality) * stack.metres(level))[:, np.newaxis]
    centre = 0.5 * (lines_m[:, 1:] + lines_m[:, :-1])
    outward = np.clip((np.abs(centre) / limit - FADE_FROM) / (1.0 - FADE_FROM), 0.0, 1.0)
    cut = np.where(
        centre < 0.0, lines_m[:, :1] <= -limit * CUT_FROM, lines_m[:, -1:] >= limit * CUT_FROM
    )
    return np.where(cut, 0.5 * (1.0 + np.cos(np.pi * outward)), 1.0)


def _reaching(
    here: _Source, sources: list[_Source], wavelength_m: Reals, quality: Quality, each: bool
) -> Complexes:
    """The field that reaches a screen past the farther ones, averaged over its cells, with all of
    them and with ``each`` without each of them. (1 or more, P, rows, columns)"""
    between = to_cells_rounded if quality.rounded else to_cells
    cases = 1 + len(sources) if each else 1
    field = np.ones((cases, wavelength_m.size, *here.lit.shape[-2:]), np.complex64)
    for number, source in enumerate(sources):
        gap = np.maximum(source.distance_m - here.distance_m, LEAST_GAP * here.distance_m)
        along_y = between(here.y_lines_m, source.y_lines_m, wavelength_m, gap)
        along_x = between(here.x_lines_m, source.x_lines_m, wavelength_m, gap)
        _add(field, along_y @ source.lit @ along_x.swapaxes(-1, -2), number)
    return field


def _add(field: NDArray[Any], part: NDArray[Any], number: int) -> None:
    """Add what the source ``number`` radiates, by what is left out: where that is a nearer screen
    it radiates as ever, where it is itself not at all."""
    field[: len(part)] += part
    field[number + 2 :] += part[0]
