"""How far off the things in the way may be: one random number a thing, whatever else there is.

Every number is drawn by the purpose and the id of its thing (``chance``), so that felling one
tree or raising the antenna leaves all others as they were. The sigmas that no file gives are our
own choices and stand here.
"""

from __future__ import annotations

import numpy as np

from skyview.angles import Array, unit_from_azimuth_elevation
from skyview.survey.budget.chance import normal
from skyview.survey.cameras import ViewCamera
from skyview.survey.models import Obstruction, Outline
from skyview.survey.screens import ViewScreen
from skyview.wave.foliage_models import spread_of_models

MOST_SIGMAS = 3.0
"""Draws are cut here, so that no single one leaves the range for which losses were computed."""

OUTLINE_PX = {"hand": 3.0}
"""One sigma of an outline's edge in pixels, by who drew it: our own choice."""

GUESSED_PX = 8.0
"""The same for an outline that nobody drew."""

CROWN_M = 0.3
"""One sigma of a crown's edge beside that: twigs move and end raggedly; our own choice."""

DISTANCE_SHARE = {
    "laser": 0.02,
    "tape": 0.02,
    "map": 0.05,
    "paced": 0.1,
    "views": 0.1,
    "size": 0.2,
    "guess": 0.4,
}
"""One sigma of a distance as a share of it, by how it was measured: our own choice."""

STATED_SHARE = 0.15
"""The same for a distance of which nothing more is known."""

ASSUMED_SHARE = 0.6
"""The same for a distance that was only assumed."""

DEPTH_SHARE, MEASURED_DEPTH_SHARE = 0.35, 0.15
"""One sigma of the logarithm of a crown's depth, taken from its width or measured: our own
choice."""

MODELS_WITHIN = 1.2816
"""The least and the greatest published model are taken as one draw in ten at either end."""

LEAST_MODEL_FACTOR = 1.2
"""Where only one model holds its decibels are still uncertain by this factor, the same way."""


def drawn(purpose: str, name: str, count: int, seed: int) -> Array:
    """Standard normal numbers of one thing, cut at ``MOST_SIGMAS``. (count,)"""
    return np.clip(normal(purpose, [name], count, seed)[:, 0], -MOST_SIGMAS, MOST_SIGMAS)


def view_offsets(
    camera: ViewCamera, azimuth: Array, elevation: Array, count: int, seed: int
) -> tuple[Array, Array]:
    """Error of a view's azimuths and elevations in some directions (P,), common to all it shows.

    Both (count, P) [rad], what is to be added to what the picture says. Directions beyond the
    picture take the error at its edge.
    """
    picture = camera.picture
    x, y = picture.camera.pixels(unit_from_azimuth_elevation(azimuth, elevation))
    width, height = camera.view.size_px
    x = np.clip(np.nan_to_num(x, nan=width / 2.0), 0.0, width)
    y = np.clip(np.nan_to_num(y, nan=height / 2.0), 0.0, height)
    slopes = np.nan_to_num(np.stack(picture.direction_slopes(x, y)))
    names = [f"{camera.view.id} {n}" for n in range(len(picture.vector))]
    numbers = normal("calibration", names, count, seed)
    numbers = np.clip(numbers, -MOST_SIGMAS, MOST_SIGMAS) @ _root(picture.covariance)
    azimuth_error, elevation_error = np.einsum("dn,kpn->kdp", numbers, slopes)
    return azimuth_error, elevation_error


def _root(covariance: Array) -> Array:
    """The symmetric square root of a covariance."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)


def camera_offset_m(camera: ViewCamera, count: int, seed: int) -> Array:
    """Error of a camera's place, east north up. (count, 3) [m]"""
    names = [f"{camera.view.id} {axis}" for axis in "enu"]
    numbers = normal("camera", names, count, seed)
    return camera.view.camera_sigma_m * np.clip(numbers, -MOST_SIGMAS, MOST_SIGMAS)


def outline_offsets(
    screen: ViewScreen, outlines: list[Outline], camera: ViewCamera, count: int, seed: int
) -> Array:
    """Error of one thing's outline in one view, azimuth and elevation. (count, 2) [rad]"""
    thing = screen.obstruction.id
    shapes = [o for o in outlines if o.obstruction == thing and o.view == screen.view]
    pixels = max(OUTLINE_PX.get(o.by or "hand", GUESSED_PX) for o in shapes)
    sigma = pixels * _pixel_angle(camera, np.array(shapes[0].rings_px[0], float).mean(axis=0))
    if screen.is_tree:
        sigma = float(np.hypot(sigma, CROWN_M / screen.distance_m))
    names = [f"{thing} {screen.view} {axis}" for axis in ("azimuth", "elevation")]
    numbers = normal("outline", names, count, seed)
    return sigma * np.clip(numbers, -MOST_SIGMAS, MOST_SIGMAS)


def _pixel_angle(camera: ViewCamera, at_px: Array) -> float:
    """The angle that a pixel spans at some place of the picture. [rad]"""
    ends = camera.picture.camera.rays(at_px[0] + np.array([-0.5, 0.5]), np.full(2, at_px[1]))
    angle = float(np.linalg.norm(ends[1] - ends[0]))
    return angle if np.isfinite(angle) else 0.0


def distance_share(screen: ViewScreen) -> float:
    """One sigma of the logarithm of a thing's distance."""
    thing = screen.obstruction
    if screen.assumed:
        return ASSUMED_SHARE
    if thing.distance_sigma_m is not None:
        share = thing.distance_sigma_m / screen.distance_m
        return float(np.sqrt(np.log1p(share**2)))
    if thing.distance_m is None:
        return DISTANCE_SHARE["views" if thing.enu_m is None else "map"]
    return DISTANCE_SHARE.get((thing.distance_by or "").lower(), STATED_SHARE)


def distance_factors(screen: ViewScreen, count: int, seed: int) -> Array:
    """Factors of a thing's distance, above 0, 1 in the middle. (count,)"""
    numbers = drawn("distance", screen.obstruction.id, count, seed)
    return np.asarray(np.exp(distance_share(screen) * numbers))


def foliage_factors(
    thing: Obstruction, depth_m: float, frequency_mhz: Array, count: int, seed: int
) -> Array:
    """What a crown's decibels are to be multiplied by. (count, S)

    The published models' disagreement is common to all crowns, the depth each crown's own.
    """
    own = DEPTH_SHARE if thing.depth_m is None else MEASURED_DEPTH_SHARE
    depth = np.exp(own * drawn("depth", thing.id, count, seed))[:, None]
    low, high, middle = model_range(depth_m, frequency_mhz)
    common = drawn("foliage", "", count, seed)[:, None] / MODELS_WITHIN
    share = np.where(common > 0.0, high / middle, middle / low)
    return np.asarray(depth * share**common)


def model_range(depth_m: float, frequency_mhz: Array) -> tuple[Array, Array, Array]:
    """Least, greatest and middle decibels of a crown by the published models, in leaf. (S,) each"""
    low, high = spread_of_models(max(depth_m, 0.1), frequency_mhz)
    middle = np.sqrt(low * high)
    return (
        np.minimum(low, middle / LEAST_MODEL_FACTOR),
        np.maximum(high, middle * LEAST_MODEL_FACTOR),
        middle,
    )
