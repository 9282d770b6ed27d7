"""The field through a right triangle that has one sharp corner on the ray.

Lengths are in Fresnel units, metres times sqrt(2 / (wavelength z)) with z = d1 d2 / (d1 + d2), so
that the phase over the direct ray at distance r from it is pi r^2 / 2::

                   . vertex
                 / |
               /   |  rise
             /     |
      ray  o ------+  foot of the perpendicular on the edge
              reach

Every polygon is a signed sum of two such triangles an edge (`skyview.wave.aperture`), and each
costs the same however many zones it covers.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import polynomial
from numpy.typing import NDArray

from skyview.wave.fresnel import fresnel_integral

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

FAR_FROM_RAY = 4.0
"""Longer leg, in Fresnel units, from which the expansion replaces the quadrature. There the
quadrature is good to 5e-12 and the expansion to 3e-11; the former gets worse above, the latter
better."""

QUADRATURE_NODES = 16
EXPANSION_TERMS = 12
LEAST_PHASE = 1e-300

_NODES, _WEIGHTS = (
    half[QUADRATURE_NODES:] for half in np.polynomial.legendre.leggauss(2 * QUADRATURE_NODES)
)


def right_triangle_field(reach: Reals, rise: Reals) -> Complexes:
    """Field through a right triangle over the free-space field, with the sign of its turn.

    ``reach`` and ``rise`` [Fresnel units], of one shape (M,): the leg that starts at the ray and
    the leg square to it, as in the drawing above. Odd in each: positive when the triangle is
    walked counter-clockwise. The result is

        1/(2 pi) integral over 0..rise of reach (1 - exp(i pi (reach^2 + t^2)/2))/(reach^2 + t^2) dt

    which is Owen's T function with its first argument turned by 45 degrees in the complex plane.
    A triangle steeper than 45 degrees is the rectangle it halves less the other half, and the
    rectangle is a product of Fresnel integrals (Rec. ITU-R P.526-15, section 5.2.1.1); the same
    step, for real arguments: D. B. Owen, Annals of Mathematical Statistics 27 (1956) 1075.

    >>> half = right_triangle_field(np.array([1.0]), np.array([1.0]))
    >>> bool(np.isclose(2 * half[0], fresnel_integral(1.0) ** 2 / 2j))
    True
    """
    sign = np.sign(reach) * np.sign(rise)
    reach, rise = np.abs(reach), np.abs(rise)
    steep = rise > reach
    longer, shorter = np.where(steep, rise, reach), np.where(steep, reach, rise)
    field = np.empty(reach.shape, dtype=complex)
    far = longer >= FAR_FROM_RAY
    field[far] = _by_expansion(longer[far], shorter[far])
    field[~far] = _by_quadrature(longer[~far], shorter[~far])
    rectangle = fresnel_integral(longer[steep]) * fresnel_integral(shorter[steep]) / 2j
    field[steep] = rectangle - field[steep]
    return sign * field


def _by_quadrature(reach: Reals, rise: Reals) -> Complexes:
    """Gauss-Legendre for a triangle of few zones; with h half the phase, 1 - exp(2ih) is
    2 sin h (sin h - i cos h), and the integrand is smooth, also on the ray itself. The rule is
    symmetric about 0 and so is the integrand: half of its nodes do."""
    half_phase = np.pi / 4.0 * (reach[:, None] ** 2 + (rise[:, None] * _NODES) ** 2) + LEAST_PHASE
    sine = np.sin(half_phase)
    ratio = sine / half_phase
    real = (sine * ratio) @ _WEIGHTS
    imaginary = (np.cos(half_phase) * ratio) @ _WEIGHTS
    return np.asarray(reach * rise / 4.0 * (real - 1j * imaginary))


def _by_expansion(reach: Reals, rise: Reals) -> Complexes:
    """Expansion for a reach of many zones, with x = t/reach and k = pi reach^2.

    The oscillating part is the integral of f(x) exp(i k x^2/2) with f = 1/(1 + x^2) = w. Writing
    f(x) = f(0) + x g(x) gives a Fresnel integral, an end-point term g/(ik), and the same integral
    again with f replaced by (i/k) dg/dx. N. Bleistein, Communications on Pure and Applied
    Mathematics 19 (1966) 353, treats this case: it holds whether or not the end point is near
    the foot.
    """
    slope = rise / reach
    inner = 1.0 / (1.0 + slope**2)
    small = 1.0 / (np.pi * reach**2)
    at_foot = np.zeros(reach.shape, dtype=complex)
    at_vertex = np.zeros(reach.shape, dtype=complex)
    for foot, ends in zip(_AT_FOOT[::-1], _AT_VERTEX[::-1], strict=True):
        at_foot = 1j * small * at_foot + foot
        at_vertex = 1j * small * at_vertex + polynomial.polyval(inner, ends)
    along_edge = np.exp(0.5j * np.pi * reach**2) * fresnel_integral(rise) / reach * at_foot
    end_point = np.exp(0.5j * np.pi * (reach**2 + rise**2)) * (-1j * small * slope) * at_vertex
    return np.asarray((np.arctan(slope) - along_edge - end_point) / (2.0 * np.pi))


def _expansion_coefficients(terms: int) -> tuple[list[float], list[Reals]]:
    """For each term f(0), and g(x)/x as a polynomial in w = 1/(1 + x^2), lowest power first.

    f is a polynomial in w, f(0) its value at w = 1, and x^2 = (1 - w)/w, so
    g/x = -w (f(w) - f(1))/(w - 1); with dw/dx = -2 x w^2, dg/dx = g/x - 2 w (1 - w) d(g/x)/dw.

    >>> at_foot, at_vertex = _expansion_coefficients(3)
    >>> [float(value) for value in at_foot], at_vertex[2].tolist()
    ([1.0, -1.0, 3.0], [0.0, -3.0, -4.0, -8.0])
    """
    at_foot, at_vertex = [], []
    function = np.array([0.0, 1.0])
    for _ in range(terms):
        value = polynomial.polyval(1.0, function)
        quotient, _remainder = polynomial.polydiv(
            polynomial.polysub(function, [value]), [-1.0, 1.0]
        )
        odd_part = polynomial.polymul([0.0, -1.0], quotient) + 0.0
        at_foot.append(float(value))
        at_vertex.append(odd_part)
        slope = polynomial.polymul([0.0, 2.0, -2.0], polynomial.polyder(odd_part))
        function = polynomial.polysub(odd_part, slope)
    return at_foot, at_vertex


_AT_FOOT, _AT_VERTEX = _expansion_coefficients(EXPANSION_TERMS)
