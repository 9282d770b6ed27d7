"""Marks and priors as numbers: what the estimator is given. Radians, pixels, metres.

What several marks share (a landmark's own place, a compass's declination, the level line's
sighting) is told by ``group``: sights of one group are wrong together by their own sigmas.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.camera.projections import Projection

_NOT_GIVEN: Any = np.empty(0)


def _not_given() -> Any:
    return _NOT_GIVEN


@dataclass(frozen=True)
class Sights:
    """Marks as numbers, arrays of one length N. Angles in radians, NaN where unknown."""

    x_px: Array
    """Pixel column of each mark."""
    y_px: Array
    """Pixel row of each mark."""
    sigma_px: Array
    """One sigma of the click. [px]"""
    azimuth: Array
    """True azimuth of what was marked."""
    elevation: Array
    """Its optical elevation, NaN where its height is unknown."""
    azimuth_sigma: Array
    """One sigma of the azimuth from the thing's own position or bearing, shared by its group."""
    elevation_sigma: Array
    """One sigma of the elevation likewise."""
    distance_m: Array
    """Horizontal distance, inf for a bearing: tells how the site's error turns it."""
    group: NDArray[np.int64] = field(default_factory=_not_given)
    """Sights of one number share their error, in all pictures; -1, the default, shares none."""
    azimuth_noise: Array = field(default_factory=_not_given)
    """One sigma of what else is wrong with the azimuth, of each sight alone; default 0."""
    elevation_noise: Array = field(default_factory=_not_given)
    """The same in elevation."""

    def __post_init__(self) -> None:
        for name, value in (("group", -1), ("azimuth_noise", 0.0), ("elevation_noise", 0.0)):
            if getattr(self, name) is _NOT_GIVEN:
                object.__setattr__(self, name, np.full(self.x_px.size, value))

    def __len__(self) -> int:
        return int(self.x_px.size)


def no_sights() -> Sights:
    """A picture without a mark."""
    none = np.empty(0)
    return Sights(none, none, none, none, none, none, none, none)


@dataclass(frozen=True)
class Lines:
    """Marks of two points each, arrays of one length K."""

    x_px: Array
    """Columns of both points. (K, 2)"""
    y_px: Array
    """Rows of both points. (K, 2)"""
    sigma_px: Array
    """One sigma of each click. [px]"""
    azimuth: Array
    """Azimuth of a line on level ground (either way round); NaN for a plumb line."""
    sigma: Array
    """One sigma of the line itself: of its azimuth, or of its lean."""

    def __len__(self) -> int:
        return int(self.sigma_px.size)


def no_lines() -> Lines:
    """A picture without a line."""
    return Lines(np.empty((0, 2)), np.empty((0, 2)), *(np.empty(0) for _ in range(3)))


@dataclass(frozen=True)
class Ties:
    """The same point in two pictures, arrays of one length T."""

    picture: NDArray[np.int64]
    """Numbers of both pictures. (T, 2)"""
    x_px: Array
    """Columns in both. (T, 2)"""
    y_px: Array
    """Rows in both. (T, 2)"""
    sigma_px: Array
    """One sigma of each click. (T, 2) [px]"""
    baseline_m: Array
    """From the first camera to the second, east, north, up. (T, 3)"""
    baseline_sigma_m: Array
    """One sigma of it, each way. (T,)"""

    def __len__(self) -> int:
        return int(self.baseline_sigma_m.size)


def no_ties() -> Ties:
    """No point in two pictures."""
    pair = np.empty((0, 2))
    return Ties(np.empty((0, 2), int), pair, pair, pair, np.empty((0, 3)), np.empty(0))


@dataclass(frozen=True)
class PosePrior:
    """What is believed before any mark. Radians; sigmas are one sigma."""

    yaw: float | None
    """Azimuth of the axis, None where no compass told it."""
    yaw_sigma: float
    pitch: float
    pitch_sigma: float
    roll: float
    roll_sigma: float
    scale_sigma: float
    """Relative sigma of the pixels per radian."""
    level_row_sigma_px: float
    """Sigma of a cylinder's level row. [px]"""
    site_sigma_m: float
    """Sigma of the site's position in each of east and north. [m]"""
    camera_sigma_m: float = 0.0
    """Sigma of the camera's place at the site, each way. [m]"""
    k1_sigma: float = 0.0
    """Sigma of a lens's distortion k1; 0 holds it. [unitless]"""
    aspect_sigma: float = 0.0
    """Relative sigma of the columns' scale against the rows'; 0 holds it."""
    stretch_sigma: tuple[float, ...] = ()
    """Sigma of each shape of a sweep's stretch; empty holds it. [rad]"""


@dataclass(frozen=True)
class Picture:
    """One picture with all that is known of it."""

    projection: Projection
    prior: PosePrior
    sights: Sights = field(default_factory=no_sights)
    lines: Lines = field(default_factory=no_lines)
