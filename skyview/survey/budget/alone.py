"""The field behind one thing alone, for many draws of its outline and distance.

The exact field is computed where a few outlines moved aside, up and down, near and far meet the
ray (Chebyshev nodes), and read off between: a field is an entire function of all three. Shapes: K
paths, D draws, N nodes of one axis.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.survey.losses import Directions, look
from skyview.survey.screens import ViewScreen
from skyview.wave.aperture import aperture_field
from skyview.wave.simplify import simplified

Complexes = NDArray[np.complexfloating]

FIELD_CHANGE = 0.01
"""Outlines are simplified by at most this change of the field."""

LEAST_NODES, MOST_NODES = 3, 21
NODES_A_RADIAN = 0.75
"""Nodes of an axis: the least, and so many for each radian by which the phase of the detour to
the outline's edge turns over the draws' range."""

FARTHEST_EDGE = 4.0
"""Edges farther from the ray than this, in Fresnel units, turn the phase no faster: theirs is no
part of the loss that counts."""

STILL = 1e-9
"""Ranges below this are none."""


class Paths(NamedTuple):
    """Rays that look at one screen, and what each has before it."""

    antenna_m: Array
    """(K, 3)"""
    azimuth: Array
    arrival: Array
    transmitter_m: Array
    wavelength_m: Array


class Moves(NamedTuple):
    """How a screen is moved in each draw."""

    right: Array
    """(K, D) as the tangent of an angle at the antenna."""
    up: Array
    """(K, D)"""
    farther: Array
    """Natural logarithm of the factor of its distance. (D,)"""


def opening_draws(screen: ViewScreen, paths: Paths, clearance_m: Array, moves: Moves) -> Complexes:
    """Field through an opening of the screen's shape, over free space, (K, D).

    ``clearance_m`` (K,), from the ray to its edge, tells how fast the field turns.
    """
    axes = (_axis(moves.right), _axis(moves.up))
    depths, depth_weights = _grid(moves.farther, _depth_nodes(moves.farther))
    around = [Around.of(scaled(screen, float(np.exp(d))), paths) for d in depths]
    nodes = [_nodes_needed(reach, around, paths, clearance_m) for reach in axes]
    field = np.empty(moves.right.shape, complex)
    for right, up in set(zip(*(n.tolist() for n in nodes), strict=True)):
        pick = np.flatnonzero((nodes[0] == right) & (nodes[1] == up))
        field[pick] = _interpolated(
            [a.at(pick) for a in around],
            paths.wavelength_m[pick],
            [(axis[pick], n) for axis, n in zip(axes, (right, up), strict=True)],
            (moves.right[pick], moves.up[pick]),
            depth_weights,
        )
    return field


class Around(NamedTuple):
    """A screen's rings round some rays."""

    rings: tuple[tuple[Array, Array, NDArray[np.bool_], float], ...]
    """x, y (K, V), whether it stands before the transmitter (K,), and 1, or -1 for a hole."""
    distance_m: tuple[Array, ...]
    transmitter_m: Array

    @classmethod
    def of(cls, screen: ViewScreen, paths: Paths) -> Around:
        """The screen as the paths' antennas see it."""
        to = Directions(
            paths.azimuth[:, None], paths.arrival[:, None], paths.transmitter_m[:, None]
        )
        rings, distance = [], []
        for part in look(screen, paths.antenna_m, to):
            for index, (x, y) in enumerate(part.rings):
                rings.append((x[:, 0], y[:, 0], part.ahead[:, 0], -1.0 if index else 1.0))
                distance.append(part.distance_m[:, 0])
        return cls(tuple(rings), tuple(distance), paths.transmitter_m)

    def at(self, pick: NDArray[np.intp]) -> Around:
        """Some of the rays."""
        return Around(
            tuple((x[pick], y[pick], ahead[pick], sign) for x, y, ahead, sign in self.rings),
            tuple(d[pick] for d in self.distance_m),
            self.transmitter_m[pick],
        )

    def field(self, wavelength_m: Array, right: Array, up: Array) -> Complexes:
        """Through the shape moved by ``right`` (K, N) and ``up`` (K, M). (K, N, M)"""
        total = np.zeros((*right.shape, up.shape[1]), complex)
        for (x, y, ahead, sign), distance in zip(self.rings, self.distance_m, strict=True):
            rows = np.flatnonzero(ahead)
            if not rows.size:
                continue
            d = distance[rows, None, None]
            here = aperture_field(
                x[rows, None, None, :] + (d * right[rows, :, None])[..., None],
                y[rows, None, None, :] + (d * up[rows, None, :])[..., None],
                wavelength_m[rows, None, None],
                d,
                np.maximum(self.transmitter_m[rows, None, None] - d, 1.0),
            )
            total[rows] += sign * here
        return total


def scaled(screen: ViewScreen, factor: float) -> ViewScreen:
    """The screen at another distance, as large as its camera saw it; the ground stays below."""
    flat, camera = screen.screen, screen.camera_m
    grow = np.array([factor, factor])
    level = np.array([0.0, camera[2] * (1.0 - factor)])

    def ring(points: Array) -> Array:
        moved = points * grow + level
        return np.where((points <= 0.0) & [False, True], points, moved)

    moved = replace(
        flat,
        foot_m=camera[:2] + factor * (flat.foot_m - camera[:2]),
        parts=tuple(tuple(ring(points) for points in part) for part in flat.parts),
    )
    return replace(screen, screen=moved, distance_m=screen.distance_m * factor)


def plainer(screen: ViewScreen, shortest_m: float) -> ViewScreen:
    """The screen with no more vertices than the shortest wavelength can feel."""
    parts = tuple(
        tuple(
            simplified(ring, shortest_m, screen.distance_m, field_change=FIELD_CHANGE).ring_m
            for ring in part
        )
        for part in screen.screen.parts
    )
    return replace(screen, screen=replace(screen.screen, parts=parts))


def _axis(moves: Array) -> Array:
    """Half the range of each path's moves. (K,)"""
    return np.abs(moves).max(axis=1)


def _depth_nodes(farther: Array) -> int:
    reach = float(np.abs(farther).max())
    return 1 if reach < STILL else int(np.clip(3 + 2 * np.ceil(2.0 * (reach - 0.3)), 3, 9))


def _nodes_needed(
    reach: Array, around: list[Around], paths: Paths, clearance_m: Array
) -> NDArray[np.intp]:
    """Nodes of one axis for each path. (K,)"""
    distance = around[len(around) // 2].distance_m[0]
    unit = np.sqrt(paths.wavelength_m * distance / 2.0)
    moved = reach * distance / unit
    edge = np.minimum(np.abs(clearance_m) / unit, FARTHEST_EDGE)
    turned = np.pi * moved * (edge + 0.5 * np.minimum(moved, FARTHEST_EDGE))
    count = LEAST_NODES + 2 * np.ceil(0.5 * NODES_A_RADIAN * turned)
    return np.where(reach < STILL, 1, np.minimum(count, MOST_NODES)).astype(np.intp)


def _grid(values: Array, count: int) -> tuple[Array, Array]:
    """Chebyshev nodes round 0 that span the values (D,), and their weights. (N,), (D, N)"""
    reach = float(np.abs(values).max())
    nodes = reach * chebyshev(count)
    return nodes, weights(values[None, :] / max(reach, STILL), count)[0]


def chebyshev(count: int) -> Array:
    """Chebyshev points of the first kind between -1 and 1, 0 among them where odd. (N,)"""
    return -np.cos(np.pi * (np.arange(count) + 0.5) / count)


def weights(at: Array, count: int) -> Array:
    """Weights of the nodes' values at places (K, D) between -1 and 1. (K, D, N)

    Source: Chebyshev series by discrete orthogonality, J. C. Mason and D. C. Handscomb,
    Chebyshev Polynomials (2003), section 6.3 (from memory).

    >>> nodes = chebyshev(4)
    >>> cubic = weights(np.array([[0.3]]), 4)[0] @ nodes**3
    >>> round(float(cubic[0]), 12)
    0.027
    """
    order = np.arange(count)
    angle = np.arccos(np.clip(at, -1.0, 1.0))
    series = np.cos(angle[..., None] * order)
    node = np.cos(np.arccos(np.clip(chebyshev(count), -1.0, 1.0))[:, None] * order)
    scale = np.where(order == 0, 1.0, 2.0) / count
    return np.asarray(series @ (node * scale).T)


def _interpolated(
    around: list[Around],
    wavelength_m: Array,
    axes: list[tuple[Array, int]],
    moves: tuple[Array, Array],
    depth_weights: Array,
) -> Complexes:
    nodes = [reach[:, None] * chebyshev(count) for reach, count in axes]
    across, upward = (
        weights(move / np.maximum(reach, STILL)[:, None], count).astype(np.float32)
        for move, (reach, count) in zip(moves, axes, strict=True)
    )
    field = np.zeros(moves[0].shape, np.complex64)
    for depth, share in zip(around, depth_weights.T, strict=True):
        values = depth.field(wavelength_m, *nodes).astype(np.complex64)
        row = np.matmul(across, values)
        field += share.astype(np.float32) * np.einsum("kdm,kdm->kd", row, upward)
    return field
