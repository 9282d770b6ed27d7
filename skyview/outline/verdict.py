"""How likely a piece that the flood reaches is sky, from its features.

A logistic regression with all products of two features, fitted on painted and rendered pictures
whose sky is known exactly: ``piece_weights.csv``, written by tests/benchmarks/fit_pieces.py.
Features are held within the range that was learnt.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import numpy as np

from skyview.angles import Array

LEARNT_SPREADS = 3.0
"""Features farther than this many spreads from their mean count as being there."""


def products(table: Array, mean: Array, spread: Array) -> Array:
    """What the regression is linear in: features (N, F) and their products, then a 1."""
    scaled = np.clip((table - mean) / spread, -LEARNT_SPREADS, LEARNT_SPREADS)
    first, second = np.triu_indices(scaled.shape[1])
    ones = np.ones((len(scaled), 1))
    return np.hstack([scaled, scaled[:, first] * scaled[:, second], ones])


@cache
def _weights() -> tuple[Array, Array, Array]:
    text = files("skyview.outline").joinpath("piece_weights.csv").read_text("utf-8")
    rows = [line.split(",") for line in text.splitlines() if not line.startswith("#")]
    mean, spread, weights = (np.array(row[1:], float) for row in rows)
    return mean, spread, weights


def sky_probability(table: Array) -> Array:
    """Probability of sky for features (N, F) as ``pieces`` names them."""
    mean, spread, weights = _weights()
    score = products(table, mean, spread) @ weights
    return 1.0 / (1.0 + np.exp(-np.clip(score, -30.0, 30.0)))
