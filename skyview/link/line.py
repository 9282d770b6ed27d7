"""What stands between the antenna and the set: cable, splitters, filters, two antennas on one line.

Losses in decibels, positive when the signal is weaker.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.errors import InputError

Array = NDArray[np.float64]

METRES_PER_100_FT = 30.48
"""Exact by definition of the foot."""

SPLITTER_EXCESS_DB = 0.5
"""Loss of one splitting stage over the ideal 3.01 dB: common practice (splitter tutorial)."""

FILTER_LOSS_DB, FILTER_STOP_DB = 1.0, 20.0
"""Loss of a filter within and outside its pass band where nothing is stated: common practice, no
source."""

DIPLEXER_LOSS_DB = 0.75
"""Loss of a UHF/VHF diplexer on either side: common practice, no source (0.5 to 1 dB)."""

HYBRID_EXCESS_DB = 0.5
"""Loss of a same-band hybrid combiner over the ideal 3.01 dB, 3.5 dB in all: common practice."""


@dataclass(frozen=True)
class Cable:
    """Attenuation of 100 ft at 20 degrees C: a sqrt(f) + b f, f in MHz. [dB]"""

    a: float
    b: float
    source: str


CABLES = {
    "rg6": Cable(
        0.2109,
        -0.000134,
        "greatest attenuation in data sheets of series-6 drop cable, from memory; least-squares "
        "fit with a residual of 0.1 dB",
    ),
    "rg59": Cable(
        0.2620,
        -0.000209,
        "greatest attenuation in data sheets of series-59 drop cable, from memory: 2.05, 4.45, "
        "5.95, 8.12 dB at 55, 300, 550, 1000 MHz; fit within 0.12 dB",
    ),
    "rg11": Cable(
        0.1196,
        0.000543,
        "greatest attenuation in data sheets of series-11 drop cable, from memory: 0.96, 2.25, "
        "3.04, 4.35 dB at 55, 300, 550, 1000 MHz; fit within 0.1 dB",
    ),
}
"""Cables known by name, each with its source."""


def coax_loss_db(cable: str, length_m: ArrayLike, frequency_mhz: ArrayLike) -> Array:
    """Loss of a length of coaxial cable at 20 degrees C. [dB]

    ``cable`` is a name in `CABLES`; ``length_m`` [m] and ``frequency_mhz`` [MHz] broadcast. About
    0.2 % more for every degree above (from memory). Raises InputError for an unknown cable or a
    length below 0.

    Source: see `CABLES`.

    >>> round(float(coax_loss_db("rg6", 30.48, 550.0)), 2)
    4.87
    """
    kind = CABLES.get(cable)
    if kind is None:
        raise InputError(
            f"{cable!r} is not a known type of coaxial cable",
            field="type",
            mend=f"give one of {', '.join(CABLES)}",
        )
    length, f = np.asarray(length_m, dtype=float), np.asarray(frequency_mhz, dtype=float)
    if np.any(length < 0.0):
        raise InputError(
            f"a cable of {float(np.min(length)):g} m is shorter than nothing",
            field="length_m",
            mend="give metres, 0 or more",
        )
    result: Array = length / METRES_PER_100_FT * (kind.a * np.sqrt(f) + kind.b * f)
    return result


def splitter_loss_db(ways: ArrayLike) -> Array:
    """Loss of a splitter to each of its ways; one way is no splitter. [dB]

    Source: the power divided, and half a decibel for each stage of two: common practice. Near the
    upper end of the band up to 1 dB more.

    >>> splitter_loss_db([1, 2, 3, 4, 8]).round(1).tolist()
    [0.0, 3.5, 5.8, 7.0, 10.5]
    """
    count = np.maximum(np.asarray(ways, dtype=float), 1.0)
    result: Array = 10.0 * np.log10(count) + SPLITTER_EXCESS_DB * np.ceil(np.log2(count))
    return result


def filter_loss_db(
    frequency_mhz: ArrayLike,
    low_mhz: ArrayLike,
    high_mhz: ArrayLike,
    loss_db: ArrayLike = FILTER_LOSS_DB,
    stop_db: ArrayLike = FILTER_STOP_DB,
) -> Array:
    """Loss of a filter: ``loss_db`` from ``low_mhz`` to ``high_mhz``, ``stop_db`` outside. [dB]

    All broadcast. The edge is sharp here; a real one needs some megahertz.

    >>> filter_loss_db([500.0, 700.0], 470.0, 608.0).tolist()
    [1.0, 20.0]
    """
    f = np.asarray(frequency_mhz, dtype=float)
    passes = (f >= np.asarray(low_mhz, dtype=float)) & (f <= np.asarray(high_mhz, dtype=float))
    return np.where(passes, loss_db, stop_db).astype(float)
