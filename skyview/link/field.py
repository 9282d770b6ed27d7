"""Field at the roof from the transmitter's power: Rec. ITU-R P.1546-6, land curves.

The curves are used through a closed form fitted to their tabulated values: ten coefficients for
each nominal frequency and time. Against the tables it has an RMS error of 0.2 to 0.4 dB and at
most 1.2 dB between 2 and 150 km and 20 and 1200 m. Fields are those exceeded at half of the
locations. Free space is the ceiling; beyond the curves' 200 km the field falls as tropospheric
scatter does. Sea paths, whose fields are higher, are not covered.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.errors import InputError
from skyview.link.scatter import TimePercent, scatter_angle, scatter_field_dbuv_m

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

MAXIMUM_AT_1_KM_DBUV_M = 106.9
"""Rec. ITU-R P.1546-6, section 2: the field of 1 kW over a half-wave dipole in free space."""

LEAST_H1_M, GREATEST_H1_M = 10.0, 1200.0
"""Heights of the transmitting antenna for which the curves are tabulated; others are clipped. The
Recommendation's own procedures beyond them are not part of the fit: the clip is optimistic below
10 m and pessimistic above 1200 m."""

LEAST_CURVE_M, GREATEST_CURVE_M, CLOSEST_M = 1e3, 200e3, 40.0
"""Distances between which the curves are fitted; from 40 m to 1 km the field is interpolated on
the logarithm of the distance to the free-space value at 40 m, as in the Recommendation."""

LEAST_MHZ, GREATEST_MHZ = 45.0, 900.0
"""Frequencies at which the fit was checked against the tables."""

_NOMINAL_MHZ = np.array([100.0, 600.0, 2000.0])
_SCALE_DB = 8.5

# Rows: 100, 600, 2000 MHz. Columns: a0 a1 a2 a3 b0 b1 b2 b3 c2 c3. The fit is the project's own,
# to the tabulated values of Rec. ITU-R P.1546-6 in the Study Group 3 reference implementation.
_FIT: dict[TimePercent, Array] = {
    50: np.array(
        [
            [30.45, 37.24, -2.60, -8.30, -19.80, 18.09, 13.85, -16.17, -2.67, -3.20],
            [35.56, 41.98, -5.58, -9.26, -19.33, 24.29, 14.01, -23.93, -4.16, -3.92],
            [38.81, 49.68, -10.19, -15.32, -21.69, 28.10, 15.92, -30.46, -4.92, -4.29],
        ]
    ),
    10: np.array(
        [
            [27.97, 27.60, -8.81, -3.91, -17.17, 20.01, 7.51, -18.20, -2.69, -2.52],
            [33.38, 35.62, -10.30, -6.36, -18.12, 23.94, 10.11, -24.12, -3.80, -2.97],
            [35.91, 41.10, -12.82, -9.68, -20.70, 27.45, 13.80, -29.33, -3.66, -3.53],
        ]
    ),
    1: np.array(
        [
            [25.06, 22.24, -10.17, -2.33, -15.98, 20.33, 4.78, -17.80, -3.29, -2.86],
            [28.16, 27.64, -8.13, 0.63, -18.36, 14.58, 8.78, -10.00, -2.61, -1.83],
            [30.67, 33.11, -9.72, -2.01, -20.75, 17.72, 11.07, -15.38, -2.47, -2.05],
        ]
    ),
}


@dataclass(frozen=True)
class BaseField:
    """Field of each station at the roof, before anything nearby stands in its way."""

    median_dbuv_m: Array
    """F(50,50): exceeded at half of the locations, half of the time. [dB(uV/m)]"""
    seldom_dbuv_m: Array
    """F(50,10): exceeded a tenth of the time; how strong an interferer is. [dB(uV/m)]"""
    dependable_dbuv_m: Array
    """F(50,90) = 2 F(50,50) - F(50,10): nine tenths of the time. [dB(uV/m)]"""
    free_space_dbuv_m: Array
    """The ceiling. [dB(uV/m)]"""
    height_clipped: Bools
    """h1 lies outside 10 to 1200 m."""
    beyond_curves: Bools
    """Farther than 200 km: tropospheric scatter."""
    frequency_outside: Bools
    """Outside 45 to 900 MHz."""


def base_field(
    erp_kw: ArrayLike,
    distance_m: ArrayLike,
    h1_m: ArrayLike,
    frequency_mhz: ArrayLike,
    *,
    height_gain_db: ArrayLike = 0.0,
) -> BaseField:
    """Field at the roof for three shares of time, with its ceiling.

    ``erp_kw`` [kW] over a half-wave dipole, ``distance_m`` [m], ``h1_m`` [m] as
    `skyview.link.height.effective_height` gives it, ``frequency_mhz`` [MHz] and
    ``height_gain_db`` [dB], the correction for the receiving antenna's height and surroundings;
    all broadcast. Free space is the ceiling of the corrected field. F(50,90) by reflection is the
    planning rule of the American charts, from memory; the Recommendation ends at 50 %.

    >>> field = base_field(100.0, 50e3, 300.0, 599.0)
    >>> round(float(field.median_dbuv_m), 2), round(float(field.dependable_dbuv_m), 2)
    (65.41, 64.06)
    """
    power, d, h1, f, gain = np.broadcast_arrays(
        *(
            np.asarray(x, dtype=float)
            for x in (erp_kw, distance_m, h1_m, frequency_mhz, height_gain_db)
        )
    )
    erp = 10.0 * np.log10(power)
    ceiling = maximum_field_dbuv_m(d)
    median = np.minimum(curve_field_dbuv_m(d, h1, f, 50) + gain, ceiling)
    seldom = np.minimum(curve_field_dbuv_m(d, h1, f, 10) + gain, ceiling)
    return BaseField(
        median_dbuv_m=median + erp,
        seldom_dbuv_m=seldom + erp,
        dependable_dbuv_m=2.0 * median - seldom + erp,
        free_space_dbuv_m=ceiling + erp,
        height_clipped=(h1 < LEAST_H1_M) | (h1 > GREATEST_H1_M),
        beyond_curves=d > GREATEST_CURVE_M,
        frequency_outside=(f < LEAST_MHZ) | (f > GREATEST_MHZ),
    )


def maximum_field_dbuv_m(distance_m: ArrayLike) -> Array:
    """Greatest field of 1 kW over land: free space. [dB(uV/m)]

    Source: Rec. ITU-R P.1546-6, section 2: 106.9 - 20 log d, d in km.

    >>> round(float(maximum_field_dbuv_m(50e3)), 3)
    72.921
    """
    return MAXIMUM_AT_1_KM_DBUV_M - 20.0 * np.log10(np.asarray(distance_m, dtype=float) / 1e3)


def curve_field_dbuv_m(
    distance_m: ArrayLike, h1_m: ArrayLike, frequency_mhz: ArrayLike, time_pct: TimePercent = 50
) -> Array:
    """Field of 1 kW over land exceeded a share of the time, 10 m above open ground. [dB(uV/m)]

    ``distance_m`` [m], ``h1_m`` [m] of the transmitting antenna above average terrain and
    ``frequency_mhz`` [MHz] broadcast; ``time_pct`` is 50, 10 or 1. Heights outside 10 to 1200 m
    are clipped. Beyond 200 km, where the curves of the fit end, the field is that of tropospheric
    scatter over the smooth earth, or the curves' last value falling as scatter does where that is
    more. The two published statements do not meet: at 200 km and 600 MHz scatter lies above the
    curves by 5 dB for h1 = 300 m and by 11 dB for 10 m, and 2 dB below them for 1200 m. The step
    errs towards a stronger interferer.

    Source: Rec. ITU-R P.1546-6, Annexes 2 to 5, through the project's fit; frequencies are
    interpolated on their logarithm, below 100 MHz extrapolated on the same line.

    >>> round(float(curve_field_dbuv_m(50e3, 300.0, 599.0, 50)), 3)
    45.414
    >>> round(float(curve_field_dbuv_m(50e3, 300.0, 599.0, 10)), 3)
    46.763
    """
    d, h1, f = np.broadcast_arrays(
        *(np.asarray(x, dtype=float) for x in (distance_m, h1_m, frequency_mhz))
    )
    h1 = np.clip(h1, LEAST_H1_M, GREATEST_H1_M)
    on_curve = np.clip(d, LEAST_CURVE_M, GREATEST_CURVE_M)
    rarer: tuple[TimePercent, ...] = (50, 10, 1)
    field = np.full(d.shape, -np.inf)
    for time in rarer[: rarer.index(time_pct) + 1]:
        field = np.maximum(field, _at_frequency(on_curve, h1, f, time))

    close = maximum_field_dbuv_m(CLOSEST_M)
    share = np.log(np.maximum(d, CLOSEST_M) / CLOSEST_M) / np.log(LEAST_CURVE_M / CLOSEST_M)
    near = np.where(d < CLOSEST_M, maximum_field_dbuv_m(d), close + (field - close) * share)
    scatter, at_end = (
        scatter_field_dbuv_m(x, f, scatter_angle(x, h1, 10.0), time_pct) for x in (d, on_curve)
    )
    far = scatter + np.maximum(field - at_end, 0.0)
    return np.select([d < LEAST_CURVE_M, d > GREATEST_CURVE_M], [near, far], field)


def _at_frequency(d: Array, h1: Array, f: Array, time_pct: TimePercent) -> Array:
    upper = np.where(f <= _NOMINAL_MHZ[1], 1, 2)
    low, high = _NOMINAL_MHZ[upper - 1], _NOMINAL_MHZ[upper]
    below = _at_nominal(d, h1, _FIT[time_pct][upper - 1])
    above = _at_nominal(d, h1, _FIT[time_pct][upper])
    field = below + (above - below) * np.log(f / low) / np.log(high / low)
    result: Array = np.minimum(field, maximum_field_dbuv_m(d))
    return result


def _at_nominal(d: Array, h1: Array, coefficients: Array) -> Array:
    a0, a1, a2, a3, b0, b1, b2, b3, c2, c3 = np.moveaxis(coefficients, -1, 0)
    x = ((d / 1e3 + 0.6) ** 0.45 * h1**-0.04 - 5.0) / 4.5
    y = (h1**0.18 - 2.55) / 1.05
    p = a0 + x * (a1 + x * (a2 + x * a3)) + y * (b0 + x * (b1 + x * (b2 + x * b3)))
    p = p + y**2 * (c2 + c3 * y)
    result: Array = maximum_field_dbuv_m(d) - _SCALE_DB * np.logaddexp(0.0, p / _SCALE_DB)
    return result


@dataclass(frozen=True)
class Spread:
    """Standard deviation of the field about its prediction. [dB]"""

    total_db: float
    """Of one station at one place."""
    site_db: float
    """The part that all stations of a site have in common; a scan can re-centre it."""

    @property
    def station_db(self) -> float:
        """The part of each station alone: the root of the rest. [dB]

        >>> SPREAD["suburban"].station_db
        8.0
        """
        return float(np.sqrt(self.total_db**2 - self.site_db**2))


SPREAD = {
    "urban": Spread(8.0, 5.0),
    "suburban": Spread(10.0, 6.0),
    "rural": Spread(12.0, 8.0),
}
"""Without terrain data, by surroundings: the totals as Study Group 3 codes Rec. ITU-R P.1546-6,
section 12 (secondary text); the division is our own choice, no source. Dense urban counts as
urban."""

TERRAIN_SPREAD_DB = 6.0
"""With a terrain profile: our own choice, no source."""


def spread_of(surroundings: str) -> Spread:
    """Spread of the field in these surroundings: rural, suburban, urban or dense_urban.

    Raises InputError for others.

    >>> spread_of("rural").total_db, round(spread_of("rural").station_db, 2)
    (12.0, 8.94)
    """
    name = "urban" if surroundings == "dense_urban" else surroundings
    if name not in SPREAD:
        raise InputError(
            f"{surroundings!r} are not known surroundings",
            field="surroundings",
            mend=f"give one of {', '.join(SPREAD)}",
        )
    return SPREAD[name]
