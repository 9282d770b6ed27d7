"""Growing the sky from the top of a picture, piece by piece.

Edges are like walls of many heights. The flood from the top rises over them in a few levels; what
lies smooth behind a wall is a piece, and each piece beside the sky is judged as a whole: its
colour against the sky's on the other side of the wall and against what the sky should look like
there, the wall's height and sharpness, its texture, and whether it stands on something or hangs
in the air as only clouds do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from skyview.angles import Array
from skyview.outline.coarse import Coarse, Mask, Plane
from skyview.outline.fields import length, sky_field

LEVELS = (0.3, 0.6, 1.0, 1.8, 3.2, 6.0, 12.0, 24.0)
"""Heights of edges that the flood rises over, in units of noise."""

ROUNDS = 12
"""How often new sky may reach further at one level."""

SMALLEST_PIECE = 5e-4
"""Share of the picture below which a piece is judged by its colour alone."""

REACH_PX = 4
"""Half of the widest wall over which a piece still touches the sky, in coarse pixels."""

FIELD_SIZES_PX = (6.0, 18.0, 54.0)
"""Neighbourhoods over which the sky's colour is followed, in coarse pixels."""

HANGING_MISFIT = 0.5
"""What hangs in the air and fits the sky's colours no worse than this is a cloud."""

FEATURES = (
    "unlike", "away", "across", "height", "softness", "texture", "hanging", "foot", "below",
    "top", "brighter", "bluer", "uneven",
)  # fmt: skip

Judge = Callable[[Array, np.ndarray, np.ndarray], Array]
"""Probability of sky from features (N, F), an image of labels, and the N labels judged."""


@dataclass
class Growth:
    """What the flood left behind."""

    sky: Mask
    ground: Mask
    """Judged not to be sky; what is neither was never reached."""
    doubt: Plane
    """(h, w), probability that the word of the pixel is wrong."""


def unlike_sky(lab: Plane, expected: Plane) -> Plane:
    """How impossible a colour is for sky or cloud where ``expected`` is the sky's: 0 fits, 1 not.

    Clouds lie between the sky's colour and grey, and may be brighter; the ground is darker, or
    off that line. Blue is never too dark, since a seed of white cloud says nothing of it.
    """
    tint_a, tint_b = expected[..., 1], expected[..., 2]
    here_a, here_b = lab[..., 1], lab[..., 2]
    along = tint_a * here_a + tint_b * here_b
    share = np.clip(along / np.maximum(tint_a**2 + tint_b**2, 4.0), 0.0, 1.25)
    off = (np.hypot(here_a - share * tint_a, here_b - share * tint_b) - 6.0) / 6.0
    dark = (expected[..., 0] - 10.0 - lab[..., 0]) / 10.0
    blue = (here_b < -8.0) & (np.abs(here_a) < 14.0) & (lab[..., 0] > 25.0)
    least = np.where(blue, np.minimum(off, 0.0), off)
    return np.asarray(np.maximum(np.where(blue, dark - 3.0, dark), least))


def grown(
    c: Coarse,
    judge: Judge,
) -> Growth:
    """Flood the picture from its top; ``judge`` tells the pieces."""
    h, w = c.shape
    sky, ground = np.zeros((2, h, w), bool)
    growth = Growth(sky, ground, np.zeros((h, w), np.float32))
    known = 0
    misfit = distance = np.zeros((h, w), np.float32)
    for level in LEVELS:
        _seeded(c, growth, level)
        if not growth.sky.any():
            continue
        if growth.sky.sum() > 1.03 * known:
            known = growth.sky.sum()
            expected, variance = sky_field(c.lab, _inside(growth.sky), FIELD_SIZES_PX)
            misfit = np.clip(unlike_sky(c.lab, expected), -1.0, 3.0)
            distance = np.minimum(length(c.lab - expected) / np.sqrt(variance + 4.0), 8.0)
        label, count = _smooth_pieces((c.edge < level) & ~growth.ground & ~growth.sky)
        slivers = (c.edge < level) & (label == 0) & ~growth.ground & ~growth.sky
        slivers &= (misfit < 0.2) & (distance < 2.0)
        for _ in range(ROUNDS):
            near = _dilated(growth.sky, REACH_PX)
            growth.sky |= slivers & near
            if count < 2 or not _judged(c, growth, label, count, misfit, distance, judge):
                break
    return growth


def _seeded(c: Coarse, growth: Growth, level: float) -> None:
    """Let the sky begin at the picture's top, where most of it is smooth at this level."""
    top = max(2, c.shape[0] // 100)
    if growth.sky[:top].mean() >= 0.3:
        return
    open_ = ((c.edge < level) & ~growth.ground) | growth.sky
    count, label = cv2.connectedComponents(open_.astype(np.uint8), connectivity=4)
    seeds = np.bincount(label[:top].ravel(), minlength=count) > 0.1 * top * c.shape[1]
    seeds[0] = False
    seeds[label[-1]] &= growth.sky[-1].any()
    growth.sky |= seeds[label]


def _smooth_pieces(open_: Mask) -> tuple[np.ndarray, int]:
    """Labels (uint16, 0 = none) of the larger connected parts, and how many labels there are."""
    count, label, stats, _ = cv2.connectedComponentsWithStats(
        open_.astype(np.uint8), connectivity=4
    )
    large = stats[:, cv2.CC_STAT_AREA] > SMALLEST_PIECE * open_.size
    large[0] = False
    new = np.zeros(count, np.uint16)
    new[large] = np.arange(1, large.sum() + 1)
    return new[label], int(large.sum()) + 1


def _inside(sky: Mask) -> Plane:
    """Weight of sky pixels that no edge blurs."""
    inner = cv2.erode(sky.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=1)
    return (inner if inner.sum() > 0.2 * sky.sum() else sky).astype(np.float32)


def _dilated(mask: Mask, reach_px: int) -> Mask:
    return cv2.dilate(mask.astype(np.uint8), np.ones((2 * reach_px + 1,) * 2, np.uint8)) > 0


def _judged(
    c: Coarse,
    growth: Growth,
    label: np.ndarray,
    count: int,
    misfit: Plane,
    distance: Plane,
    judge: Judge,
) -> bool:
    """One round over the pieces that touch the sky; whether the sky grew."""
    label = np.where(growth.sky | growth.ground, np.uint16(0), label)
    table, ids = _features(c, growth.sky, label, count, misfit, distance)
    if not ids.size:
        return False
    p = judge(table, label, ids)
    word = np.zeros(count, np.int8)
    word[ids] = np.where(p > 0.5, 1, -1)
    doubt = np.zeros(count, np.float32)
    doubt[ids] = np.minimum(p, 1.0 - p)
    growth.sky |= (word == 1)[label]
    growth.ground |= (word == -1)[label]
    growth.doubt = np.maximum(growth.doubt, doubt[label])
    return bool((p > 0.5).any())


def _features(
    c: Coarse, sky: Mask, label: np.ndarray, count: int, misfit: Plane, distance: Plane
) -> tuple[Array, np.ndarray]:
    """The table of ``FEATURES`` of the pieces that touch the sky, and their labels."""
    h, w = c.shape

    def mean(values: np.ndarray, ids: np.ndarray) -> Array:
        total = np.bincount(ids, values, count)
        return total / np.maximum(np.bincount(ids, minlength=count), 1)

    near = np.ones((2 * REACH_PX + 1,) * 2, np.uint8)
    spread = cv2.dilate(label, near)
    wall = np.flatnonzero(_dilated(sky, REACH_PX) & (spread > 0) & ~sky & (label == 0))
    touching = np.bincount(spread.ravel()[wall], minlength=count)
    area = np.bincount(label.ravel(), minlength=count)
    pick = (touching > 3) & (area > 0)
    pick[0] = False
    ids = np.flatnonzero(pick)
    if not ids.size:
        return np.zeros((0, len(FEATURES))), ids
    inside = np.flatnonzero(label)
    of = label.ravel()[inside]
    far = np.ones((6 * REACH_PX + 1,) * 2, np.uint8)
    own = np.flatnonzero(_dilated(sky, 3 * REACH_PX) & (label > 0))
    wide = cv2.dilate(label, far).ravel()
    theirs = np.flatnonzero(sky.ravel() & (wide > 0))
    unit = c.unit.reshape(-1, 3)
    own_texture = float(np.median(c.texture[sky]))
    gap = [
        mean(unit[own, k], label.ravel()[own]) - mean(unit[theirs, k], wide[theirs])
        for k in range(3)
    ]
    wall_of = spread.ravel()[wall]
    height = mean(c.edge.ravel()[wall], wall_of)
    rise = np.log(c.edge.ravel()[wall] + 0.3)
    lower = inside[np.append(label[1:].ravel(), np.zeros(w, label.dtype))[inside] != of]
    drop = 2 * REACH_PX
    beneath = np.minimum(lower + drop * w, h * w - 1)
    ends = lower // w >= h - drop
    lower_of = label.ravel()[lower]
    above = sky.ravel()[np.maximum(wall - drop * w, wall % w)]
    under = sky.ravel()[np.minimum(wall + drop * w, h * w - 1)]
    return np.stack(
        [
            mean(misfit.ravel()[inside], of),
            mean(distance.ravel()[inside], of),
            np.log(np.sqrt(gap[0] ** 2 + gap[1] ** 2 + gap[2] ** 2) + 0.3),
            np.log(height + 0.3),
            mean((c.softness * c.edge).ravel()[wall], wall_of) / (height + 1e-6),
            np.log((mean(c.texture.ravel()[inside], of) + 0.1) / (own_texture + 0.1)),
            mean((sky.ravel()[beneath] & ~ends).astype(float), lower_of),
            np.minimum(5.0 * mean(ends.astype(float), lower_of), 1.0),
            mean(above.astype(float) - under.astype(float), wall_of),
            (np.bincount(label[:2].ravel(), minlength=count) > 4).astype(float),
            np.arcsinh(gap[0]),
            np.arcsinh(-gap[2]),
            np.sqrt(np.maximum(mean(rise**2, wall_of) - mean(rise, wall_of) ** 2, 0.0)),
        ],
        axis=1,
    )[pick], ids


def settled(c: Coarse, growth: Growth) -> Mask:
    """The sky with its seams closed and what hangs in it taken in.

    Whatever is not dark or off the sky's colours and stands on nothing is a cloud.
    """
    sky = growth.sky.astype(np.uint8)
    closed = cv2.morphologyEx(sky, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8)) > 0
    word = closed & ~growth.ground
    if not word.any():
        return word
    expected, _ = sky_field(c.lab, word.astype(np.float32), (6.0, 18.0, 54.0))
    misfit = np.clip(unlike_sky(c.lab, expected), 0.0, 3.0)
    count, label = cv2.connectedComponents((~word).astype(np.uint8), connectivity=8)
    held = np.zeros(count, bool)
    held[label[-3:]] = True
    held[label[:, [0, -1]][growth.ground[:, [0, -1]]]] = True
    area = np.maximum(np.bincount(label.ravel(), minlength=count), 1)
    held |= np.bincount(label.ravel(), misfit.ravel(), count) / area > HANGING_MISFIT
    return np.asarray(word | ~held[label])
