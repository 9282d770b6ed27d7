"""A hand-held sweep: a cylinder whose columns were not laid down evenly.

A telephone lays the strips of a sweep by its own idea of how fast it was turned. The columns'
scale then differs from the rows' (``aspect``), and varies smoothly along the sweep
(``stretch``).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from skyview.angles import Array
from skyview.camera.projections import Cylindrical

FIRST_ORDER = 2
"""Order of the Legendre polynomial of ``stretch[0]``; the first order is the aspect."""

_NEWTON_STEPS = 12


def stretch_shapes(t: ArrayLike, count: int) -> tuple[Array, Array]:
    """Legendre polynomials of order 2, 3, ... at t, and their slopes: both (..., count).

    By Bonnet's recursion.

    >>> stretch_shapes(1.0, 2)[0].tolist(), stretch_shapes(1.0, 2)[1].tolist()
    ([1.0, 1.0], [3.0, 6.0])
    """
    place = np.asarray(t, float)
    value, slope = [np.ones_like(place), place], [np.zeros_like(place), np.ones_like(place)]
    for order in range(FIRST_ORDER, FIRST_ORDER + count):
        value.append(((2 * order - 1) * place * value[-1] - (order - 1) * value[-2]) / order)
        slope.append(slope[-2] + (2 * order - 1) * value[-2])
    if not count:
        return np.zeros((*place.shape, 0)), np.zeros((*place.shape, 0))
    return np.stack(value[FIRST_ORDER:], axis=-1), np.stack(slope[FIRST_ORDER:], axis=-1)


@dataclass(frozen=True)
class Swept(Cylindrical):
    """A cylinder with angle (1 + aspect) (x - cx)/p + sum of stretch times shape.

    The shapes are Legendre polynomials over ``span_px``, shifted so that the column ``cx``
    stays ahead: the yaw keeps its meaning.

    >>> even = Swept(1000.0, (500.0, 400.0), 0.0, (0.0, 0.0), (0.0, 1000.0))
    >>> even.rays(600.0, 400.0).round(4).tolist()
    [0.0998, 0.0, 0.995]
    """

    aspect: float = 0.0
    """Columns' angle beyond the rows' scale. [unitless]"""
    stretch: tuple[float, ...] = ()
    """Shift of the right edge by each shape, before the column ahead is held. [rad]"""
    span_px: tuple[float, float] = (-1.0, 1.0)
    """Columns between which the shapes run from -1 to 1. [px]"""

    def place(self, x_px: ArrayLike) -> Array:
        """Where in the span a column lies: -1 at its left end, 1 at its right."""
        left, right = self.span_px
        return (2.0 * np.asarray(x_px, float) - left - right) / (right - left)

    def shapes(self, x_px: ArrayLike) -> tuple[Array, Array]:
        """What each unit of stretch adds to the angle of a column, and its slope per pixel."""
        count = len(self.stretch)
        values, slopes = stretch_shapes(self.place(x_px), count)
        ahead, _ = stretch_shapes(self.place(self.centre_px[0]), count)
        return values - ahead, slopes * 2.0 / (self.span_px[1] - self.span_px[0])

    def angles(self, x_px: ArrayLike) -> tuple[Array, Array]:
        """Angle from ahead of columns [rad] and its slope per pixel [rad/px]."""
        x = np.asarray(x_px, float)
        even = (1.0 + self.aspect) / self.px_per_rad
        values, slopes = self.shapes(x)
        weights = np.array(self.stretch)
        return even * (x - self.centre_px[0]) + values @ weights, even + slopes @ weights

    def rays(self, x_px: ArrayLike, y_px: ArrayLike) -> Array:
        """Unit rays (..., 3)."""
        x, y = np.broadcast_arrays(np.asarray(x_px, float), np.asarray(y_px, float))
        angle, _ = self.angles(x)
        rise = (y - self.centre_px[1]) / self.px_per_rad
        size = np.hypot(1.0, rise)
        return np.stack([np.sin(angle) / size, rise / size, np.cos(angle) / size], axis=-1)

    def pixels(self, rays: ArrayLike) -> tuple[Array, Array]:
        """Pixels of rays (..., 3), by Newton's method from the even cylinder's column."""
        column, y = super().pixels(rays)
        angle = (column - self.centre_px[0]) / self.px_per_rad
        x = self.centre_px[0] + angle * self.px_per_rad / (1.0 + self.aspect)
        left, right = self.span_px
        margin = 0.5 * (right - left)
        for _ in range(_NEWTON_STEPS):
            at, slope = self.angles(np.clip(x, left - margin, right + margin))
            x = np.clip(x, left - margin, right + margin)
            x = x + (angle - at) / np.maximum(slope, 0.2 / self.px_per_rad)
        # A ray whose even column lies far outside has no place in the sweep.
        missed = np.abs(self.angles(x)[0] - angle) > 1e-9
        return np.where(missed, np.nan, x), np.where(missed, np.nan, y)

    def scaled(self, factor: float) -> Swept:
        return replace(self, px_per_rad=self.px_per_rad * factor)
