"""Height of the transmitting antenna above average terrain: the h1 of Rec. ITU-R P.1546."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

NEAR_M, FAR_M = 3e3, 15e3
"""The ground between these distances from the transmitter is averaged: Rec. ITU-R P.1546-6,
Annex 5, section 3, from memory."""

SHORT_PATH_SHARE = 0.2
"""On a path shorter than 15 km the ground from a fifth of it to its end is averaged, where there
is terrain data: Rec. ITU-R P.1546-6, Annex 5, section 3, from memory."""

LISTED, TERRAIN, SITE_GROUND = "listed", "terrain", "site_ground"


@dataclass(frozen=True)
class EffectiveHeight:
    """h1 of each station, and whence it is."""

    h1_m: Array
    """Above average terrain, unclipped. [m]"""
    source: NDArray[np.str_]
    """``listed``: the station list's; ``terrain``: from a profile; ``site_ground``: the antenna
    above the ground of the receiving site for want of better, to be flagged."""


def effective_height(
    listed_m: ArrayLike, terrain_m: ArrayLike, antenna_amsl_m: ArrayLike, ground_amsl_m: float
) -> EffectiveHeight:
    """The best height that is known of each station. [m]

    ``listed_m`` above average terrain as the list gives it and ``terrain_m`` from
    `height_above_average_terrain_m`, NaN where unknown; ``antenna_amsl_m`` above sea level;
    ``ground_amsl_m`` of the receiving site.

    >>> best = effective_height([300.0, np.nan, np.nan], [250.0, 80.0, np.nan], 500.0, 412.0)
    >>> best.h1_m.tolist(), best.source.tolist()
    ([300.0, 80.0, 88.0], ['listed', 'terrain', 'site_ground'])
    """
    listed, terrain, antenna = np.broadcast_arrays(
        *(np.asarray(x, dtype=float) for x in (listed_m, terrain_m, antenna_amsl_m))
    )
    known = [~np.isnan(listed), ~np.isnan(terrain)]
    return EffectiveHeight(
        np.select(known, [listed, terrain], antenna - ground_amsl_m),
        np.select(known, [LISTED, TERRAIN], SITE_GROUND),
    )


def height_above_average_terrain_m(
    distance_m: ArrayLike, ground_amsl_m: ArrayLike, antenna_amsl_m: ArrayLike
) -> Array:
    """Height of an antenna above the mean ground 3 to 15 km away towards the receiver. [m]

    ``distance_m`` (..., N) from the transmitter, rising from 0 to the path's length, and
    ``ground_amsl_m`` (..., N) are the terrain profile of each path; ``antenna_amsl_m`` (...).
    NaN where the profile has no point in the span.

    >>> d = np.arange(0.0, 20.5e3, 500.0)
    >>> float(height_above_average_terrain_m(d, np.where(d < 3e3, 400.0, 100.0), 350.0))
    250.0
    """
    d, ground = np.broadcast_arrays(
        np.asarray(distance_m, dtype=float), np.asarray(ground_amsl_m, dtype=float)
    )
    length = d[..., -1:]
    short = length < FAR_M
    inside = (d >= np.where(short, SHORT_PATH_SHARE * length, NEAR_M)) & (d <= FAR_M)
    count = np.sum(inside, axis=-1)
    mean = np.sum(np.where(inside, ground, 0.0), axis=-1) / np.where(count > 0, count, 1)
    return np.where(count > 0, np.asarray(antenna_amsl_m, dtype=float) - mean, np.nan)
