"""Fits what tells sky from not-sky: the trees for regions, those for pixels, the confidence.

Writes skyview/outline/forest_*.csv and ferns.csv, prints ``doubt.WEIGHTS``. Needs scikit-learn,
and the layers that ``rendered_layers`` tells of; keeps what it worked out of each picture in the
folder ``KEPT`` (20 GB), and takes what it finds there. Pictures: ``skyline_pictures.learnt``.
Three forests are grown: the first from what the simple ways of finding the sky say, the second
from the first's word, the third from the second's and from strokes. Each learns from words on
pictures left out (three folds), as it will meet them; so do the pixels' trees and the confidence.
Prints the intersection over union of pictures left out.
"""

from __future__ import annotations

import multiprocessing
import pickle
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from fit_doubt import fit_doubt
from fit_shares import drawn_of, fit_ferns
from painted_views import FAMILIES, Sample
from skyline_pictures import Task, key_of, learnt
from strokes_made import wrong_spot

from skyview.outline.coarse import Coarse, coarse_of, small_copy
from skyview.outline.evidence import FEATURES, evidence_of
from skyview.outline.pieces import Growth, grown
from skyview.outline.regions import Regions, regions_of
from skyview.outline.rivals import hypotheses_of
from skyview.outline.settle import agreed
from skyview.outline.skyline import STAGES, finished
from skyview.outline.strokes import STROKE_FEATURES, stroke_evidence
from skyview.outline.verdict import sky_probability

FOLDER = Path(__file__).parents[2] / "skyview" / "outline"
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

    def __post_init__(self) -> None:
        self.share = self.regions.mean(self.truth.astype(np.float32))


def seen_of(group: str, name: str, file: Path, rgb: np.ndarray, share: np.ndarray) -> Seen:
    c = coarse_of(rgb)
    size = c.shape[::-1]
    growth = grown(c, lambda table, *_: sky_probability(table))
    hypotheses = hypotheses_of(small_copy(rgb, size), c, growth)
    truth = cv2.resize(share, size, interpolation=cv2.INTER_AREA)
    regions = regions_of(c.edge, hypotheses[1])
    return Seen(name, group, file, c, hypotheses, growth, truth, regions)


def picture_of(file: Path) -> Sample:
    kept = np.load(file)
    return Sample(file.stem, kept["rgb"], kept["share"].astype(np.float32) / 255.0)


def prepared(task: Task) -> Seen:
    """A task's picture seen, kept in a file, and taken from there the next time."""
    known = KEPT / f"{key_of(task)}.seen"
    if known.exists():
        return pickle.loads(known.read_bytes())
    cv2.setNumThreads(1)
    group, sample, _ = task()
    file = known.with_suffix(".npz")
    share = np.round(255.0 * sample.sky_share).astype(np.uint8)
    np.savez(file, rgb=sample.rgb, share=share)
    seen = seen_of(group, sample.name, file, sample.rgb, sample.sky_share)
    known.write_bytes(pickle.dumps(seen))
    return seen


def all_seen() -> list[Seen]:
    KEPT.mkdir(exist_ok=True)
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        return list(pool.imap(prepared, learnt(), chunksize=7))


def fold_of(name: str) -> int:
    """Streets as a whole are left out together, and all skies of a kind over a painted family."""
    first, *rest = name.split("-")
    key = "o" + name[-1] if first == "open" else first
    return sum(map(ord, key + "".join(rest[:1]) * (first in FAMILIES))) % FOLDS


def grow(tables: list[np.ndarray], seen: list[Seen], pick: np.ndarray, seed: int = 0) -> Any:
    """Trees from the rows of some pictures; large regions are drawn and weigh more."""
    from sklearn.ensemble import HistGradientBoostingClassifier

    rng = np.random.default_rng(seed)
    rows, wanted, weights = [], [], []
    for i in pick:
        area = np.minimum(seen[i].regions.area / seen[i].c.edge.size, 0.05) ** 0.5
        weight = area * np.abs(seen[i].share - 0.5)
        few = min(ROWS_A_PICTURE, int((weight > 0).sum()))
        chosen = rng.choice(len(weight), few, replace=False, p=weight / weight.sum())
        rows.append(tables[i][chosen])
        wanted.append(seen[i].share[chosen] > 0.5)
        weights.append(np.sqrt(weight[chosen]))
    weight = np.concatenate(weights)
    trees = HistGradientBoostingClassifier(**GROWING, random_state=seed)
    return trees.fit(np.concatenate(rows), np.concatenate(wanted), weight / weight.mean())


def left_out(tables: list[np.ndarray], seen: list[Seen]) -> list[np.ndarray]:
    """Probabilities of every region of every picture from the pictures of the other folds."""
    fold = np.array([fold_of(s.name) for s in seen])
    found: list[np.ndarray] = [np.zeros(0)] * len(seen)
    for k in range(FOLDS):
        trees = grow(tables, seen, np.flatnonzero(fold != k))
        for i in np.flatnonzero(fold == k):
            found[i] = trees.predict_proba(tables[i])[:, 1]
    return found


def evidence(seen: list[Seen], likely: list[np.ndarray]) -> list[np.ndarray]:
    """Evidence of all regions by what was thought of each pixel (h, w), on both cores."""
    work = zip(seen, likely, strict=True)
    with multiprocessing.get_context("fork").Pool(2) as pool:
        return list(pool.imap(_evidence, work, chunksize=4))


def _evidence(work: tuple[Seen, np.ndarray]) -> np.ndarray:
    s, p = work
    return evidence_of(s.c, s.regions, s.hypotheses, s.growth.doubt, p.astype(np.float32))


def union_share(s: Seen, likely: np.ndarray) -> float:
    word, truth = (likely > 0.5)[s.regions.label], s.truth > 0.5
    return float((word & truth).sum() / max((word | truth).sum(), 1))


def told(title: str, seen: list[Seen], likely: list[np.ndarray]) -> None:
    share = np.array([union_share(s, p) for s, p in zip(seen, likely, strict=True)])
    group = np.array([s.group for s in seen])
    for name in ("open", "roof", "hard"):
        v = share[group == name]
        print(
            f"{title}, {name}: median {np.median(v):.4f}, tenth {np.quantile(v, 0.1):.3f}, "
            f"below 0.97 {(v < 0.97).sum()} of {len(v)}",
            flush=True,
        )


def simple_words(seen: list[Seen]) -> list[np.ndarray]:
    """Words as wrong as one simple way of finding the sky is, each picture by another of them."""
    ways = [s.hypotheses[n % len(s.hypotheses)] for n, s in enumerate(seen)]
    return [
        agreed(s.regions, 0.1 + 0.8 * s.regions.mean(way.astype(np.float32)))
        for s, way in zip(seen, ways, strict=True)
    ]


def stroked(
    seen: list[Seen], tables: list[np.ndarray], likely: list[np.ndarray]
) -> tuple[list[Seen], list[np.ndarray], list[tuple[int, list, list]]]:
    """Poor pictures with one stroke where they are most wrong, and one with a stroke anywhere."""
    rng = np.random.default_rng(2)
    pictures, rows, strokes = [], [], []
    for i, s in enumerate(seen):
        if not WORST < union_share(s, likely[i]) < POOR:
            continue
        first = wrong_spot((likely[i] > 0.5)[s.regions.label], s.truth)
        x, y = int(rng.integers(s.c.shape[1])), int(rng.integers(s.c.shape[0]))
        for spot in (first, (x, y, bool(s.truth[y, x] > 0.5))):
            if spot is not None:
                told_ = [spot[:2]] if spot[2] else [], [] if spot[2] else [spot[:2]]
                strokes.append((i, *told_))
                pictures.append(s)
                rows.append(stroke_evidence(s.c, s.regions, tables[i], likely[i], *told_))
    return pictures, rows, strokes


def second_strokes(
    seen: list[Seen],
    tables: list[np.ndarray],
    likely: list[np.ndarray],
    strokes: list[tuple[int, list, list]],
    after: list[np.ndarray],
) -> tuple[list[Seen], list[np.ndarray]]:
    """The same with one more stroke where the word after the first is most wrong."""
    pictures, rows = [], []
    for (i, sky, solid), p in zip(strokes, after, strict=True):
        s = seen[i]
        spot = wrong_spot((p > 0.5)[s.regions.label], s.truth)
        if spot is not None:
            sky, solid = sky + [spot[:2]] * spot[2], solid + [spot[:2]] * (not spot[2])
            pictures.append(s)
            rows.append(stroke_evidence(s.c, s.regions, tables[i], likely[i], sky, solid))
    return pictures, rows


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


def fit(seen: list[Seen]) -> list[np.ndarray]:
    """Grows all forests; the last word on every picture by the others (count,) of each."""
    everything = np.arange(len(seen))
    words = [np.mean(s.hypotheses, axis=0) for s in seen]
    for stage in STAGES:
        tables = evidence(seen, words)
        likely = left_out(tables, seen)
        told(stage, seen, likely)
        write(grow(tables, seen, everything), stage, FEATURES)
        words = [p[s.regions.label] for s, p in zip(seen, likely, strict=True)]
    settled = [agreed(s.regions, p) for s, p in zip(seen, likely, strict=True)]
    told("agreed", seen, settled)
    fit_strokes(seen, tables, settled)
    return settled


def fit_strokes(seen: list[Seen], second: list[np.ndarray], likely: list[np.ndarray]) -> None:
    """Grows the trees of strokes: on poor words, and on those of simple ways, wrong by far."""
    simple = simple_words(seen)
    tables = evidence(seen, [p[s.regions.label] for s, p in zip(seen, simple, strict=True)])
    pictures, rows = [], []
    for table, word in ((second, likely), (tables, simple)):
        some, some_rows, strokes = stroked(seen, table, word)
        after = left_out(some_rows, some)
        told("poor ones before", some, [word[i] for i, *_ in strokes])
        told("poor ones after one stroke", some, after)
        more, more_rows = second_strokes(seen, table, word, strokes, after)
        pictures += some + more
        rows += some_rows + more_rows
    after = left_out(rows, pictures)
    told("after one or two strokes", pictures, after)
    write(grow(rows, pictures, np.arange(len(rows))), "strokes", STROKE_FEATURES)


def doubts(seen: list[Seen], likely: list[np.ndarray]) -> None:
    """Fits the confidence in what is found on pictures left out."""
    signals, shares = [], []
    for s, p in zip(seen, likely, strict=True):
        picture = picture_of(s.file)
        small = small_copy(picture.rgb, s.c.shape[::-1])
        found = finished(picture.rgb, small, s.c, s.regions, s.hypotheses, s.growth, p)
        sky, truth = found.mask > 127, picture.sky_share > 0.5
        signals.append(found.signals)
        shares.append(float((sky & truth).sum() / max((sky | truth).sum(), 1)))
    fit_doubt(np.array(signals), np.array(shares), np.array([fold_of(s.name) for s in seen]))


def ferns(seen: list[Seen], likely: list[np.ndarray]) -> None:
    """Fits the trees that tell the shares of single pixels, on words about pictures left out."""
    drawn = [
        drawn_of(picture_of(s.file), s.name, p.astype(np.float32)[s.regions.label], n)
        for n, (s, p) in enumerate(zip(seen, likely, strict=True))
    ]
    fit_ferns([d for d in drawn if d is not None])


def main() -> None:
    seen = all_seen()
    words = KEPT / "words.pickle"
    if "regions" in sys.argv or not words.exists():
        words.write_bytes(pickle.dumps(fit(seen)))
    likely = pickle.loads(words.read_bytes())
    if "shares" in sys.argv:
        ferns(seen, likely)
    if "doubt" in sys.argv:
        doubts(seen, likely)


if __name__ == "__main__":
    main()
