"""Where hypotheses of the sky differ, and who is right there.

Each connected part of the picture on which they differ in the same way is one dispute, judged as
a whole: by who says what, what lies around it, whether it rests on something, its colour and
texture against both sides', and the walls that part it from them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from skyview.angles import Array
from skyview.outline.coarse import Coarse, Mask, Plane
from skyview.outline.fields import length, local_mean, sky_field
from skyview.outline.pieces import Growth, unlike_sky
from skyview.outline.rivals import level_steps

FEATURES = (
    "grown", "cut", "flooded", "sealed", "ridge", "area", "ring_sky", "ring_solid",
    "sky_below", "sky_above",
    "foot", "sky_wall", "solid_wall", "wall_softness", "unlike", "away", "brighter", "bluer",
    "texture", "over_sky", "over_solid", "away_solid", "odds", "doubt", "rests", "place",
    "softness", "across", "level", "part_wide", "grey", "step",
)  # fmt: skip

SMALLEST_SHARE = 5e-4
"""Share of the picture below which a difference is left to the cut and the full size."""

BINS = 24


@dataclass(frozen=True)
class Dispute:
    """One part of the picture on which the hypotheses differ."""

    where: tuple[slice, slice]
    inside: Mask
    """Within ``where``."""
    features: Array
    """The values of ``FEATURES``."""


@dataclass(frozen=True)
class _Evidence:
    """Planes that a dispute is judged from."""

    agreed: Mask
    solid: Mask
    planes: dict[str, Plane]
    sky_texture: float
    solid_texture: float


def disputes_of(c: Coarse, hypotheses: Sequence[Mask], growth: Growth) -> list[Dispute]:
    """All disputes between five hypotheses: grown, cut, flooded, sealed, over the ridge."""
    evidence = _evidence(c, hypotheses, growth)
    code = np.zeros(c.shape, np.uint8)
    for bit, hypothesis in enumerate(hypotheses):
        code |= hypothesis.astype(np.uint8) << bit
    found = []
    for said in range(1, 2 ** len(hypotheses) - 1):
        part = cv2.morphologyEx(
            (code == said).astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)
        )
        count, label, stats, _ = cv2.connectedComponentsWithStats(part, connectivity=4)
        for index in range(1, count):
            if stats[index, cv2.CC_STAT_AREA] > SMALLEST_SHARE * part.size:
                found.append(_dispute(c, evidence, said, label, index, stats[index]))
    return found


def _evidence(c: Coarse, hypotheses: Sequence[Mask], growth: Growth) -> _Evidence:
    grown, cut, flooded, sealed, ridge = hypotheses
    agreed, solid = grown & cut & sealed & ridge, ~grown & ~cut & ~flooded
    agreed = agreed if agreed.mean() > 0.01 else grown & cut
    agreed = agreed if agreed.any() else grown | cut
    sky, variance = sky_field(c.lab, agreed.astype(np.float32), (6.0, 18.0, 54.0))
    weight = solid.astype(np.float32) + np.float32(1e-4)
    other, other_variance = local_mean(c.lab, weight, (4.0, 16.0, 64.0))
    planes = {
        "unlike": np.clip(unlike_sky(c.lab, sky), -1.0, 3.0),
        "away": length(c.lab - sky) / np.sqrt(variance + 3.0),
        "away_solid": length(c.lab - other) / np.sqrt(other_variance + 8.0),
        "brighter": c.lab[..., 0] - sky[..., 0],
        "bluer": c.lab[..., 2] - sky[..., 2],
        "odds": _colour_odds(c.lab, agreed, solid),
        "doubt": growth.doubt,
        "step": level_steps(c, grown | cut),
        "grey": np.hypot(c.lab[..., 1], c.lab[..., 2]) - np.hypot(sky[..., 1], sky[..., 2]),
    }

    def usual(where: Mask) -> float:
        return float(np.log(0.05 + (np.median(c.texture[where]) if where.any() else 1.0)))

    return _Evidence(agreed, solid, planes, usual(agreed), usual(solid))


def _colour_odds(lab: Plane, sky: Mask, solid: Mask) -> Plane:
    """Log-odds of sky of each pixel's colour, from histograms of both sides."""
    scaled = lab * np.array([0.2, 0.25, 0.25], np.float32) + np.array([0, 12, 12], np.float32)
    bins = np.clip(scaled, 0, BINS - 1).astype(np.int32)
    index = (bins[..., 0] * BINS + bins[..., 1]) * BINS + bins[..., 2]

    def shares(where: Mask) -> Array:
        count = np.bincount(index[where], minlength=BINS**3).astype(np.float32)
        smooth = cv2.GaussianBlur(count.reshape(BINS, BINS**2), (3, 3), 0.7).ravel()
        return np.asarray(smooth / max(float(smooth.sum()), 1.0) + 1e-4, float)

    return np.log(shares(sky) / shares(solid)).astype(np.float32)[index]


def _grown(mask: Mask, side: int) -> Mask:
    return cv2.dilate(mask.astype(np.uint8), np.ones((side, side), np.uint8)) > 0


def _dispute(
    c: Coarse, evidence: _Evidence, said: int, label: np.ndarray, index: int, stats: np.ndarray
) -> Dispute:
    height, width = c.shape
    x, y, wide, tall, area = (int(v) for v in stats)
    where = (slice(max(0, y - 6), y + tall + 6), slice(max(0, x - 6), x + wide + 6))
    inside = label[where] == index
    sky, solid = evidence.agreed[where], evidence.solid[where]
    ring = _grown(inside, 9) & ~inside
    rim = _grown(inside, 5) & ~(cv2.erode(inside.astype(np.uint8), np.ones((3, 3))) > 0)
    above, below = np.zeros_like(inside), np.zeros_like(inside)
    above[:-5], below[5:] = inside[5:], inside[:-5]
    above, below = above & ~inside, below & ~inside
    sky_rim, solid_rim = rim & _grown(sky, 7), rim & _grown(solid, 7)

    def mean(plane: Plane) -> float:
        return float(plane[where][inside].mean())

    def wall(at: Mask) -> float:
        return float(np.log(0.2 + c.edge[where][at].mean())) if at.sum() > 3 else 3.0

    def share(of: Mask, at: Mask, otherwise: float) -> float:
        return float(of[at].mean()) if at.any() else otherwise

    m = {name: mean(plane) for name, plane in evidence.planes.items()}
    upper = inside.copy()
    upper[1:] &= ~inside[:-1]
    step = float(np.arcsinh(2.0 * evidence.planes["step"][where][upper].mean()))
    texture = float(np.log(0.05 + mean(c.texture)))
    features = [
        float(said & 1), float(said >> 1 & 1), float(said >> 2 & 1), float(said >> 3 & 1),
        float(said >> 4),
        np.log(area / (height * width)),
        share(sky, ring, 0.0), share(solid, ring, 0.0),
        share(sky, below, 0.0), share(sky, above, 1.0), float(y + tall >= height - 3),
        wall(sky_rim), wall(solid_rim),
        float(c.softness[where][sky_rim].mean()) if sky_rim.sum() > 3 else 0.0,
        m["unlike"], np.log(0.1 + m["away"]),
        np.arcsinh(m["brighter"] / 5.0), np.arcsinh(m["bluer"] / 5.0),
        texture, texture - evidence.sky_texture, texture - evidence.solid_texture,
        np.log(0.1 + m["away_solid"]), m["odds"], m["doubt"],
        share(solid, below, 0.0), (y + tall / 2.0) / height, mean(c.softness),
        wide / width, _level(inside), float(np.log(area / (wide * tall))), m["grey"],
        step,
    ]  # fmt: skip
    return Dispute(where, inside, np.array(features))


def _level(inside: Mask) -> float:
    """How uneven the upper edge of a part is: spread of its rows over its width, a logarithm."""
    columns = np.flatnonzero(inside.any(0))
    top = inside.argmax(0)[columns].astype(float)
    if len(top) < 8:
        return 0.0
    bent = top - np.polyval(np.polyfit(columns, top, 2), columns)
    return float(np.log((np.abs(bent).mean() + 0.5) / len(top)))


def settled_by(
    disputes: Sequence[Dispute], probability: Array, cut: Mask, growth: Growth
) -> tuple[Mask, Plane]:
    """The joint word, and the probability that it is wrong where it was disputed."""
    word, doubt = cut.copy(), np.zeros(cut.shape, np.float32)
    for dispute, p in zip(disputes, probability, strict=True):
        word[dispute.where][dispute.inside] = p > 0.5
        doubt[dispute.where][dispute.inside] = min(p, 1.0 - p)
    word[growth.told & growth.sky] = True
    word[growth.told & growth.ground] = False
    doubt[growth.told] = 0.02
    return word, doubt
