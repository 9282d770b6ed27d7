"""What evenly lit cells radiate: to a point, and on average to the cells of another screen.

Propagation over a distance z is the Fresnel integral over the source,
1/(i wavelength z) integral of exp(i pi |r - r'|^2/(wavelength z)) d r', which splits into a factor
for x and one for y. For a source that is constant in each cell both are differences of Fresnel
integrals, exactly; averaged over a cell of the target they are second differences of the
integral of the Fresnel integral, exactly again. Averages stay right however small z is: at z = 0
they are the overlap of the cells.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from skyview.wave.fresnel import fresnel_integral

Reals = NDArray[np.float64]
Reals32 = NDArray[np.float32]
Complexes = NDArray[np.complex64]

TABLE_STEPS_A_UNIT = 1024
TABLE_END = 64.0
"""Linear steps are 1.2e-7 off at most, and leaving out what lies beyond its end 2.5e-5 at most."""


def _remainder(v: Reals) -> NDArray[np.complex128]:
    """Integral of the Fresnel integral from 0 to v, less v (1 + i)/2, plus i/pi; 0 at infinity."""
    wave = np.exp(0.5j * np.pi * v**2)
    return np.asarray(v * (fresnel_integral(v) - 0.5 - 0.5j) + 1j / np.pi * wave)


_TABLE = np.append(
    _remainder(np.arange(0.0, TABLE_END, 1.0 / TABLE_STEPS_A_UNIT)), [0.0, 0.0]
).astype(np.complex64)
_SLOPE = np.diff(_TABLE)
_STEPS = int(TABLE_END * TABLE_STEPS_A_UNIT)
_BOTH_WAYS = np.float32(TABLE_STEPS_A_UNIT) * np.append(_TABLE[_STEPS:0:-1], _TABLE[: _STEPS + 1])
"""The same for v from minus to plus the end, in steps."""


def to_cells(
    target_lines_m: Reals, source_lines_m: Reals, wavelength_m: Reals, gap_m: Reals
) -> Complexes:
    """One axis' factor from source cells to the averages over target cells.

    ``target_lines_m`` (..., rows + 1) and ``source_lines_m`` (..., columns + 1) [m] rise along
    the last axis; ``wavelength_m`` (...) and ``gap_m`` (...), the distance between the two
    screens, are above 0 [m]. The result is (..., rows, columns); the field of a source M is
    ``to_cells(y..) @ M @ to_cells(x..).T / 2i``.

    Source: product form of Rec. ITU-R P.526-15, section 5.2.1.1, integrated over the target; the
    integral of E(v) = C(v) + i S(v) is v E(v) + (i/pi) exp(i pi v^2/2).

    >>> lines = np.array([-1e3, 0.0, 1e3])  # two halves of a plane: nearly all goes straight on
    >>> to_cells(lines, lines, np.array(1.0), np.array(1.0)).real.round(2).tolist()
    [[1.0, 0.0], [0.0, 1.0]]
    """
    scale = np.sqrt(2.0 / (wavelength_m * gap_m))[..., np.newaxis]
    target = (target_lines_m * scale).astype(np.float32)
    source = (source_lines_m * scale).astype(np.float32)
    at = target[..., :, np.newaxis] - source[..., np.newaxis, :]
    np.abs(at, out=at)
    at *= np.float32(TABLE_STEPS_A_UNIT)
    np.minimum(at, np.float32(TABLE_END * TABLE_STEPS_A_UNIT), out=at)
    index = at.astype(np.intp)
    at -= np.trunc(at)
    wave = _SLOPE.take(index, mode="clip")
    wave *= at
    wave += _TABLE.take(index, mode="clip")
    return _averages(wave, target, source)


def to_cells_rounded(
    target_lines_m: Reals, source_lines_m: Reals, wavelength_m: Reals, gap_m: Reals
) -> Complexes:
    """As `to_cells` with every line moved to the nearest step of the table, in two thirds of the
    time.

    A line between two cells takes from one what it gives to the other, so that only what ends
    there is moved, by sqrt(wavelength x gap)/2900 at most. Cells narrower than that receive
    nothing.

    >>> lines = np.array([-1e3, 0.0, 1e3])
    >>> to_cells_rounded(lines, lines, np.array(1.0), np.array(1.0)).real.round(2).tolist()
    [[1.0, 0.0], [0.0, 1.0]]
    """
    scale = TABLE_STEPS_A_UNIT * np.sqrt(2.0 / (wavelength_m * gap_m))[..., np.newaxis]
    target = np.rint(target_lines_m * scale).astype(np.int32)
    source = np.rint(source_lines_m * scale).astype(np.int32)
    at = (target + np.int32(_STEPS))[..., :, np.newaxis] - source[..., np.newaxis, :]
    wave = _BOTH_WAYS.take(at, mode="clip")
    return _averages(wave, target.astype(np.float32), source.astype(np.float32))


def _averages(wave: Complexes, target: Reals32, source: Reals32) -> Complexes:
    """What cells between source lines send to those between target lines, by the integral of the
    Fresnel integral between the lines, less what goes straight on. (..., rows, columns)"""
    parts = wave.view(np.float32)
    factor = (parts[..., 2:] - parts[..., :-2]).view(np.complex64)
    factor = factor[..., :-1, :] - factor[..., 1:, :]
    overlap = np.minimum(target[..., 1:, np.newaxis], source[..., np.newaxis, 1:])
    overlap -= np.maximum(target[..., :-1, np.newaxis], source[..., np.newaxis, :-1])
    np.maximum(overlap, np.float32(0.0), out=overlap)
    factor.real += overlap
    factor.imag += overlap
    cell = np.diff(target)
    inverse = np.divide(np.float32(1.0), cell, out=np.zeros_like(cell), where=cell > 0.0)
    parts = factor.view(np.float32)
    parts *= inverse[..., np.newaxis]
    return factor


def to_ray(source_lines_m: Reals, wavelength_m: Reals, distance_m: Reals) -> Complexes:
    """One axis' factor from source cells to the antenna, which lies on the ray.

    ``source_lines_m`` (..., columns + 1), ``wavelength_m`` and ``distance_m`` (...) [m]; the
    result is (..., columns).

    >>> edge, every = np.array([0.0, 1e6]), np.array([-1e6, 1e6])
    >>> half = to_ray(edge, np.array(1.0), np.array(1.0))
    >>> through = half @ to_ray(every, np.array(1.0), np.array(1.0)) / 2j
    >>> round(abs(complex(through)), 3)  # an edge on the ray leaves half
    0.5
    """
    scale = np.sqrt(2.0 / (wavelength_m * distance_m))[..., np.newaxis]
    return np.diff(fresnel_integral(source_lines_m * scale)).astype(np.complex64)
