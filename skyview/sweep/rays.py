"""Pixels of frames against rays, with slopes by focal length and distortion.

The lens of a frame is a pinhole with one radial term, as in ``camera.projections.Rectilinear``,
its axis through the picture's middle. Rays are in camera axes (x right, y down, z ahead).
"""

from __future__ import annotations

import numpy as np

from skyview.angles import Array

_NEWTON_STEPS = 6
_LEAST_SLOPE = 0.2


def bearings(offset: Array, focal: Array, k1: Array) -> tuple[Array, Array, Array]:
    """Unit rays of pixels and their slopes by the logarithm of the focal length and by k1.

    ``offset`` (N, 2): pixels from the picture's middle, ``focal`` (N,) in the same pixels, ``k1``
    (N,). All three results are (N, 3).

    >>> bearings(np.zeros((1, 2)), np.ones(1), np.zeros(1))[0].tolist()
    [[0.0, 0.0, 1.0]]
    """
    bent = offset / focal[:, None]
    r_bent = np.hypot(bent[:, 0], bent[:, 1])
    r = r_bent.copy()
    for _ in range(_NEWTON_STEPS):
        r2 = r * r
        slope = np.maximum(1.0 + 3.0 * k1 * r2, _LEAST_SLOPE)
        r = r - (r * (1.0 + k1 * r2) - r_bent) / slope
    r2 = r * r
    factor = 1.0 + k1 * r2
    point = bent / np.maximum(factor, _LEAST_SLOPE)[:, None]
    radial = np.maximum(1.0 + 3.0 * k1 * r2, _LEAST_SLOPE)
    size = np.sqrt(1.0 + np.sum(point * point, axis=1))[:, None]
    unit = np.concatenate([point, np.ones((len(point), 1))], axis=1) / size

    def flat(move: Array) -> Array:
        whole = np.concatenate([move, np.zeros((len(move), 1))], axis=1)
        along = np.sum(unit * whole, axis=1, keepdims=True)
        return np.asarray((whole - unit * along) / size)

    by_focal = flat(-point * (factor / radial)[:, None])
    by_k1 = flat(-point * (r2 / radial)[:, None])
    return unit, by_focal, by_k1


def turned(step: Array) -> Array:
    """Rotation matrices (N, 3, 3) of rotation vectors (N, 3); they turn row vectors, v @ R.

    >>> turned(np.array([[0.0, 0.0, np.pi / 2]]))[0].round(9).tolist()
    [[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]
    """
    angle = np.sqrt(np.sum(step * step, axis=1))
    x, y, z = step.T
    o = np.zeros_like(x)
    # Row vectors: v @ K is step x v.
    k = np.stack([o, z, -y, -z, o, x, y, -x, o], axis=1).reshape(-1, 3, 3)
    first = np.sinc(angle / np.pi)[:, None, None]
    second = (0.5 * np.sinc(angle / (2.0 * np.pi)) ** 2)[:, None, None]
    return np.asarray(np.eye(3) + first * k + second * (k @ k))


def nearest_rotation(m: Array) -> Array:
    """The rotation nearest to a 3 x 3 matrix (orthogonal Procrustes by singular values)."""
    u, _, v = np.linalg.svd(m)
    return np.asarray(u @ np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ v))]) @ v)
