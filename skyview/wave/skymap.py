"""The field for every direction of a patch of sky at once, behind all screens together.

By reciprocity the wave goes out from the antenna. In slopes q = r/d about it that wave is plane,
and 1/d takes the place of range: starting with 1, nearest screen first, it is multiplied by what
each screen lets pass, and from d1 to d2 its spectrum turns by exp(-i pi wavelength (1/d1 - 1/d2)
f^2), last to 1/infinity = 0. What is left at q is the field, over the free-space field, of a plane
wave that arrives from q.

Source: the Fresnel transform in the coordinates of a spherical wave (J. W. Goodman, Introduction
to Fourier Optics, 3rd ed., section 4.2; from memory), sampled as a split step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from skyview.errors import InputError
from skyview.wave.coverage import cell_coverage
from skyview.wave.fresnel import require_positive
from skyview.wave.screens import Screen

PIXEL = 0.08
"""Pixel in units of sqrt(wavelength x smallest step in 1/d)."""

MARGIN = 7.0
"""Sky computed around the patch in Fresnel angles sqrt(wavelength / d) of the nearest screen."""

FADE = 0.6
"""Share of the margin, from outside, over which what blocks is faded out."""

MERGE_GAP = 0.02
"""Screens closer than this share of their distance act as one."""

MOST_PIXELS = 1_200_000
"""Pixels of one map: where more would be needed, they are wider and the map says so."""


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
    """How many times wider than `PIXEL` asks the pixels are, at least 1. Up to 9, with fifteen
    screens of a roof, the loss stayed within 0.2 dB RMS of the cascade where it is under 20 dB."""


@dataclass(frozen=True)
class _Axis:
    lines: NDArray[np.float64]
    frequency: NDArray[np.float64]
    """In the order of the transform. [cycles per unit slope, (n,)]"""
    keep: NDArray[np.float64]
    """Share of what blocks that each pixel keeps. (n,)"""
    patch: slice


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
    levels = _levels([screen for screen in screens if len(screen.amplitudes)])
    if not levels:
        x, y = (np.linspace(a, b, 2) for a, b in zip(low, high, strict=True))
        return SkyMap(x, y, np.ones((2, 2), np.complex64), 1.0)
    inverse = np.array([1.0 / distance for distance, _ in levels])
    steps = inverse - np.append(inverse[1:], 0.0)
    margin = MARGIN * np.sqrt(wavelength_m * inverse[0])
    wanted = PIXEL * np.sqrt(wavelength_m * steps[steps > MERGE_GAP * inverse[-1]].min())
    size = [b - a + 2.0 * margin for a, b in zip(low, high, strict=True)]
    pixel = max(wanted, float(np.sqrt(size[0] * size[1] / MOST_PIXELS)))
    across = _axis(low[0], high[0], size[0], pixel, margin)
    up = _axis(low[1], high[1], size[1], pixel, margin)
    wave = np.ones((up.keep.size, across.keep.size), np.complex64)
    for (_, members), step in zip(levels, steps, strict=True):
        for screen in members:
            _cast(wave, screen, across, up, period)
        wave = _carried(wave, wavelength_m * step, across, up)
    middles = [0.5 * (axis.lines[1:] + axis.lines[:-1])[axis.patch] for axis in (across, up)]
    return SkyMap(middles[0], middles[1], wave[up.patch, across.patch], float(pixel / wanted))


def _levels(screens: list[Screen]) -> list[tuple[float, list[Screen]]]:
    """The screens by distance, nearest first, those closer than `MERGE_GAP` at the nearest's."""
    levels: list[tuple[float, list[Screen]]] = []
    for screen in sorted(screens, key=lambda one: one.distance_m):
        if levels and screen.distance_m - levels[-1][0] < MERGE_GAP * screen.distance_m:
            levels[-1][1].append(screen)
        else:
            levels.append((screen.distance_m, [screen]))
    return levels


def _axis(low: float, high: float, size: float, pixel: float, margin: float) -> _Axis:
    """One side of the grid, the patch in its middle with a pixel to spare."""
    count = scipy.fft.next_fast_len(int(np.ceil(size / pixel)))
    width = size / count
    begin = 0.5 * (low + high - size)
    lines = begin + width * np.arange(count + 1)
    middle = 0.5 * (lines[1:] + lines[:-1])
    outside = np.maximum(low - middle, middle - high) / margin
    faded = np.clip((outside - (1.0 - FADE)) / FADE, 0.0, 1.0)
    first = max(int(np.searchsorted(middle, low)) - 2, 0)
    last = min(int(np.searchsorted(middle, high)) + 2, count)
    return _Axis(
        lines=lines,
        frequency=scipy.fft.fftfreq(count, width),
        keep=0.5 * (1.0 + np.cos(np.pi * faded)),
        patch=slice(first, last),
    )


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
    half = 0.5 * (axis.lines[-1] - axis.lines[0])
    walked = np.clip(2.0 * turn * np.abs(axis.frequency) / half - 1.0, 0.0, 1.0)
    limit = np.cos(0.5 * np.pi * walked) ** 2
    return np.asarray(limit * np.exp(-1j * np.pi * turn * axis.frequency**2), dtype=np.complex64)
