"""One outline per thing: the shapes under a skyline, cut apart, simplified, their kind guessed.

A mask of sky and the picture's fine detail in, rings in pixels out. Things are cut apart at the
notches of the skyline and where it jumps; what is thin stands for itself, as mast or wire. All
sizes are in degrees, through the picture's mean pixels per degree.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from scipy.signal import find_peaks
from shapely import Polygon

from skyview.angles import Array
from skyview.outline.coarse import Mask, Pixels, Plane

Kind = Literal["building", "tree", "mast", "wire"]

WORK_PX_PER_DEG = 14.0
"""Size at which things are cut apart; their edges are followed at this size too."""

NOTCH_DEG, JUMP_DEG = 1.0, 1.5
"""Depth of a notch, and height of a step within a quarter degree, that part two things."""

NARROWEST_DEG, THIN_DEG = 0.8, 0.35
"""Slimmer parts join their neighbour; what is thinner than the second is mast or wire."""

TOLERANCE_DEG = 0.12
"""How far a simplified edge may lie from the edge seen."""

FOOT_DEG, AROUND_DEG = 1.5, 8.0
"""An outline goes on so far below the lowest skyline that is so far beside it."""

LEAF_GAP_DEG, CUT_GAP_DEG = 0.8, 1.6
"""Gaps up to the first lie between the leaves of one crown; gaps up to the second part nothing."""

SMALLEST_DEG2 = 0.2
"""Area of the smallest outline proposed, square degrees."""

LEAFY_GAPS, RAGGED_TREE = 0.06, 1.35
"""A thing is a tree from this share of gaps, or from this ratio of the length of its edge to that
of the edge simplified."""


@dataclass(frozen=True)
class Thing:
    """A proposed outline."""

    kind: Kind
    """A guess, from its edge alone."""
    ring_px: Array
    """(N, 2) x, y of its edge. [px]"""
    sky_share: float | None
    """Share of sky within the edge of a crown; None for what has no leaves."""
    reaches_ground: bool
    doubtful: float
    """Share of its columns whose skyline is unsure."""


def things_of(mask: Pixels, doubtful: Mask, px_per_deg: float) -> list[Thing]:
    """The things that stand before the sky, from left to right.

    ``mask`` (H, W) share of sky 0 to 255; ``doubtful`` (W,).

    >>> mask = np.full((300, 400), 255, np.uint8)
    >>> mask[200:] = 0; mask[120:, 150:250] = 0
    >>> kinds = [thing.kind for thing in things_of(mask, np.zeros(400, bool), 14.0)]
    >>> kinds
    ['building', 'building', 'building']
    """
    scale = min(1.0, WORK_PX_PER_DEG / px_per_deg)
    height, width = mask.shape
    size = max(4, round(width * scale)), max(4, round(height * scale))
    share = cv2.resize(mask, size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255.0
    unsure = cv2.resize(
        doubtful.astype(np.float32)[None], (size[0], 1), interpolation=cv2.INTER_AREA
    )[0]
    per_deg = px_per_deg * size[0] / width
    solid = share < 0.5
    thin = _thin(share, per_deg)
    body = solid & ~cv2.dilate(thin.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    found = [_thin_thing(part, unsure) for part in _parts(thin, per_deg)]
    for left, right in _cuts(_closed(body, CUT_GAP_DEG * per_deg), per_deg):
        found += _solid_things(share, body, unsure, left, right, per_deg)
    back = np.array([width / size[0], height / size[1]])
    return [
        Thing(t.kind, t.ring_px * back, t.sky_share, t.reaches_ground, t.doubtful)
        for t in sorted(found, key=lambda t: float(t.ring_px[:, 0].min()))
    ]


def _thin(share: Plane, per_deg: float) -> Mask:
    """What an opening by ``THIN_DEG`` removes and is long."""
    solid = (share < 0.6).astype(np.uint8)
    side = max(3, int(THIN_DEG * per_deg) | 1)
    opened = cv2.morphologyEx(solid, cv2.MORPH_OPEN, np.ones((side, side), np.uint8))
    around = cv2.dilate(opened, np.ones((3, 3), np.uint8))
    rest = np.where(around > 0, np.uint8(0), solid)
    _count, label, stats, _ = cv2.connectedComponentsWithStats(rest, connectivity=8)
    wide, tall = stats[:, cv2.CC_STAT_WIDTH] / per_deg, stats[:, cv2.CC_STAT_HEIGHT] / per_deg
    area = stats[:, cv2.CC_STAT_AREA] / per_deg**2
    long_ = (np.maximum(wide, tall) > 1.0) & (area < 1.6 * THIN_DEG * np.hypot(wide, tall))
    slim = (tall > 4.0 * wide) | (wide > 6.0 * tall) | (wide > 5.0)
    keep = long_ & slim
    keep[0] = False
    return keep[label]


def _parts(thin: Mask, per_deg: float) -> list[Mask]:
    """Thin things, pieces of one wire or mast taken together."""
    joined = cv2.dilate(thin.astype(np.uint8), np.ones((3, max(3, int(per_deg))), np.uint8))
    count, label = cv2.connectedComponents(joined, connectivity=8)
    return [thin & (label == index) for index in range(1, count)]


def _thin_thing(part: Mask, unsure: Plane) -> Thing:
    y, x = np.nonzero(part)
    wire = np.ptp(x) > np.ptp(y)
    # A ring around a thin thing: its upper edge there, its lower edge back.
    along, across = (x, y) if wire else (y, x)
    places = np.unique(along)
    few = places[np.unique(np.linspace(0, len(places) - 1, 12).round().astype(int))]
    low = np.array([across[along == p].min() for p in few])
    high = np.array([across[along == p].max() + 1 for p in few])
    forth, back = np.stack([few + 0.5, low], 1), np.stack([few + 0.5, high], 1)[::-1]
    ring = np.concatenate([forth, back]).astype(float)
    ring = ring if wire else ring[:, ::-1]
    return Thing("wire" if wire else "mast", ring, None, not wire, float(unsure[x].mean()))


def _cuts(body: Mask, per_deg: float) -> list[tuple[int, int]]:
    """Column ranges of the things: between notches and jumps of the skyline."""
    height, width = body.shape
    top = np.where(body.any(0), body.argmax(0), height).astype(float)
    notches, _ = find_peaks(top, prominence=NOTCH_DEG * per_deg)
    reach = max(1, round(0.25 * per_deg))
    rise = np.abs(top[reach:] - top[:-reach])
    jumps, _ = find_peaks(
        np.concatenate([[0.0], rise, [0.0]]), height=JUMP_DEG * per_deg, distance=2 * reach
    )
    cuts = np.unique(np.concatenate([[0], notches, jumps - 1 + reach // 2 + 1, [width]])).astype(
        int
    )
    kept = [0]
    for cut in cuts[1:-1]:
        if cut - kept[-1] >= NARROWEST_DEG * per_deg and width - cut >= NARROWEST_DEG * per_deg:
            kept.append(int(cut))
    kept.append(width)
    return [(a, b) for a, b in itertools.pairwise(kept) if body[:, a:b].any()]


def _closed(body: Mask, gap_px: float) -> Mask:
    """The body with the gaps between leaves filled, and its own edge kept at the sides."""
    side = max(3, int(gap_px) | 1)
    ellipse = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    padded = cv2.copyMakeBorder(body.astype(np.uint8), *(side,) * 4, cv2.BORDER_REPLICATE)
    return cv2.morphologyEx(padded, cv2.MORPH_CLOSE, ellipse)[side:-side, side:-side] > 0


def _solid_things(
    share: Plane, body: Mask, unsure: Plane, left: int, right: int, per_deg: float
) -> list[Thing]:
    """The body's part between two columns, down to a little below the skyline around."""
    part = body[:, left:right]
    columns = part.any(0)
    top = part.argmax(0)[columns]
    reach = round(AROUND_DEG * per_deg)
    around = body[:, max(0, left - reach) : right + reach]
    lowest = around.argmax(0)[around.any(0)].max()
    foot = min(len(part), int(lowest + FOOT_DEG * per_deg))
    shape = np.zeros_like(part, np.uint8)
    shape[:foot] = part[:foot]
    tolerance = TOLERANCE_DEG * per_deg
    closed = _closed(shape > 0, LEAF_GAP_DEG * per_deg)
    gaps = float(closed.sum()) / max(float(shape.sum()), 1.0) - 1.0
    tree = gaps > LEAFY_GAPS or _raggedness(top.astype(float), per_deg) > RAGGED_TREE
    if tree:
        shape = closed.astype(np.uint8)
    contours, _ = cv2.findContours(shape, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    things = []
    for edge in contours:
        if cv2.contourArea(edge) < SMALLEST_DEG2 * per_deg**2:
            continue
        filled = cv2.drawContours(np.zeros_like(shape), [edge], -1, 1, -1) > 0
        sky_share = float(share[:, left:right][filled].mean()) if tree else None
        ring = _ring(edge[:, 0].astype(float), tolerance)
        doubt = float(unsure[left:right].mean())
        if ring is not None:
            kind: Kind = "tree" if tree else "building"
            things.append(Thing(kind, ring + np.array([left, 0.0]), sky_share, True, doubt))
    return things


def _ring(edge: Array, tolerance_px: float) -> Array | None:
    """Simplified ring around boundary pixels: their edges, not their middles; None if too thin."""
    if len(edge) < 3:
        return None
    # Widening by half a pixel also merges spurs that the boundary runs along twice.
    shape = Polygon(edge + 0.5).buffer(0.5, join_style="mitre")
    parts = [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon)]
    if not parts:
        return None
    largest = max(parts, key=lambda part: part.area)
    plain = Polygon(largest.exterior).simplify(tolerance_px, preserve_topology=True)
    return np.asarray(plain.exterior.coords, float)[:-1]


def _raggedness(top: Array, per_deg: float) -> float:
    """Length of the skyline over the length of its form simplified to half a degree."""
    if len(top) < 3:
        return 1.0
    line = np.stack([np.arange(len(top)), top], axis=1).astype(np.float32)
    plain = cv2.approxPolyDP(line[:, None], 0.5 * per_deg, False)[:, 0]

    def length(points: np.ndarray) -> float:
        return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())

    return length(line) / max(length(plain), 1.0)
