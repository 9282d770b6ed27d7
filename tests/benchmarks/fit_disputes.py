"""Fits who is right where hypotheses differ, and how far to trust the whole.

Needs the layers that ``rendered_layers`` tells of. Writes skyview/outline/dispute_weights.csv;
with ``--doubt`` it prints ``doubt.WEIGHTS`` instead. Both print their error on pictures left out,
five folds by street and family.
"""

from __future__ import annotations

import sys
from pathlib import Path

import cv2
import numpy as np
from fit_pieces import products
from skyline_pictures import learnt

from skyview.outline.coarse import coarse_of, small_copy
from skyview.outline.disputes import FEATURES, disputes_of
from skyview.outline.pieces import grown
from skyview.outline.skyline import find_skyline, hypotheses_of
from skyview.outline.verdict import sky_probability

TARGET = Path(__file__).parents[2] / "skyview" / "outline" / "dispute_weights.csv"
DISPUTE_RIDGE, DOUBT_RIDGE = 30.0, 3.0
RIGHT = 0.03
"""A picture is right up to this error, 1 - intersection over union."""


def fold_of(name: str) -> int:
    key = name.split("-")[0]
    key = key if not name.startswith("open") else "o" + name[-1]
    return sum(map(ord, key)) % 5


def newton(terms: np.ndarray, wanted: np.ndarray, weight: np.ndarray, ridge: float) -> np.ndarray:
    """Ridge logistic regression; the last term stands alone."""
    solution = np.zeros(terms.shape[1])
    hold = ridge * np.eye(len(solution))
    hold[-1, -1] = 1e-6
    for _ in range(25):
        p = 1.0 / (1.0 + np.exp(-np.clip(terms @ solution, -30, 30)))
        curve = (terms * (weight * p * (1 - p))[:, None]).T @ terms + hold
        slope = terms.T @ (weight * (p - wanted)) + hold @ solution
        solution = solution - np.linalg.solve(curve, slope)
    return solution


def left_out(
    terms_of: object, table: np.ndarray, wanted: np.ndarray, weight: np.ndarray,
    fold: np.ndarray, ridge: float,
) -> np.ndarray:  # fmt: skip
    """Probabilities of every row from the rows of the other folds."""
    p = np.zeros(len(wanted))
    for k in range(5):
        held = fold == k
        if held.any():
            mean, spread = table[~held].mean(0), table[~held].std(0) + 1e-9
            fitted = newton(
                terms_of(table[~held], mean, spread), wanted[~held], weight[~held], ridge
            )
            score = terms_of(table[held], mean, spread) @ fitted
            p[held] = 1.0 / (1.0 + np.exp(-np.clip(score, -30, 30)))
    return p


def fit_disputes() -> None:
    rows = []
    for _, sample, _ in learnt():
        c = coarse_of(sample.rgb)
        small = small_copy(sample.rgb, c.shape[::-1])
        growth = grown(c, lambda table, *_: sky_probability(table))
        truth = cv2.resize(sample.sky_share, c.shape[::-1], interpolation=cv2.INTER_AREA) > 0.5
        for d in disputes_of(c, hypotheses_of(small, c, growth), growth):
            share = truth[d.where][d.inside].mean()
            rows.append((d.features, share, d.inside.sum() / truth.size, fold_of(sample.name)))
    table, share, area, fold = (np.array(column) for column in zip(*rows, strict=True))
    weight = np.minimum(area, 0.3) ** 0.25
    weight /= weight.mean()
    p = left_out(products, table, share, weight, fold, DISPUTE_RIDGE)
    print(f"left out: {((p > 0.5) == (share > 0.5)).mean():.3f} of {len(p)} disputes right")
    mean, spread = table.mean(0), table.std(0) + 1e-9
    fitted = newton(products(table, mean, spread), share, weight, DISPUTE_RIDGE)
    lines = [f"# {len(share)} disputes; features: {' '.join(FEATURES)}"]
    for name, values in (("mean", mean), ("spread", spread), ("weights", fitted)):
        lines.append(",".join([name, *(f"{v:.5g}" for v in values)]))
    TARGET.write_text("\n".join(lines) + "\n")


def plain(table: np.ndarray, mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
    return np.hstack([(table - mean) / spread, np.ones((len(table), 1))])


def fit_doubt() -> None:
    rows = []
    for _, sample, _ in learnt():
        found = find_skyline(sample.rgb)
        sky, truth = found.mask > 127, sample.sky_share > 0.5
        share = (sky & truth).sum() / max((sky | truth).sum(), 1)
        rows.append((found.signals, share, fold_of(sample.name)))
    table, share, fold = (np.array(column) for column in zip(*rows, strict=True))
    # Nearly right counts as nearly right, so that 0.969 is no cliff.
    odds = 2.5 * (np.log(RIGHT) - np.log(np.maximum(1.0 - share, 1e-4)))
    wanted = 1.0 / (1.0 + np.exp(-np.clip(odds, -6, 6)))
    even = np.ones(len(wanted))
    p = left_out(plain, table, wanted, even, fold, DOUBT_RIDGE)
    wrong = share < 1.0 - RIGHT
    for least in (0.5, 0.6, 0.7, 0.8, 0.9):
        print(f"{least}: flagged {(p < least).mean():.2f}, missed {(wrong & (p >= least)).sum()}")
    mean, spread = table.mean(0), table.std(0) + 1e-9
    fitted = newton(plain(table, mean, spread), wanted, even, DOUBT_RIDGE)
    weights = fitted[:-1] / spread
    print([*weights.round(3).tolist(), round(float(fitted[-1] - weights @ mean), 3)])


if __name__ == "__main__":
    if "--doubt" in sys.argv:
        fit_doubt()
    else:
        fit_disputes()
