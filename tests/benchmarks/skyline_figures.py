"""Figures of the skyline on pictures that nothing was fitted on; run it as a program.

Paintings of another seed, and the street from spots that were not learnt from. Prints, per kind
of picture: intersection over union, what was flagged, the skyline's error per column, and the
time beside cv2.grabCut. With ``--fit`` it prints instead the weights for ``doubt.WEIGHTS``, from
the pictures that fit_pieces.py learns from.
"""

from __future__ import annotations

import sys
import time

import cv2
import numpy as np
from fit_pieces import training_samples
from painted_skies import SKIES
from painted_views import FAMILIES, HARD, Sample, painted
from rendered_views import cut, sample_pictures, under
from scipy.stats import spearmanr

from skyview.outline.skyline import Skyline, find_skyline

RIDGE = 3.0
PAINTED_PX_PER_DEG = 20.0


def held_out() -> list[Sample]:
    """Paintings and renderings for the figures alone."""
    pairs = [
        (f, k) for i, f in enumerate(FAMILIES) for j, k in enumerate(SKIES) if (i + j) % 3 == 0
    ]
    samples = [painted(f, k, 909) for f, k in pairs]
    rng = np.random.default_rng(77)
    by_name = {s.name: s for s in sample_pictures()}
    samples += [by_name[n] for n in ("mast_sector", "ridge_frame_3", "ridge_sweep")]
    parts = cut(by_name["mast_sector"], 2) + cut(by_name["ridge_sweep"], 3)
    return samples + [under(parts[2 * i % 5], kind, rng) for i, kind in enumerate(SKIES)]


def union_share(found: Skyline, sample: Sample) -> float:
    """Intersection over union of the sky."""
    sky, truth = found.mask > 127, sample.sky_share > 0.5
    return float((sky & truth).sum() / max((sky | truth).sum(), 1))


def column_error_deg(found: Skyline, sample: Sample) -> np.ndarray:
    per_deg = {"mast": 11.38, "ridge_sweep": 21.46, "ridge_frame": 27.09}
    scale = next((v for k, v in per_deg.items() if sample.name.startswith(k)), PAINTED_PX_PER_DEG)
    solid = sample.sky_share < 0.5
    rows = np.where(solid.any(0), solid.argmax(0), len(solid))
    return np.abs(found.row_px - rows)[::4] / scale


def group(name: str) -> str:
    if name.startswith(("mast", "ridge", "gable")):
        return "rendered"
    family = name.split("-")[0]
    return "hard" if family in (*HARD, "faint_hills") else "open" if family == "open" else "roof"


def grab_cut_s(rgb: np.ndarray) -> float:
    """Processor time of two rounds seeded by the top and the bottom rows."""
    mask = np.full(rgb.shape[:2], cv2.GC_PR_FGD, np.uint8)
    mask[: len(mask) // 50], mask[-len(mask) // 8 :] = cv2.GC_FGD, cv2.GC_BGD
    start = time.process_time()
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(rgb, mask, None, *models, 2, cv2.GC_INIT_WITH_MASK)
    return time.process_time() - start


def figures() -> None:
    cv2.setNumThreads(1)
    rows, errors, other = [], [], []
    start, spent = 0.0, 0.0
    for n, sample in enumerate(held_out()):
        start = time.process_time()
        found = find_skyline(sample.rgb)
        spent += time.process_time() - start
        rows.append((group(sample.name), union_share(found, sample), found.sure, found.confidence))
        errors.append(column_error_deg(found, sample))
        if n % 4 == 0:
            other.append(grab_cut_s(sample.rgb))
        print(f"{sample.name:30s} {rows[-1][1]:.4f} {'' if found.sure else 'flagged'}")
    groups, share, sure, confidence = (np.array(v) for v in zip(*rows, strict=True))
    for name in ("open", "roof", "rendered", "hard", "all"):
        pick = (groups == name) | (name == "all")
        silent = pick & sure & (share < 0.97)
        unflagged = f"{share[pick & sure].min():.4f}" if (pick & sure).any() else "none"
        print(
            f"{name}: {pick.sum()} pictures, median {np.median(share[pick]):.4f}, worst "
            f"{share[pick].min():.4f}, worst unflagged {unflagged}, flagged "
            f"{1 - sure[pick].mean():.2f}, below 0.97 {(share[pick] < 0.97).sum()}, of these "
            f"unflagged {silent.sum()}"
        )
    print(f"rank correlation of confidence and truth {spearmanr(confidence, share)[0]:.2f}")
    for name, pick in (
        ("all", errors),
        ("sure", [e for e, s in zip(errors, sure, strict=True) if s]),
    ):
        joined = np.concatenate(pick)
        middle, wide = np.quantile(joined, [0.5, 0.95])
        print(f"column error, {name}: median {middle:.3f}, 95 % {wide:.2f} deg")
    print(f"{spent / len(rows):.2f} s a picture, grabCut {np.mean(other):.2f} s")


def fit_doubt() -> None:
    found = [(find_skyline(s.rgb), s) for s in training_samples()]
    signals = np.array([f.signals for f, _ in found])
    right = np.array([union_share(f, s) >= 0.97 for f, s in found], float)
    mean, spread = signals.mean(0), signals.std(0) + 1e-9
    terms = np.hstack([(signals - mean) / spread, np.ones((len(found), 1))])
    ridge = RIDGE * np.diag(np.append(np.ones(len(mean)), 0.0))
    solution = np.zeros(terms.shape[1])
    for _ in range(20):
        p = 1.0 / (1.0 + np.exp(-terms @ solution))
        curve = (terms * (p * (1 - p))[:, None]).T @ terms + ridge
        solution -= np.linalg.solve(curve, terms.T @ (p - right) + ridge @ solution)
    weights = solution[:-1] / spread
    print([*weights.round(3).tolist(), round(float(solution[-1] - weights @ mean), 3)])


if __name__ == "__main__":
    if "--fit" in sys.argv:
        fit_doubt()
    else:
        figures()
