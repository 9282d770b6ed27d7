"""Numbers with a source, each with its unit in the name."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0
"""Exact by definition of the metre (SI brochure, section 2.3.1)."""

EARTH_RADIUS_M = 6_371_000.0
"""Mean radius of the earth, as used by Rec. ITU-R P.1812-6, eq. (7a)."""

RADIO_K = 4.0 / 3.0
"""Effective earth radius factor of the radio path: Rec. ITU-R P.526, section 1, median."""

OPTICAL_K = 7.0 / 6.0
"""Effective earth radius factor of light near the ground: coefficient of refraction 1/7, the
value that surveying texts use (0.13 to 0.17 are in use; 0.01 deg at 20 km between them)."""

EIRP_OVER_ERP_DB = 2.15
"""Gain of a half-wave dipole over an isotropic radiator: Rec. ITU-R BS.561, section 2."""

MEGA = 1e6


_Number = TypeVar("_Number", float, NDArray[np.float64])


def wavelength_m(frequency_mhz: _Number) -> _Number:
    """Wavelength in free space. [m] Accepts a float or an array.

    >>> round(wavelength_m(600.0), 4)
    0.4997
    """
    return SPEED_OF_LIGHT_M_PER_S / (frequency_mhz * MEGA)
