"""One outline per thing: the shapes under a skyline, cut apart, simplified, their kind guessed.

A mask of sky in, rings in pixels out. Whatever rises clearly above the notches on both its sides
is a thing; a long low stretch between two is one more; what is thin stands for itself, as mast
or wire. All sizes are in degrees, through the picture's mean pixels per degree.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from shapely import Polygon

from skyview.angles import Array
from skyview.outline.coarse import Mask, Pixels, Plane
from skyview.outline.peaks import peaks_of
from skyview.outline.poles import pole_of
from skyview.outline.seams import clearest_near, contrast_of, seams_of

Kind = Literal["building", "tree", "mast", "wire"]

WORK_PX_PER_DEG = 14.0
"""Size at which things are cut apart; their edges are followed at this size too."""

RISE_DEG = 2.0
"""A thing rises so far above the higher one of the notches on its sides."""

LOW_SHARE, LOW_DEG, LOW_STRETCH_DEG = 0.15, 0.5, 5.0
"""The skyline between two things is low up to this share of their rise, or to these degrees; a low
stretch wider than the third is an outline of its own."""

NARROW_DEG = 3.0
"""Colours part no narrower things than this."""

BEHIND_DEG = 2.5
"""A thing goes on behind or before the next one so far past the notch, if colours say so."""

THIN_DEG = 0.35
"""What is thinner is mast or wire."""

MAST_FILL = 0.75
"""Share of the box around an upright mast that it fills."""

WIRE_GAP_DEG, WIRE_SPACING_DEG = 4.0, 1.2
"""Pieces of thin things as near as this, along and across, are one mast, or one run of wires."""

HANGING_DEG = 1.0
"""What hangs in the air and is slighter than this on average parts nothing."""

TOLERANCE_DEG, LEAFY_TOLERANCE_DEG, POLE_TOLERANCE_DEG = 0.15, 0.45, 0.1
"""How far a simplified edge may lie from the edge seen, that of a crown, and that of a pole."""

FOOT_DEG, AROUND_DEG = 1.5, 8.0
"""An outline goes on so far below the lowest skyline that is so far beside it."""

LEAF_GAP_DEG, CUT_GAP_DEG = 0.8, 1.6
"""Gaps up to the first lie between the leaves of one crown; gaps up to the second part nothing."""

SMALLEST_DEG2 = 0.8
"""Area of the smallest outline proposed, square degrees."""

LEAFY_GAPS, STRAIGHT_DEG, STRAIGHT_SHARE = 0.06, 1.2, 0.5
"""A thing is a tree from this share of gaps, or where less than the third of its simplified edge
runs straight for the second."""


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


def things_of(
    mask: Pixels, doubtful: Mask, px_per_deg: float, rgb: Pixels | None = None
) -> list[Thing]:
    """The things that stand before the sky, from left to right.

    ``mask`` (H, W) share of sky 0 to 255; ``doubtful`` (W,); ``rgb`` (H, W, 3) the picture, with
    which things are parted by their colours too.

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
    whole = _standing(_closed(body, CUT_GAP_DEG * per_deg), per_deg)
    contrast = np.zeros(size[0])
    if rgb is not None:
        small = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)
        contrast = contrast_of(small, body, per_deg)
    for left, right in _cuts(whole, contrast, per_deg):
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
    # A spire's tip is as slim as a mast, but widens downwards.
    even = area > MAST_FILL * wide * tall
    slim = ((tall > 4.0 * wide) & even) | (wide > 6.0 * tall) | (wide > 5.0)
    keep = long_ & slim
    keep[0] = False
    return np.asarray(keep[label])


def _parts(thin: Mask, per_deg: float) -> list[Mask]:
    """Thin things, pieces of one mast or of one run of wires taken together."""
    _, label, stats, _ = cv2.connectedComponentsWithStats(thin.astype(np.uint8), connectivity=8)
    upright = (stats[:, cv2.CC_STAT_HEIGHT] > stats[:, cv2.CC_STAT_WIDTH])[label] & thin
    found = []
    for part, wire in ((upright, False), (thin & ~upright, True)):
        along, across = (max(3, round(deg * per_deg)) for deg in (WIRE_GAP_DEG, WIRE_SPACING_DEG))
        kernel = np.ones((across, along) if wire else (along, across), np.uint8)
        joined = cv2.dilate(part.astype(np.uint8), kernel)
        count, near = cv2.connectedComponents(joined, connectivity=8)
        found += [part & (near == index) for index in range(1, count)]
    return found


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


def _cuts(body: Mask, contrast: Array, per_deg: float) -> list[tuple[int, int]]:
    """Column ranges of the things, and of the low stretches between them.

    ``contrast`` (W,) of what stands left and right of each column.
    """
    height, width = body.shape
    rise = np.where(body.any(0), height - body.argmax(0), 0) / per_deg
    # Tops of equal height would each count with the notches of all: the ramp makes them differ.
    ramp = np.linspace(0.0, 1e-6, width)
    peaks = peaks_of(np.concatenate([[-1.0], rise + ramp, [-1.0]]), RISE_DEG) - 1
    edges = [0]
    for left, right in itertools.pairwise(peaks):
        notch = left + int(rise[left : right + 1].argmin())
        lower = min(rise[left], rise[right]) - rise[notch]
        low = np.flatnonzero(rise[left:right] <= rise[notch] + max(LOW_DEG, LOW_SHARE * lower))
        first, last = left + low[0], left + low[-1] + 1
        if last - first >= LOW_STRETCH_DEG * per_deg:
            edges += [first, last]
        else:
            edges.append(clearest_near(contrast, notch, BEHIND_DEG * per_deg, left, right))
    if len(peaks):
        edges = [*_low_end(rise[: peaks[0] + 1][::-1], peaks[0], -1, per_deg), *edges]
        edges += _low_end(rise[peaks[-1] :], peaks[-1], 1, per_deg)
    edges = [*edges, width]
    edges = sorted({*edges, *seams_of(contrast, edges, NARROW_DEG * per_deg)})
    return [(a, b) for a, b in itertools.pairwise(edges) if body[:, a:b].any()]


def _low_end(rise: Array, peak: int, way: int, per_deg: float) -> list[int]:
    """Where the last thing before the picture's side ends, if a low stretch follows it."""
    low = rise <= rise.min() + max(LOW_DEG, LOW_SHARE * (rise[0] - rise.min()))
    first = int(low.argmax())
    long_ = len(rise) - first >= LOW_STRETCH_DEG * per_deg
    return [peak + way * first] if long_ and first > 0 else []


def _closed(body: Mask, gap_px: float) -> Mask:
    """The body with the gaps between leaves filled, and its own edge kept at the sides."""
    side = max(3, int(gap_px) | 1)
    ellipse = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    padded = cv2.copyMakeBorder(body.astype(np.uint8), *(side,) * 4, cv2.BORDER_REPLICATE)
    return cv2.morphologyEx(padded, cv2.MORPH_CLOSE, ellipse)[side:-side, side:-side] > 0


def _standing(whole: Mask, per_deg: float) -> Mask:
    """The body without pieces of wires, which would part what stands beneath them."""
    _, label, stats, _ = cv2.connectedComponentsWithStats(whole.astype(np.uint8), connectivity=8)
    long_ = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    slight = stats[:, cv2.CC_STAT_AREA] / long_ < HANGING_DEG * per_deg
    slight[np.unique(label[-1])] = False
    slight[0] = False
    return np.asarray(whole & ~slight[label])


def _solid_things(
    share: Plane, body: Mask, unsure: Plane, left: int, right: int, per_deg: float
) -> list[Thing]:
    """The body's part between two columns, down to a little below the skyline around."""
    part = body[:, left:right]
    reach = round(AROUND_DEG * per_deg)
    around = body[:, max(0, left - reach) : right + reach]
    lowest = around.argmax(0)[around.any(0)].max()
    foot = min(len(part), int(lowest + FOOT_DEG * per_deg))
    shape = np.zeros_like(part, np.uint8)
    shape[:foot] = part[:foot]
    pole = pole_of(shape > 0, per_deg)
    if pole is None:
        return _bodies(shape, share[:, left:right], unsure[left:right], left, foot, per_deg)
    own, end = pole
    own[foot:] = False
    edge = max(
        cv2.findContours(own.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0],
        key=len,
    )
    ring = _ring(edge[:, 0].astype(float), POLE_TOLERANCE_DEG * per_deg)
    shape[:end] &= ~own[:end]
    found = _bodies(shape, share[:, left:right], unsure[left:right], left, foot, per_deg)
    if ring is not None:
        doubt = float(unsure[left:right].mean())
        found.append(Thing("mast", ring + np.array([left, 0.0]), None, True, doubt))
    return found


def _bodies(
    shape: Pixels, share: Plane, unsure: Plane, left: int, foot: int, per_deg: float
) -> list[Thing]:
    """Outlines of what stands in a range of columns that begins at ``left``."""
    closed = _closed(shape > 0, LEAF_GAP_DEG * per_deg)
    gaps = float(closed.sum()) / max(float(shape.sum()), 1.0) - 1.0
    tree = gaps > LEAFY_GAPS or _straight(closed, foot, per_deg) < STRAIGHT_SHARE
    tolerance = (LEAFY_TOLERANCE_DEG if tree else TOLERANCE_DEG) * per_deg
    if tree:
        shape = closed.astype(np.uint8)
    contours, _ = cv2.findContours(shape, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    things = []
    for edge in contours:
        if cv2.contourArea(edge) < SMALLEST_DEG2 * per_deg**2:
            continue
        filled = cv2.drawContours(np.zeros_like(shape), [edge], -1, 1, -1) > 0
        sky_share = float(share[filled].mean()) if tree else None
        ring = _ring(edge[:, 0].astype(float), tolerance)
        doubt = float(unsure.mean())
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


def _straight(shape: Mask, foot: int, per_deg: float) -> float:
    """Share of a simplified edge that lies in long straight parts, sides and foot left out."""
    contours, _ = cv2.findContours(shape.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    long_ = total = 0.0
    for edge in contours:
        plain = cv2.approxPolyDP(edge, TOLERANCE_DEG * per_deg, True)[:, 0].astype(float)
        start, end = plain, np.roll(plain, -1, axis=0)
        reach = np.linalg.norm(end - start, axis=1)
        side = np.isin(start[:, 0], (0, shape.shape[1] - 1)) & (start[:, 0] == end[:, 0])
        seen = ~side & ~((start[:, 1] >= foot - 2) & (end[:, 1] >= foot - 2))
        total += float(reach[seen].sum())
        long_ += float(reach[seen & (reach > STRAIGHT_DEG * per_deg)].sum())
    return long_ / max(total, 1.0)
