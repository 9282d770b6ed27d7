"""Everything else in the air: co-channel and adjacent channels, and the load on a preamplifier.

An unwanted station that must stay R decibels below the wanted one acts as noise that lies the
required carrier to noise below the wanted carrier just when the ratio is R: so one sum holds noise
and every unwanted station. For ATSC 1.0 with R = C/N = 15 dB on the same channel, the ratio needed
then rises to about 23 dB at 1 dB above the noise threshold, as OET Bulletin 69 has it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

CO_CHANNEL_DB = 15.0
"""Wanted over unwanted, same channel, far above the noise threshold: OET Bulletin 69."""

LOWER_ADJACENT_DB, UPPER_ADJACENT_DB = -28.0, -26.0
"""Wanted over unwanted where the unwanted is on the next lower or upper channel: OET Bulletin 69,
from memory."""

LEAST_OVERLAP_MHZ = 0.01
"""Channels that share less than this do not count as overlapping."""


def protection_ratio_db(
    separation_mhz: ArrayLike,
    wanted_width_mhz: ArrayLike,
    unwanted_width_mhz: ArrayLike,
    co_channel_db: ArrayLike = CO_CHANNEL_DB,
) -> Array:
    """By how much a wanted station must exceed an unwanted one. [dB, -inf where it need not]

    ``separation_mhz`` [MHz] is the unwanted channel's centre less the wanted one's; the widths
    [MHz] are the channels'. All broadcast. Channels that overlap in part count as co-channel,
    less the share of the unwanted power that falls outside. Farther than the first adjacent
    channel nothing is demanded.

    Source: OET Bulletin 69; the part overlap is our own choice, no source.

    >>> protection_ratio_db([0.0, -6.0, 6.0, 12.0], 6.0, 6.0).tolist()
    [15.0, -28.0, -26.0, -inf]
    """
    apart, wanted, unwanted = np.broadcast_arrays(
        *(
            np.asarray(x, dtype=float)
            for x in (separation_mhz, wanted_width_mhz, unwanted_width_mhz)
        )
    )
    distance, touching = np.abs(apart), 0.5 * (wanted + unwanted)
    narrower = np.minimum(wanted, unwanted)
    overlap = np.clip(touching - distance, 0.0, narrower)
    share = np.maximum(overlap, LEAST_OVERLAP_MHZ) / unwanted
    adjacent = np.where(apart < 0.0, LOWER_ADJACENT_DB, UPPER_ADJACENT_DB)
    return np.select(
        [overlap > LEAST_OVERLAP_MHZ, distance < touching + 0.5 * narrower],
        [np.asarray(co_channel_db, dtype=float) + 10.0 * np.log10(share), adjacent],
        -np.inf,
    )


def as_noise_dbm(
    unwanted_dbm: ArrayLike, protection_db: ArrayLike, required_cn_db: ArrayLike
) -> Array:
    """Noise power that stands for all unwanted stations. [dBm, (..., W)]

    ``unwanted_dbm`` (..., W, U) [dBm] is the power of each unwanted station at the antenna aimed
    for each wanted one, -inf for the station itself; ``protection_db`` (W, U) [dB] from
    `protection_ratio_db`; ``required_cn_db`` (W,) [dB].

    >>> as_noise_dbm([[-90.0, -60.0]], [[15.0, -28.0]], [15.0]).round(2).tolist()
    [-89.79]
    """
    level = np.asarray(unwanted_dbm, dtype=float) + np.asarray(protection_db, dtype=float)
    return total_power_dbm(level - np.asarray(required_cn_db, dtype=float)[..., None])


def total_power_dbm(power_dbm: ArrayLike) -> Array:
    """Sum of powers along the last axis; -inf counts nothing. [dBm]

    >>> round(float(total_power_dbm([-30.0, -30.0, -np.inf])), 2)
    -26.99
    """
    decibel = np.log(10.0) / 10.0
    return np.logaddexp.reduce(np.asarray(power_dbm, dtype=float) * decibel, axis=-1) / decibel


def overload_margin_db(power_dbm: ArrayLike, overload_dbm: ArrayLike) -> Array:
    """By how much a preamplifier stays below overload; below 0 it overloads. [dB]

    ``power_dbm`` (..., S) [dBm] of every transmitter at its input, wanted or not;
    ``overload_dbm`` (...) [dBm] the total power at which it begins to overload.

    >>> round(float(overload_margin_db([-15.0, -13.0, -20.0], -10.0)), 2)
    0.37
    """
    return np.asarray(overload_dbm, dtype=float) - total_power_dbm(power_dbm)
