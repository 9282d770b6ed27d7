"""The field behind one screen by the openings that make it up, for the checks of an opening."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.wave.aperture import aperture_field


def screen_field(
    rings: Sequence[tuple[ArrayLike, ArrayLike]],
    amplitude: ArrayLike,
    wavelength_m: ArrayLike,
    distance_m: ArrayLike,
    transmitter_distance_m: ArrayLike = np.inf,
) -> NDArray[np.complex128]:
    """Field at the antenna behind a screen that lets part of the wave pass. [over free space]

    ``rings``: at least one pair (x, y) of vertices as in `aperture_field`, the first the edge of
    the screen, the further ones holes in it, which must lie inside the edge and apart from each
    other. ``amplitude`` [unitless, 0 opaque to 1 absent] is what the shape leaves of the wave's
    amplitude; it broadcasts against the leading shape, as the lengths do.

    Source: Rec. ITU-R P.526-15, section 5.2.2, complex fields of several openings and screens
    added; the screen with amplitude a is the free field less (1 - a) of the opening's.

    >>> from skyview.wave.aperture import loss_db
    >>> corners = (np.array([-2.0, 2.0, 2.0, -2.0]), np.array([-1.0, -1.0, 1.0, 1.0]))
    >>> round(float(loss_db(screen_field([corners], 0.0, 2.0, 1.0))), 3)
    6.707
    """
    size = (wavelength_m, distance_m, transmitter_distance_m)
    opening = aperture_field(*rings[0], *size)
    for hole in rings[1:]:
        opening = opening - aperture_field(*hole, *size)
    return np.asarray(1.0 - (1.0 - np.asarray(amplitude, dtype=float)) * opening)
