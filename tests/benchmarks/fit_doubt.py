"""Fits how far the whole of a found sky can be trusted: prints ``doubt.WEIGHTS``.

A logistic regression on ``doubt.SIGNALS`` that is held firmly to the weights which stand there:
those were fitted on 514 other pictures, and by themselves the few wrong ones of one set of
pictures told less than they know. ``fit_regions`` calls it with what is found on pictures left
out: on pictures that were learnt from, everything would look sure.
"""

from __future__ import annotations

import numpy as np

from skyview.outline.doubt import WEIGHTS

RIDGE = 1000.0
RIGHT = 0.03
"""A picture is right up to this error, 1 - intersection over union."""


def newton(terms: np.ndarray, wanted: np.ndarray, former: np.ndarray) -> np.ndarray:
    """Logistic regression held to the former solution but for its last term, which is free."""
    solution = former.copy()
    hold = RIDGE * np.eye(len(solution))
    hold[-1, -1] = 1e-6
    for _ in range(40):
        p = 1.0 / (1.0 + np.exp(-np.clip(terms @ solution, -30, 30)))
        curve = (terms * (p * (1 - p))[:, None]).T @ terms + hold
        slope = terms.T @ (p - wanted) + hold @ (solution - former)
        solution = solution - 0.7 * np.linalg.solve(curve, slope)
    return solution


def plain(table: np.ndarray, mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
    return np.hstack([(table - mean) / spread, np.ones((len(table), 1))])


def scaled(mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """The weights that stand there, for signals made plain."""
    return np.append(WEIGHTS[:-1] * spread, WEIGHTS[-1] + WEIGHTS[:-1] @ mean)


def fit_doubt(table: np.ndarray, share: np.ndarray, fold: np.ndarray) -> np.ndarray:
    """The weights, from signals (N, F), intersections over union (N,) and folds (N,)."""
    # Nearly right counts as nearly right, so that 0.969 is no cliff.
    odds = 2.5 * (np.log(RIGHT) - np.log(np.maximum(1.0 - share, 1e-4)))
    wanted = 1.0 / (1.0 + np.exp(-np.clip(odds, -6, 6)))
    p = np.zeros(len(share))
    for k in np.unique(fold):
        used = fold != k
        mean, spread = table[used].mean(0), table[used].std(0) + 1e-9
        fitted = newton(plain(table[used], mean, spread), wanted[used], scaled(mean, spread))
        p[~used] = 1.0 / (1.0 + np.exp(-(plain(table[~used], mean, spread) @ fitted)))
    wrong = share < 1.0 - RIGHT
    print(f"{len(share)} words, {wrong.sum()} of them wrong")
    for least in (0.6, 0.7, 0.8, 0.85, 0.9, 0.95):
        silent = (wrong & (p >= least)).sum()
        print(f"{least}: flagged {(p < least).mean():.2f}, wrong and not flagged {silent}")
    mean, spread = table.mean(0), table.std(0) + 1e-9
    fitted = newton(plain(table, mean, spread), wanted, scaled(mean, spread))
    weights = fitted[:-1] / spread
    weights = np.append(weights, fitted[-1] - weights @ mean).round(3)
    print(weights.tolist())
    return weights
