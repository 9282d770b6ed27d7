"""Fresnel zones, Fresnel integrals and the single knife edge.

Distances run along the straight ray from the obstacle to its two ends; which end is called near
does not matter, and either may be infinite. Equation numbers are those of edition 15 of Rec. ITU-R
P.526, as quoted in secondary texts; section 2.1 was read in edition 8.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fresnel

from skyview.constants import MEGA, SPEED_OF_LIGHT_M_PER_S
from skyview.errors import InputError

APPROXIMATION_STARTS_AT = -0.78
"""Fresnel parameter below which the approximate loss is 0: Rec. ITU-R P.526-15, section 4.1,
validity of eq. (31); Rec. ITU-R P.1812-6 sets the loss to 0 there."""


def require_positive(value: NDArray[np.float64], field: str, what: str) -> None:
    """Raise InputError unless every entry of ``value`` is above zero (nan passes).

    >>> require_positive(np.array([1.0, -2.0]), "distance_m", "a length")
    Traceback (most recent call last):
    skyview.errors.InputError: distance_m: a length of -2 m is not above zero; give metres above 0.
    """
    if np.any(value <= 0.0):
        worst = float(np.nanmin(value))
        raise InputError(
            f"{what} of {worst:g} m is not above zero", field=field, mend="give metres above 0"
        )


def reduced_distance_m(near_m: ArrayLike, far_m: ArrayLike) -> NDArray[np.float64]:
    """The distance d1 d2 / (d1 + d2) that sets the size of the Fresnel zones. [m]

    ``near_m`` and ``far_m`` [m] are the distances from the screen to the two ends of the path,
    above 0, numbers or arrays that broadcast; infinity for a plane wave. Raises InputError for a
    distance that is not above 0.

    >>> float(reduced_distance_m(20.0, np.inf)), float(reduced_distance_m(500.0, 500.0))
    (20.0, 250.0)
    """
    near = np.asarray(near_m, dtype=float)
    far = np.asarray(far_m, dtype=float)
    require_positive(near, "near_m", "a distance")
    require_positive(far, "far_m", "a distance")
    return np.asarray(1.0 / (1.0 / near + 1.0 / far))


def first_zone_radius_m(
    frequency_mhz: ArrayLike, near_m: ArrayLike, far_m: ArrayLike
) -> NDArray[np.float64]:
    """Radius of the first Fresnel zone, square to the ray. [m]

    ``frequency_mhz`` [MHz]; ``near_m`` and ``far_m`` [m] as in `reduced_distance_m`. The exact
    constant is used, 547.5 where the Recommendation's practical formula rounds to 550 (0.45 %).

    Source: Rec. ITU-R P.526, section 2.1, eq. (2) with n = 1.

    >>> round(float(first_zone_radius_m(150.0, 500.0, 500.0)), 2)
    22.35
    """
    wavelength = SPEED_OF_LIGHT_M_PER_S / (np.asarray(frequency_mhz, dtype=float) * MEGA)
    return np.sqrt(wavelength * reduced_distance_m(near_m, far_m))


def fresnel_integral(v: ArrayLike) -> NDArray[np.complex128]:
    """C(v) + i S(v), the integral of exp(i pi t^2 / 2) from 0 to v. [unitless]

    Odd in ``v``; tends to (1 + i)/2. Beyond |v| = 36 974 the underlying routine returns that
    limit, at most 9e-6 off.

    Source: Rec. ITU-R P.526-15, section 2.7; NIST Digital Library of Mathematical Functions,
    eqs. 7.2.7 and 7.2.8.

    >>> print(np.round(fresnel_integral(1.0), 4))
    (0.7799+0.4383j)
    """
    sine, cosine = fresnel(np.asarray(v, dtype=float))
    return np.asarray(cosine + 1j * sine)


def knife_edge_loss_approximate_db(nu: ArrayLike) -> NDArray[np.float64]:
    """Approximate loss behind one sharp edge, never a gain. [dB]

    ``nu`` [unitless], sqrt(2) times the edge's height above the ray over the radius of the first
    zone, is positive when the edge rises above the ray, 0 when it touches it, negative when the
    ray is clear. The loss is 0 below -0.78; between -0.78 and 10 it stays within -0.123 and
    +0.103 dB of the exact one.

    Source: Rec. ITU-R P.526-15, section 4.1, eq. (31).

    >>> round(float(knife_edge_loss_approximate_db(0.0)), 2)
    6.03
    """
    parameter = np.asarray(nu, dtype=float)
    shifted = np.maximum(parameter, APPROXIMATION_STARTS_AT) - 0.1
    loss = 6.9 + 20.0 * np.log10(np.hypot(shifted, 1.0) + shifted)
    return np.where(parameter < APPROXIMATION_STARTS_AT, 0.0, loss)
