"""How far off the things in the way may be: random numbers of each thing, whatever else there is.

Every number is drawn by the purpose and the id of its thing (``chance``), so that felling one
tree or raising the antenna leaves all others as they were. The sigmas that no file gives are our
own choices and stand here. Shapes: N sets of numbers, P paths, S stations.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import ndtri

from skyview.angles import Array, unit_from_azimuth_elevation
from skyview.survey.budget.chance import uniform
from skyview.survey.cameras import ViewCamera
from skyview.survey.losses import crown_depth_m
from skyview.survey.models import Outline
from skyview.survey.screens import ViewScreen
from skyview.wave.foliage_models import DEFAULT_MODEL, foliage_loss_db, holds, spread_of_models

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

LEAST_DEPTH_M = 0.1


def stratified(purpose: str, names: Sequence[str], count: int, seed: int) -> Array:
    """Standard normal numbers, (N, names), of which each of N equally likely ranges holds one.

    So few sets do the work of many: the middle of every column is 0 and its spread that of the
    normal distribution. Each column's order is its own name's.

    Source: M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239, Latin hypercube
    sampling, with the middle of each range.

    >>> numbers = stratified("outline", ["oak", "elm"], 9, 1)
    >>> np.sort(numbers, axis=0)[[0, 4, 8], 1].round(2).tolist()
    [-1.59, 0.0, 1.59]
    """
    rank = np.argsort(np.argsort(uniform(purpose, names, count, seed), axis=0), axis=0)
    return np.asarray(ndtri((rank + 0.5) / count))


def view_offsets(
    camera: ViewCamera, azimuth: Array, elevation: Array, count: int, seed: int
) -> tuple[Array, Array]:
    """Error of a view's azimuths and elevations in some directions (P,), common to all it shows.

    Both (N, P) [rad], what is to be added to what the picture says. Directions beyond the
    picture take the error at its edge.
    """
    picture = camera.picture
    x, y = picture.camera.pixels(unit_from_azimuth_elevation(azimuth, elevation))
    width, height = camera.view.size_px
    x = np.clip(np.nan_to_num(x, nan=width / 2.0), 0.0, width)
    y = np.clip(np.nan_to_num(y, nan=height / 2.0), 0.0, height)
    slopes = np.nan_to_num(np.stack(picture.direction_slopes(x, y)))
    names = [f"{camera.view.id} {n}" for n in range(len(picture.vector))]
    numbers = stratified("calibration", names, count, seed) @ _root(picture.covariance)
    azimuth_error, elevation_error = np.einsum("dn,kpn->kdp", numbers, slopes)
    return azimuth_error, elevation_error


def _root(covariance: Array) -> Array:
    """The symmetric square root of a covariance."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)


def camera_offset_m(camera: ViewCamera, count: int, seed: int) -> Array:
    """Error of a camera's place, east north up. (N, 3) [m]"""
    names = [f"{camera.view.id} {axis}" for axis in "enu"]
    return camera.view.camera_sigma_m * stratified("camera", names, count, seed)


def outline_offsets(
    screen: ViewScreen, outlines: list[Outline], camera: ViewCamera, count: int, seed: int
) -> Array:
    """Error of one thing's outlines in one view, azimuth and elevation. (N, 2) [rad]"""
    thing = screen.obstruction.id
    pixels = max(OUTLINE_PX.get(o.by or "hand", GUESSED_PX) for o in outlines)
    sigma = pixels * _pixel_angle(camera, np.array(outlines[0].rings_px[0], float).mean(axis=0))
    if screen.is_tree:
        sigma = float(np.hypot(sigma, CROWN_M / screen.distance_m))
    names = [f"{thing} {screen.view} {axis}" for axis in ("azimuth", "elevation")]
    return sigma * stratified("outline", names, count, seed)


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
    """Factors of a thing's distance, above 0, 1 in the middle. (N,)"""
    numbers = stratified("distance", [screen.obstruction.id], count, seed)[:, 0]
    return np.asarray(np.exp(distance_share(screen) * numbers))


def foliage_factors(screen: ViewScreen, frequency_mhz: Array, count: int, seed: int) -> Array:
    """What a crown's decibels are to be multiplied by. (N, S)

    The published models' disagreement is common to all crowns, the depth each crown's own.
    """
    thing = screen.obstruction
    own = DEPTH_SHARE if thing.depth_m is None else MEASURED_DEPTH_SHARE
    depth = np.exp(own * stratified("depth", [thing.id], count, seed))
    low, high = model_factors(crown_depth_m(screen), frequency_mhz, screen.foliage_model)
    common = stratified("foliage", [""], count, seed) / MODELS_WITHIN
    return np.asarray(depth * np.where(common > 0.0, high, 1.0 / low) ** common)


def model_factors(
    depth_m: float, frequency_mhz: Array, model: str = DEFAULT_MODEL
) -> tuple[Array, Array]:
    """Least and greatest of the published models' decibels over those of the model taken. (S,)

    >>> low, high = model_factors(10.0, np.array([60.0, 500.0]))
    >>> low.round(2).tolist(), high.round(2).tolist()
    ([0.5, 0.48], [1.2, 2.02])
    """
    depth = max(depth_m, LEAST_DEPTH_M)
    low, high = spread_of_models(depth, frequency_mhz)
    taken = foliage_loss_db(depth, frequency_mhz, "tree", "in")
    at = holds(model, frequency_mhz)
    taken[at] = foliage_loss_db(depth, frequency_mhz[at], "tree", "in", model)
    return (
        np.minimum(low / taken, 1.0 / LEAST_MODEL_FACTOR),
        np.maximum(high / taken, LEAST_MODEL_FACTOR),
    )
