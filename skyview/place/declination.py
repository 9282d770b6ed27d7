"""Magnetic declination with its sigma.

World Magnetic Model through pygeomag. One model object is made for each call, because the
library keeps the point that it works on inside the object and is not thread-safe.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from skyview.errors import InputError

FIRST_YEAR, LAST_YEAR = 2010.0, 2030.0
"""Decimal years that the models in the library span."""

_MODEL_YEARS = (2010, 2015, 2020, 2025)
_SIGMA_FLOOR_DEG = 0.26
_SIGMA_SLOPE_DEG_NT = {2025: 5417.0, 2020: 5625.0, 2015: 5625.0, 2010: 5625.0}


@dataclass(frozen=True)
class Declination:
    """Declination, east positive: true = magnetic + declination."""

    declination_deg: float
    """Angle from true to magnetic north, east positive. [deg]"""
    sigma_deg: float
    """One sigma of the model, without local iron. [deg]"""
    decimal_year: float
    """The year for which it holds."""
    in_span: bool
    """False where the date lies outside the models and their nearest end was used."""


def decimal_year(day: date) -> float:
    """A day as a decimal year.

    >>> decimal_year(date(2026, 1, 1))
    2026.0
    """
    start, end = date(day.year, 1, 1), date(day.year + 1, 1, 1)
    return day.year + (day - start).days / (end - start).days


def declination(
    latitude_deg: float, longitude_deg: float, height_m: float, year: float
) -> Declination:
    """Declination at a point (height above sea level) and decimal year.

    sigma = sqrt(0.26^2 + (5417 / H)^2) deg with H the horizontal intensity in nT: error model of
    the WMM2025 report as coded by its authors (5625 for the 2020 model, used for older ones too).
    Compasses are of no use where H < 2000 nT: the sigma says so by itself.
    Outside the models' years the nearest end is used and ``in_span`` is False.

    >>> round(declination(0.0, 120.0, 0.0, 2025.0).declination_deg, 2)
    -0.16
    """
    from pygeomag import GeoMag

    if not np.isfinite(year):
        raise InputError("the year is not a number", field="year")
    used = min(max(year, FIRST_YEAR), LAST_YEAR)
    base = max(start for start in _MODEL_YEARS if start <= used)
    # A new object each time: the library is not thread-safe.
    field = GeoMag(base_year=base).calculate(
        glat=latitude_deg, glon=longitude_deg, alt=height_m / 1000.0, time=used
    )
    sigma = float(np.hypot(_SIGMA_FLOOR_DEG, _SIGMA_SLOPE_DEG_NT[base] / max(field.h, 1.0)))
    return Declination(float(field.d), min(sigma, 180.0), used, bool(used == year))
