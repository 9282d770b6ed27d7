"""The inks of the pictures: colours, sizes of type, weights of lines, and the type faces.

Sizes and weights are px at scale 1 (a picture 2200 px wide); ``scale_for`` gives the factor for
narrower pictures, which are looked at on smaller screens. Serif is for what the tool says, sans
for what it measures, serif italic for the names of things in view.
"""

from __future__ import annotations

from functools import cache
from typing import Literal

from matplotlib import font_manager

PAPER = "#FCFAF4"
PANEL = "#F4EEE2"
INK = "#1F1A15"
INK_2 = "#564C41"
LINE = "#857A69"
RULE = "#DAD1C0"
PENCIL = "#B0361B"

WORD_COLOURS = {
    "clear": "#2C5F9E",
    "grazing": "#945F16",
    "through_trees": "#2B3920",
    "blocked": "#330F30",
    "not_seen": "#6E6A66",
}
"""Colour of each path word on paper: at least 5 to 1, told apart by colour-blind eyes."""

TINT = "#4A2A63"
"""The loss layer's one colour: what is lost is told by its depth alone."""

TITLE = 34.0
SUBTITLE = 18.0
CALL_SIGN = 20.0
CHANNEL = 15.0
WORD = 16.5
NOTE = 14.5
NAME = 17.0
SCALE_TRUE = 16.0
SCALE_MAGNETIC = 14.0
LEGEND_HEAD = 20.0
LEGEND_WORD = 18.0
LEGEND_TEXT = 16.0

FRAME_LINE = 1.6
HAIRLINE = 0.9
NORTH_LINE = 1.2
OUTLINE = 1.7
OUTLINE_CHOSEN = 2.8
POLE = 2.2
ZONE = 2.0
LOOP = 3.0
CASE = 2.0
"""Width of the paper seam on each side of a line that lies on the photograph."""

DASH_TREE = (8.0, 3.6)
DASH_POWER_LINE = (14.0, 5.0, 2.5, 5.0)

MARK_RADIUS = 11.0
HALO = 5.0

Face = Literal["sans", "serif"]

_INSTALLED_FIRST: dict[Face, tuple[str, ...]] = {
    "sans": ("Roboto", "Segoe UI", "Helvetica Neue", "Noto Sans", "Arial", "Liberation Sans"),
    "serif": ("Noto Serif", "Charter", "Cambria", "Georgia"),
}
_ALWAYS_THERE: dict[Face, tuple[str, ...]] = {
    "sans": ("DejaVu Sans", "sans-serif"),
    "serif": ("DejaVu Serif", "DejaVu Sans", "serif"),
}
_OTHER_SCRIPTS = ("Noto Sans CJK JP", "Yu Gothic", "Hiragino Sans")


@cache
def families(face: Face) -> tuple[str, ...]:
    """Names of installed type families for a face, best first.

    The last ones come with matplotlib itself, so that the list is never empty.

    >>> "DejaVu Serif" in families("serif")
    True
    """
    have = set(font_manager.get_font_names())
    best = [name for name in _INSTALLED_FIRST[face] if name in have][:1]
    scripts = [name for name in _OTHER_SCRIPTS if name in have]
    return (*best, *_ALWAYS_THERE[face][:-1], *scripts, _ALWAYS_THERE[face][-1])


def scale_for(width_px: int) -> float:
    """Factor on all sizes for a picture of this width. [unitless]

    1 from 1400 px on; 1.35 at 900 px and below, the width of a telephone.

    >>> scale_for(2200), scale_for(900)
    (1.0, 1.35)
    """
    return 1.0 + 0.35 * min(1.0, max(0.0, (1400 - width_px) / 500))
