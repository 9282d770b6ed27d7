"""The field for every direction of a patch of sky at once, behind all screens together.

By reciprocity the wave goes out from the antenna. In slopes q = r/d about it that wave is plane,
and 1/d takes the place of range: starting with 1, nearest screen first, it is multiplied by what
each screen lets pass, and from d1 to d2 its spectrum turns by exp(-i pi wavelength (1/d1 - 1/d2)
f^2), last to 1/infinity = 0. What is left at q is the field, over the free-space field, of a plane
wave that arrives from q.

Near screens need a wide margin and far ones small pixels: the wave is handed on to a smaller and
finer grid wherever the Fresnel angle has shrunk enough.

Source: the Fresnel transform in the coordinates of a spherical wave (J. W. Goodman, Introduction
to Fourier Optics, 3rd ed., section 4.2; from memory), sampled as a split step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from skyview.errors import InputError
from skyview.wave.coverage import cell_coverage
from skyview.wave.fresnel import require_positive
from skyview.wave.screens import Screen

PIXEL = 0.06
"""Pixel in units of sqrt(wavelength x smallest step in 1/d)."""

MARGIN = 7.0
"""Sky computed around the patch in Fresnel angles sqrt(wavelength / d) of the nearest screen."""

FADE = 0.6
"""Share of the margin, from outside, over which what blocks is faded out."""

MERGE_GAP = 0.02
"""Screens closer than this share of their distance act as one."""

STAGE_RATIO = 2.0
"""Fresnel angles of the screens that share a grid differ by less than this factor."""

MOST_PIXELS = 1_500_000
"""Pixels of one grid: where more would be needed, they are wider and the map says so."""


@dataclass(frozen=True)
class SkyMap:
    """The field over a rectangle of slopes."""

    x: NDArray[np.float64]
    """Slopes to the right of the columns' middles, rising, evenly spaced. (columns,)"""
    y: NDArray[np.float64]
    """Slopes up of the rows' middles, rising, evenly spaced. (rows,)"""
    field: NDArray[np.complex64]
    """Over the free-space field. [unitless, (rows, columns)]"""
    widened: float
    """How many times wider than `PIXEL` asks the pixels of one of the grids are, at least 1."""


class _Level(NamedTuple):
    """What acts as one screen, and the step in 1/d to the next level."""

    distance_m: float
    members: list[Screen]
    step: float


@dataclass(frozen=True)
class _Axis:
    """One side of a grid."""

    begin: float
    width: float
    """Of a pixel."""
    keep: NDArray[np.float64]
    """Share of what blocks, or of what was scattered, that each pixel keeps. (n,)"""

    @property
    def lines(self) -> NDArray[np.float64]:
        """Lines between the pixels. (n + 1,)"""
        return np.asarray(self.begin + self.width * np.arange(self.keep.size + 1), dtype=float)

    @property
    def middle(self) -> NDArray[np.float64]:
        """Middles of the pixels. (n,)"""
        return np.asarray(self.lines[:-1] + 0.5 * self.width, dtype=float)

    @property
    def frequency(self) -> NDArray[np.float64]:
        """In the order of the transform. [cycles per unit slope, (n,)]"""
        return np.asarray(scipy.fft.fftfreq(self.keep.size, self.width))

    def inside(self, low: float, high: float) -> slice:
        """The pixels from one slope to another, and two to spare."""
        first = max(int(np.searchsorted(self.middle, low)) - 2, 0)
        return slice(first, min(int(np.searchsorted(self.middle, high)) + 2, self.keep.size))


def sky_map(
    screens: Sequence[Screen],
    wavelength_m: float,
    low: tuple[float, float],
    high: tuple[float, float],
    *,
    period: float | None = None,
) -> SkyMap:
    """The field for every direction between the slopes ``low`` and ``high`` (x, y).

    ``screens`` in any order, shapes in metres from the ray of slope 0; ``wavelength_m`` [m].
    With a ``period`` every shape stands at x - period and x + period too, as in azimuth. The
    phase's sign is that of `skyview.wave.screens`.

    Raises InputError for a wavelength that is not above 0, or a patch without area.

    >>> edge = Screen(40.0, [np.array([[-900, -900], [900, -900], [900, 0], [-900, 0]])], [0.0])
    >>> seen = sky_map([edge], 1.0, (-0.2, -0.2), (0.2, 0.2))
    >>> round(float(abs(seen.field[np.argmin(abs(seen.y)), seen.x.size // 2])), 1)
    0.5
    """
    require_positive(np.asarray(wavelength_m, dtype=float), "wavelength_m", "a wavelength")
    if not (low[0] < high[0] and low[1] < high[1]):
        raise InputError("the patch has no area", field="low, high", mend="give low below high")
    stages = _stages([screen for screen in screens if len(screen.amplitudes)])
    if not stages:
        x, y = (np.linspace(a, b, 2) for a, b in zip(low, high, strict=True))
        return SkyMap(x, y, np.ones((2, 2), np.complex64), 1.0)
    wave = np.ones((1, 1), np.complex64)
    grid: list[_Axis] = []
    widened = 1.0
    for stage in stages:
        reach = MARGIN * float(np.sqrt(wavelength_m / stage[0].distance_m))
        wanted = PIXEL * float(np.sqrt(wavelength_m * min(level.step for level in stage)))
        area = (high[0] - low[0] + 2.0 * reach) * (high[1] - low[1] + 2.0 * reach)
        pixel = max(wanted, float(np.sqrt(area / MOST_PIXELS)))
        widened = max(widened, pixel / wanted)
        before: Sequence[_Axis | None] = grid or (None, None)
        across = _axis(low[0], high[0], reach, pixel, before[0])
        up = _axis(low[1], high[1], reach, pixel, before[1])
        grid = [across, up]
        if before[0] is None or before[1] is None:
            wave = np.ones((up.keep.size, across.keep.size), np.complex64)
        else:
            wave = _regridded(_regridded(wave, before[1], up).T, before[0], across).T
        for level in stage:
            for screen in level.members:
                _cast(wave, screen, across, up, period)
            wave = _carried(wave, wavelength_m * level.step, across, up)
    inner = [axis.inside(a, b) for axis, a, b in zip((across, up), low, high, strict=True)]
    return SkyMap(across.middle[inner[0]], up.middle[inner[1]], wave[inner[1], inner[0]], widened)


def _stages(screens: list[Screen]) -> list[list[_Level]]:
    """The screens by distance, nearest first, in stages that share a grid.

    Those closer than `MERGE_GAP` are one level, at the nearest's distance. A stage ends where the
    Fresnel angle has shrunk to 1 / `STAGE_RATIO` of its first: a smaller, finer grid then serves.
    """
    groups: list[list[Screen]] = []
    for screen in sorted(screens, key=lambda one: one.distance_m):
        if groups and screen.distance_m - groups[-1][0].distance_m < MERGE_GAP * screen.distance_m:
            groups[-1].append(screen)
        else:
            groups.append([screen])
    inverse = [1.0 / group[0].distance_m for group in groups]
    stages: list[list[_Level]] = []
    for group, here, beyond in zip(groups, inverse, [*inverse[1:], 0.0], strict=False):
        level = _Level(1.0 / here, group, here - beyond)
        if stages and level.distance_m < STAGE_RATIO**2 * stages[-1][0].distance_m:
            stages[-1].append(level)
        else:
            stages.append([level])
    return stages


def _axis(low: float, high: float, margin: float, pixel: float, before: _Axis | None) -> _Axis:
    """One side of a grid with the patch in its middle, on the lines of the grid before."""
    begin, size = low - margin, high - low + 2.0 * margin
    count = scipy.fft.next_fast_len(int(np.ceil(size / pixel)))
    if before is not None:
        cut = _cut(before, begin, begin + size)
        begin = before.begin + before.width * cut.start
        size = before.width * (cut.stop - cut.start)
        count = max(scipy.fft.next_fast_len(int(np.ceil(size / pixel))), cut.stop - cut.start)
    width = size / count
    middle = begin + width * (np.arange(count) + 0.5)
    outside = np.maximum(low - middle, middle - high) / margin
    faded = np.clip((outside - (1.0 - FADE)) / FADE, 0.0, 1.0)
    return _Axis(begin, width, 0.5 * (1.0 + np.cos(np.pi * faded)))


def _cut(axis: _Axis, low: float, high: float) -> slice:
    """The pixels of a grid that reach from one slope to another."""
    first = max(int(np.floor((low - axis.begin) / axis.width)), 0)
    return slice(first, min(int(np.ceil((high - axis.begin) / axis.width)), axis.keep.size))


def _regridded(wave: NDArray[np.complex64], before: _Axis, after: _Axis) -> NDArray[np.complex64]:
    """The rows of a wave on a shorter and finer grid, what was scattered faded at its ends.

    The spectrum is filled up with zeros: exact for what the coarser grid can hold.
    """
    cut = _cut(before, after.begin + 0.5 * before.width, after.lines[-1] - 0.5 * before.width)
    part = wave[cut]
    coarse = part.shape[0]
    at = before.middle[cut]
    keep = np.interp(at, after.middle, after.keep)[:, np.newaxis]
    spectrum = scipy.fft.fft((part - 1.0) * keep, axis=0)
    order = np.fft.fftfreq(coarse, 1.0 / coarse).astype(int)
    shift = (0.5 * (after.width - before.width)) / (before.width * coarse)
    wide = np.zeros((after.keep.size, part.shape[1]), np.complex64)
    wide[order] = spectrum * np.exp(2j * np.pi * order * shift)[:, np.newaxis]
    wide *= after.keep.size / coarse
    return np.asarray(1.0 + scipy.fft.ifft(wide, axis=0), dtype=np.complex64)


def _cast(
    wave: NDArray[np.complex64], screen: Screen, across: _Axis, up: _Axis, period: float | None
) -> None:
    """Multiply the wave by what a screen lets pass, in place."""
    for ring_m, amplitude in zip(screen.polygons_m, screen.amplitudes, strict=True):
        for turn in (0.0,) if period is None else (-period, 0.0, period):
            ring = ring_m / screen.distance_m + np.array([turn, 0.0])
            columns, rows = _window(across.lines, ring[:, 0]), _window(up.lines, ring[:, 1])
            if columns.stop <= columns.start or rows.stop <= rows.start:
                continue
            x = across.lines[columns.start : columns.stop + 1]
            share = cell_coverage(ring, x, up.lines[rows.start : rows.stop + 1])
            share *= up.keep[rows, np.newaxis] * across.keep[columns]
            wave[rows, columns] *= (1.0 - (1.0 - amplitude) * share).astype(np.complex64)


def _window(lines: NDArray[np.float64], ring: NDArray[np.float64]) -> slice:
    """The cells which a ring may touch."""
    first = int(np.searchsorted(lines, ring.min(), "right")) - 1
    last = int(np.searchsorted(lines, ring.max(), "left"))
    return slice(max(first, 0), min(last, lines.size - 1))


def _carried(
    wave: NDArray[np.complex64], turn: float, across: _Axis, up: _Axis
) -> NDArray[np.complex64]:
    """The wave after a step in 1/d, ``turn`` being wavelength times that step."""
    spectrum = scipy.fft.fft2(wave, overwrite_x=True)
    spectrum *= _transfer(turn, up)[:, np.newaxis]
    spectrum *= _transfer(turn, across)
    return np.asarray(scipy.fft.ifft2(spectrum, overwrite_x=True))


def _transfer(turn: float, axis: _Axis) -> NDArray[np.complex64]:
    """Phase of a step, faded where the wave would walk round the grid and in again."""
    half = 0.5 * axis.width * axis.keep.size
    walked = np.clip(2.0 * turn * np.abs(axis.frequency) / half - 1.0, 0.0, 1.0)
    limit = np.cos(0.5 * np.pi * walked) ** 2
    return np.asarray(limit * np.exp(-1j * np.pi * turn * axis.frequency**2), dtype=np.complex64)
