"""Wording that several papers share: numbers, lists of names, the line at the foot."""

from __future__ import annotations

from collections.abc import Sequence

PRACTICE = "common practice"

FOOT = (
    "Roof edges, ladders, masts, power lines, grounding and lightning: local codes and licensed "
    "people decide."
)

BANDS = {"uhf": "UHF", "high_vhf": "high VHF", "low_vhf": "low VHF"}

_COMPASS = (
    "north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest",
)  # fmt: skip
_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip


def compass_word(azimuth_deg: float) -> str:
    """The nearest of eight points of the compass.

    >>> compass_word(352.0), compass_word(97.0)
    ('north', 'east')
    """
    return _COMPASS[round(azimuth_deg / 45.0) % 8]


def counted(number_of: int, thing: str = "") -> str:
    """A number in letters where it is small, with its thing in the right number.

    >>> counted(1, "station"), counted(14, "station"), counted(3)
    ('one station', '14 stations', 'three')
    """
    word = _NUMBERS[number_of] if number_of < len(_NUMBERS) else str(number_of)
    return f"{word} {thing}{'' if number_of == 1 else 's'}" if thing else word


def some(names: Sequence[str], most: int = 12) -> str:
    """The first few of some names.

    >>> some(["QA", "QB", "QC"], 2)
    'QA, QB and 1 more'
    """
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return f"{', '.join(names[:most])}{more}"


def sentence(text: str) -> str:
    """A part of a sentence as one of its own.

    >>> sentence("it is far away")
    'It is far away.'
    """
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def seen_on(day: str | None) -> str:
    """The day of the photograph, and what promises hold for."""
    return f"Seen on {day}; told for trees in leaf" if day else "Told for trees in leaf"
