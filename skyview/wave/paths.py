"""Many paths through the same outlines: one screen exactly, several in groups that share grids."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from skyview.wave.aperture import aperture_field
from skyview.wave.cascade import FINE, Quality, Stack, cascade_fields
from skyview.wave.overlay import blocked_regions

WAVELENGTH_RATIO = 1.3
"""Paths whose wavelengths differ by less than this may share grids."""

PATCH = 6.0
"""Paths whose directions lie within this many Fresnel angles of the farthest screen,
sqrt(wavelength / distance), may share grids."""

MERGE_GAP = 1e-5
"""Screens closer than this share of their distance act as one."""

PATHS_AT_ONCE = 16
"""Paths worked on together: bounds the working memory to some hundred megabytes."""


def path_fields(stack: Stack, quality: Quality = FINE) -> NDArray[np.complex128]:
    """Field at the antenna over the free-space field, one a path. [unitless, (P,)]

    As `skyview.wave.cascade.cascade_fields`, but the screens may be in any order of distance, and
    the paths of any wavelength and direction. One screen is computed exactly.
    """
    field = np.ones(stack.wavelength_m.shape, dtype=complex)
    if not stack.outlines:
        return field
    if len(stack.outlines) == 1:
        exact = boundary_fields(stack)
        if exact is not None:
            return exact
    for members in _groups(stack):
        field[members] = cascade_fields(_ordered(stack, members), quality)
    return field


def boundary_fields(stack: Stack) -> NDArray[np.complex128] | None:
    """Field behind one screen, exactly, (P,); None where too many of its shapes overlap.

    >>> wall = np.array([[-9e5, -9e5], [9e5, -9e5], [9e5, 0.0], [-9e5, 0.0]])
    >>> ahead = np.zeros((1, 1, 2))
    >>> one = Stack([[wall]], [np.ones((1, 1))], np.array([[10.0]]), np.ones(1), ahead)
    >>> abs(boundary_fields(one)).round(5).tolist()
    [0.5]
    """
    regions = blocked_regions(stack.outlines[0])
    if regions is None:
        return None
    field = np.ones(stack.wavelength_m.shape, dtype=complex)
    for region in regions:
        place = (region.ring - stack.slopes) * stack.metres(0)[:, np.newaxis, np.newaxis]
        behind = aperture_field(
            place[..., 0], place[..., 1], stack.wavelength_m, stack.distance_m[:, 0]
        )
        field -= region.blocked(stack.blocked[0]) * behind
    return field


def standing(stack: Stack) -> Stack:
    """The stack without shapes that block nothing, and without screens on which nothing stands."""
    outlines, blocked, kept = [], [], []
    for level, (rings, share) in enumerate(zip(stack.outlines, stack.blocked, strict=True)):
        stands = [k for k in range(len(rings)) if np.any(share[:, k] != 0.0)]
        if stands:
            outlines.append([rings[k] for k in stands])
            blocked.append(share[:, stands])
            kept.append(level)
    return _levels(stack, outlines, blocked, kept)


def _levels(
    stack: Stack,
    outlines: list[list[NDArray[np.float64]]],
    blocked: list[NDArray[np.complex128]],
    kept: list[int],
) -> Stack:
    """The stack with these outlines at the distances of the screens kept."""
    return stack._replace(
        outlines=outlines,
        blocked=blocked,
        distance_m=stack.distance_m[:, kept],
        slopes=stack.slopes[:, kept],
    )


def merged(stack: Stack) -> tuple[Stack, list[tuple[int, int]]]:
    """Screens nearer to each other than `MERGE_GAP` as one, at the nearer one's distance.

    Their transmissions multiply. The first path's distances decide. Beside the stack the pairs
    of screens (nearer, farther) that became one, as indices of the stack given.
    """
    order = np.argsort(stack.distance_m[0], kind="stable")
    outlines: list[list[NDArray[np.float64]]] = []
    blocked: list[NDArray[np.complex128]] = []
    kept: list[int] = []
    pairs = []
    for level in order.tolist():
        rings, share = stack.outlines[level], stack.blocked[level]
        distance = stack.distance_m[0, level]
        if kept and distance - stack.distance_m[0, kept[-1]] < MERGE_GAP * distance:
            rows = (max(share.shape[0], blocked[-1].shape[0]),)
            both = [np.broadcast_to(part, rows + part.shape[1:]) for part in (blocked[-1], share)]
            outlines[-1] = [*outlines[-1], *rings]
            blocked[-1] = np.concatenate(both, axis=1)
            pairs.append((kept[-1], level))
        else:
            outlines.append(rings)
            blocked.append(share)
            kept.append(level)
    return _levels(stack, outlines, blocked, kept), pairs


def _groups(stack: Stack) -> Iterator[NDArray[np.intp]]:
    """Paths of like wavelength, direction and order of screens, a limited number together."""
    order = np.argsort(stack.distance_m, axis=1, kind="stable")
    band = np.floor(np.log(stack.wavelength_m) / np.log(WAVELENGTH_RATIO))
    patch = PATCH * np.sqrt(WAVELENGTH_RATIO**band / stack.distance_m.max())
    place = np.floor(stack.slopes[:, 0] / patch[:, np.newaxis] + 0.5)
    key = np.column_stack([order, band, place])
    _, group = np.unique(key, axis=0, return_inverse=True)
    sequence = np.argsort(group.ravel(), kind="stable")
    for members in np.split(sequence, np.nonzero(np.diff(group.ravel()[sequence]))[0] + 1):
        for start in range(0, members.size, PATHS_AT_ONCE):
            yield members[start : start + PATHS_AT_ONCE]


def _ordered(stack: Stack, members: NDArray[np.intp]) -> Stack:
    """The paths ``members``, which have one order of screens, from near to far."""
    return stack.part(members, np.argsort(stack.distance_m[members[0]], kind="stable"))
