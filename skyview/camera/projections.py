"""The four projections: pixel to unit ray in camera axes, and back.

Every projection offers ``rays(x_px, y_px)`` -> (..., 3) and ``pixels(rays)`` -> x_px, y_px, exact
inverses of one another, and ``scaled(factor)``, the same projection with its pixels per radian
multiplied. Camera axes: x right, y down, z forward.

What lies outside a projection is NaN on both ways: behind a rectilinear camera or beyond the
radius where its distortion folds over, straight up or down in a cylinder, beyond 180 deg off
axis in a fisheye, beyond the poles of an equirectangular picture.

Source of the models: the pinhole with radial distortion of OpenCV's calibration module
(documentation of ``projectPoints``); cylinder, equirectangular and equidistant fisheye by
definition.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol, Self

import numpy as np
from numpy.typing import ArrayLike

from skyview.angles import Array

_DOUBLINGS, _HALVINGS = 12, 50


class Projection(Protocol):
    """What the rest of the program asks of a picture's geometry."""

    def rays(self, x_px: ArrayLike, y_px: ArrayLike) -> Array: ...

    def pixels(self, rays: ArrayLike) -> tuple[Array, Array]: ...

    def scaled(self, factor: float) -> Self: ...


def _normalised(x: Array, y: Array, z: Array) -> Array:
    vector = np.stack(np.broadcast_arrays(x, y, z), axis=-1)
    size = np.sqrt(np.sum(vector * vector, axis=-1, keepdims=True))
    with np.errstate(invalid="ignore", divide="ignore"):
        result: Array = vector / size
        return result


def _floats(*values: ArrayLike) -> list[Array]:
    return [np.asarray(value, dtype=float) for value in values]


@dataclass(frozen=True)
class Rectilinear:
    """A lens that keeps straight lines straight, with radial distortion k1, k2 [unitless].

    Distorted radius r_d = r (1 + k1 r^2 + k2 r^4), r the tangent of the angle off axis.

    >>> Rectilinear(1000.0, (500.0, 400.0)).rays(500.0, 400.0).tolist()
    [0.0, 0.0, 1.0]
    """

    focal_px: float
    centre_px: tuple[float, float]
    k1: float = 0.0
    k2: float = 0.0

    def rays(self, x_px: ArrayLike, y_px: ArrayLike) -> Array:
        """Unit rays (..., 3); NaN where no undistorted point exists."""
        x, y = _floats(x_px, y_px)
        x_d, y_d = (x - self.centre_px[0]) / self.focal_px, (y - self.centre_px[1]) / self.focal_px
        factor = self._undistortion(np.hypot(x_d, y_d))
        return _normalised(x_d * factor, y_d * factor, np.ones_like(factor))

    def pixels(self, rays: ArrayLike) -> tuple[Array, Array]:
        """Pixels of rays (..., 3) of any length; NaN behind the camera or past the fold."""
        v = np.asarray(rays, dtype=float)
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            ahead = v[..., 2] > 0.0
            x, y = np.where(ahead, v[..., 0] / v[..., 2], np.nan), v[..., 1] / v[..., 2]
            r2 = x * x + y * y
            factor = np.where(r2 < self._fold_r2(), 1.0 + r2 * (self.k1 + r2 * self.k2), np.nan)
            return (
                self.centre_px[0] + self.focal_px * x * factor,
                self.centre_px[1] + self.focal_px * y * factor,
            )

    def scaled(self, factor: float) -> Rectilinear:
        return replace(self, focal_px=self.focal_px * factor)

    def _fold_r2(self) -> float:
        """Squared radius at which d(r_d)/dr = 1 + 3 k1 r^2 + 5 k2 r^4 first reaches zero."""
        roots = np.roots([5.0 * self.k2, 3.0 * self.k1, 1.0])
        real = roots[np.isreal(roots)].real
        real = real[real > 0.0]
        return float(real.min()) if real.size else np.inf

    def _undistortion(self, r_d: Array) -> Array:
        """r / r_d by bisection and a last step of Newton's method, NaN beyond the fold.

        Up to the fold r_d grows with r, so that a bracket always closes; Newton alone may run
        away where the slope falls.
        """
        if self.k1 == 0.0 and self.k2 == 0.0:
            return np.ones_like(r_d)
        fold = np.sqrt(self._fold_r2())
        low, high = np.zeros_like(r_d), np.full_like(r_d, min(fold, 1.0))
        for _ in range(_DOUBLINGS):
            high = np.where(self._distorted(high) < r_d, np.minimum(2.0 * high, fold), high)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            below = self._distorted(middle) < r_d
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        r = (low + high) / 2.0
        slope = 1.0 + r * r * (3.0 * self.k1 + 5.0 * self.k2 * r * r)
        step = (self._distorted(r) - r_d) / np.maximum(slope, 1e-3)
        r = np.clip(r - np.clip(step, low - r, high - r), 0.0, fold)
        missed = np.abs(self._distorted(r) - r_d) > 1e-10 * (1.0 + r_d)
        with np.errstate(invalid="ignore", divide="ignore"):
            factor = np.where(r_d > 0.0, r / r_d, 1.0)
        return np.where(missed, np.nan, factor)

    def _distorted(self, r: Array) -> Array:
        r2 = r * r
        return r * (1.0 + r2 * (self.k1 + r2 * self.k2))


@dataclass(frozen=True)
class Cylindrical:
    """A sweep about an upright axis: columns linear in angle, rows in its tangent.

    ``centre_px``: x of the direction ahead, y of the plane square to the axis.

    >>> Cylindrical(1000.0, (500.0, 400.0)).rays(500.0, -600.0).round(6).tolist()
    [0.0, -0.707107, 0.707107]
    """

    px_per_rad: float
    centre_px: tuple[float, float]

    def rays(self, x_px: ArrayLike, y_px: ArrayLike) -> Array:
        """Unit rays (..., 3)."""
        x, y = _floats(x_px, y_px)
        angle = (x - self.centre_px[0]) / self.px_per_rad
        rise = (y - self.centre_px[1]) / self.px_per_rad
        return _normalised(np.sin(angle), rise, np.cos(angle))

    def pixels(self, rays: ArrayLike) -> tuple[Array, Array]:
        """Pixels of rays (..., 3); the angle is taken in (-pi, pi], NaN along the axis."""
        v = np.asarray(rays, dtype=float)
        level = np.hypot(v[..., 0], v[..., 2])
        with np.errstate(invalid="ignore", divide="ignore"):
            rise = np.where(level > 0.0, v[..., 1] / level, np.nan)
        angle = np.where(level > 0.0, np.arctan2(v[..., 0], v[..., 2]), np.nan)
        return (
            self.centre_px[0] + self.px_per_rad * angle,
            self.centre_px[1] + self.px_per_rad * rise,
        )

    def scaled(self, factor: float) -> Cylindrical:
        return replace(self, px_per_rad=self.px_per_rad * factor)


@dataclass(frozen=True)
class Equirectangular:
    """Columns and rows both linear in angle; the edges' angles are relative to the axis. [rad]

    ``scale`` divides the angles: a picture that claims 360 deg and holds 350 has scale 360/350.

    >>> picture = Equirectangular((4000, 1000), -3.2, 3.2, 0.8, -0.8)
    >>> picture.rays(3000.0, 500.0).round(6).tolist()
    [0.999574, 0.0, -0.0292]
    """

    size_px: tuple[float, float]
    left: float
    right: float
    top: float
    bottom: float
    scale: float = 1.0

    def rays(self, x_px: ArrayLike, y_px: ArrayLike) -> Array:
        """Unit rays (..., 3); x may run past the width; NaN beyond the poles."""
        x, y = _floats(x_px, y_px)
        longitude = (self.left + x / self.size_px[0] * (self.right - self.left)) / self.scale
        latitude = (self.top + y / self.size_px[1] * (self.bottom - self.top)) / self.scale
        latitude = np.where(np.abs(latitude) <= np.pi / 2 + 1e-12, latitude, np.nan)
        return _normalised(
            np.sin(longitude) * np.cos(latitude),
            0.0 - np.sin(latitude),
            np.cos(longitude) * np.cos(latitude),
        )

    def pixels(self, rays: ArrayLike) -> tuple[Array, Array]:
        """Pixels of rays (..., 3); of the longitudes that differ by a turn, the one which
        lies nearest to the picture's middle."""
        v = np.asarray(rays, dtype=float)
        middle = (self.left + self.right) / (2.0 * self.scale)
        longitude = np.arctan2(v[..., 0], v[..., 2])
        longitude = middle + np.remainder(longitude - middle + np.pi, 2.0 * np.pi) - np.pi
        latitude = -np.arctan2(v[..., 1], np.hypot(v[..., 0], v[..., 2]))
        x = (longitude * self.scale - self.left) / (self.right - self.left) * self.size_px[0]
        y = (latitude * self.scale - self.top) / (self.bottom - self.top) * self.size_px[1]
        return x, y

    def scaled(self, factor: float) -> Equirectangular:
        return replace(self, scale=self.scale * factor)


@dataclass(frozen=True)
class Fisheye:
    """Equidistant fisheye: distance from the centre linear in the angle off axis.

    >>> import math
    >>> Fisheye(1000.0, (0.0, 0.0)).rays(1000.0 * math.pi / 2, 0.0).round(6).tolist()
    [1.0, 0.0, 0.0]
    """

    px_per_rad: float
    centre_px: tuple[float, float]

    def rays(self, x_px: ArrayLike, y_px: ArrayLike) -> Array:
        """Unit rays (..., 3); NaN more than 180 deg off axis."""
        x, y = _floats(x_px, y_px)
        u, v = (x - self.centre_px[0]) / self.px_per_rad, (y - self.centre_px[1]) / self.px_per_rad
        theta = np.hypot(u, v)
        theta = np.where(theta <= np.pi, theta, np.nan)
        side = np.sinc(theta / np.pi)
        return _normalised(u * side, v * side, np.cos(theta))

    def pixels(self, rays: ArrayLike) -> tuple[Array, Array]:
        """Pixels of rays (..., 3); NaN straight behind, where the side is undefined."""
        v = np.asarray(rays, dtype=float)
        level = np.hypot(v[..., 0], v[..., 1])
        theta = np.arctan2(level, v[..., 2])
        with np.errstate(invalid="ignore", divide="ignore"):
            radius = np.where(level > 0.0, theta / level, np.where(v[..., 2] > 0.0, 1.0, np.nan))
        return (
            self.centre_px[0] + self.px_per_rad * v[..., 0] * radius,
            self.centre_px[1] + self.px_per_rad * v[..., 1] * radius,
        )

    def scaled(self, factor: float) -> Fisheye:
        return replace(self, px_per_rad=self.px_per_rad * factor)
