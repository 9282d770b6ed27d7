"""A transmitting antenna's horizontal pattern from one cell, as pairs of azimuth and level."""

from __future__ import annotations

import math
import re

from skyview.survey.lists.values import UnreadableError, number_from, shown

LOWEST_DB = -60.0
"""Level that stands for a relative field of 0, which has no decibels."""

_NONE = frozenset(
    ("nd", "non-directional", "nondirectional", "omni", "omnidirectional", "od", "no", "none")
)
_PAIR = re.compile(r"\s*([^:=\s°]+?)\s*(?:°|deg)?\s*[:=]\s*([^:=]+?)\s*(?:dB)?\s*", re.IGNORECASE)


def is_round(text: str) -> bool:
    """Whether the cell says that the antenna has no direction.

    >>> is_round("ND"), is_round("0:0;90:-3")
    (True, False)
    """
    return text.strip().casefold() in _NONE


def pattern_from(
    text: str, form: str = "pattern", decimal_comma: bool = False
) -> list[list[float]]:
    """Pairs [[azimuth_deg, relative_db], ...] in order of azimuth. [deg, dB]

    The cell reads "0:0;10:-0.5;..."; pairs may also be parted by blanks, bars or commas. ``form``
    tells what the levels are: "pattern" decibels, 0 or less; "pattern_attenuation" decibels
    below the maximum; "pattern_field" the field over its maximum, 0..1, of which 20 log10 is
    taken (0 becomes -60 dB).

    >>> pattern_from("0:1;180:0.5", "pattern_field")
    [[0.0, 0.0], [180.0, -6.0206]]
    """
    parted = re.split(r"[;|]" if re.search(r"[;|]", text) else _loose(decimal_comma), text.strip())
    levels: dict[float, float] = {}
    for piece in filter(str.strip, parted):
        pair = _PAIR.fullmatch(piece)
        if pair is None or len(piece) > 60:
            raise UnreadableError(f"{shown(piece)} is not a pair such as 10:-0.5")
        azimuth = number_from(pair[1], decimal_comma)
        level = _level_db(number_from(pair[2], decimal_comma), form, piece)
        if not 0 <= azimuth <= 360:
            raise UnreadableError(f"{shown(piece)} has an azimuth outside 0..360")
        if levels.setdefault(azimuth % 360.0, level) != level:
            raise UnreadableError(f"azimuth {azimuth:g} comes twice with different levels")
    if not levels:
        raise UnreadableError(f"{shown(text)} is not a pattern")
    return [[azimuth, levels[azimuth]] for azimuth in sorted(levels)]


def _loose(decimal_comma: bool) -> str:
    """What parts pairs where no semicolon or bar does."""
    return r"\s+(?=\d)" if decimal_comma else r",\s*|\s+(?=\d)"


def _level_db(value: float, form: str, piece: str) -> float:
    if form == "pattern_field":
        if not 0 <= value <= 1:
            raise UnreadableError(f"{shown(piece)} has a relative field outside 0..1")
        decibels = 20.0 * math.log10(value) if value > 0 else LOWEST_DB
        return round(max(decibels, LOWEST_DB), 4) + 0.0
    level = -value if form == "pattern_attenuation" else value
    if level > 0:
        raise UnreadableError(f"{shown(piece)} lies above the maximum, which is 0 dB")
    return level + 0.0
