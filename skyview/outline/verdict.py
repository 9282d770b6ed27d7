"""How likely a part of a picture is sky, from its features.

Logistic regressions with all products of two features, fitted on painted and rendered pictures
whose sky is known exactly: ``piece_weights.csv`` for pieces that the flood reaches and
``dispute_weights.csv`` for parts on which hypotheses differ, written by
tests/benchmarks/fit_pieces.py. Features are held within the range that was learnt.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Literal

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
def _weights(of: str) -> tuple[Array, Array, Array]:
    text = files("skyview.outline").joinpath(f"{of}_weights.csv").read_text("utf-8")
    rows = [line.split(",") for line in text.splitlines() if not line.startswith("#")]
    mean, spread, weights = (np.array(row[1:], float) for row in rows)
    return mean, spread, weights


def sky_probability(table: Array, of: Literal["piece", "dispute"] = "piece") -> Array:
    """Probability of sky for features (N, F) as ``pieces``, or ``disputes.FEATURES``, name them."""
    mean, spread, weights = _weights(of)
    score = products(table, mean, spread) @ weights
    return 1.0 / (1.0 + np.exp(-np.clip(score, -30.0, 30.0)))
