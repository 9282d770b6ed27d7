"""The single knife edge by its published formula, against which screens are checked."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import wofz

from skyview.wave.fresnel import reduced_distance_m


def knife_edge_parameter(
    height_m: ArrayLike, wavelength_m: ArrayLike, near_m: ArrayLike, far_m: ArrayLike
) -> NDArray[np.float64]:
    """The Fresnel parameter nu of one sharp edge. [unitless]

    ``height_m`` [m] is the height of the edge above the straight ray, negative when the ray
    passes over it; ``wavelength_m`` [m], ``near_m`` and ``far_m`` [m] as in `reduced_distance_m`.

    Source: Rec. ITU-R P.526-15, section 4.1, eq. (26); nu = sqrt(2) height / first zone radius.

    >>> round(float(knife_edge_parameter(3.0, 299.792458 / 599.0, 60.0, 40_000.0)), 4)
    0.7748
    """
    scale = np.asarray(wavelength_m, dtype=float) * reduced_distance_m(near_m, far_m)
    return np.asarray(height_m, dtype=float) * np.sqrt(2.0 / scale)


def knife_edge_loss_db(nu: ArrayLike) -> NDArray[np.float64]:
    """Exact loss behind one sharp edge. [dB]

    ``nu`` [unitless] is positive when the edge rises above the ray, 0 when it touches it (6 dB),
    negative when the ray is clear; then the loss swings round 0 and may be a gain of up to
    1.4 dB. Finite ``nu``, a number or an array.

    Source: Rec. ITU-R P.526-15, section 4.1, eq. (30). The field behind the edge,
    ((1 - C - S) + i (C - S)) / 2, has the modulus of erfc(z) / 2 with z = (1 - i) sqrt(pi) nu / 2
    (NIST Digital Library of Mathematical Functions, eqs. 7.5.8 to 7.5.10), and that of w(i z) / 2
    since |exp(z^2)| = 1: no digits are lost deep in the shadow.

    >>> round(float(knife_edge_loss_db(0.0)), 2), round(float(knife_edge_loss_db(1.0)), 2)
    (6.02, 13.86)
    """
    argument = (1.0 + 1.0j) * np.sqrt(np.pi) / 2.0 * np.asarray(nu, dtype=float)
    return np.asarray(-20.0 * np.log10(np.abs(wofz(argument)) / 2.0))
