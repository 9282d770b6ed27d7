"""Where a pixel looks, and how that changes with every parameter and with the pixel itself.

The analytic derivatives that the estimator and the spread of directions share. Parameters are a
vector with names: ``NAMES`` first, then what the projection allows beyond them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from skyview.angles import Array
from skyview.camera.pose import Camera, axes
from skyview.camera.projections import (
    Cylindrical,
    Equirectangular,
    Fisheye,
    Projection,
    Rectilinear,
)
from skyview.camera.sweep import Swept

NAMES = ("yaw", "pitch", "roll", "log_scale", "level_row_px")
"""The first parameters in the covariance's order; the last only for a cylindrical picture."""

STRETCH = "stretch_"
"""Name of a sweep's stretch parameters, with the order of their shape behind it."""


def base_names(projection: Projection) -> tuple[str, ...]:
    """The parameters that every picture of this projection has."""
    return NAMES if isinstance(projection, Cylindrical) else NAMES[:4]


def camera_at(
    projection: Projection, vector: Array, names: tuple[str, ...] | None = None
) -> Camera:
    """The camera that a parameter vector describes; without names in the order of ``NAMES``."""
    given = dict(zip(names or base_names(projection), map(float, vector), strict=True))
    scaled = projection.scaled(float(np.exp(given["log_scale"])))
    aspect = given.get("log_aspect")
    if isinstance(scaled, Rectilinear) and "k1" in given:
        scaled = replace(scaled, k1=given["k1"])
    elif isinstance(scaled, Equirectangular) and aspect is not None:
        factor = float(np.exp(aspect))
        scaled = replace(scaled, left=scaled.left * factor, right=scaled.right * factor)
    elif isinstance(scaled, Cylindrical):
        level = given.get("level_row_px", scaled.centre_px[1])
        scaled = replace(scaled, centre_px=(scaled.centre_px[0], level))
        if isinstance(scaled, Swept):
            stretch = tuple(v for n, v in given.items() if n.startswith(STRETCH))
            scaled = replace(
                scaled,
                aspect=scaled.aspect if aspect is None else float(np.expm1(aspect)),
                stretch=stretch or scaled.stretch,
            )
    return Camera(scaled, given["yaw"], given["pitch"], given["roll"])


def directions_and_slopes(
    projection: Projection, vector: Array, names: tuple[str, ...], x: Array, y: Array
) -> tuple[Array, Array, Array]:
    """Unit rays (P, 3) in east, north, up; their slopes by parameter (P, 3, n) and pixel (P, 3, 2).

    NaN where the projection shows nothing.
    """
    camera = camera_at(projection, vector, names)
    turn = axes(camera.yaw, camera.pitch, camera.roll)
    raw, by_name, by_pixel = _inner(camera.projection, x, y)
    size = np.sqrt(np.sum(raw * raw, axis=-1))[:, None]
    unit = raw / size

    def flat(change: Array) -> Array:
        """Slope of the unit ray from that of the raw one."""
        result: Array = (change - unit * np.sum(unit * change, axis=-1, keepdims=True)) / size
        return result

    world = unit @ turn
    east, north, _ = world.T
    zero = np.zeros_like(east)
    level = np.array([np.cos(camera.yaw), -np.sin(camera.yaw), 0.0])
    slopes = np.empty((*world.shape, len(names)))
    for index, name in enumerate(names):
        if name == "yaw":
            slopes[..., index] = np.stack([north, -east, zero], axis=-1)
        elif name == "pitch":
            slopes[..., index] = _cross(level, world)
        elif name == "roll":
            slopes[..., index] = _cross(turn[2], world)
        else:
            slopes[..., index] = flat(by_name[name]) @ turn
    pixel = np.stack([flat(by_pixel[..., 0]) @ turn, flat(by_pixel[..., 1]) @ turn], axis=-1)
    return world, slopes, pixel


def _cross(axis: Array, vectors: Array) -> Array:
    a, b, c = axis
    x, y, z = vectors.T
    return np.stack([b * z - c * y, c * x - a * z, a * y - b * x], axis=-1)


def _inner(projection: Projection, x: Array, y: Array) -> tuple[Array, dict[str, Array], Array]:
    """Rays in camera axes, of any length, and their slopes by inner parameter and by pixel."""
    if isinstance(projection, Rectilinear):
        return _rectilinear(projection, x, y)
    if isinstance(projection, Cylindrical):
        return _cylindrical(projection, x, y)
    if isinstance(projection, Equirectangular):
        return _equirectangular(projection, x, y)
    if isinstance(projection, Fisheye):
        return _fisheye(projection, x, y)
    raise TypeError(f"no slopes for {type(projection).__name__}")


def _rectilinear(lens: Rectilinear, x: Array, y: Array) -> tuple[Array, dict[str, Array], Array]:
    ray = lens.rays(x, y)
    point = ray[:, :2] / ray[:, 2:]
    r2 = np.sum(point * point, axis=-1)
    factor = 1.0 + r2 * (lens.k1 + r2 * lens.k2)
    radial = 1.0 + r2 * (3.0 * lens.k1 + 5.0 * lens.k2 * r2)
    zero = np.zeros((x.size, 1))

    def flat(move: Array) -> Array:
        return np.concatenate([move, zero], axis=-1)

    # Inverse of the distortion's slope: 1/radial along the radius, 1/factor across it.
    with np.errstate(invalid="ignore", divide="ignore"):
        along = np.where(r2 > 0.0, (1.0 / radial - 1.0 / factor) / r2, 0.0)
    outer = point[:, :, None] * point[:, None, :]
    inverse = along[:, None, None] * outer + np.eye(2) / factor[:, None, None]
    slopes = {
        "log_scale": flat(-point * (factor / radial)[:, None]),
        "k1": flat(-point * (r2 / radial)[:, None]),
    }
    by_pixel = np.concatenate([inverse / lens.focal_px, np.zeros((x.size, 1, 2))], axis=1)
    return flat(point) + np.array([0.0, 0.0, 1.0]), slopes, by_pixel


def _cylindrical(sweep: Cylindrical, x: Array, y: Array) -> tuple[Array, dict[str, Array], Array]:
    per_rad = sweep.px_per_rad
    across = (x - sweep.centre_px[0]) / per_rad
    angle, slope, even = across, np.full(x.shape, 1.0 / per_rad), across
    shapes = np.zeros((x.size, 0))
    if isinstance(sweep, Swept):
        angle, slope = sweep.angles(x)
        even = (1.0 + sweep.aspect) * across
        shapes, _ = sweep.shapes(x)
    rise = (y - sweep.centre_px[1]) / per_rad
    sin, cos, zero = np.sin(angle), np.cos(angle), np.zeros_like(angle)
    aside = np.stack([cos, zero, -sin], axis=-1)
    down = np.stack([zero, np.ones_like(zero), zero], axis=-1)
    slopes = {
        "log_scale": -even[:, None] * aside - rise[:, None] * down,
        "level_row_px": -down / per_rad,
        "log_aspect": even[:, None] * aside,
    }
    for index in range(shapes.shape[1]):
        slopes[f"{STRETCH}{index + 2}"] = shapes[:, index, None] * aside
    by_pixel = np.stack([slope[:, None] * aside, down / per_rad], axis=-1)
    return np.stack([sin, rise, cos], axis=-1), slopes, by_pixel


def _equirectangular(
    picture: Equirectangular, x: Array, y: Array
) -> tuple[Array, dict[str, Array], Array]:
    width, height = picture.size_px
    across = (picture.right - picture.left) / width / picture.scale
    down = (picture.bottom - picture.top) / height / picture.scale
    longitude = picture.left / picture.scale + x * across
    latitude = picture.top / picture.scale + y * down
    latitude = np.where(np.abs(latitude) <= np.pi / 2 + 1e-12, latitude, np.nan)
    sin_o, cos_o = np.sin(longitude), np.cos(longitude)
    sin_a, cos_a = np.sin(latitude), np.cos(latitude)
    aside = np.stack([cos_o * cos_a, np.zeros_like(sin_o), -sin_o * cos_a], axis=-1)
    up = np.stack([-sin_o * sin_a, -cos_a, -cos_o * sin_a], axis=-1)
    slopes = {
        "log_scale": -longitude[:, None] * aside - latitude[:, None] * up,
        "log_aspect": longitude[:, None] * aside,
    }
    by_pixel = np.stack([across * aside, down * up], axis=-1)
    return np.stack([sin_o * cos_a, -sin_a, cos_o * cos_a], axis=-1), slopes, by_pixel


def _fisheye(dome: Fisheye, x: Array, y: Array) -> tuple[Array, dict[str, Array], Array]:
    u = np.stack([x - dome.centre_px[0], y - dome.centre_px[1]], axis=-1) / dome.px_per_rad
    theta = np.sqrt(np.sum(u * u, axis=-1))
    theta = np.where(theta <= np.pi, theta, np.nan)
    side, sin, cos = np.sinc(theta / np.pi), np.sin(theta), np.cos(theta)
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = np.where(theta > 0.0, (cos - side) / theta**2, 0.0)
    ray = np.concatenate([u * side[:, None], cos[:, None]], axis=-1)
    away = np.where(theta[:, None] > 0.0, u * cos[:, None], 0.0)
    slopes = {"log_scale": -np.concatenate([away, (-theta * sin)[:, None]], axis=-1)}
    plane = bend[:, None, None] * u[:, :, None] * u[:, None, :] + side[:, None, None] * np.eye(2)
    by_pixel = np.concatenate([plane, -(side[:, None] * u)[:, None, :]], axis=1)
    return ray, slopes, by_pixel / dome.px_per_rad
