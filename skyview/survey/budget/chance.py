"""Random numbers that belong to things: the same for a name whatever else is asked.

So that two answers differ by what was changed and never by luck, a draw depends on the seed, on
what it stands for and on the id of its thing alone.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from skyview.angles import Array

DRAWS, SEED = 500, 20
"""Draws of a plain answer: the probability is then good to 0.02. The seed is any number."""


def uniform(purpose: str, names: Sequence[str], count: int, seed: int = SEED) -> Array:
    """Numbers between 0 and 1, (count, N), one column a name.

    >>> bool(uniform("field", ["a", "b"], 3)[2, 1] == uniform("field", ["b"], 9)[2, 0])
    True
    """
    keys = np.array([zlib.crc32(f"{purpose}\0{name}".encode()) for name in names], np.uint64)
    rows = np.arange(count, dtype=np.uint64)[:, None]
    mixed = _mixed(_mixed(keys ^ np.uint64(seed << 32)) + rows * np.uint64(0x9E3779B97F4A7C15))
    return (np.asarray(mixed >> np.uint64(11), float) + 0.5) * 2.0**-53


def normal(purpose: str, names: Sequence[str], count: int, seed: int = SEED) -> Array:
    """Standard normal numbers, (count, N), one column a name.

    >>> round(float(normal("field", ["a"], 10_000).std()), 1)
    1.0
    """
    return np.asarray(ndtri(uniform(purpose, names, count, seed)))


def _mixed(x: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """SplitMix64's finalizer (Steele, Lea and Flood 2014, Fast splittable pseudorandom number
    generators, Figure 15)."""
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return x ^ (x >> np.uint64(31))
