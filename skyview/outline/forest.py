"""Sums of decision trees that say how likely a region is sky.

``first``, ``second`` and ``strokes`` are gradient-boosted trees (Friedman, 'Greedy function
approximation: a gradient boosting machine', Annals of Statistics 29(5), 2001) fitted on painted
and rendered pictures whose sky is known exactly; tests/benchmarks/fit_regions.py writes their
files. A row of a file is a node: the feature asked, the threshold up to which its left branch is
taken, both branches (-1 at a leaf), and the log-odds that a leaf adds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

import numpy as np

from skyview.angles import Array

Name = Literal["first", "second", "strokes"]


@dataclass(frozen=True)
class Forest:
    """The nodes of all trees, one after the other."""

    base: float
    """Log-odds before any tree is asked."""
    roots: np.ndarray
    feature: np.ndarray
    threshold: np.ndarray
    left: np.ndarray
    right: np.ndarray
    """Branches; a leaf leads to itself."""
    value: np.ndarray
    """Log-odds of a leaf."""
    depth: int
    """Steps after which every leaf is reached."""


@cache
def forest(name: Name) -> Forest:
    """The trees of a name, from their file."""
    text = files("skyview.outline").joinpath(f"forest_{name}.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    base, depth, trees = lines[0].split(",")
    table = np.loadtxt(lines[1:], delimiter=",", ndmin=2)
    node = np.arange(len(table))
    left, right = table[:, 2].astype(int), table[:, 3].astype(int)
    starts = np.ones(len(table), bool)
    starts[left[left >= 0]] = starts[right[right >= 0]] = False
    roots = np.flatnonzero(starts)
    assert len(roots) == int(trees)
    return Forest(
        float(base),
        roots,
        np.maximum(table[:, 0].astype(int), 0),
        table[:, 1].astype(np.float32),
        np.where(left < 0, node, left),
        np.where(right < 0, node, right),
        table[:, 4],
        int(depth),
    )


def likely_sky(table: Array, name: Name) -> Array:
    """Probability of sky for rows of features (N, F). (N,)

    >>> float(likely_sky(np.zeros((1, 206)), "first")[0]) < 1.0
    True
    """
    trees = forest(name)
    table = np.asarray(table, np.float32)
    rows = np.arange(len(table))[:, None]
    node = np.broadcast_to(trees.roots, (len(table), len(trees.roots)))
    for _ in range(trees.depth):
        low = table[rows, trees.feature[node]] <= trees.threshold[node]
        node = np.where(low, trees.left[node], trees.right[node])
    odds = trees.base + trees.value[node].sum(1)
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(odds, -30.0, 30.0))))
