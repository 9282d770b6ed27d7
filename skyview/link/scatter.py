"""Tropospheric scatter, the floor of the field far beyond the horizon: Rec. ITU-R P.1812-6, 4.4."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.constants import EARTH_RADIUS_M, RADIO_K

Array = NDArray[np.float64]
TimePercent = Literal[1, 10, 50]

SURFACE_REFRACTIVITY = 325.0
"""N0, sea level, a usual mean; the value of the check rows (Rec. ITU-R P.1812-6, section 4.4)."""


def scatter_field_dbuv_m(
    distance_m: ArrayLike, frequency_mhz: ArrayLike, angle: ArrayLike, time_pct: TimePercent = 50
) -> Array:
    """Field of 1 kW over a half-wave dipole by tropospheric scatter. [dB(uV/m)]

    ``angle`` [rad] is the bend of the path at the common volume, 0 or more; ``distance_m`` [m] and
    ``frequency_mhz`` [MHz] broadcast against it. ``time_pct`` 50, 10 or 1.

    Source: Rec. ITU-R P.1812-6, section 4.4, eq. (44), turned into a field by its eq. (70).

    >>> round(float(scatter_field_dbuv_m(200e3, 600.0, 0.0235)), 2)
    0.32
    """
    loss = scatter_loss_db(distance_m, frequency_mhz, angle, time_pct)
    return 199.36 + 20.0 * np.log10(np.asarray(frequency_mhz, dtype=float) / 1e3) - loss


def scatter_loss_db(
    distance_m: ArrayLike, frequency_mhz: ArrayLike, angle: ArrayLike, time_pct: TimePercent = 50
) -> Array:
    """Basic transmission loss of tropospheric scatter; arguments as above. [dB]

    Source: Rec. ITU-R P.1812-6, section 4.4, eq. (44), for 50 % of the time or less.

    >>> round(float(scatter_loss_db(200e3, 600.0, 0.0235)), 2)
    194.61
    """
    f_ghz = np.asarray(frequency_mhz, dtype=float) / 1e3
    d_km = np.asarray(distance_m, dtype=float) / 1e3
    bend_mrad = np.asarray(angle, dtype=float) * 1e3
    median = 190.1 + 25.0 * np.log10(f_ghz) - 2.5 * np.log10(0.5 * f_ghz) ** 2
    median = median + 20.0 * np.log10(d_km) + 0.573 * bend_mrad - 0.15 * SURFACE_REFRACTIVITY
    result: Array = median - 10.125 * np.log10(50.0 / time_pct) ** 0.7
    return result


def scatter_angle(distance_m: ArrayLike, h1_m: ArrayLike, h2_m: ArrayLike) -> Array:
    """Bend of the path between the two smooth horizons, k = 4/3; 0 within sight. [rad]

    ``h1_m`` and ``h2_m`` [m] above the smooth earth, below 0 counts as 0.

    >>> round(1e3 * float(scatter_angle(200e3, 0.0, 0.0)), 2)
    23.54
    """
    radius = RADIO_K * EARTH_RADIUS_M
    h1, h2 = (np.maximum(np.asarray(h, dtype=float), 0.0) for h in (h1_m, h2_m))
    reach = np.sqrt(2.0 * radius * h1) + np.sqrt(2.0 * radius * h2)
    result: Array = np.maximum(np.asarray(distance_m, dtype=float) - reach, 0.0) / radius
    return result
