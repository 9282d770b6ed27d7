"""What strokes teach: pixels of which somebody said what they are.

Strokes are heard one after the other, that which contradicts the word most first. Each region is
held against the regions that a stroke lies in: how high the walls between them are, how large the
part is that they melt into together, how alike their colours and textures are beside those of the
other kind, how far off they lie. A stroke only adds to its own kind. All coarse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from skyview.angles import Array
from skyview.outline.coarse import Coarse, Mask
from skyview.outline.evidence import FEATURES
from skyview.outline.forest import likely_sky
from skyview.outline.regions import Regions
from skyview.outline.settle import agreed

Spot = tuple[int, int]

STEP_COST = 0.15
"""What a path between two regions costs besides the walls that it crosses."""

FAR_PATH = 1e4
"""No path counts as longer."""

FIRM, NEAR = 0.8, 0.15
"""Regions surer than the first to be of the other kind show its colours, the more the nearer they
lie: a Gaussian of the second as sigma, in shares of the picture's width and height."""

STROKE_WORD = 0.99
"""How likely a stroke's own regions are what it says."""

TOLD = (
    "kind", "own", "reached", "joint_area", "joint_own", "path", "unlike", "texture", "away",
    "across", "under", "surprise", "same", "same_area", "same_end", "basin", "basin_area",
    "basin_own", "reached_first", "path_first", "along", "aside", "apart", "along_light",
)  # fmt: skip
KEPT = (
    "unlike", "away", "brighter", "bluer", "odds", "texture", "grain", "rough", "edge", "cut",
    "place", "wall_above", "likely_above", "least_above", "likely_below", "area", "top", "foot",
    "reached_top", "reached_foot", "reached_sky", "reached_solid", "near_0", "near_1",
    "step_above", "step_below", "seen_above_0.06", "seen_below_0.06", "gap_above_0.06",
    "gap_below_0.06", "contrast", "undecided",
)  # fmt: skip
STROKE_FEATURES = (*TOLD, *KEPT)


@dataclass(frozen=True)
class Told:
    """Regions of which somebody said what they are."""

    kind: bool
    """Sky or not."""
    regions: np.ndarray
    """Those of the stroke that is heard."""
    others: np.ndarray
    """Those that are known to be of the other kind."""


def taught(
    c: Coarse,
    r: Regions,
    table: Array,
    likely: Array,
    sky: Sequence[Spot],
    solid: Sequence[Spot],
) -> Array:
    """How likely each region is sky, now that strokes (x, y) spoke; theirs is what they say."""
    all_sky, all_solid = _regions_at(r, sky), _regions_at(r, solid)
    heard_of = np.zeros(r.count, bool)
    p = likely
    while (told := next_told(r, p, all_sky, all_solid, heard_of)) is not None:
        own = likely_sky(stroke_evidence(c, r, table, p, told), "strokes")
        heard_of[told.regions] = True
        known = (spots[heard_of[spots]] for spots in (all_sky, all_solid))
        p = settled_word(r, heard(p, own, told), *known)
    unheard = not heard_of[np.concatenate([all_sky, all_solid])].all()
    return settled_word(r, p, all_sky, all_solid) if unheard else p


def settled_word(r: Regions, likely: Array, sky: np.ndarray, solid: np.ndarray) -> Array:
    """What neighbours agree on, all strokes' regions being what was said."""
    held = np.zeros(r.count, bool)
    held[sky] = held[solid] = True
    p = agreed(r, likely, held)
    p[sky], p[solid] = STROKE_WORD, 1.0 - STROKE_WORD
    return p


def _regions_at(r: Regions, spots: Sequence[Spot]) -> np.ndarray:
    return np.unique(np.array([r.label[y, x] for x, y in spots], int))


def next_told(
    r: Regions, likely: Array, sky: np.ndarray, solid: np.ndarray, heard_of: Mask | None = None
) -> Told | None:
    """The stroke that contradicts the word most, with those like it in the same part.

    None when none contradicts it but regions ``heard_of`` (count,) already.
    """
    own = np.concatenate([likely[sky], 1.0 - likely[solid]])
    regions = np.concatenate([sky, solid])
    if heard_of is not None:
        own = np.where(heard_of[regions], 1.0, own)
    if not own.size or own.min() >= 0.5:
        return None
    worst = int(own.argmin())
    kind = worst < len(sky)
    mine, others = (sky, solid) if kind else (solid, sky)
    wrong = mine[(likely[mine] > 0.5) != kind]
    part = _parts(r, likely)
    return Told(kind, wrong[part[wrong] == part[regions[worst]]], others)


def heard(likely: Array, own: Array, told: Told) -> Array:
    """The word after a stroke by which every region is ``own`` (count,) likely of its kind."""
    p = np.maximum(likely, own) if told.kind else np.minimum(likely, 1.0 - own)
    p[told.regions] = STROKE_WORD if told.kind else 1.0 - STROKE_WORD
    return np.asarray(p)


def _parts(r: Regions, likely: Array) -> np.ndarray:
    """Which part of one word each region belongs to. (count,)"""
    word = likely > 0.5
    alike = word[r.first] == word[r.second]
    graph = sparse.coo_array(
        (np.ones(int(alike.sum())), (r.first[alike], r.second[alike])), shape=(r.count, r.count)
    )
    return np.asarray(csgraph.connected_components(graph.tocsr(), directed=False)[1])


def stroke_evidence(c: Coarse, r: Regions, table: Array, likely: Array, told: Told) -> Array:
    """The values of ``STROKE_FEATURES`` for every region, from its ``evidence``. (count, F)"""
    kept = table[:, [FEATURES.index(name) for name in KEPT]]
    height, width = c.shape
    own = likely if told.kind else 1.0 - likely
    end = "foot" if told.kind else "top"
    # What a stroke must not reach: the sky at the top for one kind, the solid foot for the other.
    at_end = table[:, FEATURES.index(end)] > 0.5
    against = at_end & (own < 0.5)
    against[told.others] = True
    against[told.regions] = False
    wanted = np.zeros(r.count, bool)
    wanted[told.regions] = True
    joint = r.joined_with(wanted)
    area, weighted = r.melted_sum(r.area), r.melted_sum(r.area * own)
    basin = np.zeros(r.count, bool)
    for region in told.regions:
        basin |= r.basin(int(region), against)
    size = max(float(r.area[basin].sum()), 1.0)
    path, other_path = _paths(r, wanted), _paths(r, against)
    reached, other = r.height[joint], r.reached_at(against)
    part = _parts(r, likely)
    same = np.isin(part, part[told.regions])
    rows, columns = np.indices(c.shape, np.float32)
    place = np.stack([r.mean(columns), r.mean(rows)], axis=1) / np.array([width, height])
    off = place[:, None] - place[told.regions]
    nearest = np.hypot(off[..., 0], off[..., 1]).argmin(1)
    off = off[np.arange(r.count), nearest]
    colour = np.stack([r.mean(c.unit[..., k]) for k in range(3)], axis=1)
    texture = np.log(0.05 + r.mean(c.texture))
    gap = np.sqrt(((colour[:, None] - colour[told.regions]) ** 2).sum(-1))
    values = [
        np.full(r.count, float(told.kind)),
        own,
        np.log(0.1 + reached),
        np.log(area[joint] / (height * width)),
        weighted[joint] / area[joint],
        np.log(0.1 + path),
        np.log(0.3 + gap.min(1)),
        np.abs(texture[:, None] - texture[told.regions]).min(1),
        np.hypot(off[:, 0], off[:, 1]),
        np.abs(off[:, 0]),
        off[:, 1],
        np.full(r.count, own[told.regions].mean()),
        same,
        np.full(r.count, np.log(r.area[same].sum() / (height * width))),
        np.full(r.count, float((same & at_end).any())),
        basin,
        np.full(r.count, np.log(size / (height * width))),
        np.full(r.count, (r.area * own)[basin].sum() / size),
        np.log((0.1 + reached) / (0.1 + other)),
        np.log((0.1 + path) / (0.1 + other_path)),
        *_between(r, own, told, place, colour, basin),
    ]
    return np.hstack([np.stack(values, axis=1), kept]).astype(np.float32)


def _paths(r: Regions, wanted: Mask) -> Array:
    """Least sum of walls from every region to some ``wanted`` one. (count,)"""
    if not wanted.any():
        return np.full(r.count, FAR_PATH)
    graph = sparse.coo_array((r.wall + STEP_COST, (r.first, r.second)), shape=(r.count,) * 2)
    path = csgraph.dijkstra(
        graph.tocsr(), directed=False, indices=np.flatnonzero(wanted), min_only=True
    )
    return np.asarray(np.minimum(path, FAR_PATH), float)


def _between(
    r: Regions, own: Array, told: Told, place: Array, colour: Array, basin: Mask
) -> list[Array]:
    """Where colours lie between the stroke's (0) and those of the other kind nearby (1).

    Along the line of both and aside from it, how far both are apart, and along it in lightness.
    """
    firm = np.where((own < 1.0 - FIRM) & ~basin, r.area, 0.0)
    firm = firm if firm.sum() > 0 else np.where(own < 0.5, r.area, 1e-3)
    firm[told.regions] = 0.0
    far = ((place[:, None] - place) ** 2).sum(-1)
    weight = np.exp(-0.5 * far / NEAR**2) * firm + 1e-6 * firm
    theirs = weight @ colour / weight.sum(1, keepdims=True)
    near = ((place[:, None] - place[told.regions]) ** 2).sum(-1).argmin(1)
    mine = colour[told.regions][near]
    axis = theirs - mine
    apart = np.sqrt((axis**2).sum(1)) + 0.3
    along = ((colour - mine) * axis).sum(1) / apart**2
    aside = np.sqrt((((colour - mine) - along[:, None] * axis) ** 2).sum(1)) / apart
    light = (colour[:, 0] - mine[:, 0]) / np.where(np.abs(axis[:, 0]) > 0.3, axis[:, 0], 0.3)
    return [np.clip(along, -3, 4), np.log(0.1 + aside), np.log(apart), np.clip(light, -3, 4)]
