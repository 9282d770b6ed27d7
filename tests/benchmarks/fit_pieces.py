"""Fits how pieces of a picture are told sky from not-sky: writes skyview/outline/piece_weights.csv.

Pictures: two seeds of paintings and the gable's circle as it is and under other skies, some
cropped at top or foot so that height in the picture teaches nothing. The flood is led by the
truth while features are collected. Prints the error on pictures left out (five folds).
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from painted_skies import SKIES
from painted_views import FAMILIES, Sample, painted
from rendered_views import cut, sample_pictures, under

from skyview.outline.coarse import coarse_of
from skyview.outline.pieces import FEATURES, grown
from skyview.outline.verdict import products

RIDGE = 30.0
TARGET = Path(__file__).parents[2] / "skyview" / "outline" / "piece_weights.csv"


def training_samples() -> list[Sample]:
    """The pictures that are learnt from; no seed or spot of them is used for figures."""
    kinds = [(i, j, f, k) for i, f in enumerate(FAMILIES) for j, k in enumerate(SKIES)]
    samples = [painted(f, k, 1 + (i + j) % 2) for i, j, f, k in kinds]
    rng = np.random.default_rng(5)
    by_name = {s.name: s for s in sample_pictures()}
    samples += [by_name[n] for n in ("gable_circle", "ridge_frame_1", "ridge_frame_2")]
    parts = cut(by_name["gable_circle"], 3)
    return samples + [under(parts[i % 3], kind, rng) for i, kind in enumerate(SKIES)]


def cropped(sample: Sample, rng: np.random.Generator) -> Sample:
    height = len(sample.rgb)
    top, foot = [
        (0, height),
        (int(rng.uniform(0.1, 0.4) * height), height),
        (0, int(rng.uniform(0.68, 0.9) * height)),
    ][rng.integers(3)]
    return Sample(sample.name, sample.rgb[top:foot].copy(), sample.sky_share[top:foot])


def pieces_of(sample: Sample) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Features, true shares of sky and areas (share of the picture) of a sample's pieces."""
    c = coarse_of(sample.rgb)
    truth = cv2.resize(sample.sky_share, c.shape[::-1], interpolation=cv2.INTER_AREA)
    tables, shares, areas = [], [], []

    def led_by_truth(table: np.ndarray, label: np.ndarray, ids: np.ndarray) -> np.ndarray:
        area = np.bincount(label.ravel())[ids]
        share = np.bincount(label.ravel(), truth.ravel())[ids] / area
        tables.append(table)
        shares.append(share)
        areas.append(area / label.size)
        return np.where(share > 0.5, 0.99, 0.01)

    grown(c, led_by_truth)
    return np.concatenate(tables), np.concatenate(shares), np.concatenate(areas)


def fitted(terms: np.ndarray, wanted: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Ridge logistic regression by Newton's steps."""
    solution = np.zeros(terms.shape[1])
    ridge = RIDGE * np.eye(len(solution))
    ridge[-1, -1] = 1e-6
    for _ in range(12):
        p = 1.0 / (1.0 + np.exp(-np.clip(terms @ solution, -30, 30)))
        slope = terms.T @ (weight * (p - wanted)) + ridge @ solution
        curve = (terms * (weight * p * (1 - p))[:, None]).T @ terms + ridge
        solution = solution - np.linalg.solve(curve, slope)
    return solution


def main() -> None:
    rng = np.random.default_rng(3)
    found = [pieces_of(cropped(sample, rng)) for sample in training_samples()]
    table, share, area = (np.concatenate(parts) for parts in zip(*found, strict=True))
    picture = np.repeat(np.arange(len(found)), [len(f[1]) for f in found])
    mean, spread = table.mean(0), table.std(0)
    terms = products(table, mean, spread)
    weight = np.sqrt(np.minimum(area, 0.1))
    weight /= weight.mean()
    fold = np.random.default_rng(0).permutation(len(found))[picture] % 5
    score = np.zeros(len(share))
    for k in range(5):
        held, used = fold == k, fold != k
        score[held] = terms[held] @ fitted(terms[used], share[used], weight[used])
    wrong = float((area * np.abs((score > 0) - share)).sum()) / len(found)
    right = float(((score > 0) == (share > 0.5)).mean())
    print(f"left out: {right:.3f} of the pieces right, {wrong:.4f} of a picture wrong")
    rows = {"mean": mean, "spread": spread, "weights": fitted(terms, share, weight)}
    head = f"# {len(share)} pieces of {len(found)} pictures; features: {' '.join(FEATURES)}"
    lines = [",".join([name, *(f"{v:.5g}" for v in values)]) for name, values in rows.items()]
    TARGET.write_text("\n".join([head, *lines]) + "\n")


if __name__ == "__main__":
    main()
