"""Noise and margin: Friis' cascade, man-made noise, carrier to noise at the antenna's terminals.

Powers in dBm and noise figures in dB refer to the terminals of the antenna, where signal and noise
meet first: whatever lies behind them weakens both alike and adds its own noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.constants import MEGA

Array = NDArray[np.float64]

BOLTZMANN_J_PER_K = 1.380649e-23
"""Exact by definition of the kelvin (SI brochure, section 2.3.1)."""

REFERENCE_TEMPERATURE_K = 290.0
"""T0 of every noise figure: IEEE and Rec. ITU-R P.372, section 2."""

DBUV_OVER_DBM_75_OHM = 108.75
"""dB(uV) in 75 ohm over dBm: 90 + 10 log 75."""

RECEIVER_NOISE_FIGURE_DB = {"low_vhf": 10.0, "high_vhf": 10.0, "uhf": 7.0}
"""Of the set that planning assumes: ISED BPR-10, Appendix 8."""

PREAMPLIFIER_NOISE_FIGURE_DB = 3.0
"""Where none is stated: common practice, no source."""

MAN_MADE_DB = {"city": 76.8, "residential": 72.5, "rural": 67.2}
"""F_am at 1 MHz by environment, falling 27.7 dB a decade: Rec. ITU-R P.372, from memory."""


@dataclass(frozen=True)
class Cascade:
    """A row of stages seen from its input."""

    gain_db: Array
    """Of all stages together. [dB]"""
    noise_figure_db: Array
    """Of all stages together, at the input of the first. [dB]"""


def cascade(gain_db: ArrayLike, noise_figure_db: ArrayLike) -> Cascade:
    """Gain and noise figure of stages in a row. Shapes (S, ...), the first stage first.

    ``gain_db`` [dB], negative for a loss, and ``noise_figure_db`` [dB] broadcast; a passive part
    at ambient temperature has a noise figure equal to its loss. The last stage is the receiver,
    whose gain does not matter to the noise figure.

    Source: H. T. Friis, Noise figures of radio receivers, Proc. IRE 32 (1944):
    F = F1 + (F2 - 1)/G1 + (F3 - 1)/(G1 G2) + ...

    >>> line = cascade([-5.0, -7.0, 0.0], [5.0, 7.0, 7.0])
    >>> round(float(line.noise_figure_db), 3)
    19.0
    >>> amplified = cascade([20.0, -5.0, -7.0, 0.0], [2.0, 5.0, 7.0, 7.0])
    >>> round(float(amplified.noise_figure_db), 3)
    3.746
    """
    gain, figure = np.broadcast_arrays(
        np.asarray(gain_db, dtype=float), np.asarray(noise_figure_db, dtype=float)
    )
    before = np.cumsum(gain, axis=0) - gain
    added = (10.0 ** (figure / 10.0) - 1.0) / 10.0 ** (before / 10.0)
    return Cascade(np.sum(gain, axis=0), 10.0 * np.log10(1.0 + np.sum(added, axis=0)))


def man_made_noise_db(frequency_mhz: ArrayLike, environment: str = "residential") -> Array:
    """Median external noise figure F_am of what machines radiate, over k T0 B. [dB]

    ``frequency_mhz`` [MHz]; ``environment`` is city, residential or rural.

    Source: Rec. ITU-R P.372, from memory: F_am = c - 27.7 log f, given up to 250 MHz; above about
    410 MHz the residential median falls below the thermal noise.

    >>> man_made_noise_db([69.0, 194.0]).round(1).tolist()
    [21.6, 9.1]
    """
    result: Array = MAN_MADE_DB[environment] - 27.7 * np.log10(
        np.asarray(frequency_mhz, dtype=float)
    )
    return result


def system_noise_figure_db(noise_figure_db: ArrayLike, external_db: ArrayLike) -> Array:
    """Noise figure of receiver and surroundings together, at the antenna's terminals. [dB]

    ``noise_figure_db`` [dB] of everything behind the terminals and ``external_db`` [dB] of
    `man_made_noise_db` broadcast and add in power: f = f_a - 1 + f_r. An external noise below
    that of a body at 290 K counts as that, so that the result is never below the first.

    Source: Rec. ITU-R P.372, section 2, with a lossless antenna, from memory.

    >>> system_noise_figure_db([10.0, 10.0, 7.0], [21.6, 9.1, -4.8]).round(1).tolist()
    [21.9, 12.3, 7.0]
    """
    external = 10.0 ** (np.maximum(np.asarray(external_db, dtype=float), 0.0) / 10.0)
    result: Array = 10.0 * np.log10(
        external - 1.0 + 10.0 ** (np.asarray(noise_figure_db, float) / 10.0)
    )
    return result


def noise_power_dbm(bandwidth_mhz: ArrayLike, noise_figure_db: ArrayLike) -> Array:
    """Noise in a bandwidth, k T0 B f. [dBm]

    >>> round(float(noise_power_dbm(6.0, 0.0)), 2)
    -106.19
    """
    density = 10.0 * np.log10(BOLTZMANN_J_PER_K * REFERENCE_TEMPERATURE_K * MEGA) + 30.0
    result: Array = (
        density
        + 10.0 * np.log10(np.asarray(bandwidth_mhz, dtype=float))
        + np.asarray(noise_figure_db, dtype=float)
    )
    return result


def margin_db(
    carrier_dbm: ArrayLike,
    noise_dbm: ArrayLike,
    required_cn_db: ArrayLike,
    interference_dbm: ArrayLike = -np.inf,
) -> Array:
    """By how much carrier to noise exceeds what the station needs. [dB]

    ``interference_dbm`` [dBm] is what `skyview.link.interference.as_noise_dbm` makes of the
    unwanted stations, -inf for none. All broadcast; NaN where the threshold is NaN (unknown).

    >>> float(margin_db(-80.0, -100.0, 15.0))
    5.0
    """
    disturbance = np.logaddexp(
        np.asarray(noise_dbm, dtype=float) * np.log(10.0) / 10.0,
        np.asarray(interference_dbm, dtype=float) * np.log(10.0) / 10.0,
    )
    total_dbm = disturbance * 10.0 / np.log(10.0)
    result: Array = np.asarray(carrier_dbm, float) - total_dbm - np.asarray(required_cn_db, float)
    return result
