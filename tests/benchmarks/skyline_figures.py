"""Figures of the skyline on pictures that nothing was fitted on: writes shared/skyline_study.csv.

The pictures are ``skyline_pictures.held_out``; rendered streets need the layers that
``rendered_layers`` tells of, photographed horizons and photographs the packages unpacked that
``real_horizons`` and ``photographs`` name. One row a picture: intersection over union of the sky,
the confidence, the skyline's error per column; for pictures below 0.97 the same after one and two
strokes through the middle of what is most wrong, of a single pixel and of a few along a line.
Prints the sums, and the time beside cv2.grabCut.
"""

from __future__ import annotations

import csv
import multiprocessing
import time
from dataclasses import astuple, dataclass, fields
from pathlib import Path

import cv2
import numpy as np
from painted_views import Sample
from real_horizons import HORIZONS
from scipy.stats import spearmanr
from skyline_pictures import Task, held_out
from strokes_made import LINE_PIXELS, wrong_line

from skyview.outline.skyline import Skyline, find_skyline

TABLE = Path(__file__).parents[2] / "shared" / "skyline_study.csv"
STROKES_SIDE_PX = 400
"""Wrong parts are looked for at this size."""

RIGHT = 0.97
"""A picture is right from this intersection over union on."""

GRAB_EVERY = 6
"""Every so many pictures are timed beside cv2.grabCut."""


@dataclass(frozen=True)
class Measured:
    """A picture's row of the table; after strokes NaN where none was needed."""

    picture: str
    source: str
    """ridge, street, horizon, photograph, painting or sample."""
    group: str
    intersection_over_union: float
    confidence: float
    sure: bool
    column_error_median_deg: float
    column_error_95_deg: float
    after_one_stroke: float
    after_two_strokes: float
    sure_after_strokes: bool
    after_one_line: float
    after_two_lines: float
    sure_after_lines: bool


def union_share(found: Skyline, sample: Sample) -> float:
    """Intersection over union of the sky."""
    sky, truth = found.mask > 127, sample.sky_share > 0.5
    return float((sky & truth).sum() / max((sky | truth).sum(), 1))


def column_error_deg(found: Skyline, sample: Sample, px_per_deg: float) -> np.ndarray:
    solid = sample.sky_share < 0.5
    rows = np.where(solid.any(0), solid.argmax(0), len(solid))
    return np.abs(found.row_px - rows)[::4] / px_per_deg


def after_strokes(found: Skyline, sample: Sample, pixels: int) -> tuple[float, float, bool]:
    """Intersections over union after one and two strokes of so many pixels, and if it is sure.

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
        made = wrong_line(small > 127, truth, pixels)
        if made is not None:
            strokes[made[1]] += [((x + 0.5) / scale, (y + 0.5) / scale) for x, y in made[0]]
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


def measured(numbered: tuple[int, Task]) -> tuple[Measured, float, float]:
    """A picture's row; seconds of the skyline and of cv2.grabCut, NaN where it is not timed."""
    number, task = numbered
    cv2.setNumThreads(1)
    group, sample, px_per_deg = task()
    start = time.process_time()
    found = find_skyline(sample.rgb)
    ours, theirs = time.process_time() - start, np.nan
    if number % GRAB_EVERY == 0:
        start = time.process_time()
        grab_cut(sample.rgb)
        theirs = time.process_time() - start
    middle, wide = np.quantile(column_error_deg(found, sample, px_per_deg), [0.5, 0.95])
    share = union_share(found, sample)
    strokes, lines = (
        after_strokes(found, sample, pixels) if share < RIGHT else (np.nan, np.nan, False)
        for pixels in (1, LINE_PIXELS)
    )
    name = task.func.__name__.strip("_")
    source = "horizon" if name == "street" and task.args[0] in HORIZONS else name
    word = share, found.confidence, found.sure
    row = Measured(sample.name, source, group, *word, middle, wide, *strokes, *lines)
    return row, ours, theirs


def told(title: str, rows: list[Measured]) -> None:
    share, middle, wide = (
        np.array([getattr(row, name) for row in rows])
        for name in (
            "intersection_over_union", "column_error_median_deg", "column_error_95_deg",
        )
    )  # fmt: skip
    sure = np.array([row.sure for row in rows])
    print(
        f"{title}: {len(rows)} pictures, median {np.median(share):.4f}, worst {share.min():.4f}, "
        f"flagged {1 - sure.mean():.2f}, below {RIGHT} {(share < RIGHT).sum()}, of these unflagged "
        f"{(sure & (share < RIGHT)).sum()}; columns: median {np.median(middle):.3f}, 95 % "
        f"{np.median(wide):.2f} deg"
    )


def main() -> None:
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        found = pool.map(measured, list(enumerate(held_out())), chunksize=7)
    rows = [row for row, _, _ in found]
    with TABLE.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow([field.name for field in fields(Measured)])
        for row in rows:
            told_ = (f"{v:.4f}" if isinstance(v, float) else v for v in astuple(row))
            writer.writerow([int(v) if isinstance(v, bool) else v for v in told_])
    for name in ("open", "roof", "hard"):
        told(name, [row for row in rows if row.group == name])
    for name in dict.fromkeys(row.source for row in rows):
        told(name, [row for row in rows if row.source == name])
    told("all", rows)
    poor = [row for row in rows if row.intersection_over_union < RIGHT]
    for title, names in (
        ("stroke", ("after_one_stroke", "after_two_strokes", "sure_after_strokes")),
        ("line", ("after_one_line", "after_two_lines", "sure_after_lines")),
    ):
        one, two, sure = (np.array([getattr(row, name) for row in poor]) for name in names)
        print(
            f"{len(poor)} below {RIGHT}: right after one {title} {(one >= RIGHT).sum()}, after two "
            f"{(two >= RIGHT).sum()}, median then {np.median(two):.4f}, unflagged then "
            f"{(sure & (two < RIGHT)).sum()}"
        )
    right = spearmanr([r.confidence for r in rows], [r.intersection_over_union for r in rows])
    print(f"rank correlation of confidence and truth {right[0]:.2f}")
    timed = [(ours, theirs) for _, ours, theirs in found if np.isfinite(theirs)]
    print("{:.2f} s a picture, grabCut {:.2f} s".format(*np.mean(timed, axis=0)))


if __name__ == "__main__":
    main()
