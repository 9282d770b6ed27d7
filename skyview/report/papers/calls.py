"""Call signs on poles in a band of rails: the panorama's tags with nothing but the call sign."""

from __future__ import annotations

from collections.abc import Sequence

from skyview.report import ink
from skyview.report.canvas import Box, Canvas
from skyview.report.labels import Board, Pin, Tag, place_tags
from skyview.report.lettering import Style, shortened, width_px
from skyview.report.reception_lines import draw_reception
from skyview.survey.results import ReceptionWord

PITCH = 27.0
"""From rail to rail. [px at scale 1]"""

_HEIGHT = 22.0
_LONGEST = 150.0
_CALL = 20.0
_END = 3


def hang_calls(
    canvas: Canvas,
    names: Sequence[str],
    marks: Sequence[Box],
    room: Box,
    rails: int,
) -> list[Tag | None]:
    """Where the call signs of some marks hang in ``room``, lowest rail first. Boxes in px."""
    s = canvas.scale
    style = canvas.style(_CALL, "serif", bold=True)
    pins = []
    for name, mark in zip(names, marks, strict=True):
        size = (width_px(_fitted(name, style, _LONGEST * s), style), _HEIGHT * s)
        pins.append(Pin((mark[0] + mark[2]) / 2, mark, (size, size, size)))
    tops = tuple(room[1] + PITCH * s * i for i in range(rails))[::-1]
    knees = tuple(s * aside for aside in (12.0, 24.0, 48.0, 80.0, 120.0))
    board = Board(left=room[0], right=room[2], rails=tops, offset=6 * s, gap=3 * s, knees=knees)
    return place_tags(pins, board)[0] if pins else []


def _fitted(name: str, style: Style, room_px: float) -> str:
    """The name, or its beginning and its end, where names of one kind differ."""
    if width_px(name, style) <= room_px:
        return name
    end = name[-_END:]
    return shortened(name[:-_END], style, room_px - width_px(end, style)) + end


def draw_calls(
    canvas: Canvas,
    names: Sequence[str],
    receptions: Sequence[ReceptionWord],
    tags: Sequence[Tag | None],
) -> None:
    """Poles in the lines of reception, and the call signs on them."""
    s = canvas.scale
    style = canvas.style(_CALL, "serif", bold=True)
    for name, reception, tag in zip(names, receptions, tags, strict=True):
        if tag is None:
            continue
        draw_reception(canvas, tag.pole, reception, case=ink.CASE)
        right = tag.side == "right"
        text = _fitted(name, style, _LONGEST * s)
        x = tag.box[0] if right else tag.box[2]
        canvas.text(x, tag.box[1] + 17 * s, text, style, halo=True, ha="left" if right else "right")
