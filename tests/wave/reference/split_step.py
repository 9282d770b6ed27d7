"""Band-limited angular-spectrum split step: the field behind several screens, slowly and plainly.

A plane wave starts beyond the farthest screen. At each screen it is multiplied by the screen's
transmission; between screens its spectrum turns by
exp(-i pi wavelength z f^2), the paraxial propagator. (Goodman, Introduction to Fourier Optics,
section 4.2: transfer function of Fresnel diffraction.) Three things keep it honest:

- The blocked part of a screen fades out towards the edge of the window, so that the wave is the
  free wave where the window repeats itself.
- Frequencies that would walk from one window into the next one within a step are taken away
  (Matsushima and Shimobaba, Optics Express 17 (2009) 19662, band-limited angular spectrum).
- A screen's blocked part is collected by tents round the nodes, which keep area and centre of
  gravity, from regions that do not overlap, and its spectrum is then divided by that of the tent.

Two pixel sizes are run; their difference bounds what the finer one leaves.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from skyview.wave.coverage import edge_pieces
from skyview.wave.overlay import blocked_regions
from skyview.wave.screens import Screen

HALF_WINDOW = 20.0
"""Half of the window, in units of sqrt(wavelength x distance of the farthest screen)."""

FADE_FROM, FADE_TO = 0.6, 0.95
"""Shares of the half window between which a screen's blocked part fades to nothing."""


LARGEST_PIXEL = 0.05
"""Pixel, in units of the smallest sqrt(wavelength x z) of the scene, 1/z = 1/distance to the
antenna + 1/gap to either neighbour."""

FEWEST_POINTS, MOST_POINTS = 1024, 4096


class Reference(NamedTuple):
    """Field over free space, the change from the coarser pixels to the finer ones, and pixels a
    side."""

    field: complex
    change_db: float
    points: int


def reference_field(screens: Sequence[Screen], wavelength_m: float) -> Reference:
    """Field at the antenna, and its change from pixels twice as large."""
    points = points_needed(sorted(screen.distance_m for screen in screens))
    coarse = split_step_field(screens, wavelength_m, points // 2)
    fine = split_step_field(screens, wavelength_m, points)
    change = 20.0 * np.log10(max(abs(fine), 1e-8) / max(abs(coarse), 1e-8))
    return Reference(fine, float(change), points)


def points_needed(distances_m: Sequence[float]) -> int:
    """Pixels a side for `LARGEST_PIXEL`, within the limits; a multiple of 128."""
    distance = np.asarray(distances_m)
    gap = 1.0 / np.diff(distance)
    curvature = 1.0 / distance + np.append(gap, 0.0) + np.append(0.0, gap)
    ratio = np.sqrt(distance[-1] * curvature.max())
    points = 128 * int(np.ceil(2.0 * HALF_WINDOW * ratio / LARGEST_PIXEL / 128.0))
    return int(np.clip(points, FEWEST_POINTS, MOST_POINTS))


def split_step_field(
    screens: Sequence[Screen],
    wavelength_m: float,
    points: int,
    half_window: float = HALF_WINDOW,
) -> complex:
    """Field at the antenna over the free-space field, one pixel size."""
    far_to_near = sorted(screens, key=lambda screen: -screen.distance_m)
    half = half_window * np.sqrt(wavelength_m * far_to_near[0].distance_m)
    pixel = 2.0 * half / points
    nodes = (np.arange(points) - points // 2) * pixel
    frequency = scipy.fft.fftfreq(points, pixel)
    next_distance = [screen.distance_m for screen in far_to_near[1:]] + [0.0]
    wave = np.ones((points, points), np.complex64)
    for screen, nearer in zip(far_to_near, next_distance, strict=True):
        wave *= _transmission(screen, nodes, half)
        spectrum = scipy.fft.fft2(wave, overwrite_x=True)
        step = _propagator(frequency, wavelength_m * (screen.distance_m - nearer), half)
        spectrum *= step[:, np.newaxis]
        spectrum *= step
        if nearer > 0.0:
            wave = scipy.fft.ifft2(spectrum, overwrite_x=True)
    centre = np.where(np.arange(points) % 2, -1.0, 1.0)
    return complex(centre @ spectrum.astype(complex) @ centre) / points**2


def _transmission(screen: Screen, nodes: NDArray[np.float64], half: float) -> NDArray[np.complex64]:
    blocked = np.zeros((nodes.size, nodes.size), np.complex64)
    last = nodes.size - 1
    regions = blocked_regions(screen.polygons_m)
    assert regions is not None
    shares = 1.0 - np.asarray(screen.amplitudes, dtype=complex)
    for region in regions:
        polygon = region.ring
        low = np.clip(np.searchsorted(nodes, polygon.min(axis=0)) - 2, 0, last - 1)
        high = np.clip(np.searchsorted(nodes, polygon.max(axis=0)) + 2, low + 1, last)
        part = (slice(low[1], high[1] + 1), slice(low[0], high[0] + 1))
        collected = tent_coverage(polygon, nodes[part[1]], nodes[part[0]])
        blocked[part] += (region.blocked(shares) * collected).astype(np.complex64)
    outward = np.clip((np.abs(nodes) / half - FADE_FROM) / (FADE_TO - FADE_FROM), 0.0, 1.0)
    fade = (0.5 * (1.0 + np.cos(np.pi * outward))).astype(np.float32)
    blocked *= fade[:, np.newaxis] * fade
    sharpen = (np.sinc(scipy.fft.fftfreq(nodes.size)) ** -2).astype(np.float32)
    spectrum = scipy.fft.fft2(blocked, overwrite_x=True)
    spectrum *= sharpen[:, np.newaxis]
    spectrum *= sharpen
    return np.complex64(1.0) - scipy.fft.ifft2(spectrum, overwrite_x=True)


def tent_coverage(
    polygon: NDArray[np.float64], x_nodes: NDArray[np.float64], y_nodes: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Integral of the polygon times the tent of each node, (rows, columns); 1 well inside.

    Evenly spaced nodes. A piece of an edge in one cell has a cubic integrand: two
    Gauss-Legendre points are exact.

    >>> nodes = np.arange(4.0)
    >>> square = np.array([[-9.0, -9.0], [1.25, -9.0], [1.25, 9.0], [-9.0, 9.0]])
    >>> tent_coverage(square, nodes, nodes)[1].round(5).tolist()
    [0.5, 0.71875, 0.03125, 0.0]
    """
    step = x_nodes[1] - x_nodes[0]
    rows, columns = y_nodes.size, x_nodes.size
    begin, end, row, column = edge_pieces(polygon, x_nodes, y_nodes)
    full = np.zeros((rows + 1) * columns)
    part = np.zeros((rows + 1) * columns)
    for share in (0.5 - 0.5 / np.sqrt(3.0), 0.5 + 0.5 / np.sqrt(3.0)):
        point = begin + share * (end - begin)
        across = (point[:, 0] - x_nodes[column]) / step
        upward = np.where(row < rows - 1, (point[:, 1] - y_nodes[row]) / step, 1.0)
        width = 0.5 * (end - begin)[:, 0] / step
        for beside, weight in ((0, width * (1.0 - across)), (1, width * across)):
            node = row * columns + column + beside
            full += np.bincount(node, weight, full.size)
            part += np.bincount(node, weight * (0.5 + upward - 0.5 * upward**2), full.size)
            part += np.bincount(node + columns, weight * 0.5 * upward**2, full.size)
    below = np.cumsum(full.reshape(rows + 1, columns)[::-1], axis=0)[::-1]
    return np.abs(part.reshape(rows + 1, columns)[:rows] + below[1:])


def _propagator(
    frequency: NDArray[np.float64], wavelength_distance: float, half: float
) -> NDArray[np.complex64]:
    walk = wavelength_distance * np.abs(frequency) / half
    pass_band = np.cos(0.5 * np.pi * np.clip(2.0 * walk - 1.0, 0.0, 1.0)) ** 2
    turn = np.exp(-1j * np.pi * wavelength_distance * frequency**2)
    return (turn * pass_band).astype(np.complex64)
