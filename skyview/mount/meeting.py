"""Where a thing stands that several pictures show: position, width and height by least squares.

A thing is taken as an upright body with two sides, equally far to the left and right of its middle,
and a top; a round one turns its width to every view, a flat one to the first. Every view gives
three angles, the azimuths of the left and the right side and the elevation of the top. Unknown are
the azimuth and the inverse distance from the first camera, and half the width and the top as
slopes: in these the angles are nearly linear, also for things so far away that the views hardly
tell them apart. Shapes: N things, V views each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array

NOT_USED = 1e6
"""Variance given to an angle that is left out. [rad^2]"""

FIRST_GUESSES_M = np.geomspace(2.0, 3000.0, 60)
"""Distances from which the nearest to the angles begins the search."""

WEIGHINGS, STEPS = 4, 12
"""How often the weights are taken anew, and steps between."""

FAINT = np.diag([1e-2, 4.0, 1e-2, 1e-2])
"""Information on the unknowns that is always there: nothing stands within half a metre."""

NORMAL_95 = 1.959964
"""Half width of the interval that holds 95 % of a normal distribution, in sigmas."""


@dataclass(frozen=True)
class Sighted:
    """What V views show of each of N things."""

    camera_m: Array
    """East, north, up of the cameras. (N, V, 3)"""
    angles: Array
    """Azimuth of the left and of the right side, elevation of the top. (N, V, 3) [rad]"""
    covariance: Array
    """Of the angles of one view; views are independent. (N, V, 3, 3) [rad^2]"""
    camera_sigma_m: Array
    """One sigma of each coordinate of a camera's place. (N, V)"""
    depth_share: Array
    """One sigma of how far before or behind the middle the silhouette runs, as shares of half the
    width: of each side by itself, of one side before and the other behind, of the top. All 0 for
    a pole. (N, 3)"""
    is_round: NDArray[np.bool_]
    """Whether the sides are not fixed points of the thing but where it curves out of sight. (N,)"""
    used: NDArray[np.bool_]
    """Angles that count; a side that something hides does not. (N, V, 3)"""


@dataclass(frozen=True)
class Meeting:
    """Things as their views place them; each array is (N,) but where it says otherwise."""

    azimuth: Array
    """Of the middle from the first camera. [rad]"""
    inverse_m: Array
    """One over the horizontal distance from the first camera; zero or less where the lines of
    sight do not meet. [1/m]"""
    inverse_sigma: Array
    """One sigma of it. [1/m]"""
    place_m: Array
    """East and north of the middle, up of the top; NaN where the lines do not meet. (N, 3)"""
    place_sigma_m: Array
    """One sigma of each, to first order. (N, 3)"""
    half_width_m: Array
    """Half the width across the line of sight."""
    half_width_sigma_m: Array
    """One sigma of it, to first order."""
    chi2: Array
    """Weighted sum of the squared residuals."""
    freedom: NDArray[np.intp]
    """Angles used less the four unknowns."""

    @property
    def distance_m(self) -> Array:
        """Horizontal distance from the first camera; inf where the lines do not meet."""
        return np.where(self.inverse_m > 0.0, 1.0 / np.maximum(self.inverse_m, 1e-12), np.inf)

    @property
    def distance_sigma_m(self) -> Array:
        """One sigma of the distance, to first order: distance^2 times that of its inverse."""
        return self.distance_m**2 * self.inverse_sigma


def interval_m(inverse_m: Array, inverse_sigma: Array) -> tuple[Array, Array]:
    """Distances that hold 95 of 100 cases of a normal inverse distance; inf for no bound. [m]

    >>> low, high = interval_m(np.array([0.05]), np.array([0.005]))
    >>> round(float(low[0]), 2), round(float(high[0]), 2)
    (16.72, 24.88)
    """
    near = np.maximum(inverse_m + NORMAL_95 * inverse_sigma, 1e-9)
    far = inverse_m - NORMAL_95 * inverse_sigma
    return 1.0 / near, np.where(far > 0.0, 1.0 / np.maximum(far, 1e-12), np.inf)


def meet(seen: Sighted) -> Meeting:
    """Place things from what each view shows of them.

    Weighted least squares by damped Gauss-Newton steps; the covariance is the inverse of the
    normal matrix (JCGM 100:2008, 5.2, to first order).

    >>> camera = np.array([[[0.0, 0.0, 6.0], [4.0, 0.0, 6.0]]])
    >>> side = np.arctan2([[-1.0, 1.0], [-5.0, -3.0]], 20.0)
    >>> top = np.arctan2(4.0, [[20.0], [20.4]])
    >>> noise = np.broadcast_to(np.eye(3) * 1e-6, (1, 2, 3, 3))
    >>> angles = np.concatenate([side, top], axis=1)[None]
    >>> exact, round_ = (np.zeros((1, 2)), np.zeros((1, 3))), np.array([True])
    >>> found = meet(Sighted(camera, angles, noise, *exact, round_, np.full((1, 2, 3), True)))
    >>> [round(v) for v in found.place_m[0]], round(float(found.distance_sigma_m[0]), 2)
    ([0, 20, 10], 0.1)
    """
    unknown = _first_guess(seen)
    for _ in range(WEIGHINGS):
        weight = np.asarray(np.linalg.inv(_errors(unknown, seen)))
        unknown = _solved(unknown, weight, seen)
    slope = _slopes(unknown, seen)
    weight = np.asarray(np.linalg.inv(_errors(unknown, seen)))
    spread = np.linalg.inv(np.einsum("nai,nab,nbj->nij", slope, weight, slope) + FAINT)
    rest = _rest(unknown, seen)
    azimuth, inverse, half, top = unknown.T
    distance = 1.0 / np.where(inverse > 1e-9, inverse, np.nan)
    sine, cosine, zero = np.sin(azimuth), np.cos(azimuth), np.zeros_like(azimuth)
    one = np.ones_like(azimuth)
    by_unknown = distance[:, None, None] * np.stack(
        [
            np.stack([cosine, -distance * sine, zero, zero], axis=1),
            np.stack([-sine, -distance * cosine, zero, zero], axis=1),
            np.stack([zero, -distance * top, zero, one], axis=1),
            np.stack([zero, -distance * half, one, zero], axis=1),
        ],
        axis=1,
    )
    sigma = np.sqrt(np.einsum("nki,nij,nkj->nk", by_unknown, spread, by_unknown))
    offset = distance[:, None] * np.stack([sine, cosine, top], axis=1)
    return Meeting(
        azimuth=azimuth,
        inverse_m=inverse,
        inverse_sigma=np.sqrt(spread[:, 1, 1]),
        place_m=seen.camera_m[:, 0] + offset,
        place_sigma_m=sigma[:, :3],
        half_width_m=distance * half,
        half_width_sigma_m=sigma[:, 3],
        chi2=np.einsum("na,nab,nb->n", rest, weight, rest),
        freedom=seen.used.sum(axis=(1, 2)) - 4,
    )


def _lines(unknown: Array, seen: Sighted) -> tuple[Array, Array]:
    """Level lines of sight (N, V, 2) and the height of the top (N, V), over the first distance."""
    azimuth, inverse, _, top = unknown.T
    step = seen.camera_m - seen.camera_m[:, :1]
    ahead = np.stack([np.sin(azimuth), np.cos(azimuth)], axis=1)
    level = ahead[:, None, :] - inverse[:, None, None] * step[..., :2]
    return level, top[:, None] - inverse[:, None] * step[..., 2]


def _predicted(unknown: Array, seen: Sighted) -> Array:
    level, rise = _lines(unknown, seen)
    reach = np.hypot(level[..., 0], level[..., 1])
    facing = np.where(seen.is_round[:, None, None], level / reach[..., None], level[:, :1])
    aside = unknown[:, 2, None, None] * np.stack([facing[..., 1], -facing[..., 0]], axis=-1)
    left, right = level - aside, level + aside
    return np.stack(
        [
            np.arctan2(left[..., 0], left[..., 1]),
            np.arctan2(right[..., 0], right[..., 1]),
            np.arctan2(rise, reach),
        ],
        axis=-1,
    )


def _rest(unknown: Array, seen: Sighted) -> Array:
    """Angles seen less predicted (N, 3 V), turns taken out."""
    off = seen.angles - _predicted(unknown, seen)
    return np.remainder(off + np.pi, 2.0 * np.pi).reshape(len(off), -1) - np.pi


def _slopes(unknown: Array, seen: Sighted) -> Array:
    """Slopes of the angles by the unknowns (N, 3 V, 4), by central differences."""
    columns = []
    for index, step in enumerate((1e-5, 1e-6, 1e-5, 1e-5)):
        move = step * np.eye(4)[index]
        columns.append((_rest(unknown - move, seen) - _rest(unknown + move, seen)) / (2.0 * step))
    return np.stack(columns, axis=-1)


def _errors(unknown: Array, seen: Sighted) -> Array:
    """Covariance of the angles (N, 3 V, 3 V): reading and pose, the camera's place, the body's
    depth, which shifts what the views show the more, the more their lines of sight differ."""
    level, rise = _lines(unknown, seen)
    count, views = level.shape[:2]
    reach = np.hypot(level[..., 0], level[..., 1])
    place = np.maximum(unknown[:, 1], 1e-4)[:, None] * seen.camera_sigma_m / reach
    whole = np.array(seen.covariance)
    half = unknown[:, 2:3] / reach
    whole += np.einsum("nvic,nvjc,nv->nvij", *[_by_camera(half, rise / reach)] * 2, place**2)
    whole += np.where(seen.used, 0.0, NOT_USED)[..., None] * np.eye(3)
    sight = np.concatenate([level, rise[..., None]], axis=-1)
    sight = sight / np.linalg.norm(sight, axis=-1, keepdims=True)
    nearer = half * np.log(reach)
    turned = np.concatenate([sight, nearer[..., None]], axis=-1)
    turned = (turned - turned.mean(axis=1, keepdims=True)) * half[..., None]
    shift = np.einsum("nvk,nwk->nvw", turned, turned)
    alone, skew, top = (seen.depth_share**2).T
    sides = np.zeros((count, 3, 3))
    sides[:, 0, 0] = sides[:, 1, 1] = alone + skew
    sides[:, 0, 1] = sides[:, 1, 0] = -skew
    sides[:, 2, 2] = top
    full = np.einsum("nvw,nij->nviwj", shift, sides)
    at = np.arange(views)
    full[:, at, :, at, :] += np.moveaxis(whole, 1, 0)
    result: Array = full.reshape(count, 3 * views, 3 * views)
    return result


def _by_camera(half: Array, rise: Array) -> Array:
    """Slopes (N, V, 3, 3) of the angles by a step of the camera across, ahead and up, over the
    distance: across moves both sides alike, ahead parts them and lifts the top."""
    one, zero = np.ones_like(half), np.zeros_like(half)
    parted, lifted = half / (1.0 + half * half), 1.0 / (1.0 + rise * rise)
    rows = [(-one, -parted, zero), (-one, parted, zero), (zero, rise * lifted, -lifted)]
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


def _first_guess(seen: Sighted) -> Array:
    """The best of many distances, the rest read off the first view."""
    count = len(seen.angles)
    half = np.remainder(seen.angles[:, 0, 1] - seen.angles[:, 0, 0], 2.0 * np.pi) / 2.0
    azimuth = seen.angles[:, 0, 0] + half
    best = np.full(count, np.inf)
    found = np.zeros((count, 4))
    for inverse in 1.0 / FIRST_GUESSES_M:
        trial = np.stack(
            [
                azimuth,
                np.full(count, inverse),
                np.tan(np.minimum(half, 1.3)),
                np.tan(seen.angles[:, 0, 2]),
            ],
            axis=1,
        )
        rest = _rest(trial, seen)
        fit = np.einsum("na,nab,nb->n", rest, np.linalg.inv(_errors(trial, seen)), rest)
        found = np.where((fit < best)[:, None], trial, found)
        best = np.minimum(fit, best)
    return found


def _solved(unknown: Array, weight: Array, seen: Sighted) -> Array:
    """The least squares for fixed weights."""
    damping = np.full(len(unknown), 1e-3)
    fit = _fit(unknown, weight, seen)
    for _ in range(STEPS):
        slope, rest = _slopes(unknown, seen), _rest(unknown, seen)
        normal = np.einsum("nai,nab,nbj->nij", slope, weight, slope)
        pull = np.einsum("nai,nab,nb->ni", slope, weight, rest)
        held = normal * (1.0 + damping[:, None, None] * np.eye(4)) + FAINT
        trial = unknown + np.linalg.solve(held, pull[..., None])[..., 0]
        trial[:, 2] = np.abs(trial[:, 2])
        new = _fit(trial, weight, seen)
        better = new <= fit
        unknown = np.where(better[:, None], trial, unknown)
        fit = np.where(better, new, fit)
        damping = np.where(better, damping * 0.2, np.minimum(damping * 8.0, 1e6))
    return unknown


def _fit(unknown: Array, weight: Array, seen: Sighted) -> Array:
    rest = _rest(unknown, seen)
    result: Array = np.einsum("na,nab,nb->n", rest, weight, rest)
    return result
