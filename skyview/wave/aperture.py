"""The field behind a thin screen of any shape, and through an opening of any shape.

The scalar paraxial field (Fresnel-Kirchhoff) at the antenna, over the field without a screen. In
the plane of the screen, square to the ray, x points right and y up as seen from the antenna, with
the zero where the ray pierces the plane. The phase of a detour over the direct ray is
exp(+i pi r^2/(wavelength z)), z = d1 d2/(d1 + d2): the time factor is exp(-i omega t). Take the
conjugate for the opposite convention.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.wave.fresnel import reduced_distance_m, require_positive
from skyview.wave.triangle import right_triangle_field

EDGES_AT_ONCE = 8192
"""Edges worked on together: bounds the working memory to some tens of megabytes."""

LOWEST_FIELD = 1e-8
"""Fields below this are taken as this, so that no loss exceeds 160 dB. It lies above the
numerical noise of `aperture_field`, and far below anything a thin screen can mean."""


def aperture_field(
    x_m: ArrayLike,
    y_m: ArrayLike,
    wavelength_m: ArrayLike,
    distance_m: ArrayLike,
    transmitter_distance_m: ArrayLike = np.inf,
) -> NDArray[np.complex128]:
    """Field at the antenna through an opening in an opaque screen. [over free space, unitless]

    ``x_m``, ``y_m`` (..., N) [m]: the vertices of one simple ring per leading index, finite,
    open or closed, in either orientation; a repeated vertex adds nothing and may pad a ring.
    ``wavelength_m``, ``distance_m`` (antenna to screen) and ``transmitter_distance_m`` (screen
    to transmitter, may be infinite) [m], above 0, broadcast against the leading shape (...),
    which is the shape of the result.

    1 for an opening that lets everything through, 0 for one without area. The field behind an
    opaque shape is 1 less this (Babinet's principle; Rec. ITU-R P.526-15, section 5.2.2).
    The error stays below 1e-9 for vertices up to thousands of Fresnel units away.

    Raises InputError for a wavelength or a distance that is not above 0.

    Source: the area integral of Rec. ITU-R P.526-15, section 5.2.1.1 (there for a rectangle),
    turned into a line integral along the boundary by doing the radial part in closed form:
    field = 1/(2 pi) integral of (1 - exp(i pi r^2/(wavelength z))) d phi, two right triangles
    an edge. A. Rubinowicz, Annalen der Physik 358 (1917) 257, is the origin of such boundary
    integrals.

    >>> side = np.array([-1.0, 1.0, 1.0, -1.0])
    >>> through = aperture_field(side, np.array([-1.0, -1.0, 1.0, 1.0]), 2.0, 1.0)
    >>> round(float(-20 * np.log10(abs(through))), 3)  # sides of -1..1 Fresnel unit: a gain
    -4.086
    """
    x = np.asarray(x_m, dtype=float)
    y = np.asarray(y_m, dtype=float)
    wavelength = np.asarray(wavelength_m, dtype=float)
    require_positive(wavelength, "wavelength_m", "a wavelength")
    per_metre = np.sqrt(2.0 / (wavelength * reduced_distance_m(distance_m, transmitter_distance_m)))
    lead = np.broadcast_shapes(x.shape[:-1], y.shape[:-1], per_metre.shape)
    corners = np.broadcast_shapes(x.shape[-1:], y.shape[-1:])
    x, y = np.broadcast_to(x, lead + corners), np.broadcast_to(y, lead + corners)
    per_metre = np.broadcast_to(per_metre, lead)
    field = np.zeros(int(np.prod(lead)), dtype=complex)
    rings_at_once = max(1, EDGES_AT_ONCE // max(1, corners[0]))
    for start in range(0, field.size, rings_at_once):
        part = np.arange(start, min(start + rings_at_once, field.size))
        where = np.unravel_index(part, lead) if lead else (np.newaxis,)
        scale = per_metre[where][:, np.newaxis]
        field[part] = _ring_field(x[where] * scale, y[where] * scale)
    return field.reshape(lead)


def _ring_field(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Fields through rings (P, N) in Fresnel units, the ray at the origin; counts either turn."""
    along_u = np.roll(u, -1, axis=-1) - u
    along_v = np.roll(v, -1, axis=-1) - v
    length = np.hypot(along_u, along_v)
    real_edges = ~(length == 0.0)
    unit = np.stack([along_u[real_edges], along_v[real_edges]]) / length[real_edges]
    reach = u[real_edges] * unit[1] - v[real_edges] * unit[0]
    rise = u[real_edges] * unit[0] + v[real_edges] * unit[1]
    ends = right_triangle_field(
        np.concatenate([reach, reach]), np.concatenate([rise + length[real_edges], rise])
    )
    edges = np.zeros(u.shape, dtype=complex)
    edges[real_edges] = ends[: reach.size] - ends[reach.size :]
    from_first_u, from_first_v = u - u[:, :1], v - v[:, :1]
    twice_area = np.sum(from_first_u * along_v - from_first_v * along_u, axis=-1)
    result: NDArray[np.complex128] = np.where(twice_area < 0.0, -1.0, 1.0) * np.sum(edges, axis=-1)
    return result


def loss_db(field: ArrayLike) -> NDArray[np.float64]:
    """Loss of a complex field over the free-space field, at most 160 dB. [dB]

    Positive when the signal is weaker than in free space; below 0 where a detour adds to the
    direct ray. A field below `LOWEST_FIELD` counts as that; nan stays nan.

    >>> loss_db(np.array([1.0, 0.5j, 0.0])).round(2).tolist()
    [0.0, 6.02, 160.0]
    """
    return np.asarray(20.0 * np.log10(1.0 / np.maximum(np.abs(field), LOWEST_FIELD)))
