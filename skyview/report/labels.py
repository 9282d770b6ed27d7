"""Where the tags of stations hang: pure geometry, in px, y down.

A tag hangs at the top of a pole that rises from its station's mark. Every tag chooses among
places (right or left of the pole, on one of the rails) and forms (all lines; without the channel;
the call sign alone; the call sign on a pole with one 45 degree knee). Dynamic programming along
azimuth finds the cheapest choice in which no tag touches another tag, a foreign pole, a mark or
anything fixed. A station that finds no place gets no tag and is for the caller to list.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from skyview.angles import Array
from skyview.report.canvas import Box
from skyview.report.touching import boxes_touch, lies_on, segments_cross, segments_touch_boxes

Form = Literal["all", "no_channel", "call_sign"]
FORMS: tuple[Form, ...] = ("all", "no_channel", "call_sign")
Side = Literal["right", "left"]

_RAIL_COST = 1.0
_LEFT_COST = 0.4
_SHY_COST = 2.5
_FORM_COST = (0.0, 12.0, 40.0)
_KNEE_COST = 90.0
_KNEE_COST_PER_PX = 0.1
_NO_TAG_COST = 400.0
_STATES_KEPT = 400
_STATES_LOOKED_AT = 8


@dataclass(frozen=True)
class Pin:
    """A station's mark and what its tag would measure."""

    x: float
    """Centre of the mark. [px]"""
    box: Box
    """What the mark fills; its pole begins at this box's top. [px]"""
    sizes: tuple[tuple[float, float], ...]
    """Width and height of the tag in each of ``FORMS``. [px]"""
    weight: float = 1.0
    """How much more than others this station deserves a good place. [unitless]"""


@dataclass(frozen=True)
class Board:
    """What the tags hang on, and what they must keep off."""

    left: float
    """No tag reaches further left. [px]"""
    right: float
    """No tag reaches further right. [px]"""
    rails: tuple[float, ...]
    """Tops of the tags, lowest rail (largest y) first. [px]"""
    offset: float = 10.0
    """From a pole to its tag's text. [px]"""
    gap: float = 5.0
    """Least distance between a tag and anything foreign. [px]"""
    knees: tuple[float, ...] = (24.0, 48.0, 80.0, 120.0)
    """How far aside a knee may carry a pole. [px]"""
    solids: tuple[Box, ...] = ()
    """Boxes that neither tags nor poles may touch. [px]"""
    quiet: tuple[Box, ...] = ()
    """Boxes that tags and slanting pieces may not touch; upright poles pass behind. [px]"""
    shy: tuple[Array, ...] = ()
    """Shapes (N, 2) that tags would rather not lie on. [px]"""


@dataclass(frozen=True)
class Tag:
    """Where one tag hangs."""

    form: Form
    side: Side
    box: Box
    """What the text fills. [px]"""
    pole: tuple[tuple[float, float], ...] = field(default=())
    """From the mark's top to the rail, two points or three with a knee. [px]"""


@dataclass(frozen=True)
class _Choices:
    """All places one station could take; the last one is "no tag" (its numbers are NaN)."""

    boxes: Array
    """(n, 4)"""
    poles: Array
    """(n, 2, 4): the upright piece and the slanting one, NaN where there is none"""
    costs: Array
    """(n,)"""
    tags: tuple[Tag | None, ...]


def _conflicts(a: _Choices, b: _Choices, gap: float) -> np.ndarray:
    """Which choices of one station exclude which of others, (len(a), len(b)).

    Upright pieces never cross each other, so that only slanting ones are held against both.
    """
    clash = boxes_touch(a.boxes[:, None], b.boxes[None, :], gap)
    clash |= segments_touch_boxes(a.poles[:, None, 0], b.boxes[None, :], gap)
    clash |= segments_touch_boxes(b.poles[None, :, 0], a.boxes[:, None], gap)
    bent_a, bent_b = (np.flatnonzero(~np.isnan(c.poles[:, 1, 0])) for c in (a, b))
    slant_a, slant_b = a.poles[bent_a, None, 1], b.poles[None, bent_b, 1]
    clash[bent_a] |= segments_touch_boxes(slant_a, b.boxes[None, :], gap)
    clash[bent_a] |= segments_cross(slant_a, b.poles[None, :, 0])
    clash[:, bent_b] |= segments_touch_boxes(slant_b, a.boxes[:, None], gap)
    clash[:, bent_b] |= segments_cross(a.poles[:, None, 0], slant_b)
    clash[np.ix_(bent_a, bent_b)] |= segments_cross(slant_a, slant_b)
    return clash


def _tag_at(pin: Pin, board: Board, rail: float, form: int, side: Side, aside: float) -> Tag:
    width, height = pin.sizes[form]
    foot = pin.box[1]
    head = pin.x + aside
    left = head + board.offset if side == "right" else head - board.offset - width
    pole: tuple[tuple[float, float], ...] = ((pin.x, foot), (pin.x, rail))
    if aside:
        pole = ((pin.x, foot), (pin.x, rail + abs(aside)), (head, rail))
    return Tag(FORMS[form], side, (left, rail, left + width, rail + height), pole)


def _choices(pin: Pin, board: Board, marks: Array) -> _Choices:
    """All places of one tag that keep off everything fixed, with their costs."""
    tags: list[Tag | None] = []
    costs: list[float] = []
    for rank, rail in enumerate(board.rails):
        for side in ("right", "left"):
            base = rank * _RAIL_COST + (_LEFT_COST if side == "left" else 0.0)
            for form, cost in enumerate(_FORM_COST):
                tags.append(_tag_at(pin, board, rail, form, side, 0.0))
                costs.append(base + cost)
            for knee in board.knees:
                aside = knee if side == "right" else -knee
                tags.append(_tag_at(pin, board, rail, len(FORMS) - 1, side, aside))
                costs.append(base + _KNEE_COST + _KNEE_COST_PER_PX * knee)
    boxes = np.array([tag.box for tag in tags if tag]).reshape(-1, 4)
    poles = np.full((len(boxes), 2, 4), np.nan)
    for row, tag in enumerate(tags):
        if tag is not None:
            ends = np.array(tag.pole)
            pieces = np.hstack([ends[:-1], ends[1:]])
            poles[row, : len(pieces)] = pieces
    solids = np.array(board.solids).reshape(-1, 4)
    quiet = np.vstack([solids, np.array(board.quiet).reshape(-1, 4), marks])
    fits = (boxes[:, 0] >= board.left) & (boxes[:, 2] <= board.right)
    fits &= poles[:, 0, 1] > poles[:, 0, 3]
    fits &= ~boxes_touch(boxes[:, None], quiet[None, :], board.gap).any(axis=1)
    fits &= ~segments_touch_boxes(poles[:, :, None], solids[None, None]).any(axis=(1, 2))
    fits &= ~segments_touch_boxes(poles[:, 1:], quiet[None]).any(axis=1)
    price = np.array(costs)
    for shape in board.shy:
        price = price + _SHY_COST * lies_on(boxes, shape)
    kept = np.flatnonzero(fits)
    return _Choices(
        np.vstack([boxes[kept], np.full((1, 4), np.nan)]),
        np.concatenate([poles[kept], np.full((1, 2, 4), np.nan)]),
        pin.weight * np.append(price[kept], _NO_TAG_COST),
        (*(tags[row] for row in kept), None),
    )


def _reach(choices: _Choices) -> tuple[float, float]:
    """The leftmost and the rightmost px that any choice touches; empty for "no tag" alone."""
    xs = np.concatenate([choices.boxes[:, [0, 2]].ravel(), choices.poles[..., [0, 2]].ravel()])
    xs = xs[~np.isnan(xs)]
    return (float(xs.min()), float(xs.max())) if xs.size else (np.inf, -np.inf)


def _joined(parts: Sequence[_Choices]) -> _Choices:
    return _Choices(
        np.vstack([part.boxes for part in parts]),
        np.concatenate([part.poles for part in parts]),
        np.concatenate([part.costs for part in parts]),
        tuple(tag for part in parts for tag in part.tags),
    )


def _cheapest(stations: list[_Choices], gap: float) -> tuple[np.ndarray, float]:
    """Index of the choice of each station, in the order given (along azimuth), and their cost.

    A state is the set of choices that the stations so far leave open to later ones; of equal
    states only the cheapest lives on. The search is exact until more than ``_STATES_KEPT`` states
    differ; then those stay whose cost, with the cheapest open choice of every later station, is
    least.
    """
    reach = [_reach(choices) for choices in stations]
    sizes = [len(choices.costs) for choices in stations]
    picks, costs = np.zeros((1, 0), dtype=int), np.zeros(1)
    open_choices = np.ones((1, sizes[0]), dtype=bool)
    for here, choices in enumerate(stations):
        total = np.where(open_choices[:, : sizes[here]], costs[:, None] + choices.costs, np.inf)
        order = np.argsort(total, axis=None, kind="stable")[: _STATES_KEPT * _STATES_LOOKED_AT]
        order = order[np.isfinite(total.ravel()[order])]
        state, choice = np.unravel_index(order, total.shape)
        picks = np.column_stack([picks[state], choice])
        costs = total.ravel()[order]
        if here + 1 == len(stations):
            break
        last = max(
            [here + 1]
            + [j for j in range(here + 2, len(stations)) if reach[j][0] <= reach[here][1] + gap]
        )
        later = _joined(stations[here + 1 : last + 1])
        clash = _conflicts(choices, later, gap)
        left_open = _widened(open_choices[:, sizes[here] :], len(later.costs))
        open_choices = left_open[state]
        open_choices[:, : clash.shape[1]] &= ~clash[choice]
        kept = _best_states(open_choices, costs, stations[here + 1 :])
        picks, costs, open_choices = picks[kept], costs[kept], open_choices[kept]
    return picks[0], float(costs[0])


def _widened(open_choices: np.ndarray, count: int) -> np.ndarray:
    """The same with at least ``count`` columns; what nobody has met yet is open."""
    more = max(0, count - open_choices.shape[1])
    return np.pad(open_choices, ((0, 0), (0, more)), constant_values=True)


def _best_states(open_choices: np.ndarray, costs: Array, later: list[_Choices]) -> np.ndarray:
    """Rows to keep: of states that leave the same open, the first; then the most hopeful.

    ``costs`` rise from row to row. A state hopes that each later station takes the cheapest
    choice still open to it.
    """
    packed = np.packbits(open_choices, axis=1).astype(np.uint64)
    factors = np.random.default_rng(0).integers(0, 2**63, packed.shape[1], dtype=np.uint64)
    _, first = np.unique(packed @ (2 * factors + 1), return_index=True)
    first = np.sort(first)
    if len(first) <= _STATES_KEPT:
        return first
    hopes, start = costs[first], 0
    for choices in later:
        end = start + len(choices.costs)
        if end > open_choices.shape[1]:
            break
        offered = np.where(open_choices[first, start:end], choices.costs, np.inf)
        hopes = hopes + offered.min(axis=1)
        start = end
    return first[np.argsort(hopes, kind="stable")[:_STATES_KEPT]]


def place_tags(pins: Sequence[Pin], board: Board) -> tuple[list[Tag | None], float]:
    """The tag of each pin, in the order of the pins, None where no place was left; their cost.

    The cost [unitless] serves to compare boards with each other.

    No tag comes nearer than ``board.gap`` to another tag, to a foreign pole, to any mark, or to
    the board's solid and quiet boxes, and no two poles cross. Poles of one and the same bearing
    run on each other.

    >>> pin = Pin(100.0, (90.0, 90.0, 110.0, 110.0), ((60.0, 40.0), (40.0, 40.0), (40.0, 20.0)))
    >>> place_tags([pin], Board(0.0, 300.0, (5.0,)))[0][0].box
    (110.0, 5.0, 170.0, 45.0)
    """
    if not pins:
        return [], 0.0
    marks = np.array([pin.box for pin in pins])
    order = sorted(range(len(pins)), key=lambda i: (pins[i].x, pins[i].box[1], i))
    choices = [_choices(pins[i], board, marks) for i in order]
    tags: list[Tag | None] = [None] * len(pins)
    picks, cost = _cheapest(choices, board.gap)
    for rank, pick in enumerate(picks):
        tags[order[rank]] = choices[rank].tags[pick]
    return tags, cost
