"""What strokes teach: a few pixels of which somebody said what they are.

Each region is held against the regions that strokes lie in: how high the walls between them are,
how large the part is that they melt into together, how alike their colours and textures are, how
far off they lie, and how much the stroke contradicts what was thought before. All coarse.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from skyview.angles import Array
from skyview.outline.coarse import Coarse, Mask
from skyview.outline.evidence import FEATURES
from skyview.outline.forest import likely_sky
from skyview.outline.regions import Regions

Spot = tuple[int, int]

STEP_COST = 0.15
"""What a path between two regions costs besides the walls that it crosses."""

FAR = 12.0
"""Stands for a kind of which no stroke speaks."""

SPOT_PX = 2
"""A stroke's colour is the mean so far around it."""

TOLD = (
    "reached", "joint_area", "joint_likely", "path", "unlike", "texture", "away", "across",
    "under", "surprise", "same", "basin", "basin_area", "reached_first", "path_first",
)  # fmt: skip
KEPT = (
    "unlike", "away", "brighter", "bluer", "odds", "texture", "grain", "rough", "edge", "cut",
    "place", "wall_above", "likely_above", "least_above", "likely_below", "area", "top", "foot",
    "reached_top", "reached_foot", "reached_sky", "reached_solid", "near_0", "near_1",
    "step_above", "step_below", "seen_above_0.06", "seen_below_0.06", "gap_above_0.06",
    "gap_below_0.06", "contrast", "undecided",
)  # fmt: skip
STROKE_FEATURES = (
    "likely", *KEPT, *(f"{name}_{kind}" for kind in ("sky", "solid") for name in TOLD),
    "path_odds", "reached_odds", "unlike_odds",
)  # fmt: skip


def taught(
    c: Coarse,
    r: Regions,
    table: Array,
    likely: Array,
    sky: Sequence[Spot],
    solid: Sequence[Spot],
) -> Array:
    """How likely each region is sky, now that strokes (x, y) spoke; theirs is what they say.

    Where all strokes say 'sky' none is taken away, and none is added where all say that it is not.
    """
    p = likely_sky(stroke_evidence(c, r, table, likely, sky, solid), "strokes")
    if not len(solid):
        p = np.maximum(p, likely)
    if not len(sky):
        p = np.minimum(p, likely)
    for spots, word in ((sky, 0.99), (solid, 0.01)):
        for x, y in spots:
            p[r.label[y, x]] = word
    return p


def spoken(r: Regions, sky: Sequence[Spot], solid: Sequence[Spot]) -> Mask:
    """The regions that a stroke lies in. (count,)"""
    found = np.zeros(r.count, bool)
    found[[r.label[y, x] for x, y in (*sky, *solid)]] = True
    return found


def stroke_evidence(
    c: Coarse,
    r: Regions,
    table: Array,
    likely: Array,
    sky: Sequence[Spot],
    solid: Sequence[Spot],
) -> Array:
    """The values of ``STROKE_FEATURES`` for every region, from its ``evidence``. (count, F)"""
    kept = table[:, [FEATURES.index(name) for name in KEPT]]
    graph = sparse.coo_array(
        (r.wall + STEP_COST, (r.first, r.second)), shape=(r.count, r.count)
    ).tocsr()
    colour = np.stack([r.mean(c.unit[..., k]) for k in range(3)], axis=1)
    texture = np.log(0.05 + r.mean(c.texture))
    rows, columns = np.indices(c.shape, np.float32)
    place = np.stack([r.mean(columns) / c.shape[1], r.mean(rows) / c.shape[0]], axis=1)
    word = cv2.connectedComponents((likely > 0.5)[r.label].astype(np.uint8))[1]
    word -= 2 * cv2.connectedComponents((likely <= 0.5)[r.label].astype(np.uint8))[1]
    names = list(FEATURES)
    # What a stroke must not reach: the sky at the top for one kind, the solid foot for the other.
    foot = (table[:, names.index("foot")] > 0.5) & (likely < 0.5)
    top = (table[:, names.index("top")] > 0.5) & (likely > 0.5)
    told = []
    for spots, others, edge in ((sky, solid, foot), (solid, sky, top)):
        against = edge.copy()
        against[[r.label[y, x] for x, y in others]] = True
        told.append(_told(c, r, graph, likely, spots, against, colour, texture, place, word))
    odds = [told[0][:, TOLD.index(name)] - told[1][:, TOLD.index(name)] for name in
            ("path", "reached", "unlike")]  # fmt: skip
    return np.hstack([likely[:, None], kept, *told, np.stack(odds, axis=1)]).astype(np.float32)


def _told(
    c: Coarse,
    r: Regions,
    graph: sparse.csr_array,
    likely: Array,
    spots: Sequence[Spot],
    against: Mask,
    colour: Array,
    texture: Array,
    place: Array,
    word: np.ndarray,
) -> Array:
    """The values of ``TOLD`` from strokes of one kind."""
    if not len(spots):
        return np.full((r.count, len(TOLD)), FAR)
    height, width = c.shape
    x, y = np.array(spots).T
    at = r.label[y, x]
    wanted = np.zeros(r.count, bool)
    wanted[at] = True
    joint = r.joined_with(wanted)
    area, weighted = r.melted_sum(r.area), r.melted_sum(r.area * likely)
    path = csgraph.dijkstra(graph, directed=False, indices=np.unique(at), min_only=True)
    basin = np.zeros(r.count, bool)
    for region in np.unique(at):
        if not against[region]:
            basin |= r.basin(int(region), against)
    reached, other = r.height[joint], r.reached_at(against)
    ends = np.flatnonzero(against)
    other_path = (
        csgraph.dijkstra(graph, directed=False, indices=ends, min_only=True)
        if ends.size
        else np.full(r.count, 1e4)
    )
    around = cv2.blur(c.unit, (2 * SPOT_PX + 1,) * 2)[y, x]
    spread = np.log(0.05 + c.texture[y, x])
    gap = np.sqrt(((colour[:, None] - around) ** 2).sum(-1))
    off = place[:, None] - np.stack([x / width, y / height], axis=1)
    nearest = np.hypot(off[..., 0], off[..., 1]).argmin(1)
    off = off[np.arange(r.count), nearest]
    first = r.label.ravel()
    inside = np.isin(word.ravel(), np.unique(word[y, x]))
    return np.stack(
        [
            np.log(0.1 + reached),
            np.log(area[joint] / (height * width)),
            weighted[joint] / area[joint],
            np.log(0.1 + np.minimum(path, 1e4)),
            np.log(0.3 + gap.min(1)),
            np.abs(texture[:, None] - spread).min(1),
            np.hypot(off[:, 0], off[:, 1]),
            np.abs(off[:, 0]),
            off[:, 1],
            np.full(r.count, likely[at].mean()),
            np.bincount(first, inside, r.count) / r.area,
            basin,
            np.full(r.count, np.log((r.area * basin).sum() / (height * width) + 1e-5)),
            np.log((0.1 + reached) / (0.1 + other)),
            np.log((0.1 + np.minimum(path, 1e4)) / (0.1 + np.minimum(other_path, 1e4))),
        ],
        axis=1,
    )
