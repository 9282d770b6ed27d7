"""What the parts of the link budget hand to one another: arrays over antenna positions (A),
stations (S) and random draws (D), all in decibels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class RoofField:
    """Field of every station at every antenna position, before anything marked stands in its way.

    NaN where the power of the station is not known.
    """

    wanted_dbuv_m: Array
    """F(50,90), receiving height and surroundings included. (A, S) [dB(uV/m)]"""
    unwanted_dbuv_m: Array
    """F(50,10), the same way. (A, S) [dB(uV/m)]"""
    free_space_dbuv_m: Array
    """The ceiling, with the transmitter's pattern. (A, S) [dB(uV/m)]"""
    pattern_db: Array
    """Of the transmitter towards the site; 0 where no pattern is given. (A, S) [dB]"""
    surroundings_db: Array
    """What unphotographed surroundings add, 0 where photographed, below 0 a loss. (A, S) [dB]"""
    terrain_db: Array
    """Loss of the terrain profile over free space, without one what the marked hill that is the
    horizon takes from the curves; NaN without either. (A, S) [dB]"""
    measured: Bools
    """The list gives the field itself. (S,)"""
    site_sigma_db: float
    """One sigma of the field common to all stations of the site. [dB]"""
    station_sigma_db: Array
    """One sigma of each station's own. (S,) [dB]"""
    warnings: tuple[str, ...]
    """Plain sentences: what was assumed, what is missing."""


@dataclass(frozen=True)
class LossDraws:
    """Loss of everything marked near the paths, drawn again and again within what is known."""

    loss_db: NDArray[np.float32]
    """Joint loss. (D, A, S) [dB]"""
    shares_db: NDArray[np.float32]
    """What each thing alone would give back, (O, D, A, S), in the order of ``names``; an empty
    first axis where they were not asked for. [dB]"""
    names: tuple[str, ...]
    """Ids of the obstructions."""
