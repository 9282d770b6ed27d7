"""Long outlines cut down to what the wavelength can feel, with a bound on the error."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from skyview.wave.fresnel import reduced_distance_m, require_positive

FIRST_TOLERANCE = 0.25
"""Largest sideways shift tried, in units of sqrt(wavelength x z)."""

HALVINGS = 12
FIELD_CHANGE = 0.01
"""Bound on the change of the field unless another is given: 0.09 dB at no loss. It is reached only
where every change has the same sign and phase; the change of ragged outlines is a tenth of it."""


class Simplified(NamedTuple):
    """A ring (N, 2) [m] and a bound on what using it changes of the field. [over free space]"""

    ring_m: NDArray[np.float64]
    field_bound: float


def simplified(
    ring_m: ArrayLike,
    wavelength_m: float,
    distance_m: float,
    transmitter_distance_m: float = np.inf,
    blocked: complex = 1.0,
    field_change: float = FIELD_CHANGE,
) -> Simplified:
    """The outline with as few vertices as the allowed change of the field permits.

    ``ring_m`` (N, 2) [m], a simple or keyholed ring; ``wavelength_m``, ``distance_m`` and
    ``transmitter_distance_m`` [m] as in `skyview.wave.aperture.aperture_field`; ``blocked`` is 1
    less the amplitude. Vertices are only taken away (D. Douglas and T. Peucker, Cartographica 10
    (1973) 112), with the widest tolerance, halved from a quarter of a Fresnel length, that keeps
    the bound; the ring is returned as it is where none does.

    The bound: every area A of a screen adds at most A/(wavelength z) to the field, since the
    integrand of Rec. ITU-R P.526-15, section 5.2.1.1 has that modulus everywhere, so a change of
    the outline adds at most |blocked| times the area between old and new outline over wavelength z.

    Raises InputError for a wavelength or a distance that is not above 0.

    >>> x = np.linspace(-8.0, 8.0, 400)
    >>> ridge = np.stack([x, 0.02 * np.cos(40.0 * x)], axis=1)  # ripples of 2 cm
    >>> wall = np.concatenate([ridge, [[8.0, -9.0], [-8.0, -9.0]]])
    >>> short = simplified(wall, wavelength_m=5.0, distance_m=40.0)
    >>> len(short.ring_m), short.field_bound < 0.01
    (4, True)
    """
    ring = np.asarray(ring_m, dtype=float)
    require_positive(np.asarray(wavelength_m), "wavelength_m", "a wavelength")
    zone_area = wavelength_m * float(reduced_distance_m(distance_m, transmitter_distance_m))
    line = shapely.LinearRing(ring)
    whole = shapely.make_valid(shapely.Polygon(ring))
    for tolerance in FIRST_TOLERANCE * np.sqrt(zone_area) * 0.5 ** np.arange(HALVINGS):
        short = shapely.get_coordinates(shapely.simplify(line, tolerance, preserve_topology=True))
        area = shapely.make_valid(shapely.Polygon(short)).symmetric_difference(whole).area
        bound = float(abs(blocked) * area / zone_area)
        if bound <= field_change:
            return Simplified(short[:-1], bound)
    return Simplified(ring, 0.0)
