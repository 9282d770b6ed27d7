"""Figures of the skyline on pictures that nothing was fitted on: writes shared/skyline_study.csv.

The pictures are ``skyline_pictures.held_out``; the rendered streets among them need the layers
that ``rendered_layers`` tells of. One row a picture: intersection over union of the sky, the
confidence, the skyline's error per column. Prints the sums, and the time beside cv2.grabCut.
"""

from __future__ import annotations

import csv
import time
from pathlib import Path

import cv2
import numpy as np
from painted_views import Sample
from scipy.stats import spearmanr
from skyline_pictures import held_out

from skyview.outline.skyline import Skyline, find_skyline

TABLE = Path(__file__).parents[2] / "shared" / "skyline_study.csv"
COLUMNS = (
    "picture", "group", "intersection_over_union", "confidence", "sure",
    "column_error_median_deg", "column_error_95_deg",
)  # fmt: skip


def union_share(found: Skyline, sample: Sample) -> float:
    """Intersection over union of the sky."""
    sky, truth = found.mask > 127, sample.sky_share > 0.5
    return float((sky & truth).sum() / max((sky | truth).sum(), 1))


def column_error_deg(found: Skyline, sample: Sample, px_per_deg: float) -> np.ndarray:
    solid = sample.sky_share < 0.5
    rows = np.where(solid.any(0), solid.argmax(0), len(solid))
    return np.abs(found.row_px - rows)[::4] / px_per_deg


def grab_cut(rgb: np.ndarray) -> None:
    """Two rounds seeded by the top and the bottom rows."""
    mask = np.full(rgb.shape[:2], cv2.GC_PR_FGD, np.uint8)
    mask[: len(mask) // 50], mask[-len(mask) // 8 :] = cv2.GC_FGD, cv2.GC_BGD
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(rgb, mask, (0, 0, 1, 1), *models, 2, cv2.GC_INIT_WITH_MASK)


def main() -> None:
    cv2.setNumThreads(1)
    rows, ours, theirs = [], [], []
    for n, (group, sample, px_per_deg) in enumerate(held_out()):
        start = time.process_time()
        found = find_skyline(sample.rgb)
        spent = time.process_time() - start
        if n % 6 == 0:
            ours.append(spent)
            start = time.process_time()
            grab_cut(sample.rgb)
            theirs.append(time.process_time() - start)
        error = column_error_deg(found, sample, px_per_deg)
        middle, wide = np.quantile(error, [0.5, 0.95])
        word = union_share(found, sample), found.confidence, found.sure
        rows.append((sample.name, group, *word, middle, wide))
    with TABLE.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(COLUMNS)
        for row in rows:
            numbers = [f"{row[2]:.4f}", f"{row[3]:.3f}", int(row[4])]
            writer.writerow([*row[:2], *numbers, f"{row[5]:.3f}", f"{row[6]:.2f}"])
    _, groups, share, confidence, sure, middle, wide = (
        np.array(v) for v in zip(*rows, strict=True)
    )
    for name in ("open", "roof", "hard", "all"):
        pick = (groups == name) | (name == "all")
        silent = pick & sure & (share < 0.97)
        print(
            f"{name}: {pick.sum()} pictures, median {np.median(share[pick]):.4f}, worst "
            f"{share[pick].min():.4f}, flagged {1 - sure[pick].mean():.2f}, below 0.97 "
            f"{(share[pick] < 0.97).sum()}, of these unflagged {silent.sum()}; columns: median "
            f"{np.median(middle[pick]):.3f}, 95 % {np.median(wide[pick]):.2f} deg"
        )
    print(f"rank correlation of confidence and truth {spearmanr(confidence, share)[0]:.2f}")
    print(f"{np.mean(ours):.2f} s a picture, grabCut {np.mean(theirs):.2f} s")


if __name__ == "__main__":
    main()
