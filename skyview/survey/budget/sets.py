"""Where each set of random numbers puts the things in the way, before every path.

Shapes: A antenna positions, S stations, N sets: the first is the middle, where nothing is off.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.mount.sight import ray_axes
from skyview.survey.arrivals import Arrivals
from skyview.survey.budget.unsure import (
    camera_offset_m,
    distance_factors,
    distance_share,
    foliage_factors,
    outline_offsets,
    view_offsets,
)
from skyview.survey.cameras import ViewCamera
from skyview.survey.joint import Standing
from skyview.survey.losses import Directions, amplitude_of, directions, look
from skyview.survey.models import Outline
from skyview.survey.screens import ViewScreen, nearest_view

LEAST_SHARE = 0.1
"""No set brings a thing nearer to the antenna than this share of its distance."""

STILL = 1e-3
"""A distance less unsure than this, as a share of it, moves no foot."""


ABOVE_CAMERA_M = 10.0
"""No antenna is expected to stand higher above a camera."""


@dataclass(frozen=True)
class Sets:
    """One obstruction in every set: see `skyview.wave.drawn.Drawn`."""

    standing: list[Standing]
    """As it stands in the middle; one that reaches the ground goes on below it."""
    right: NDArray[np.floating]
    """Moved to the right. (N, A, S)"""
    up: NDArray[np.floating]
    """(N, A, S)"""
    distance: NDArray[np.floating]
    """Its distance from the antenna over the middle one. (N, A, S)"""
    across: NDArray[np.floating]
    """What its outline is larger, in metres. (N, A, S)"""
    floor: NDArray[np.floating]
    """Slope of the outline at which the ground cuts it off, -inf for nowhere. (N, A, S)"""
    foliage: NDArray[np.floating]
    """Its crown's decibels over the middle ones. (N, S)"""


@dataclass(frozen=True)
class ViewErrors:
    """What all outlines of one view have in common."""

    camera: ViewCamera
    azimuth: Array
    """Of its calibration, in the direction of each path. (N, A, S) [rad]"""
    elevation: Array
    place_m: Array
    """Of the camera's place, east north up. (N, 3)"""


def errors_of(
    cameras: dict[str, ViewCamera], arrivals: Arrivals, count: int, seed: int
) -> dict[str, ViewErrors]:
    """The errors of every view in ``count`` sets beside the middle."""
    shape = (count, *arrivals.azimuth.shape)
    found = {}
    for name, camera in cameras.items():
        azimuth, elevation = view_offsets(
            camera, arrivals.azimuth.ravel(), arrivals.arrival.ravel(), count, seed
        )
        found[name] = ViewErrors(
            camera,
            _with_middle(azimuth.reshape(shape)),
            _with_middle(elevation.reshape(shape)),
            _with_middle(camera_offset_m(camera, count, seed)),
        )
    return found


def sets_of(
    views: list[ViewScreen],
    outlines: list[Outline],
    antenna_m: Array,
    arrivals: Arrivals,
    errors: dict[str, ViewErrors],
    frequency_mhz: Array,
    leaf: str,
    count: int,
    seed: int,
) -> Sets:
    """The middle and ``count`` sets of one obstruction, antennas by the view that shows it best."""
    shape = (1 + count, *arrivals.azimuth.shape)
    moved = _Moved(*(np.zeros(shape, np.float32) for _ in _Moved._fields))
    standing = []
    nearest = nearest_view(views, antenna_m)
    for v, screen in enumerate(views):
        at = np.flatnonzero(nearest == v)
        if at.size:
            own = [o for o in outlines if (o.obstruction, o.view) == _names(screen)]
            grounded = any(o.reaches_ground for o in own)
            to = directions(arrivals, at)
            parts = look(screen, antenna_m[at], to)
            middle = np.mean([part.distance_m for part in parts], axis=0)
            here = _moved(screen, own, errors[screen.view], at, antenna_m, to, middle, count, seed)
            for part, values in zip(moved, here, strict=True):
                part[:, at] = values
            if grounded and distance_share(screen) > STILL:
                deep = _deeper(screen, float(distance_factors(screen, count, seed).min()))
                parts = look(deep, antenna_m[at], to)
            else:
                moved.floor[:, at] = -np.inf
            amplitude = amplitude_of(screen, frequency_mhz, leaf)
            standing.append(Standing(at, tuple(parts), amplitude))
    foliage = np.ones((1 + count, frequency_mhz.size), np.float32)
    if views[0].is_tree:
        foliage[1:] = foliage_factors(views[0], frequency_mhz, count, seed)
    return Sets(standing, foliage=foliage, **moved._asdict())


def _with_middle(numbers: Array) -> Array:
    """Numbers (N, ...) with a first set of 0."""
    return np.concatenate([np.zeros_like(numbers[:1]), numbers])


def _names(screen: ViewScreen) -> tuple[str, str]:
    return screen.obstruction.id, screen.view


def _deeper(screen: ViewScreen, nearest: float) -> ViewScreen:
    """The screen with what stands on the ground going on below it, so that its foot is still
    hidden at the ``nearest`` of the factors of its distance."""
    depth_m = (screen.camera_m[2] + ABOVE_CAMERA_M) / min(nearest, 1.0)

    def ring(points: Array) -> Array:
        lower = np.minimum(points, -depth_m)
        return np.where([False, True] & (points <= 0.0), lower, points)

    parts = tuple(tuple(ring(points) for points in part) for part in screen.screen.parts)
    return replace(screen, screen=replace(screen.screen, parts=parts))


class _Moved(NamedTuple):
    """Arrays (N, A, S) as in ``Sets``."""

    right: NDArray[np.floating]
    up: NDArray[np.floating]
    distance: NDArray[np.floating]
    across: NDArray[np.floating]
    floor: NDArray[np.floating]


def _moved(
    screen: ViewScreen,
    outlines: list[Outline],
    errors: ViewErrors,
    at: NDArray[np.intp],
    antenna_m: Array,
    to: Directions,
    middle: Array,
    count: int,
    seed: int,
) -> _Moved:
    """One screen in every set, before some of the antennas, at ``middle`` (A, S) along their rays.

    At another distance the screen keeps its place and size in the picture: from an antenna beside
    the camera it moves against the camera, and by how much nearer it is the camera's error shows.
    What stands on the ground goes on standing there.
    """
    own = outline_offsets(screen, outlines, errors.camera, count, seed)
    own = _with_middle(own)[:, :, None, None]
    factor = np.append(1.0, distance_factors(screen, count, seed))[:, None, None]
    axes = ray_axes(to.azimuth, to.arrival)
    beside = np.einsum("askj,aj->kas", axes, antenna_m[at] - screen.camera_m)
    wrong = np.einsum("askj,nj->knas", axes, errors.place_m)
    distance = np.maximum(factor * (middle + beside[2]) - beside[2], LEAST_SHARE * middle)
    across = factor * middle
    right = distance * (errors.azimuth[:, at] + own[:, 0]) * np.cos(to.arrival)
    right = (right + (factor - 1.0) * beside[0] + wrong[0]) / across
    up = distance * (errors.elevation[:, at] + own[:, 1])
    up = (up + (factor - 1.0) * beside[1] + wrong[1]) / across
    level = np.cos(to.arrival)
    height = antenna_m[at, 2:]
    lowest = min(float(ring[:, 1].min()) for ring in screen.screen.marked)
    ground = np.tan(-np.arctan2(height, distance * level) - to.arrival) * distance / across - up
    marked = np.tan(np.arctan2(lowest - height, middle * level) - to.arrival)
    return _Moved(right, up, distance / middle, across / middle, np.minimum(ground, marked))
