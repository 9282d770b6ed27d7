"""Where each set of random numbers puts the things in the way, before every path.

Shapes: N sets, A antenna positions, S stations, laid flat as P paths.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.mount.sight import ray_axes
from skyview.survey.arrivals import Arrivals
from skyview.survey.budget.unsure import (
    camera_offset_m,
    distance_factors,
    foliage_factors,
    outline_offsets,
    view_offsets,
)
from skyview.survey.cameras import ViewCamera
from skyview.survey.models import Outline
from skyview.survey.screens import ViewScreen, nearest_view

LEAST_SHARE = 0.1
"""No set brings a thing nearer to the antenna than this share of its distance."""


@dataclass(frozen=True)
class Sets:
    """One obstruction in every set."""

    right: NDArray[np.float32]
    """Moved to the right, as the tangent of the angle at the antenna. (N, A, S)"""
    up: NDArray[np.float32]
    """(N, A, S)"""
    distance: NDArray[np.float32]
    """Its distance from the antenna over the middle one. (N, A, S)"""
    foliage: NDArray[np.float32]
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
    """The errors of every view."""
    shape = (count, *arrivals.azimuth.shape)
    found = {}
    for name, camera in cameras.items():
        azimuth, elevation = view_offsets(
            camera, arrivals.azimuth.ravel(), arrivals.arrival.ravel(), count, seed
        )
        place = camera_offset_m(camera, count, seed)
        found[name] = ViewErrors(camera, azimuth.reshape(shape), elevation.reshape(shape), place)
    return found


def sets_of(
    views: list[ViewScreen],
    outlines: list[Outline],
    antenna_m: Array,
    arrivals: Arrivals,
    errors: dict[str, ViewErrors],
    frequency_mhz: Array,
    count: int,
    seed: int,
) -> Sets:
    """All sets of one obstruction, each antenna by the view that shows it best."""
    shape = (count, *arrivals.azimuth.shape)
    right, up = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    distance = np.ones(shape, np.float32)
    nearest = nearest_view(views, antenna_m)
    for v, screen in enumerate(views):
        at = np.flatnonzero(nearest == v)
        if at.size:
            right[:, at], up[:, at], distance[:, at] = _moved(
                screen,
                outlines,
                errors[screen.view],
                at,
                antenna_m[at],
                arrivals.azimuth[at],
                arrivals.arrival[at],
                count,
                seed,
            )
    foliage = np.ones((count, frequency_mhz.size), np.float32)
    if views[0].is_tree:
        foliage[:] = foliage_factors(views[0], frequency_mhz, count, seed)
    return Sets(right, up, distance, foliage)


def _moved(
    screen: ViewScreen,
    outlines: list[Outline],
    errors: ViewErrors,
    at: NDArray[np.intp],
    antenna_m: Array,
    azimuth: Array,
    arrival: Array,
    count: int,
    seed: int,
) -> tuple[Array, Array, Array]:
    """Right, up and distance of one screen. (N, A, S) each

    At another distance the screen keeps its place and size in the picture: from an antenna beside
    the camera it moves against the camera, and by how much nearer it is the camera's error shows.
    """
    own = outline_offsets(screen, outlines, errors.camera, count, seed)[:, :, None, None]
    factor = distance_factors(screen, count, seed)[:, None, None]
    axes = ray_axes(azimuth, arrival)
    beside = np.einsum("askj,aj->kas", axes, antenna_m - screen.camera_m)
    wrong = np.einsum("askj,nj->knas", axes, errors.place_m)
    middle = np.maximum(screen.distance_m / np.cos(arrival) - beside[2], 1.0)
    distance = np.maximum(factor * middle + (factor - 1.0) * beside[2], LEAST_SHARE * middle)
    right = (errors.azimuth[:, at] + own[:, 0]) * np.cos(arrival)
    right = right + ((factor - 1.0) * beside[0] + wrong[0]) / distance
    up = errors.elevation[:, at] + own[:, 1] + ((factor - 1.0) * beside[1] + wrong[1]) / distance
    return right, up, distance / middle
