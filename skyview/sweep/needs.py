"""What a sweep needs from the photographer: the one place where it stands, as codes and figures.

The command that joins frames judges by these figures, and the capture card prints them.
"""

from __future__ import annotations

from dataclasses import dataclass

LEAST_FRAMES = 2
OVERLAP_SHARE = 0.4
"""Of a frame's width that the next one should show again."""
LEAST_OVERLAP_SHARE = 0.2
"""Of a frame's width, below which two frames may not be joined."""


@dataclass(frozen=True)
class Need:
    """One thing to heed: a code, and a figure with its unit where there is one."""

    code: str
    value: float | None = None
    unit: str = ""


NEEDS = (
    Need("frames_landscape", 10.0, "frames"),
    Need("frames_upright", 14.0, "frames"),
    Need("overlap", OVERLAP_SHARE, "share"),
    Need("close_the_circle"),
    Need("same_spot", 0.1, "m"),
    Need("turn_about_the_phone"),
    Need("eye_height", 1.6, "m"),
    Need("level_within", 5.0, "deg"),
    Need("far_things_in_each"),
    Need("no_zoom", 1.0, "x"),
    Need("within_minutes", 2.0, "min"),
    Need("keep_from_the_edge"),
)
"""Frames for a whole turn with a telephone's main lens (66 deg wide, 52 upright) at that overlap;
the rest is common practice, no source. A step of 0.1 m turns a thing at 30 m by 0.2 deg."""
