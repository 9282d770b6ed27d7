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
    target = (target_lines_m * scale).astype(np.float32)[..., :, np.newaxis]
    source = (source_lines_m * scale).astype(np.float32)[..., np.newaxis, :]
    inverse_cell = np.float32(1.0) / np.diff(target, axis=-2)
    at = target - source
    np.abs(at, out=at)
    at *= np.float32(TABLE_STEPS_A_UNIT)
    np.minimum(at, np.float32(TABLE_END * TABLE_STEPS_A_UNIT), out=at)
    index = at.astype(np.intp)
    at -= index
    wave = np.take(_SLOPE, index)
    wave *= at
    wave += np.take(_TABLE, index)
    factor = wave[..., 1:] - wave[..., :-1]
    factor = factor[..., :-1, :] - factor[..., 1:, :]
    overlap = np.minimum(target[..., 1:, :], source[..., 1:])
    overlap -= np.maximum(target[..., :-1, :], source[..., :-1])
    np.maximum(overlap, np.float32(0.0), out=overlap)
    factor.real += overlap
    factor.imag += overlap
    factor *= inverse_cell
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
