"""Small trees that say what share of a pixel is sky, quick enough for millions of pixels.

Every tree asks the same questions whatever the answers were before: the answers make a number,
and the number picks a leaf. Boosted as in Friedman, 'Greedy function approximation: a gradient
boosting machine', Annals of Statistics 29(5), 2001; tests/benchmarks/fit_shares.py writes their
file. A row of it is a tree: the features asked, the bytes up to which the answer is no, and the
log-odds of each leaf.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import cv2
import numpy as np

from skyview.outline.coarse import Pixels, Plane

DEPTH = 6
"""Questions of a tree."""


@cache
def ferns() -> tuple[np.ndarray, np.ndarray, Plane]:
    """Features (T, DEPTH), bytes (T, DEPTH) and log-odds (T, 256) of all trees."""
    text = files("skyview.outline").joinpath("ferns.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    table = np.loadtxt(lines, delimiter=",", ndmin=2)
    odds = np.zeros((len(table), 256), np.float32)
    odds[:, : 2**DEPTH] = table[:, 2 * DEPTH :]
    return table[:, :DEPTH].astype(int), table[:, DEPTH : 2 * DEPTH].astype(np.uint8), odds


def share_of_sky(evidence: np.ndarray) -> Pixels:
    """Share of sky (N,), 0 to 255, from bytes (F, N) as ``grain.FEATURES`` names them.

    >>> from skyview.outline.grain import FEATURES
    >>> share_of_sky(np.zeros((len(FEATURES), 3), np.uint8)).shape
    (3,)
    """
    count = evidence.shape[1]
    odds = np.zeros(count, np.float32)
    leaf, answer = np.empty((2, count), np.uint8)
    for features, limits, values in zip(*ferns(), strict=True):
        leaf[:] = 0
        for feature, limit in zip(features.tolist(), limits.tolist(), strict=True):
            np.greater(evidence[feature], limit, out=answer.view(bool))
            np.add(leaf, leaf, out=leaf)
            np.bitwise_or(leaf, answer, out=leaf)
        odds += cv2.LUT(leaf, values).ravel()
    return (255.0 / (1.0 + np.exp(-odds)) + 0.5).astype(np.uint8)
