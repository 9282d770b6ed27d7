"""Fits the small trees that tell shares of sky at full size: writes skyview/outline/ferns.csv.

``fit_regions`` calls it with words on pictures left out, as wrong as on pictures that nobody
knows. Pixels are drawn from the zone that is looked at; those of a picture with much zone for its
sky weigh more. Prints the error on pictures left out (two halves), as a share of the sky.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from painted_views import Sample

from skyview.outline.coarse import coarse_of, small_copy
from skyview.outline.ferns import DEPTH
from skyview.outline.grain import FEATURES
from skyview.outline.shares import sides_of, tiles, worked

TABLE = Path(__file__).parents[2] / "skyview" / "outline" / "ferns.csv"
PIXELS_A_PICTURE = 8000
TREES, RATE, RIDGE = 36, 0.35, 40.0
DRAWN = 60_000
"""Pixels on which a tree's questions are chosen; its leaves are set on all."""

LEAF_BY_SHARE = 0.25
"""What is learnt: this much the share itself, the rest whether it is above a half."""


@dataclass
class Drawn:
    """Pixels of a picture's zone."""

    name: str
    evidence: np.ndarray
    """(F, N) uint8."""
    share: np.ndarray
    """(N,) of sky, 0 to 1."""
    size: float
    """Pixels of the zone for each pixel of sky."""


def drawn_of(sample: Sample, name: str, likely: np.ndarray, seed: int = 0) -> Drawn | None:
    """Pixels of a picture of which the word is known: ``likely`` (h, w), coarse."""
    c = coarse_of(sample.rgb)
    small = small_copy(sample.rgb, c.shape[::-1])
    rgb = worked(sample.rgb)
    truth = np.asarray(sample.sky_share, np.float32)
    if rgb is not sample.rgb:
        truth = cv2.resize(truth, rgb.shape[1::-1], interpolation=cv2.INTER_AREA)
    found = [(e, truth[box][zone]) for box, zone, e in tiles(rgb, sides_of(small, c, likely))]
    if not found:
        return None
    evidence, share = (np.concatenate(part, -1) for part in zip(*found, strict=True))
    pick = np.random.default_rng(seed).integers(0, len(share), PIXELS_A_PICTURE)
    size = len(share) / max((truth > 0.5).sum(), 0.05 * truth.size)
    return Drawn(name, evidence[:, pick], share[pick], size)


def grow(pictures: list[Drawn], seed: int = 0) -> np.ndarray:
    """Rows of the table: features, bytes and log-odds of every tree."""
    rng = np.random.default_rng(seed)
    evidence = np.concatenate([d.evidence for d in pictures], axis=1)
    share = np.concatenate([d.share for d in pictures])
    wanted = LEAF_BY_SHARE * share + (1.0 - LEAF_BY_SHARE) * (share > 0.5)
    weight = np.repeat([np.sqrt(d.size) for d in pictures], PIXELS_A_PICTURE)
    weight = weight / weight.mean()
    base = np.log((weight @ wanted) / (weight @ (1.0 - wanted)))
    odds = np.full(share.size, base)
    rows = []
    for _ in range(TREES):
        p = 1.0 / (1.0 + np.exp(-odds))
        slope, curve = weight * (wanted - p), weight * p * (1.0 - p)
        pick = rng.choice(share.size, min(DRAWN, share.size), replace=False)
        asked = rng.permutation(len(evidence))[: round(0.6 * len(evidence))]
        features, limits = _questions(evidence[:, pick], slope[pick], curve[pick], asked)
        leaf = np.zeros(share.size, np.intp)
        for feature, limit in zip(features, limits, strict=True):
            leaf = 2 * leaf + (evidence[feature] > limit)
        total = np.bincount(leaf, slope, 2**DEPTH) / (np.bincount(leaf, curve, 2**DEPTH) + RIDGE)
        odds += RATE * total[leaf]
        rows.append([*features, *limits, *(RATE * total + (0.0 if rows else base))])
    return np.array(rows)


def _questions(
    evidence: np.ndarray, slope: np.ndarray, curve: np.ndarray, asked: np.ndarray
) -> tuple[list[int], list[int]]:
    """The questions that, one after the other, lower the loss most over all leaves."""
    leaf = np.zeros(slope.size, np.intp)
    features: list[int] = []
    limits: list[int] = []
    for depth in range(DEPTH):
        shape = (2**depth, 256)
        gains = []
        for feature in asked:
            place = 256 * leaf + evidence[feature]
            low, bent = (
                np.bincount(place, v, shape[0] * 256).reshape(shape).cumsum(1)
                for v in (slope, curve)
            )
            high, rest = low[:, -1:] - low, bent[:, -1:] - bent
            gain = (low**2 / (bent + RIDGE) + high**2 / (rest + RIDGE)).sum(0)[:-1]
            gains.append((float(gain.max()), int(feature), int(gain.argmax())))
        _, feature, limit = max(gains)
        features.append(feature)
        limits.append(limit)
        leaf = 2 * leaf + (evidence[feature] > limit)
    return features, limits


def share_by(rows: np.ndarray, evidence: np.ndarray) -> np.ndarray:
    """Log-odds of sky by the rows of a table. (N,)"""
    odds = np.zeros(evidence.shape[1])
    for row in rows:
        leaf = np.zeros(evidence.shape[1], np.intp)
        for feature, limit in zip(row[:DEPTH].astype(int), row[DEPTH : 2 * DEPTH], strict=True):
            leaf = 2 * leaf + (evidence[feature] > limit)
        odds += row[2 * DEPTH :][leaf]
    return odds


def left_out(pictures: list[Drawn]) -> np.ndarray:
    """Errors of pictures left out, as shares of their sky."""
    half = np.array([sum(map(ord, "".join(d.name.split("-")[:2]))) % 2 for d in pictures])
    errors = np.zeros(len(pictures))
    for k in (0, 1):
        rows = grow([d for d, h in zip(pictures, half, strict=True) if h != k])
        for i in np.flatnonzero(half == k):
            d = pictures[i]
            wrong = (share_by(rows, d.evidence) > 0.0) != (d.share > 0.5)
            errors[i] = wrong.mean() * d.size
    return errors


def write(rows: np.ndarray) -> None:
    lines = [f"# features: {' '.join(FEATURES)}"]
    for row in rows:
        questions = [str(int(v)) for v in row[: 2 * DEPTH]]
        lines.append(",".join([*questions, *(f"{v:.4g}" for v in row[2 * DEPTH :])]))
    TABLE.write_text("\n".join(lines) + "\n")


def fit_ferns(pictures: list[Drawn]) -> None:
    errors = left_out(pictures)
    print(
        f"{len(errors)} pictures left out: error median {np.median(errors):.4f}, mean "
        f"{errors.mean():.4f}, above 0.03 {(errors > 0.03).sum()}"
    )
    write(grow(pictures))
