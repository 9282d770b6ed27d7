"""Figures of the skyline on pictures that nothing was fitted on: writes shared/skyline_study.csv.

The pictures are ``skyline_pictures.held_out``; the rendered streets among them need the layers
that ``rendered_layers`` tells of. One row a picture: intersection over union of the sky, the
confidence, the skyline's error per column; for pictures below 0.97 the same after one and two
strokes in the middle of what is most wrong. Prints the sums, and the time beside cv2.grabCut.
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
from strokes_made import wrong_spot

from skyview.outline.skyline import Skyline, find_skyline

TABLE = Path(__file__).parents[2] / "shared" / "skyline_study.csv"
STROKES_SIDE_PX = 400
"""Wrong parts are looked for at this size."""

RIGHT = 0.97
"""A picture is right from this intersection over union on."""

COLUMNS = (
    "picture", "group", "intersection_over_union", "confidence", "sure",
    "column_error_median_deg", "column_error_95_deg", "after_one_stroke", "after_two_strokes",
    "sure_after_strokes",
)  # fmt: skip


def union_share(found: Skyline, sample: Sample) -> float:
    """Intersection over union of the sky."""
    sky, truth = found.mask > 127, sample.sky_share > 0.5
    return float((sky & truth).sum() / max((sky | truth).sum(), 1))


def column_error_deg(found: Skyline, sample: Sample, px_per_deg: float) -> np.ndarray:
    solid = sample.sky_share < 0.5
    rows = np.where(solid.any(0), solid.argmax(0), len(solid))
    return np.abs(found.row_px - rows)[::4] / px_per_deg


def after_strokes(found: Skyline, sample: Sample) -> tuple[float, float, bool]:
    """Intersections over union after one and two strokes, and whether it is sure then.

    A second stroke is made only where one is not enough.
    """
    strokes: dict[bool, list[tuple[float, float]]] = {True: [], False: []}
    shares = []
    scale = min(1.0, STROKES_SIDE_PX / max(found.mask.shape))
    for _ in range(2):
        small, truth = (
            cv2.resize(plane, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            for plane in (found.mask, sample.sky_share)
        )
        spot = wrong_spot(small > 127, truth)
        if spot is not None:
            x, y, kind = spot
            strokes[kind].append(((x + 0.5) / scale, (y + 0.5) / scale))
            found = find_skyline(sample.rgb, strokes[True], strokes[False])
        shares.append(union_share(found, sample))
        if shares[-1] >= RIGHT:
            break
    return shares[0], shares[-1], found.sure


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
        taught = after_strokes(found, sample) if word[0] < RIGHT else None
        rows.append((sample.name, group, *word, middle, wide, taught))
    with TABLE.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(COLUMNS)
        for row in rows:
            numbers = [f"{row[2]:.4f}", f"{row[3]:.3f}", int(row[4])]
            taught = row[7]
            strokes = [f"{taught[0]:.4f}", f"{taught[1]:.4f}", int(taught[2])] if taught else []
            writer.writerow(
                [*row[:2], *numbers, f"{row[5]:.3f}", f"{row[6]:.2f}", *(strokes or [""] * 3)]
            )
    _, groups, share, confidence, sure, middle, wide = (
        np.array(v) for v in list(zip(*rows, strict=True))[:7]
    )
    told = [row[7] for row in rows if row[7]]
    one, two, sure_then = (np.array(v) for v in zip(*told, strict=True))
    for name in ("open", "roof", "hard", "all"):
        pick = (groups == name) | (name == "all")
        silent = pick & sure & (share < RIGHT)
        print(
            f"{name}: {pick.sum()} pictures, median {np.median(share[pick]):.4f}, worst "
            f"{share[pick].min():.4f}, flagged {1 - sure[pick].mean():.2f}, below 0.97 "
            f"{(share[pick] < RIGHT).sum()}, of these unflagged {silent.sum()}; columns: median "
            f"{np.median(middle[pick]):.3f}, 95 % {np.median(wide[pick]):.2f} deg"
        )
    print(
        f"{len(told)} below 0.97: right after one stroke {(one >= RIGHT).sum()}, after two "
        f"{(two >= RIGHT).sum()}, median then {np.median(two):.4f}, below 0.97 and unflagged then "
        f"{(sure_then.astype(bool) & (two < RIGHT)).sum()}"
    )
    print(f"rank correlation of confidence and truth {spearmanr(confidence, share)[0]:.2f}")
    print(f"{np.mean(ours):.2f} s a picture, grabCut {np.mean(theirs):.2f} s")


if __name__ == "__main__":
    main()
