"""Small vector verbs on the last axis; each takes one vector (3,) or many (..., 3)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from skyview.angles import Array


def dot(a: ArrayLike, b: ArrayLike) -> Array:
    """Scalar product over the last axis.

    >>> float(dot([1.0, 2.0, 3.0], [0.0, 0.0, 2.0]))
    6.0
    """
    result: Array = np.einsum("...i,...i->...", np.asarray(a, float), np.asarray(b, float))
    return result


def length(a: ArrayLike) -> Array:
    """Euclidean length over the last axis.

    >>> float(length([3.0, 4.0, 0.0]))
    5.0
    """
    return np.sqrt(dot(a, a))


def unit(a: ArrayLike) -> Array:
    """The same direction with length 1; a zero vector gives NaN.

    >>> unit([0.0, 0.0, 2.0]).tolist()
    [0.0, 0.0, 1.0]
    """
    v = np.asarray(a, float)
    size = length(v)[..., None]
    result: Array = np.divide(v, size, out=np.full(v.shape, np.nan), where=size > 0)
    return result
