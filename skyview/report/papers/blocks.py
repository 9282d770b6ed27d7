"""What a paper is made of, whichever way it is set: frozen blocks of plain text and pictures.

Text is plain, never markup: whatever a user typed appears letter by letter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

Fill = Literal["full", "hatched", "dotted", "mark"]
Reception = Literal["sure", "likely", "doubtful", "no", "unknown"]


@dataclass(frozen=True)
class Heading:
    """A heading within the paper, under a rule; without text the rule alone."""

    text: str
    level: Literal[2, 3] = 2
    plain: bool = False
    """Without its rule."""


@dataclass(frozen=True)
class Paragraph:
    """Running text."""

    text: str
    strong: str = ""
    """Words that stand before it in bold."""
    small: bool = False


@dataclass(frozen=True)
class Caution:
    """A hazard, where it lies."""

    text: str
    heading: str = "Caution"


@dataclass(frozen=True)
class Item:
    """One station or thing in a list."""

    name: str
    text: str
    reception: Reception | None = None
    """Draws the line of that word beside the name; the word itself is in the text or heading."""
    said: str = ""
    """The word of that line, for those who do not see it."""


@dataclass(frozen=True)
class Items:
    """A list under a heading."""

    heading: str
    items: tuple[Item, ...]
    otherwise: str = ""
    """What stands there when the list is empty."""


@dataclass(frozen=True)
class Columns:
    """Blocks side by side; under one another where the page is narrow."""

    columns: tuple[tuple[Block, ...], ...]
    shares: tuple[float, ...] = ()
    """Shares of the width, one a column; equal if empty."""


@dataclass(frozen=True)
class Picture:
    """A picture with its text alternative."""

    content: bytes
    """A PNG or JPEG file."""
    alt: str
    caption: str = ""
    width_mm: float | None = None
    """The text's width if None."""
    wide: bool = False
    """On a narrow screen it is panned and not made smaller."""

    @property
    def form(self) -> Literal["png", "jpeg"]:
        """Which of the two it is, by its first bytes."""
        return "jpeg" if self.content.startswith(b"\xff\xd8") else "png"


@dataclass(frozen=True)
class Bar:
    """One bar of a row of bars that share a scale."""

    text: str
    start: float
    """Where it begins, 0 to 1 of the scale."""
    end: float
    fill: Fill
    value: str = ""
    """What stands beside it."""


@dataclass(frozen=True)
class Bars:
    """Bars without units, with a line where enough is reached."""

    bars: tuple[Bar, ...]
    enough_at: float
    """Where on the scale enough lies, 0 to 1."""
    enough: str
    """What is said there."""
    alt: str
    """The same in words."""


@dataclass(frozen=True)
class Table:
    """Rows of plain cells."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: frozenset[int] = frozenset()
    """Columns of figures, set to the right."""
    caption: str = ""
    widths: tuple[float, ...] = ()
    """Shares of the width, one a column; as wide as they need if empty."""
    tight: bool = False
    """Smaller type and lines, for many rows."""


@dataclass(frozen=True)
class Step:
    """One line of work with a box to tick."""

    text: str
    source: str = ""
    """Where it comes from, in small letters."""


@dataclass(frozen=True)
class Steps:
    """The order of work."""

    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Facts:
    """Names and values, a line each."""

    facts: tuple[tuple[str, str], ...]


Block = Heading | Paragraph | Caution | Items | Columns | Picture | Bars | Table | Steps | Facts


@dataclass(frozen=True)
class Paper:
    """A whole paper."""

    title: str
    lead: str
    blocks: tuple[Block, ...]
    left: str = ""
    """Upper line, left: the place or the survey's title."""
    right: str = ""
    """Upper line, right: the day."""
    foot: str = ""
    """Foot of every page."""
    language: str = "en"
    type_size: Literal["small", "usual", "large"] = "usual"
    """small for papers that must fit one side, large for gloves."""
    description: str = field(default="")
    """What the paper is, for its metadata."""


def pictures_in(blocks: Sequence[Block]) -> list[Picture]:
    """All pictures of some blocks, in the order of the paper.

    >>> pictures_in([Columns(((Picture(b"", "a view"),), ()))])[0].alt
    'a view'
    """
    found: list[Picture] = []
    for block in blocks:
        if isinstance(block, Picture):
            found.append(block)
        elif isinstance(block, Columns):
            for column in block.columns:
                found += pictures_in(column)
    return found
