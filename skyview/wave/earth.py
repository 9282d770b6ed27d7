"""Free space and the smooth spherical earth: Rec. ITU-R P.525, P.526 sections 3.1.1 and 3.2.

Heights are metres above the smooth earth, distances metres along it. Section numbers are those of
edition 15 of Rec. ITU-R P.526; its formulae are used as coded in the Study Group 3 reference
implementation of Rec. ITU-R P.1812-6, which prints the same ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.constants import EARTH_RADIUS_M, MEGA, RADIO_K, SPEED_OF_LIGHT_M_PER_S

Array = NDArray[np.float64]

EFFECTIVE_RADIUS_M = RADIO_K * EARTH_RADIUS_M
"""Radius of the earth over which the median ray is straight: k = 4/3, 8494.7 km."""


@dataclass(frozen=True)
class Ground:
    """Electrical nature of the ground; ``conductivity`` in S/m."""

    relative_permittivity: float
    conductivity: float


LAND = Ground(22.0, 0.003)
"""Land, as in Rec. ITU-R P.1812-6."""


class FirstTerm(NamedTuple):
    """Terms of the residue series' first term, [dB]: loss = -distance - height_1 - height_2."""

    distance_db: Array
    height_1_db: Array
    height_2_db: Array


def smooth_earth_loss_db(
    distance_m: ArrayLike,
    height_1_m: ArrayLike,
    height_2_m: ArrayLike,
    frequency_mhz: ArrayLike,
    *,
    radius_m: float = EFFECTIVE_RADIUS_M,
    vertical: ArrayLike = False,
    ground: Ground = LAND,
) -> Array:
    """Loss of the smooth spherical earth over free space, at any distance. [dB, 0 or more]

    ``distance_m`` [m]; ``height_1_m`` and ``height_2_m`` [m] of the two antennas above the smooth
    earth, 0 or more; ``frequency_mhz`` [MHz], 10 or more; ``vertical`` says where the wave is
    vertically polarized. All broadcast. ``radius_m`` is the effective radius of the earth.

    Beyond the radio horizon this is the first term of the residue series; nearer, the loss is
    interpolated from 0, where the ray clears the earth by 0.552 radii of the first Fresnel zone,
    to the first term of an earth on which the same path would graze.

    Source: Rec. ITU-R P.526-15, section 3.2; Rec. ITU-R P.1812-6, eqs (22) to (26).

    >>> round(float(smooth_earth_loss_db(60e3, 300.0, 10.0, 599.0, radius_m=8.5e6)), 2)
    5.71
    """
    d, h1, h2, f = np.broadcast_arrays(
        *(np.asarray(x, dtype=float) for x in (distance_m, height_1_m, height_2_m, frequency_mhz))
    )
    horizon = np.sqrt(2.0 * radius_m) * (np.sqrt(h1) + np.sqrt(h2))
    beyond = d >= horizon
    grazing_radius = 0.5 * (d / np.maximum(np.sqrt(h1) + np.sqrt(h2), 1e-9)) ** 2
    radius = np.where(beyond, radius_m, grazing_radius)
    first = np.maximum(-sum(first_term(d, h1, h2, f, radius, vertical, ground)), 0.0)
    clearance, required = clearance_and_required_m(d, h1, h2, f, radius_m=radius_m)
    share = np.clip(1.0 - clearance / required, 0.0, 1.0)
    return np.where(beyond, first, share * first)


def first_term(
    distance_m: ArrayLike,
    height_1_m: ArrayLike,
    height_2_m: ArrayLike,
    frequency_mhz: ArrayLike,
    radius_m: ArrayLike = EFFECTIVE_RADIUS_M,
    vertical: ArrayLike = False,
    ground: Ground = LAND,
) -> FirstTerm:
    """The first term of the residue series, good beyond the radio horizon. [dB]

    Arguments as in `smooth_earth_loss_db`.

    Source: Rec. ITU-R P.526-15, section 3.1.1, with the rounded constants printed there; their sum
    stays within 0.006 dB of the Study Group's published cases, a single term within 0.014 dB.

    >>> terms = first_term(83079.93853, 211.3366061, 30.0, 1000.0, radius_m=8.5e6)
    >>> [round(float(term), 2) for term in terms]
    [-59.42, 39.53, 4.54]
    """
    d, h1, h2, f = (
        np.asarray(x, dtype=float) for x in (distance_m, height_1_m, height_2_m, frequency_mhz)
    )
    radius_km, f_ghz = np.asarray(radius_m, dtype=float) / 1e3, f / 1e3
    k = _admittance(f_ghz, radius_km, vertical, ground)
    k2 = k**2
    beta = (1.0 + 1.6 * k2 + 0.67 * k2**2) / (1.0 + 4.5 * k2 + 1.53 * k2**2)
    x = 21.88 * beta * np.cbrt(f_ghz / radius_km**2) * d / 1e3
    y = 0.9575 * beta * np.cbrt(f_ghz**2 / radius_km)
    return FirstTerm(
        _distance_term(x), _height_term(y * h1, beta, k), _height_term(y * h2, beta, k)
    )


def _admittance(f_ghz: Array, radius_km: Array, vertical: ArrayLike, ground: Ground) -> Array:
    eps = ground.relative_permittivity
    loss2 = (18.0 * ground.conductivity / f_ghz) ** 2
    horizontal = 0.036 / np.cbrt(radius_km * f_ghz) / ((eps - 1.0) ** 2 + loss2) ** 0.25
    return np.where(vertical, horizontal * np.sqrt(eps**2 + loss2), horizontal)


def _distance_term(x: Array) -> Array:
    x = np.maximum(x, 1e-12)
    far = 11.0 + 10.0 * np.log10(x) - 17.6 * x
    near = -20.0 * np.log10(x) - 5.6488 * x**1.425
    return np.where(x >= 1.6, far, near)


def _height_term(y: Array, beta: Array, k: Array) -> Array:
    b = beta * y
    above = np.maximum(b - 1.1, 1e-9)
    high = 17.6 * np.sqrt(above) - 5.0 * np.log10(above) - 8.0
    low = 20.0 * np.log10(np.maximum(b + 0.1 * b**3, 1e-30))
    return np.maximum(np.where(b > 2.0, high, low), 2.0 + 20.0 * np.log10(k))


def clearance_and_required_m(
    distance_m: ArrayLike,
    height_1_m: ArrayLike,
    height_2_m: ArrayLike,
    frequency_mhz: ArrayLike,
    *,
    radius_m: float = EFFECTIVE_RADIUS_M,
) -> tuple[Array, Array]:
    """Least clearance of the ray over the smooth earth, and the one that costs nothing. [m, m]

    Arguments as in `smooth_earth_loss_db`; meaningful within the radio horizon. The second is
    0.552 radii of the first Fresnel zone at the point of least clearance.

    Source: as in `smooth_earth_loss_db`.

    >>> clear, need = clearance_and_required_m(83079.93853, 215.727222, 50.0, 200.0, radius_m=8.5e6)
    >>> round(float(clear), 2), round(float(need), 2)
    (14.55, 90.22)
    """
    d, h1, h2, f = (
        np.asarray(x, dtype=float) for x in (distance_m, height_1_m, height_2_m, frequency_mhz)
    )
    total = np.maximum(h1 + h2, 1e-9)
    c = (h1 - h2) / total
    m = 0.25 * d**2 / (radius_m * total)
    turned = np.arccos(np.clip(1.5 * c * np.sqrt(3.0 * m / (m + 1.0) ** 3), -1.0, 1.0)) / 3.0
    b = 2.0 * np.sqrt((m + 1.0) / (3.0 * m)) * np.cos(np.pi / 3.0 + turned)
    first = np.clip(0.5 * d * (1.0 + b), 0.0, d)
    second = d - first
    drop_1, drop_2 = 0.5 * first**2 / radius_m, 0.5 * second**2 / radius_m
    clearance = ((h1 - drop_1) * second + (h2 - drop_2) * first) / d
    wavelength = SPEED_OF_LIGHT_M_PER_S / (f * MEGA)
    required = 17.456 * np.sqrt(first * second / 1e3 * wavelength / d)
    return clearance, np.maximum(required, 1e-9)
