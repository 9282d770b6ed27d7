"""Loss over a terrain profile: Rec. ITU-R P.526, section 4.5 (Bullington and delta-Bullington).

A profile runs from the transmitter to the receiver in the last axis, from distance 0 to the path's
length, with the ground's height above sea level; the axes before it are paths. Section numbers are
those of edition 15 of Rec. ITU-R P.526; its formulae are used as coded in the Study Group 3
reference implementation of Rec. ITU-R P.1812-6, which prints the same ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from skyview.constants import MEGA, SPEED_OF_LIGHT_M_PER_S
from skyview.errors import InputError
from skyview.wave.earth import EFFECTIVE_RADIUS_M, LAND, Ground, smooth_earth_loss_db
from skyview.wave.fresnel import knife_edge_loss_approximate_db

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Profile:
    """Ground heights along paths from the transmitter to the receiver.

    ``distance_m`` (..., N) rises from 0 to the path's length, ``ground_amsl_m`` (..., N) is the
    ground above sea level, with what stands on it where that is to count. N is 3 or more.
    Raises InputError for fewer points or for distances that do not rise from 0.
    """

    distance_m: Array
    ground_amsl_m: Array

    def __post_init__(self) -> None:
        d, g = np.broadcast_arrays(
            np.asarray(self.distance_m, dtype=float), np.asarray(self.ground_amsl_m, dtype=float)
        )
        if d.ndim == 0 or d.shape[-1] < 3 or np.any(d[..., 0] != 0.0) or np.any(np.diff(d) <= 0.0):
            raise InputError(
                "the distances of a terrain profile do not rise from 0 in three points or more",
                field="distance_m",
                mend="give metres from the transmitter, each greater than the one before",
            )
        object.__setattr__(self, "distance_m", d)
        object.__setattr__(self, "ground_amsl_m", g)

    @property
    def length_m(self) -> Array:
        """Length of each path. [m, (...)]"""
        return self.distance_m[..., -1]


@dataclass(frozen=True)
class ProfileLoss:
    """What a terrain profile costs over free space. All in dB, one a path."""

    loss_db: Array
    """The whole of it: Bullington's, and what the curved ground adds."""
    bullington_db: Array
    """Of the profile's outstanding edges alone."""
    bullington_smooth_db: Array
    """The same of the smooth surface fitted to the profile."""
    smooth_earth_db: Array
    """Of that surface as a curved earth."""


def delta_bullington_loss(
    profile: Profile,
    transmitter_amsl_m: ArrayLike,
    receiver_amsl_m: ArrayLike,
    frequency_mhz: ArrayLike,
    *,
    radius_m: float = EFFECTIVE_RADIUS_M,
    vertical: ArrayLike = False,
    ground: Ground = LAND,
) -> ProfileLoss:
    """Diffraction loss of a terrain profile over free space. [dB]

    ``transmitter_amsl_m`` and ``receiver_amsl_m`` [m above sea level] of the antennas,
    ``frequency_mhz`` [MHz] and ``vertical`` (vertically polarized) are one a path; the rest as in
    `skyview.wave.earth.smooth_earth_loss_db`.

    Source: Rec. ITU-R P.526-15, section 4.5, the delta-Bullington method.

    >>> flat = Profile(np.arange(0.0, 60.5e3, 1e3), np.zeros(61))
    >>> loss = delta_bullington_loss(flat, 300.0, 10.0, 599.0, radius_m=8.5e6)
    >>> round(float(loss.bullington_db), 2), round(float(loss.loss_db), 2)
    (4.58, 5.71)
    """
    h_t, h_r, f = (
        np.asarray(x, dtype=float) for x in (transmitter_amsl_m, receiver_amsl_m, frequency_mhz)
    )
    below_t, below_r = smooth_surface_amsl_m(profile, h_t, h_r)
    over_t, over_r = h_t - below_t, h_r - below_r
    flat = Profile(profile.distance_m, np.zeros_like(profile.ground_amsl_m))
    actual = bullington_loss_db(profile, h_t, h_r, f, radius_m=radius_m)
    smooth = bullington_loss_db(flat, over_t, over_r, f, radius_m=radius_m)
    sphere = smooth_earth_loss_db(
        profile.length_m, over_t, over_r, f, radius_m=radius_m, vertical=vertical, ground=ground
    )
    return ProfileLoss(actual + np.maximum(sphere - smooth, 0.0), actual, smooth, sphere)


def bullington_loss_db(
    profile: Profile,
    transmitter_amsl_m: ArrayLike,
    receiver_amsl_m: ArrayLike,
    frequency_mhz: ArrayLike,
    *,
    radius_m: float = EFFECTIVE_RADIUS_M,
) -> Array:
    """Loss of the one edge that stands for the whole profile. [dB, 0 or more]

    Arguments as in `delta_bullington_loss`. Within sight that edge is the point of the greatest
    Fresnel parameter, beyond it the crossing of the two horizon rays.

    Source: Rec. ITU-R P.526-15, section 4.5, the Bullington part.

    >>> ridge = Profile([0.0, 20e3, 40e3], [0.0, 200.0, 0.0])
    >>> round(float(bullington_loss_db(ridge, 100.0, 100.0, 600.0)), 1)
    31.2
    """
    d, bulge, length = _inner(profile, radius_m)
    top = profile.ground_amsl_m[..., 1:-1] + bulge
    h_t, h_r, f = (
        np.asarray(x, dtype=float) for x in (transmitter_amsl_m, receiver_amsl_m, frequency_mhz)
    )
    wavelength = SPEED_OF_LIGHT_M_PER_S / (f * MEGA)
    slope_t = np.max((top - h_t[..., None]) / d, axis=-1)
    slope_r = np.max((top - h_r[..., None]) / (length[..., None] - d), axis=-1)
    direct = (h_r - h_t) / length

    line = h_t[..., None] + direct[..., None] * d
    scale = np.sqrt(2.0 * length[..., None] / (wavelength[..., None] * d * (length[..., None] - d)))
    in_sight = np.max((top - line) * scale, axis=-1)

    hidden = slope_t >= direct
    climb = np.where(hidden, slope_t + slope_r, 1.0)
    crossing = np.where(hidden, (h_r - h_t + slope_r * length) / climb, 0.5 * length)
    crossing = np.clip(crossing, 1e-9 * length, (1.0 - 1e-9) * length)
    over = (slope_t - direct) * crossing
    behind = over * np.sqrt(2.0 * length / (wavelength * crossing * (length - crossing)))

    edge = knife_edge_loss_approximate_db(np.where(hidden, behind, in_sight))
    return edge + (1.0 - np.exp(-edge / 6.0)) * (10.0 + 0.02 * length / 1e3)


def smooth_surface_amsl_m(
    profile: Profile, transmitter_amsl_m: ArrayLike, receiver_amsl_m: ArrayLike
) -> tuple[Array, Array]:
    """Height of the smooth surface under the transmitter and under the receiver. [m, m]

    A straight line fitted to the profile, lowered at both ends where terrain stands out above the
    line between the antennas, and never above the ground of either end.

    Source: Rec. ITU-R P.526-15, section 4.5, the smooth surface of the delta part.

    >>> slope = Profile([0.0, 10e3, 20e3], [0.0, 50.0, 100.0])
    >>> [round(float(h), 6) for h in smooth_surface_amsl_m(slope, 60.0, 160.0)]
    [0.0, 100.0]
    """
    d, g, length = profile.distance_m, profile.ground_amsl_m, profile.length_m
    step, near, far = np.diff(d), d[..., :-1], d[..., 1:]
    low, high = g[..., :-1], g[..., 1:]
    v1 = np.sum(step * (high + low), axis=-1)
    v2 = np.sum(step * (high * (2.0 * far + near) + low * (far + 2.0 * near)), axis=-1)
    fitted_t = (2.0 * v1 * length - v2) / length**2
    fitted_r = (v2 - v1 * length) / length**2

    h_t, h_r = (np.asarray(x, dtype=float) for x in (transmitter_amsl_m, receiver_amsl_m))
    inner = d[..., 1:-1]
    line = h_t[..., None] + ((h_r - h_t) / length)[..., None] * inner
    out = g[..., 1:-1] - line
    highest = np.maximum(np.max(out, axis=-1), 0.0)
    angle_t = np.max(out / inner, axis=-1)
    angle_r = np.max(out / (length[..., None] - inner), axis=-1)
    share_t = np.where(
        highest > 0.0, angle_t / np.where(highest > 0.0, angle_t + angle_r, 1.0), 0.0
    )
    share_r = np.where(highest > 0.0, 1.0 - share_t, 0.0)
    return (
        np.minimum(fitted_t - highest * share_t, g[..., 0]),
        np.minimum(fitted_r - highest * share_r, g[..., -1]),
    )


def skyline_from_receiver(
    profile: Profile, receiver_amsl_m: ArrayLike, *, radius_m: float = EFFECTIVE_RADIUS_M
) -> tuple[Array, Array]:
    """Elevation of the terrain's skyline at the receiver, and its distance. [rad, m]

    One a path; ``receiver_amsl_m`` broadcasts. With the effective radius of light (k = 7/6) it is
    the skyline that an eye sees, with that of the signal the radio horizon.

    Source: Rec. ITU-R P.1812-6, eqs (77) and (78): (g - h)/d - d/(2 a), the greatest of the path.

    >>> hill = Profile([0.0, 5e3, 10e3], [0.0, 120.0, 0.0])
    >>> angle, distance = skyline_from_receiver(hill, 10.0)
    >>> round(float(np.degrees(angle)), 3), float(distance)
    (1.243, 5000.0)
    """
    h = np.asarray(receiver_amsl_m, dtype=float)
    away = profile.length_m[..., None] - profile.distance_m[..., :-1]
    angle = (profile.ground_amsl_m[..., :-1] - h[..., None]) / away - away / (2.0 * radius_m)
    which = np.argmax(angle, axis=-1)[..., None]
    return (
        np.arctan(np.take_along_axis(angle, which, axis=-1)[..., 0]),
        np.take_along_axis(np.broadcast_to(away, angle.shape), which, axis=-1)[..., 0],
    )


def _inner(profile: Profile, radius_m: float) -> tuple[Array, Array, Array]:
    """Distances of the points between the ends, the earth's bulge there, the path's length."""
    d, length = profile.distance_m[..., 1:-1], profile.length_m
    return d, 0.5 * d * (length[..., None] - d) / radius_m, length
