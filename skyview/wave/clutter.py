"""What the surroundings of the receiving antenna do to the field of the curves.

Rec. ITU-R P.1546-6, Annex 5, section 9: its field holds at the height of the clutter, 10 m in the
open; below and above that the field is corrected. The formulae are written from memory and found
to reproduce the intermediate results that Study Group 3 printed for its validation cases.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.errors import InputError
from skyview.wave.fresnel import knife_edge_loss_approximate_db

Array = NDArray[np.float64]

REFERENCE_HEIGHT_M = 10.0
"""Least height for which the curves are drawn: Rec. ITU-R P.1546-6, Annex 5, section 9."""

CLUTTER_HEIGHT_M = {"rural": 0.0, "suburban": 10.0, "urban": 15.0, "dense_urban": 20.0}
"""Representative height of the clutter by surroundings, as in the validation cases of Study Group
3 for Rec. ITU-R P.1546-6; rural is open."""

STREET_M = 27.0
"""Distance from the clutter to the antenna: Rec. ITU-R P.1546-6, Annex 5, section 9."""

LEAST_HEIGHT_M = 1.0
"""Least antenna height over land for which the corrections hold; lower counts as this."""


def height_slope_db(frequency_mhz: ArrayLike) -> Array:
    """K, the decibels that ten times the antenna's height gains. [dB]

    Source: Rec. ITU-R P.1546-6, Annex 5, section 9: K = 3.2 + 6.2 log f.

    >>> round(float(height_slope_db(599.0)), 2)
    20.42
    """
    result: Array = 3.2 + 6.2 * np.log10(np.asarray(frequency_mhz, dtype=float))
    return result


def open_height_gain_db(height_m: ArrayLike, frequency_mhz: ArrayLike) -> Array:
    """Correction of the curves' field where the surroundings are open. [dB, 0 at 10 m]

    ``height_m`` [m] of the antenna above the ground, ``frequency_mhz`` [MHz]; they broadcast.

    Source: Rec. ITU-R P.1546-6, Annex 5, section 9: K log(h2 / 10).

    >>> round(float(open_height_gain_db(15.0, 599.0)), 2)
    3.6
    """
    height = np.maximum(np.asarray(height_m, dtype=float), LEAST_HEIGHT_M)
    result: Array = height_slope_db(frequency_mhz) * np.log10(height / REFERENCE_HEIGHT_M)
    return result


def clutter_height_gain_db(
    height_m: ArrayLike,
    frequency_mhz: ArrayLike,
    distance_m: ArrayLike,
    transmitter_height_m: ArrayLike,
    clutter_m: ArrayLike,
) -> Array:
    """Correction of the curves' field amid clutter of a height. [dB]

    ``height_m`` and ``clutter_m`` [m] above the ground at the receiver, ``transmitter_height_m``
    [m] h1, unclipped and even negative, ``distance_m`` [m] above 15, ``frequency_mhz`` [MHz]; all
    broadcast. Below the clutter's height, as the arriving ray sees it, the loss is that of a knife
    edge 27 m away.

    Source: Rec. ITU-R P.1546-6, Annex 5, section 9.

    >>> round(float(clutter_height_gain_db(8.0, 599.0, 50e3, 300.0, 10.0)), 1)
    -6.2
    """
    f, d, h1, clutter = (
        np.asarray(x, dtype=float)
        for x in (frequency_mhz, distance_m, transmitter_height_m, clutter_m)
    )
    height = np.maximum(np.asarray(height_m, dtype=float), LEAST_HEIGHT_M)
    slope = height_slope_db(f)
    seen = np.maximum((d * clutter - 15.0 * h1) / (d - 15.0), 1.0)
    below = np.maximum(seen - height, 0.0)
    nu = 0.0108 * np.sqrt(f * below * np.degrees(np.arctan(below / STREET_M)))
    gain = np.where(
        height >= seen,
        slope * np.log10(height / seen),
        6.03 - knife_edge_loss_approximate_db(nu),
    )
    short = np.minimum(seen, REFERENCE_HEIGHT_M)
    result: Array = gain - slope * np.log10(REFERENCE_HEIGHT_M / short)
    return result


def receiving_height_gain_db(
    height_m: ArrayLike,
    frequency_mhz: ArrayLike,
    distance_m: ArrayLike,
    transmitter_height_m: ArrayLike,
    surroundings: str,
    photographed: ArrayLike,
) -> Array:
    """Correction of the curves' field at the roof; the one place that decides which. [dB]

    Where the direction was ``photographed`` (bool) the marked silhouettes stand for the near
    clutter, so only the term of open surroundings is taken: the clutter is never counted twice.
    Where it was not, nothing is known of the near clutter, and the term of the ``surroundings``
    (rural, suburban, urban or dense_urban) is taken in its stead. The rest as in
    `clutter_height_gain_db`. Raises InputError for other surroundings.

    >>> gain = receiving_height_gain_db(8.0, 599.0, 50e3, 300.0, "suburban", [True, False])
    >>> gain.round(1).tolist()
    [-2.0, -6.2]
    """
    clutter = clutter_of(surroundings)
    opened = open_height_gain_db(height_m, frequency_mhz)
    if clutter == 0.0:
        cluttered = opened
    else:
        cluttered = clutter_height_gain_db(
            height_m, frequency_mhz, distance_m, transmitter_height_m, clutter
        )
    return np.where(np.asarray(photographed, dtype=bool), opened, cluttered)


def clutter_of(surroundings: str) -> float:
    """Representative height of the clutter of these surroundings, 0 in the open. [m]

    >>> clutter_of("urban")
    15.0
    """
    if surroundings not in CLUTTER_HEIGHT_M:
        raise InputError(
            f"{surroundings!r} are not known surroundings",
            field="surroundings",
            mend=f"give one of {', '.join(CLUTTER_HEIGHT_M)}",
        )
    return CLUTTER_HEIGHT_M[surroundings]


def terrain_clearance_loss_db(shielding: ArrayLike, frequency_mhz: ArrayLike) -> Array:
    """What a hill near the receiving antenna takes from the field of the curves. [dB]

    ``shielding`` [rad] is the elevation of the hill's edge less that of the straight line to the
    transmitter, for hills within 16 km; the curves hold for 0.55 degrees or less, and 40 degrees
    is the most. It broadcasts against ``frequency_mhz`` [MHz].

    Source: Rec. ITU-R P.1546-6, Annex 5, section 11 (secondary text).

    >>> terrain_clearance_loss_db(np.radians([0.0, 1.0, 3.0, 5.0]), 599.0).round(1).tolist()
    [0.0, 4.1, 13.3, 17.7]
    """
    angle_deg = np.clip(np.degrees(np.asarray(shielding, dtype=float)), 0.55, 40.0)
    root = np.sqrt(np.asarray(frequency_mhz, dtype=float))
    shielded = knife_edge_loss_approximate_db(0.065 * angle_deg * root)
    return np.maximum(shielded - knife_edge_loss_approximate_db(0.036 * root), 0.0)
