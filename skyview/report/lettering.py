"""Text before it is drawn: which letters can be drawn, how wide it is, how it is shortened.

Widths are px at 100 px to the inch, the same for every file format.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache

from matplotlib import font_manager
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from skyview.report import ink

PT_PER_PX = 0.72
_UNKNOWN_LETTER = "□"


@dataclass(frozen=True)
class Style:
    """How a text is set: size in px, face, weight and slant."""

    size: float
    face: ink.Face = "sans"
    bold: bool = False
    italic: bool = False

    def properties(self) -> FontProperties:
        """The same for matplotlib."""
        return FontProperties(
            family=list(ink.families(self.face)),
            size=self.size * PT_PER_PX,
            weight="bold" if self.bold else "normal",
            style="italic" if self.italic else "normal",
        )


@cache
def _letters(face: ink.Face, bold: bool, italic: bool) -> frozenset[int]:
    found: set[int] = set()
    for family in ink.families(face):
        properties = FontProperties(
            family=family,
            weight="bold" if bold else "normal",
            style="italic" if italic else "normal",
        )
        path = font_manager.fontManager.findfont(properties)
        found.update(font_manager.get_font(path).get_charmap())
    return frozenset(found)


def printable(text: str, style: Style) -> str:
    """The text on one line, with a box for each letter that no installed type face holds.

    >>> printable("two\\nlines", Style(16.0))
    'two lines'
    """
    letters = _letters(style.face, style.bold, style.italic)
    out = []
    for letter in text:
        kind = unicodedata.category(letter)
        if letter.isspace() or kind == "Cc":
            out.append(" ")
        elif kind in ("Cf", "Cs", "Cn"):
            continue
        else:
            out.append(letter if ord(letter) in letters else _UNKNOWN_LETTER)
    return " ".join("".join(out).split())


@lru_cache(maxsize=4096)
def width_px(text: str, style: Style) -> float:
    """Width of a text as set. [px]

    >>> width_px("QALD", Style(20.0)) == 2 * width_px("QALD", Style(10.0))
    True
    """
    text = printable(text, style)
    if not text:
        return 0.0
    width, _, _ = text_to_path.get_text_width_height_descent(text, style.properties(), False)
    return float(width) / PT_PER_PX


def shortened(text: str, style: Style, room_px: float) -> str:
    """The text, or as much of its beginning as fits the room, ended by three dots.

    >>> shortened("a very long name indeed", Style(16.0), 60.0).endswith("…")
    True
    """
    text = printable(text, style)
    if width_px(text, style) <= room_px:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width_px(text[:middle].rstrip() + "…", style) <= room_px:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "…"


def wrapped(text: str, style: Style, room_px: float) -> list[str]:
    """The text in lines that fit the room, broken between words.

    >>> wrapped("one two three", Style(16.0), 70.0)
    ['one two', 'three']
    """
    lines: list[str] = []
    line = ""
    for word in printable(text, style).split():
        longer = f"{line} {word}" if line else word
        if line and width_px(longer, style) > room_px:
            lines.append(line)
            longer = word
        line = shortened(longer, style, room_px)
    return [*lines, line] if line else lines
