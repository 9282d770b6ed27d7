"""A view's directions as tables over its pixels, and its pixels as tables over directions.

The page interpolates straight between the nodes and needs no projection of its own. The error of
that is measured between the nodes, and the tables are made finer until it is small enough.
Radians inside, degrees in the messages.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from skyview.angles import Array, unit_from_azimuth_elevation, wrap_180_deg, wrap_360_deg
from skyview.survey.cameras import ViewCamera
from skyview.workbench.poses import pixels_of

ERROR_DEG = 0.02
"""Interpolation is never worse than this, between elevations of +-80 degrees."""

_AIM_DEG = 0.015
_STEEP = np.radians(80.0)
_FIRST_STEP = np.radians(4.0)
_MOST_NODES = 260


@dataclass(frozen=True)
class Tables:
    """Nodes over the pixels, and nodes over the directions."""

    x_px: Array
    y_px: Array
    azimuth: Array
    elevation: Array
    """(rows, columns) [rad], NaN where the projection shows nothing."""
    error: float
    """Largest error of straight interpolation, both ways. [rad]"""
    inverse_azimuth: Array
    inverse_elevation: Array
    inverse_px: Array
    """(rows, columns, 2), NaN outside the picture."""


def tables_of(camera: ViewCamera) -> Tables:
    """Tables fine enough for ``ERROR_DEG``, as far as ``_MOST_NODES`` reach."""
    width, height = camera.view.size_px
    step = _FIRST_STEP
    while True:
        columns, rows = _counts(camera, step)
        x, y = np.linspace(0.0, width, columns), np.linspace(0.0, height, rows)
        azimuth, elevation = camera.picture.camera.directions(*np.meshgrid(x, y))
        azimuth = _continuous(azimuth, elevation)
        error = _grid_error(camera, x, y, azimuth, elevation)
        if np.degrees(error) < _AIM_DEG or max(columns, rows) >= _MOST_NODES:
            break
        step /= 1.5
    step = _FIRST_STEP
    while True:
        nodes = _inverse_nodes(camera, azimuth, elevation, step)
        pixels = _inverse(camera, *nodes)
        back = _inverse_error(camera, *nodes, pixels)
        if np.degrees(back) < _AIM_DEG or max(map(len, nodes)) >= 2 * _MOST_NODES:
            break
        step /= 1.5
    return Tables(x, y, azimuth, elevation, max(error, back), *nodes, pixels)


def _continuous(azimuth: Array, elevation: Array) -> Array:
    """Azimuths (rows, columns) without jumps of a turn, spread from the row nearest to level."""
    flat = np.where(np.isfinite(elevation), np.abs(elevation), np.pi)
    start = int(np.argmin(flat.max(axis=1) + flat.mean(axis=1)))
    smooth = azimuth.copy()
    known = np.isfinite(smooth[start])
    smooth[start, known] = np.unwrap(smooth[start, known])
    rows = [(row, row - 1) for row in range(start + 1, len(smooth))]
    rows += [(row, row + 1) for row in range(start - 1, -1, -1)]
    for row, before in rows:
        turns = np.round((smooth[before] - smooth[row]) / (2.0 * np.pi))
        smooth[row] += 2.0 * np.pi * np.nan_to_num(turns)
    return smooth


def _counts(camera: ViewCamera, step: float) -> tuple[int, int]:
    """Columns and rows of nodes about ``step`` apart where the picture is widest."""
    width, height = camera.view.size_px
    x, y = np.meshgrid(np.linspace(0.0, width, 25), np.linspace(0.0, height, 25))
    rays = camera.picture.camera.rays(x, y)
    across = np.arccos(np.clip(np.sum(rays[:, 1:] * rays[:, :-1], axis=-1), -1.0, 1.0))
    down = np.arccos(np.clip(np.sum(rays[1:] * rays[:-1], axis=-1), -1.0, 1.0))
    finite = [np.nanmax(part) if np.isfinite(part).any() else step for part in (across, down)]
    counts = [int(np.ceil(24 * part / step)) + 1 for part in finite]
    return min(max(counts[0], 3), _MOST_NODES), min(max(counts[1], 3), _MOST_NODES)


def _off(azimuth: Array, elevation: Array, true_azimuth: Array, true_elevation: Array) -> float:
    """The largest angle between directions, of those that are not steep. [rad]"""
    one = unit_from_azimuth_elevation(azimuth, elevation)
    other = unit_from_azimuth_elevation(true_azimuth, true_elevation)
    with np.errstate(invalid="ignore"):
        angle = 2.0 * np.arcsin(np.clip(np.linalg.norm(one - other, axis=-1) / 2.0, 0.0, 1.0))
        angle = np.where(np.abs(true_elevation) < _STEEP, angle, np.nan)
    return float(np.nanmax(angle)) if np.isfinite(angle).any() else 0.0


def _middles(nodes: Array, wrap: bool = False) -> list[Array]:
    """Straight interpolation at the middles of cells, of their upper and of their left edges."""
    corner = nodes[:-1, :-1]
    others = [nodes[:-1, 1:], nodes[1:, :-1], nodes[1:, 1:]]
    if wrap:
        others = [corner + np.angle(np.exp(1j * (other - corner))) for other in others]
    right, below, across = others
    return [(corner + right + below + across) / 4.0, (corner + right) / 2.0, (corner + below) / 2.0]


def _halfway(nodes: Array) -> Array:
    return (nodes[1:] + nodes[:-1]) / 2.0


def _between(across: Array, down: Array) -> list[tuple[Array, Array]]:
    """Where ``_middles`` are: a pair of (rows, columns) each."""
    middle_x, middle_y = _halfway(across), _halfway(down)
    places = [(middle_x, middle_y), (middle_x, down[:-1]), (across[:-1], middle_y)]
    return [(grid[0], grid[1]) for grid in (np.meshgrid(*place) for place in places)]


def _grid_error(camera: ViewCamera, x: Array, y: Array, azimuth: Array, elevation: Array) -> float:
    guesses = zip(_middles(azimuth, wrap=True), _middles(elevation), strict=True)
    return max(
        _off(*guess, *camera.picture.camera.directions(*place))
        for guess, place in zip(guesses, _between(x, y), strict=True)
    )


def _inverse_nodes(
    camera: ViewCamera, azimuth: Array, elevation: Array, step: float
) -> tuple[Array, Array]:
    """Azimuths and elevations of the inverse table's nodes, rising by one step for both."""
    low, high = float(np.nanmin(elevation)), float(np.nanmax(elevation))
    low, high = max(low, -_STEEP), min(high, _STEEP)
    width, height = camera.view.size_px
    if camera.full_circle:
        start = float(camera.picture.camera.directions(0.0, height / 2.0)[0])
        span = 2.0 * np.pi
    else:
        middle = float(camera.picture.camera.directions(width / 2.0, height / 2.0)[0])
        aside = np.angle(np.exp(1j * (azimuth - middle)))
        start, end = middle + float(np.nanmin(aside)), middle + float(np.nanmax(aside))
        span = end - start
    parts = max(int(np.ceil(span / step)), 1)
    rows = max(int(np.ceil((high - low) * parts / span)), 1) + 1
    apart = span / parts
    return start + apart * np.arange(parts + 1.0), low + apart * np.arange(float(rows))


def _inverse(camera: ViewCamera, azimuth: Array, elevation: Array) -> Array:
    """Pixels of the nodes, NaN more than a cell outside the picture."""
    width, height = camera.view.size_px
    az, el = np.meshgrid(azimuth, elevation)
    expected = width * (az - azimuth[0]) / (2.0 * np.pi) if camera.full_circle else None
    pixels = pixels_of(camera, az, el, near_x=expected)
    slack = [width * 0.1, height * 0.1]
    with np.errstate(invalid="ignore"):
        out = (pixels[..., 1] < -slack[1]) | (pixels[..., 1] > height + slack[1])
        if not camera.full_circle:
            out |= (pixels[..., 0] < -slack[0]) | (pixels[..., 0] > width + slack[0])
    pixels[out] = np.nan
    return pixels


def _inverse_error(camera: ViewCamera, azimuth: Array, elevation: Array, pixels: Array) -> float:
    width, height = camera.view.size_px
    worst = 0.0
    parts = zip(_middles(pixels[..., 0]), _middles(pixels[..., 1]), strict=True)
    for (x, y), place in zip(parts, _between(azimuth, elevation), strict=True):
        with np.errstate(invalid="ignore"):
            inside = (y >= 0.0) & (y <= height)
            if not camera.full_circle:
                inside &= (x >= 0.0) & (x <= width)
        x, y = np.where(inside, x, np.nan), np.where(inside, y, np.nan)
        worst = max(worst, _off(*camera.picture.camera.directions(x, y), *place))
    return worst


def angles_message(camera: ViewCamera, revision: int, declination_deg: float) -> dict[str, Any]:
    """The tables, and all that is drawn from angles alone, for the page."""
    tables = tables_of(camera)
    x, y = np.meshgrid(tables.x_px, tables.y_px)
    sigma = camera.picture.direction_sigma(x, y)
    return {
        "format": "skyview.angles",
        "version": 1,
        "view": camera.view.id,
        "revision": revision,
        "full_circle": camera.full_circle,
        "declination_deg": round(declination_deg, 3),
        "error_deg": round(float(np.degrees(tables.error)), 4),
        "grid": {
            "x0_px": 0.0,
            "y0_px": 0.0,
            "dx_px": float(tables.x_px[1]),
            "dy_px": float(tables.y_px[1]),
            "columns": len(tables.x_px),
            "rows": len(tables.y_px),
            "azimuth_deg": nulled(np.degrees(tables.azimuth), 4),
            "elevation_deg": nulled(np.degrees(tables.elevation), 4),
            "azimuth_sigma_deg": nulled(np.degrees(sigma[0]), 3),
            "elevation_sigma_deg": nulled(np.degrees(sigma[1]), 3),
        },
        "inverse": {
            "azimuth0_deg": float(np.degrees(tables.inverse_azimuth[0])),
            "elevation0_deg": float(np.degrees(tables.inverse_elevation[0])),
            "step_deg": float(np.degrees(np.diff(tables.inverse_azimuth[:2])[0])),
            "columns": len(tables.inverse_azimuth),
            "rows": len(tables.inverse_elevation),
            "x_px": nulled(tables.inverse_px[..., 0], 2),
            "y_px": nulled(tables.inverse_px[..., 1], 2),
        },
        **_drawn(camera, tables, declination_deg),
    }


def _drawn(camera: ViewCamera, tables: Tables, declination_deg: float) -> dict[str, Any]:
    start, end = np.degrees(tables.inverse_azimuth[[0, -1]])
    azimuth = np.radians(np.arange(np.floor(start), np.ceil(end) + 0.5))
    level = _points(camera, azimuth, np.zeros(azimuth.shape), tables)
    sigma = np.nan_to_num(camera.picture.direction_sigma(level[:, 0], level[:, 1])[1])
    low, high = np.degrees(tables.inverse_elevation[[0, -1]])
    cross_az, cross_el = np.meshgrid(_multiples(start, end, 10.0), _multiples(low, high, 10.0))
    crosses = _points(camera, np.radians(cross_az.ravel()), np.radians(cross_el.ravel()), tables)
    return {
        "level": {
            "line_px": longest_run(level),
            "upper_px": longest_run(_points(camera, azimuth, sigma, tables)),
            "lower_px": longest_run(_points(camera, azimuth, -sigma, tables)),
        },
        "crosses": [
            {
                "azimuth_deg": float(wrap_360_deg(az)),
                "elevation_deg": float(el),
                "x_px": round(float(x), 1),
                "y_px": round(float(y), 1),
            }
            for az, el, (x, y) in zip(cross_az.ravel(), cross_el.ravel(), crosses, strict=True)
            if np.isfinite(x)
        ],
        "ticks": {
            "true": _ticks(camera, tables, 0.0),
            "magnetic": _ticks(camera, tables, declination_deg),
        },
        "north": _north(camera, tables, low, high),
    }


def _multiples(low: float, high: float, step: float) -> Array:
    return step * np.arange(np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9) + 1.0)


def _points(camera: ViewCamera, azimuth: Array, elevation: Array, tables: Tables) -> Array:
    """Pixels (N, 2), continuous over a full circle, NaN outside the picture."""
    width, height = camera.view.size_px
    turn = 2.0 * np.pi
    expected = width * (azimuth - tables.inverse_azimuth[0]) / turn if camera.full_circle else None
    pixels = pixels_of(camera, azimuth, elevation, near_x=expected)
    with np.errstate(invalid="ignore"):
        out = (pixels[:, 1] < 0.0) | (pixels[:, 1] > height)
        if not camera.full_circle:
            out |= (pixels[:, 0] < 0.0) | (pixels[:, 0] > width)
    pixels[out] = np.nan
    return pixels


def _ticks(camera: ViewCamera, tables: Tables, offset_deg: float) -> list[dict[str, Any]]:
    """Each fifth degree of azimuth, true or magnetic, where it meets level."""
    start, end = np.degrees(tables.inverse_azimuth[[0, -1]]) - offset_deg
    azimuth = _multiples(start, end, 5.0)
    if camera.full_circle and len(azimuth) > 72:
        azimuth = azimuth[:72]
    pixels = _points(camera, np.radians(azimuth + offset_deg), np.zeros(azimuth.shape), tables)
    return [
        {
            "azimuth_deg": float(wrap_360_deg(az)),
            "x_px": round(float(x), 1) if np.isfinite(x) else None,
            "y_px": round(float(y), 1) if np.isfinite(y) else None,
            "major": bool(abs(wrap_180_deg(az) % 90.0) < 1e-6),
        }
        for az, (x, y) in zip(azimuth, pixels, strict=True)
    ]


def _north(camera: ViewCamera, tables: Tables, low: float, high: float) -> dict[str, Any] | None:
    start, end = np.degrees(tables.inverse_azimuth[[0, -1]])
    north = 360.0 * np.ceil(start / 360.0 - 1e-9)
    if north > end:
        return None
    elevation = np.radians(np.linspace(high, low, 61))
    line = _points(camera, np.full(61, np.radians(north)), elevation, tables)
    line = line[np.isfinite(line[:, 0])]
    return {"points_px": np.round(line, 1).tolist()} if len(line) > 1 else None


def longest_run(points: Array) -> list[list[float]]:
    """The longest part of a polyline (N, 2) that is nowhere NaN.

    >>> longest_run(np.array([[0.0, 0.0], [np.nan, 0.0], [3.0, 0.0], [4.0, 1.0]]))
    [[3.0, 0.0], [4.0, 1.0]]
    """
    known = np.isfinite(points).all(axis=1)
    cuts = np.flatnonzero(np.diff(known.astype(int))) + 1
    parts = [part for part in np.split(np.round(points, 1), cuts) if np.isfinite(part).all()]
    return max(parts, key=len).tolist() if parts else []


def nulled(values: Array, digits: int) -> list[Any]:
    """Nested lists with None for NaN.

    >>> nulled(np.array([[1.25, np.nan]]), 1)
    [[1.2, None]]
    """
    rounded = np.round(values, digits)
    plain = rounded.astype(object)
    plain[~np.isfinite(rounded)] = None
    return list(plain.tolist())
