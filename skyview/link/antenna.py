"""The receiving antenna: gain, pattern by offset from its aim, polarization, matching, power.

Offsets are angles between the aim and where the wave comes from, in radians; patterns are relative
gains in decibels, 0 on the aim and negative off it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.constants import EIRP_OVER_ERP_DB, MEGA, SPEED_OF_LIGHT_M_PER_S

Array = NDArray[np.float64]

PLANNING_GAIN_DBD = {"low_vhf": 4.0, "high_vhf": 6.0, "uhf": 10.0}
"""Gain over a half-wave dipole of the antenna that planning assumes: ISED BPR-10, Appendix 8."""

PLANNING_FRONT_TO_BACK_DB = {"low_vhf": 10.0, "high_vhf": 12.0, "uhf": 14.0}
"""Its front-to-back ratio for digital television: OET Bulletin 69, Table 6 (secondary text)."""

BAND_III_FROM_MHZ, BAND_IV_FROM_MHZ = 140.0, 300.0
"""Where the curves of Rec. ITU-R BT.419 for Band I, Band III and Bands IV and V part."""

ORTHOGONAL_DB = 16.0
"""Discrimination against the other linear polarization, not added to that by angle: Rec. ITU-R
BT.419-3, from memory."""

MATCHING_TRANSFORMER_DB = 0.75
"""Loss of a 300 to 75 ohm matching transformer: common practice, no source (0.5 to 1 dB)."""

FREE_SPACE_IMPEDANCE_OHM = 376.730
"""Magnetic constant times the speed of light, SI."""

# Degrees where the discrimination begins and ends, and what it then is in dB.
_BT419 = {"I": (50.0, 70.0, 6.0), "III": (27.0, 60.0, 12.0), "IV/V": (20.0, 60.0, 16.0)}


def by_band(values: Mapping[str, float], bands: Sequence[str], missing: float) -> Array:
    """The value of each station's band. ``missing`` where the band has none.

    >>> by_band({"uhf": 10.0}, ["uhf", "high_vhf"], missing=-10.0).tolist()
    [10.0, -10.0]
    """
    return np.array([values.get(band, missing) for band in bands], dtype=float)


def cos4_pattern_db(offset: ArrayLike, front_to_back_db: ArrayLike) -> Array:
    """Relative gain towards a wanted station: voltage as cos^4, floor at the back. [dB]

    ``offset`` [rad] from the aim, ``front_to_back_db`` [dB], 0 or more; they broadcast.

    Source: OET Bulletin 69, from memory: 80 log cos, never below minus the front-to-back ratio.

    >>> offsets = np.radians([0.0, 45.0, 90.0, 180.0])
    >>> cos4_pattern_db(offsets, 14.0).round(2).tolist()
    [0.0, -12.04, -14.0, -14.0]
    """
    cosine = np.maximum(np.cos(np.asarray(offset, dtype=float)), 1e-3)
    result: Array = np.maximum(80.0 * np.log10(cosine), -np.asarray(front_to_back_db, dtype=float))
    return result


def table_pattern_db(angle: ArrayLike, table_angle: ArrayLike, table_db: ArrayLike) -> Array:
    """Relative gain from a table round the whole circle, straight between its entries. [dB]

    ``angle`` [rad], ``table_angle`` (N,) [rad] in any order and ``table_db`` (N,) [dB]: the
    pattern of a transmitter by azimuth, or of an antenna by offset on both sides.

    >>> azimuths = np.radians([0.0, 90.0, 180.0, 270.0])
    >>> round(float(table_pattern_db(np.radians(-45.0), azimuths, [0.0, -3.0, -10.0, -2.0])), 6)
    -1.0
    """
    circle = 2.0 * np.pi
    return np.asarray(
        np.interp(
            np.asarray(angle, dtype=float),
            np.asarray(table_angle, dtype=float),
            np.asarray(table_db, dtype=float),
            period=circle,
        )
    )


def symmetric_pattern_db(offset: ArrayLike, table_offset: ArrayLike, table_db: ArrayLike) -> Array:
    """Relative gain from a table of one side, the same on the other. [dB]

    ``table_offset`` (N,) [rad] from 0 to pi, rising; beyond its ends the end's value holds. The
    rest as in `table_pattern_db`.

    >>> table = np.radians([0.0, 20.0, 60.0, 180.0])
    >>> gain = symmetric_pattern_db(np.radians([-20.0, 40.0]), table, [0.0, -3.0, -13.0, -20.0])
    >>> gain.round(6).tolist()
    [-3.0, -8.0]
    """
    folded = np.abs(np.mod(np.asarray(offset, dtype=float) + np.pi, 2.0 * np.pi) - np.pi)
    return np.asarray(
        np.interp(folded, np.asarray(table_offset, float), np.asarray(table_db, float))
    )


def unwanted_pattern_db(
    offset: ArrayLike, frequency_mhz: ArrayLike, orthogonal: ArrayLike = False
) -> Array:
    """Relative gain towards an unwanted transmitter, never trusted to be better. [dB]

    ``offset`` [rad] from the aim, ``frequency_mhz`` [MHz], ``orthogonal`` where the wave has the
    other linear polarization; all broadcast. Applies amid buildings; open sites do better.

    Source: Rec. ITU-R BT.419-3, Figure 1: Bands IV and V from a secondary text, Bands I and III
    and the orthogonal polarization from memory.

    >>> unwanted_pattern_db(np.radians([10.0, 40.0, 180.0]), 600.0).round(2).tolist()
    [0.0, -8.0, -16.0]
    """
    degrees = np.degrees(np.abs(np.mod(np.asarray(offset, float) + np.pi, 2 * np.pi) - np.pi))
    f = np.asarray(frequency_mhz, dtype=float)
    bands = [
        np.clip((degrees - start) / (end - start), 0.0, 1.0) * full
        for start, end, full in (_BT419["I"], _BT419["III"], _BT419["IV/V"])
    ]
    by_angle = np.select([f < BAND_III_FROM_MHZ, f < BAND_IV_FROM_MHZ], bands[:2], bands[2])
    return 0.0 - np.where(np.asarray(orthogonal, dtype=bool), ORTHOGONAL_DB, by_angle)


_POLARIZATION_DB = {
    ("h", "h"): 0.0,
    ("v", "v"): 0.0,
    ("h", "v"): -ORTHOGONAL_DB,
    ("v", "h"): -ORTHOGONAL_DB,
}
_SHARED_DB = {"c": -10.0 * np.log10(2.0), "e": -10.0 * np.log10(2.0), "m": 0.0}


def polarization_db(transmitted: Sequence[str | None], received: str = "h") -> Array:
    """What an antenna of one linear polarization makes of a wanted station's wave. [dB, (P,)]

    ``transmitted`` one a station: h, v, c (circular), e (elliptical), m (both, each with the
    listed power) or None (unknown, taken to match); ``received`` h or v. The other linear
    polarization costs what `unwanted_pattern_db` allows for it. Of a circular wave whose listed
    power is that of both components half is lost; an elliptical one is taken to lose no less.
    Where the list gives the power of one component, as American ones do, nothing is lost: the
    loss is then 3 dB too great.

    >>> polarization_db(["h", "v", "c", None]).round(2).tolist()
    [0.0, -16.0, -3.01, 0.0]
    """
    return np.array(
        [
            0.0 if sent is None else _SHARED_DB.get(sent, _POLARIZATION_DB.get((sent, received), 0))
            for sent in transmitted
        ],
        dtype=float,
    )


def dipole_factor_db(frequency_mhz: ArrayLike) -> Array:
    """Power of a matched half-wave dipole over the field that it stands in. [dBm - dB(uV/m)]

    Source: effective area 1.64 wavelength^2 / (4 pi) times E^2 / 376.73 ohm, with the dipole's
    2.15 dB: -75.07 - 20 log f. ISED BPR-10, Appendix 8, tabulates it to 0.1 dB.

    >>> round(float(dipole_factor_db(615.0)), 2)
    -130.84
    """
    at_1_mhz = (SPEED_OF_LIGHT_M_PER_S / MEGA) ** 2 / (4.0 * np.pi * FREE_SPACE_IMPEDANCE_OHM)
    constant = 10.0 * np.log10(at_1_mhz) - 120.0 + 30.0 + EIRP_OVER_ERP_DB
    result: Array = constant - 20.0 * np.log10(np.asarray(frequency_mhz, dtype=float))
    return result
