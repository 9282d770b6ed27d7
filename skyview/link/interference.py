"""Everything else in the air: stations on the same channel and on its neighbours.

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
