"""What speaks for and against a region's being sky: one row of numbers a region.

Colour and texture against the sky's and against what stands before it, the walls between, what
lies above and below, what the simple ways of finding the sky say; for the region itself, for what
it melts into at several heights of walls, and for its neighbours. Everything is a ratio to the
picture's noise or to its size, so that no number depends on the camera.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from skyview.angles import Array
from skyview.outline.coarse import Coarse, Mask, Plane
from skyview.outline.fields import length, local_mean, sky_field
from skyview.outline.pieces import unlike_sky
from skyview.outline.regions import Regions
from skyview.outline.rivals import level_steps

LEVELS = (0.7, 1.5, 3.0, 6.0, 12.0)
"""Heights of walls that fall for the wider parts that a region lies in, in units of noise."""

BINS = 24

REACH_PX = 4
"""Steps are taken between colours so far above and below a border, in coarse pixels."""

AFFINITY = (0.7, 2.5)
"""Neighbours beyond walls of these heights count less by a factor e."""

WIDE = (
    "unlike", "away", "brighter", "bluer", "redder", "away_solid", "odds", "texture", "edge",
    "grain", "rough", "likely", "grown", "cut", "flooded", "sealed", "ridge",
)  # fmt: skip
OWN = (
    "doubt", "light", "green", "blue", "place", "wall_above", "walls_above", "likely_above",
    "least_above", "likely_below", "softness", "level", "upright_edges", "level_edges",
    "light_rank", "blue_rank", "chroma",
)  # fmt: skip
SHAPE = (
    "area", "top", "foot", "side", "reached_top", "reached_foot", "reached_sky", "reached_solid",
    "wall", "wall_sky", "wall_solid", "near_0", "near_1", "step_above", "step_below",
    "step_above_blue", "step_below_blue", "beneath_sky", "beneath_solid",
)  # fmt: skip
SIDES = ("above", "below", "left", "right")
AWAY = (0.06, 0.16, 0.35)
"""How far aside a region's surroundings are looked at, as shares of the picture's diagonal."""

AROUND = tuple(
    f"{name}_{side}_{away:g}" for away in AWAY for side in SIDES for name in ("seen", "gap")
)
WHOLE = (
    "sky_light", "sky_green", "sky_blue", "solid_light", "solid_green", "solid_blue",
    "contrast", "sky_share", "undecided", "sky_texture", "sky_grain", "solid_grain", "least_light",
    "most_light",
)  # fmt: skip
"""The same for every region of a picture."""

PART = ("part_area", "part_top", "part_foot", "part_wide", "part_lowest", "part_highest")
FEATURES = (
    *WIDE, *OWN, *SHAPE, *AROUND, *WHOLE,
    *(f"{name}_{level:g}" for level in LEVELS for name in (*WIDE, *PART)),
)  # fmt: skip


def evidence_of(
    c: Coarse, r: Regions, hypotheses: Sequence[Mask], doubt: Plane, likely: Plane
) -> Array:
    """The values of ``FEATURES`` for every region. (count, F)

    ``likely`` (h, w): how likely each pixel was thought to be sky so far, 0 to 1.
    """
    planes = _planes(c, hypotheses, likely)
    area = r.area
    wide = np.stack([r.mean(planes[name]) for name in WIDE], axis=1)
    above = _above(c, likely, doubt)
    own = np.stack([r.mean(plane) for plane in above], axis=1)
    own = np.hstack([own, np.hypot(own[:, 2], own[:, 3])[:, None]])
    parts = []
    boxes = _boxes(r)
    for level in LEVELS:
        index, count = r.at(level)
        size = np.asarray(np.bincount(index, area, count), float)
        means = np.stack(
            [np.bincount(index, column * area, count) / size for column in wide.T], axis=1
        )
        parts += [means[index], _part(index, count, size, boxes, c.shape)[index]]
    shape = _shape(c, r, r.mean(likely), boxes)
    around = _around(c, r, likely)
    whole = np.tile(_whole(c, likely), (r.count, 1))
    return np.hstack([wide, own, shape, around, whole, *parts]).astype(np.float32)


def _planes(c: Coarse, hypotheses: Sequence[Mask], likely: Plane) -> dict[str, Plane]:
    sure, no = likely > 0.8, likely < 0.2
    sure = sure if sure.mean() > 0.01 else likely >= min(0.5, float(likely.max()))
    inner = cv2.erode(sure.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=1) > 0
    inner = inner if inner.mean() > 0.01 else sure
    sky, variance = sky_field(c.lab, inner.astype(np.float32), (6.0, 18.0, 54.0))
    solid, solid_variance = local_mean(
        c.lab, no.astype(np.float32) + np.float32(1e-4), (4.0, 16.0, 64.0)
    )
    planes = {
        "unlike": np.clip(unlike_sky(c.lab, sky), -1.0, 3.0),
        "away": np.log(0.1 + length(c.lab - sky) / np.sqrt(variance + 3.0)),
        "brighter": np.arcsinh((c.lab[..., 0] - sky[..., 0]) / 5.0),
        "bluer": np.arcsinh((c.lab[..., 2] - sky[..., 2]) / 5.0),
        "redder": np.arcsinh((c.lab[..., 1] - sky[..., 1]) / 5.0),
        "away_solid": np.log(0.1 + length(c.lab - solid) / np.sqrt(solid_variance + 8.0)),
        "odds": _colour_odds(c.lab, sure, no),
        "texture": np.log(0.05 + c.texture),
        "edge": np.log(0.1 + c.edge),
        "grain": c.grain,
        "rough": np.log(0.05 + c.rough),
        "likely": likely,
    }
    return planes | dict(zip(WIDE[-5:], hypotheses, strict=True))


def _colour_odds(lab: Plane, sky: Mask, solid: Mask) -> Plane:
    """Log-odds of sky of each pixel's colour, from histograms of both sides."""
    scaled = lab * np.array([0.2, 0.25, 0.25], np.float32) + np.array([0, 12, 12], np.float32)
    bins = np.clip(scaled, 0, BINS - 1).astype(np.int32)
    index = (bins[..., 0] * BINS + bins[..., 1]) * BINS + bins[..., 2]

    def shares(where: Mask) -> Array:
        count = np.bincount(index[where], minlength=BINS**3).astype(np.float32)
        smooth = cv2.GaussianBlur(count.reshape(BINS, BINS**2), (3, 3), 0.7).ravel()
        return np.asarray(smooth / max(float(smooth.sum()), 1.0) + 1e-4, float)

    told = np.log(shares(sky) / shares(solid)).astype(np.float32)
    return np.asarray(told[index])


def _above(c: Coarse, likely: Plane, doubt: Plane) -> list[Plane]:
    """The planes of ``OWN`` but its last."""
    height, width = c.shape
    rows = np.arange(1, height + 1, dtype=np.float32)[:, None]
    before = np.cumsum(likely, axis=0)
    after = before[-1:] - before
    smooth = cv2.blur(likely, (5, 5))
    crest = (c.edge >= cv2.dilate(c.edge, np.ones((5, 1), np.uint8))) & (c.edge > 1.5)
    place = np.broadcast_to(rows / height, (height, width))
    return [
        doubt,
        c.lab[..., 0],
        c.lab[..., 1],
        c.lab[..., 2],
        place,
        np.log(0.1 + np.maximum.accumulate(c.edge, axis=0)),
        np.minimum(np.cumsum(crest, axis=0), 12).astype(np.float32),
        before / rows,
        np.minimum.accumulate(smooth, axis=0),
        after / np.maximum(height - rows, 1.0),
        c.softness,
        np.arcsinh(2.0 * level_steps(c, likely > 0.4)),
        c.upright,
        c.level,
        _rank(c.lab[..., 0]),
        _rank(c.lab[..., 2]),
    ]


def _rank(plane: Plane) -> Plane:
    """Share of the pixels that lie below each one's value, ties halved."""
    bins = np.clip(2.0 * plane + 256.0, 0, 511).astype(np.int32)
    count = np.bincount(bins.ravel(), minlength=512)
    below = np.cumsum(count) - 0.5 * count
    return np.asarray((below / bins.size).astype(np.float32)[bins])


def _around(c: Coarse, r: Regions, likely: Plane) -> Array:
    """The values of ``AROUND``: what lies some way off a region, and how unlike it that looks."""
    height, width = c.shape
    rows, columns = np.indices(c.shape, np.float32)
    x, y = r.mean(columns), r.mean(rows)
    own = np.stack([r.mean(c.lab[..., k]) for k in range(3)], axis=1)
    found = []
    for away in AWAY:
        reach = away * float(np.hypot(height, width))
        side = 2 * max(1, round(0.3 * reach)) + 1
        seen = cv2.blur(likely, (side, side))
        colour = cv2.blur(c.lab, (side, side))
        for dx, dy in ((0, -1), (0, 1), (-1, 0), (1, 0)):
            column = np.clip(x + dx * reach, 0, width - 1).astype(int)
            row = np.clip(y + dy * reach, 0, height - 1).astype(int)
            gap = np.sqrt(((colour[row, column] - own) ** 2).sum(1))
            found += [seen[row, column], np.log(1.0 + gap)]
    return np.stack(found, axis=1)


def _whole(c: Coarse, likely: Plane) -> Array:
    """The values of ``WHOLE``."""
    sky, solid = likely + np.float32(1e-3), 1.001 - likely
    sky_lab, solid_lab = (
        (c.lab * weight[..., None]).sum((0, 1)) / weight.sum() for weight in (sky, solid)
    )
    light = c.lab[::4, ::4, 0]
    return np.array(
        [
            *sky_lab,
            *solid_lab,
            float(np.hypot(*(sky_lab - solid_lab)[1:]) + abs(sky_lab[0] - solid_lab[0])),
            likely.mean(),
            np.minimum(likely, 1.0 - likely).mean(),
            (np.log(0.05 + c.texture) * sky).sum() / sky.sum(),
            (c.grain * sky).sum() / sky.sum(),
            (c.grain * solid).sum() / solid.sum(),
            np.quantile(light, 0.05),
            np.quantile(light, 0.95),
        ]
    )


def _boxes(r: Regions) -> Array:
    """Left, right, top and bottom of every region. (count, 4)"""
    flat = r.label.ravel()
    width = r.label.shape[1]
    order = np.argsort(flat, kind="stable")
    start = np.searchsorted(flat[order], np.arange(r.count))
    y, x = order // width, order % width
    return np.stack(
        [
            np.minimum.reduceat(x, start),
            np.maximum.reduceat(x, start) + 1,
            np.minimum.reduceat(y, start),
            np.maximum.reduceat(y, start) + 1,
        ],
        axis=1,
    ).astype(float)


def _part(
    index: np.ndarray, count: int, size: Array, boxes: Array, shape: tuple[int, int]
) -> Array:
    """The values of ``PART`` for every part that regions melt into."""
    height, width = shape
    order = np.argsort(index, kind="stable")
    start = np.searchsorted(index[order], np.arange(count))
    left, right, top, bottom = boxes[order].T
    left, top = np.minimum.reduceat(left, start), np.minimum.reduceat(top, start)
    right, bottom = np.maximum.reduceat(right, start), np.maximum.reduceat(bottom, start)
    return np.stack(
        [
            np.log(size / (height * width)),
            top <= 1,
            bottom >= height - 1,
            (right - left) / width,
            bottom / height,
            top / height,
        ],
        axis=1,
    )


def _shape(c: Coarse, r: Regions, likely: Array, boxes: Array) -> Array:
    """The values of ``SHAPE``."""
    height, width = c.shape
    area = r.area
    top, foot = boxes[:, 2] <= 1, boxes[:, 3] >= height - 1
    side = (boxes[:, 0] <= 1) | (boxes[:, 1] >= width - 1)
    one, other = np.concatenate([r.first, r.second]), np.concatenate([r.second, r.first])
    wall, border = np.tile(r.wall, 2), np.tile(r.length, 2)

    def around(weight: Array, values: Array, otherwise: float) -> Array:
        total = np.bincount(one, weight, r.count)
        mean = np.bincount(one, weight * values, r.count) / np.maximum(total, 1e-9)
        return np.where(total > 1e-6, mean, otherwise)

    high = np.log(0.2 + wall)
    near = [around(border * np.exp(-wall / a), likely[other], 0.5) for a in AFFINITY]
    steps, beneath = _steps(c, r, likely)
    return np.stack(
        [
            np.log(area / (height * width)),
            top,
            foot,
            side,
            *(
                np.log(0.1 + r.reached_at(wanted))
                for wanted in (
                    top & (likely > 0.5),
                    foot & (likely < 0.5),
                    likely > 0.85,
                    likely < 0.15,
                )
            ),
            around(border, high, 3.0),
            around(border * likely[other], high, 3.0),
            around(border * (1.0 - likely[other]), high, 3.0),
            *near,
            *steps,
            *beneath,
        ],
        axis=1,
    )


def _steps(c: Coarse, r: Regions, likely: Array) -> tuple[list[Array], list[Array]]:
    """Steps of lightness and of blueness at a region's upper and lower ends, and what is below."""
    height, width = c.shape
    apart = np.flatnonzero(r.label[1:].ravel() != r.label[:-1].ravel()) + width
    row, column = apart // width, apart % width
    high = np.maximum(row - REACH_PX, 0) * width + column
    low = np.minimum(row + REACH_PX - 1, height - 1) * width + column
    flat = r.label.ravel()
    upper, lower = flat[apart - width], flat[apart]

    def mean(of: np.ndarray, values: Array) -> Array:
        return np.bincount(of, values, r.count) / np.maximum(np.bincount(of, minlength=r.count), 1)

    steps = []
    for channel in (0, 2):
        plane = c.unit[..., channel].ravel()
        step = np.arcsinh((plane[high] - plane[low]).astype(float))
        steps += [mean(lower, step), mean(upper, step)]
    sky = likely[lower]
    return steps, [mean(upper, sky), mean(upper, 1.0 - sky)]
