"""Fits what tells sky from not-sky: the trees for regions, those for pixels, the confidence.

Writes skyview/outline/forest_*.csv and ferns.csv, prints ``doubt.WEIGHTS``. Needs scikit-learn, and
the layers that ``rendered_layers`` tells of; keeps what it worked out of each picture in the folder
``KEPT`` (20 GB), and takes what it finds there. Pictures: ``skyline_pictures.learnt``. Three
forests are grown: the first from what the simple ways of finding the sky say, the second from the
first's word, the third from a word and a stroke that contradicts it. Each learns from words on
pictures left out (three folds), as it will meet them; so do the pixels' trees and the confidence.
Prints the intersection over union of pictures left out.
"""

from __future__ import annotations

import multiprocessing
import pickle
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from fit_doubt import fit_doubt
from fit_shares import drawn_of, fit_ferns
from painted_views import FAMILIES, Sample
from photographs import catalogue
from skyline_pictures import Task, key_of, learnt
from strokes_made import LINE_PIXELS, wrong_line

from skyview.outline.coarse import Coarse, coarse_of, small_copy
from skyview.outline.evidence import FEATURES, evidence_of
from skyview.outline.pieces import Growth, grown
from skyview.outline.regions import Regions, regions_of
from skyview.outline.rivals import hypotheses_of
from skyview.outline.settle import agreed
from skyview.outline.skyline import STAGES, finished
from skyview.outline.strokes import (
    STROKE_FEATURES,
    Told,
    heard,
    next_told,
    settled_word,
    stroke_evidence,
)
from skyview.outline.verdict import sky_probability

FOLDER = Path(__file__).parents[2] / "skyview" / "outline"
WORK: list[tuple[Any, ...]] = []
"""What ``on_both_cores`` has in hand."""

KEPT = Path("seen")
FOLDS = 3
ROWS_A_PICTURE = 320
GROWING = {
    "max_iter": 150, "learning_rate": 0.11, "max_leaf_nodes": 28, "max_depth": 8,
    "min_samples_leaf": 100, "l2_regularization": 20.0, "max_bins": 64, "max_features": 0.3,
    "early_stopping": False,
}  # fmt: skip
POOR, WORST = 0.985, 0.3
"""Strokes are learnt on pictures whose word is worse than the first, but not than the second."""


@dataclass
class Seen:
    """A picture as the fit sees it."""

    name: str
    group: str
    file: Path
    """The picture itself, as ``picture_of`` reads it."""
    c: Coarse
    hypotheses: tuple[np.ndarray, ...]
    growth: Growth
    truth: np.ndarray
    """(h, w) share of sky, coarse."""
    regions: Regions


@dataclass
class Light:
    """What of a picture stays in memory: a tenth of what is seen."""

    name: str
    group: str
    known: Path
    """File of what is seen."""
    truth: np.ndarray
    regions: Regions

    def __post_init__(self) -> None:
        self.share = self.regions.mean(self.truth.astype(np.float32))

    def seen(self) -> Seen:
        found: Seen = pickle.loads(self.known.read_bytes())
        return found

    def picture(self) -> Sample:
        return picture_of(self.known.with_suffix(".npz"))


def seen_of(group: str, name: str, file: Path, rgb: np.ndarray, share: np.ndarray) -> Seen:
    c = coarse_of(rgb)
    size = c.shape[::-1]
    growth = grown(c, lambda table, *_: sky_probability(table))
    hypotheses = hypotheses_of(c.small, c, growth)
    truth = cv2.resize(share, size, interpolation=cv2.INTER_AREA)
    regions = regions_of(c.edge, hypotheses[1])
    return Seen(name, group, file, c, hypotheses, growth, truth, regions)


def picture_of(file: Path) -> Sample:
    kept = np.load(file)
    return Sample(file.stem, kept["rgb"], kept["share"].astype(np.float32) / 255.0)


def known_of(task: Task) -> Path:
    """Where what is seen of a task's picture is kept."""
    return KEPT / f"{key_of(task)}.seen"


def prepare(task: Task) -> None:
    """Makes a task's picture and what is seen of it: two files."""
    cv2.setNumThreads(1)
    group, sample, _ = task()
    known = known_of(task)
    file = known.with_suffix(".npz")
    share = np.round(255.0 * sample.sky_share).astype(np.uint8)
    np.savez(file, rgb=sample.rgb, share=share)
    seen = seen_of(group, sample.name, file, sample.rgb, sample.sky_share)
    known.write_bytes(pickle.dumps(seen))


def _light(known: Path) -> Light:
    seen: Seen = pickle.loads(known.read_bytes())
    return Light(seen.name, seen.group, known, seen.truth, seen.regions)


def all_seen() -> list[Light]:
    """All pictures; those that were prepared before are taken as they were."""
    KEPT.mkdir(exist_ok=True)
    tasks = learnt()
    missing = [task for task in tasks if not known_of(task).exists()]
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        for _ in pool.imap(prepare, missing, chunksize=7):
            pass
    return on_both_cores(_light, [(known_of(task),) for task in tasks])


def fold_of(name: str) -> int:
    """What shows one street or place is left out together, and painted ones under like skies."""
    first, *rest = name.split("-")
    if first in catalogue():
        return sum(map(ord, catalogue()[first]["file"])) % FOLDS
    key = "o" + name[-1] if first == "open" else first
    return sum(map(ord, key + "".join(rest[:1]) * (first in FAMILIES))) % FOLDS


@dataclass
class Rows:
    """What trees learn of a picture: a row of numbers a region, what it is, its weight."""

    table: np.ndarray
    wanted: np.ndarray
    weight: np.ndarray
    fold: int


def rows_of(s: Light, table: np.ndarray) -> Rows:
    """Large regions weigh more, mixed ones less."""
    weight = _size(s) * np.abs(s.share - 0.5)
    return Rows(table, s.share > 0.5, weight, fold_of(s.name))


def _size(s: Light) -> np.ndarray:
    return np.asarray(np.minimum(s.regions.area / s.truth.size, 0.05) ** 0.5)


def grow(rows: list[Rows], pick: np.ndarray, seed: int = 0) -> Any:
    """Trees from the rows of some pictures, drawn by their weight."""
    from sklearn.ensemble import HistGradientBoostingClassifier

    rng = np.random.default_rng(seed)
    tables, wanted, weights = [], [], []
    for i in pick:
        weight = rows[i].weight
        few = min(ROWS_A_PICTURE, int((weight > 0).sum()))
        chosen = rng.choice(len(weight), few, replace=False, p=weight / weight.sum())
        tables.append(rows[i].table[chosen])
        wanted.append(rows[i].wanted[chosen])
        weights.append(np.sqrt(weight[chosen]))
    weight = np.concatenate(weights)
    trees = HistGradientBoostingClassifier(**GROWING, random_state=seed)
    return trees.fit(np.concatenate(tables), np.concatenate(wanted), weight / weight.mean())


def left_out(rows: list[Rows]) -> list[np.ndarray]:
    """Probabilities of every region of every picture from the pictures of the other folds."""
    fold = np.array([r.fold for r in rows])
    found: list[np.ndarray] = [np.zeros(0)] * len(rows)
    for k in range(FOLDS):
        trees = grow(rows, np.flatnonzero(fold != k))
        for i in np.flatnonzero(fold == k):
            found[i] = trees.predict_proba(rows[i].table)[:, 1]
    return found


def on_both_cores(function: Callable[..., Any], work: list[tuple[Any, ...]]) -> list[Any]:
    """What a function makes of each piece of work; processes that are forked off share it."""
    WORK[:] = work
    with multiprocessing.get_context("fork").Pool(2) as pool:
        return pool.map(partial(_nth, function), range(len(work)), chunksize=4)


def _nth(function: Callable[..., Any], n: int) -> Any:
    return function(*WORK[n])


def evidence(seen: list[Light], likely: list[np.ndarray | None]) -> list[np.ndarray]:
    """Evidence of all regions by what was thought of each pixel (h, w).

    None stands for the mean of the simple ways of finding the sky.
    """
    return on_both_cores(_evidence, list(zip(seen, likely, strict=True)))


def _evidence(light: Light, likely: np.ndarray | None) -> np.ndarray:
    s = light.seen()
    p = np.mean(s.hypotheses, axis=0) if likely is None else likely[s.regions.label]
    return evidence_of(s.c, s.regions, s.hypotheses, s.growth.doubt, p.astype(np.float32))


def union_share(s: Light, likely: np.ndarray) -> float:
    word, truth = (likely > 0.5)[s.regions.label], s.truth > 0.5
    return float((word & truth).sum() / max((word | truth).sum(), 1))


def told(title: str, seen: list[Light], likely: list[np.ndarray]) -> None:
    share = np.array([union_share(s, p) for s, p in zip(seen, likely, strict=True)])
    group = np.array([s.group for s in seen])
    for name in ("open", "roof", "hard"):
        v = share[group == name]
        print(
            f"{title}, {name}: median {np.median(v):.4f}, tenth {np.quantile(v, 0.1):.3f}, "
            f"below 0.97 {(v < 0.97).sum()} of {len(v)}",
            flush=True,
        )


def _simple_word(light: Light, way: int) -> np.ndarray:
    """A word as wrong as one simple way of finding the sky is."""
    ways = light.seen().hypotheses
    found = light.regions.mean(ways[way % len(ways)].astype(np.float32))
    return agreed(light.regions, 0.1 + 0.8 * found)


@dataclass
class Stroked:
    """A picture with strokes, as the trees of strokes learn of it."""

    start: int
    """The word that the strokes were made on, by its number."""
    word: np.ndarray
    """(count,) before the last stroke."""
    sky: np.ndarray
    solid: np.ndarray
    """Regions of all strokes."""
    told: Told
    """What the last one says."""
    rows: Rows


Known = tuple[np.ndarray, np.ndarray]
"""Regions of sky and of others that strokes told of."""


def stroked(
    s: Light, start: int, table: np.ndarray, word: np.ndarray, pixels: int, known: Known
) -> Stroked | None:
    """One more stroke of so many pixels where the word is most wrong; None where it is right."""
    label = s.regions.label
    made = wrong_line((word > 0.5)[label], s.truth, pixels)
    if made is None:
        return None
    at = [label[y, x] for x, y in made[0]]
    both = zip(known, (True, False), strict=True)
    sky, solid = (np.union1d(k, at if made[1] == kind else []).astype(int) for k, kind in both)
    told_ = next_told(s.regions, word, sky, solid)
    if told_ is None:
        return None
    evidence = stroke_evidence(s.seen().c, s.regions, table, word, told_)
    own = word if told_.kind else 1.0 - word
    # What is of the stroke's kind already stays so.
    weight = _size(s) * np.abs(s.share - 0.5) * np.where(own > 0.9, 0.15, 1.0)
    rows = Rows(evidence, (s.share > 0.5) == told_.kind, weight, fold_of(s.name))
    return Stroked(start, word, sky, solid, told_, rows)


def after_stroke(s: Light, made: Stroked, own: np.ndarray) -> np.ndarray:
    """The word after a stroke, as ``strokes.taught`` has it."""
    return settled_word(s.regions, heard(made.word, own, made.told), made.sky, made.solid)


def _strokes(s: Light, start: int, table: np.ndarray, word: np.ndarray) -> list[Stroked]:
    """A stroke of one pixel and one of several where a word is poor."""
    if not WORST < union_share(s, word) < POOR:
        return []
    none = np.zeros(0, int)
    made = [stroked(s, start, table, word, pixels, (none, none)) for pixels in (1, LINE_PIXELS)]
    return [m for m in made if m is not None]


def _next_stroke(s: Light, table: np.ndarray, before: Stroked, own: np.ndarray) -> Stroked | None:
    word = after_stroke(s, before, own)
    return stroked(s, before.start, table, word, 1, (before.sky, before.solid))


def write(trees: Any, name: str, names: tuple[str, ...]) -> None:
    """All nodes of the trees as a table."""
    lines, offset, depth = [], 0, 0
    for (predictor,) in trees._predictors:
        nodes = predictor.nodes
        for n in nodes:
            leaf = bool(n["is_leaf"])
            ways = (-1, -1) if leaf else (int(n["left"]) + offset, int(n["right"]) + offset)
            asked = -1 if leaf else int(n["feature_idx"])
            threshold = 0.0 if leaf else float(n["num_threshold"])
            value = float(n["value"]) if leaf else 0.0
            lines.append(f"{asked},{threshold:.6g},{ways[0]},{ways[1]},{value:.4g}")
        offset += len(nodes)
        depth = max(depth, int(nodes["depth"].max()))
    base = float(np.ravel(trees._baseline_prediction)[0])
    head = [f"# features: {' '.join(names)}", f"{base:.5g},{depth},{len(trees._predictors)}"]
    (FOLDER / f"forest_{name}.csv").write_text("\n".join([*head, *lines]) + "\n")


def fit(seen: list[Light]) -> tuple[list[np.ndarray], list[np.ndarray]]:
    """Grows the forests of regions.

    Returns the last word on every picture by the others, (count,) of each, and its evidence.
    """
    everything = np.arange(len(seen))
    words: list[np.ndarray | None] = [None] * len(seen)
    for stage in STAGES:
        tables = evidence(seen, words)
        rows = [rows_of(s, table) for s, table in zip(seen, tables, strict=True)]
        likely = left_out(rows)
        told(stage, seen, likely)
        write(grow(rows, everything), stage, FEATURES)
        words = list(likely)
    settled = [agreed(s.regions, p) for s, p in zip(seen, likely, strict=True)]
    told("agreed", seen, settled)
    return settled, tables


def fit_strokes(seen: list[Light], second: list[np.ndarray], likely: list[np.ndarray]) -> None:
    """Grows the trees of strokes: on poor words, and on those of simple ways, wrong by far.

    Second strokes are learnt on what the first made of pictures left out.
    """
    simple = on_both_cores(_simple_word, [(s, n) for n, s in enumerate(seen)])
    tables = evidence(seen, list(simple))
    starts = zip([*seen, *seen], [*second, *tables], [*likely, *simple], strict=True)
    work = [(s, n, table, word) for n, (s, table, word) in enumerate(starts)]
    first = [made for some in on_both_cores(_strokes, work) for made in some]
    own = left_out([made.rows for made in first])
    more = [(work[m.start][0], work[m.start][2], m, p) for m, p in zip(first, own, strict=True)]
    strokes = [*first, *(made for made in on_both_cores(_next_stroke, more) if made is not None)]
    own = left_out([made.rows for made in strokes])
    pictures = [work[made.start][0] for made in strokes]
    told("before a stroke", pictures, [made.word for made in strokes])
    after = [after_stroke(*both) for both in zip(pictures, strokes, own, strict=True)]
    told("after it", pictures, after)
    rows = [made.rows for made in strokes]
    write(grow(rows, np.arange(len(rows))), "strokes", STROKE_FEATURES)


def doubts(seen: list[Light], likely: list[np.ndarray]) -> None:
    """Fits the confidence in what is found on pictures left out."""
    found = on_both_cores(_signals, list(zip(seen, likely, strict=True)))
    signals, shares = (np.array(values) for values in zip(*found, strict=True))
    fit_doubt(signals, shares, np.array([fold_of(s.name) for s in seen]))


def _signals(light: Light, p: np.ndarray) -> tuple[np.ndarray, float]:
    """Of what is found, and its intersection over union."""
    picture, s = light.picture(), light.seen()
    small = small_copy(picture.rgb, s.c.shape[::-1])
    found = finished(picture.rgb, small, s.c, s.regions, s.hypotheses, s.growth, p)
    sky, truth = found.mask > 127, picture.sky_share > 0.5
    return found.signals, float((sky & truth).sum() / max((sky | truth).sum(), 1))


def ferns(seen: list[Light], likely: list[np.ndarray]) -> None:
    """Fits the trees that tell the shares of single pixels, on words about pictures left out.

    Not on photographs: what was marked by hand is not right to the pixel.
    """
    drawn = [
        drawn_of(s.picture(), s.name, p.astype(np.float32)[s.regions.label], n)
        for n, (s, p) in enumerate(zip(seen, likely, strict=True))
        if s.name.split("-")[0] not in catalogue()
    ]
    fit_ferns([d for d in drawn if d is not None])


def main() -> None:
    seen = all_seen()
    words = KEPT / "words.pickle"
    if "regions" in sys.argv or not words.exists():
        settled, tables = fit(seen)
        words.write_bytes(pickle.dumps(settled))
        fit_strokes(seen, tables, settled)
    likely = pickle.loads(words.read_bytes())
    if "shares" in sys.argv:
        ferns(seen, likely)
    if "doubt" in sys.argv:
        doubts(seen, likely)


if __name__ == "__main__":
    main()
