"""How well a picture is known as a whole, and which further mark would help most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from skyview.angles import Array
from skyview.calibrate.spread import PosedPicture

COLUMNS, ROWS = 25, 15
"""Grid of pixels on which a picture is judged and further marks are tried."""

BAND = np.radians([-5.0, 20.0])
"""Elevations that matter: those of masts, and of what stands before them."""

MARK_SIGMA = np.radians(0.2)
"""One sigma of a further mark's azimuth and elevation: a landmark at a kilometre."""

LEVEL_SIGMA = np.radians(0.25)
"""One sigma of a further level line."""

NEARLY = 0.9
"""Where a mark gains this share of the best one's gain it is as good."""


@dataclass(frozen=True)
class Sharpness:
    """Root mean square sigmas over the part of a picture that matters. [rad]"""

    azimuth: float
    elevation: float


@dataclass(frozen=True)
class NextMark:
    """The further mark that would help most."""

    kind: str
    """landmark, or level for a level line across the picture."""
    from_azimuth: float
    """First azimuth at which it would serve nearly as well as at the best. [rad]"""
    to_azimuth: float
    """The last, clockwise of the first."""
    now: float
    """Error of a direction now, root mean square over the picture. [rad]"""
    then: float
    """The same with the mark."""


@dataclass(frozen=True)
class Outlook:
    """A picture's directions on a grid, with what they depend on."""

    covariance: Array
    """Of the picture's parameters, (n, n)."""
    azimuth: Array
    """Azimuth of each column near the horizon; NaN where no row shows it. (C,)"""
    by_azimuth: Array
    """Slopes of azimuth at the grid's points of the band, (K, n)."""
    by_elevation: Array
    column: Array
    """Slopes of azimuth and elevation near the horizon of each column, (C, 2, n)."""


def outlook(picture: PosedPicture, size_px: tuple[int, int]) -> Outlook:
    """The grid of a picture."""
    x, y = np.meshgrid(
        (np.arange(COLUMNS) + 0.5) / COLUMNS * size_px[0],
        (np.arange(ROWS) + 0.5) / ROWS * size_px[1],
    )
    azimuth, elevation = picture.camera.directions(x, y)
    by_azimuth, by_elevation = picture.direction_slopes(x, y)
    with np.errstate(invalid="ignore"):
        inside = (elevation > BAND[0]) & (elevation < BAND[1])
    if not inside.any():
        inside = np.isfinite(elevation)
    off = np.where(np.isfinite(elevation), np.abs(elevation - np.radians(2.0)), np.inf)
    row = np.argmin(off, axis=0)
    columns = np.arange(COLUMNS)
    near = np.isfinite(off[row, columns])
    slopes = np.stack([by_azimuth[row, columns], by_elevation[row, columns]], axis=1)
    return Outlook(
        picture.covariance,
        np.where(near, azimuth[row, columns], np.nan),
        by_azimuth[inside],
        by_elevation[inside],
        np.where(near[:, None, None], slopes, 0.0),
    )


def sharpness(grid: Outlook) -> Sharpness:
    """How well directions are known over the picture."""
    return Sharpness(*(_rms(s, grid.covariance) for s in (grid.by_azimuth, grid.by_elevation)))


def _rms(slopes: Array, covariance: Array) -> float:
    if not len(slopes):
        return float("nan")
    variance = np.einsum("ki,ij,kj->k", slopes, covariance, slopes)
    return float(np.sqrt(np.mean(np.maximum(variance, 0.0))))


def next_mark(grid: Outlook) -> NextMark | None:
    """The landmark or level line that would sharpen the picture most; None for an empty one."""
    covariance = grid.covariance
    whole = np.concatenate([grid.by_azimuth, grid.by_elevation])
    seen = np.flatnonzero(np.isfinite(grid.azimuth))
    if not len(whole) or not seen.size:
        return None
    moment = whole.T @ whole / len(grid.by_azimuth)
    now = float(np.sqrt(np.sum(moment * covariance)))
    tries = grid.column[seen]
    then = _with(covariance, moment, tries, np.full(2, MARK_SIGMA))
    ends = grid.column[seen[[0, -1]], 1][None]
    level = float(_with(covariance, moment, ends, np.full(2, LEVEL_SIGMA))[0])
    azimuth = np.unwrap(grid.azimuth[seen])
    best = int(np.argmin(then))
    if level < then[best]:
        return NextMark("level", float(azimuth[0]), float(azimuth[-1]), now, level)
    good = now - then >= NEARLY * (now - then[best])
    first = last = best
    while first > 0 and good[first - 1]:
        first -= 1
    while last < len(good) - 1 and good[last + 1]:
        last += 1
    return NextMark("landmark", float(azimuth[first]), float(azimuth[last]), now, float(then[best]))


def _with(covariance: Array, moment: Array, tries: Array, sigma: Array) -> Array:
    """Error after each of some further measurements (T, 2, n) of these sigmas. (T,)"""
    reach = tries @ covariance
    spread = reach @ np.swapaxes(tries, 1, 2) + np.diag(sigma**2)
    gain = np.linalg.solve(spread, reach)
    after = covariance - np.swapaxes(reach, 1, 2) @ gain
    result: Array = np.sqrt(np.maximum(np.einsum("ij,tij->t", moment, after), 0.0))
    return result
