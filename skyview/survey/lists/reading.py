"""What reading a list answers: records, rejected rows, and sentences for what was assumed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

Record = dict[str, Any]


@dataclass(frozen=True)
class Rejected:
    """One row that could not be used."""

    line: int
    """Line of the file on which the row begins, from 1; in GeoJSON the number of the feature."""
    field: str
    """Field of the survey file, or the column's header, that stands in the way."""
    reason: str
    """What is wrong with it, as a clause."""


@dataclass(frozen=True)
class ListReading:
    """What one list held."""

    format: str
    """What the file turned out to be, as "CSV, semicolon, utf-8"."""
    rows_read: int
    """Rows or features that hold data."""
    rows_used: int
    """Rows that became records."""
    rejected: list[Rejected]
    """The rows that did not."""
    assumed: list[str]
    """Sentences: what was assumed, converted, renamed or left aside."""
    warnings: list[str]
    """Sentences: what was read but looks wrong."""


@dataclass(frozen=True)
class StationReading(ListReading):
    """A list of stations."""

    stations: list[Record]
    """Records with the fields of a station in the survey file; None is unknown."""


@dataclass(frozen=True)
class LandmarkReading(ListReading):
    """A list of landmarks."""

    landmarks: list[Record]
    """Records with the fields of a landmark in the survey file; None is unknown."""


@dataclass(frozen=True)
class ScanReading(ListReading):
    """What a receiver found, channel by channel."""

    scan: list[Record]
    """Records with the fields of a scan's row in the survey file; None is unknown."""


@dataclass
class Notes:
    """Sentences collected while rows are read, each once, with the rows that it speaks of.

    >>> notes = Notes()
    >>> notes.add("feet converted to metres", 2)
    >>> notes.add("feet converted to metres", 7)
    >>> notes.sentences()
    ['feet converted to metres (2 rows: 2, 7)']
    """

    rows: dict[str, list[str]] = field(default_factory=dict)

    def add(self, sentence: str, row: int | str | None = None) -> None:
        """Note a sentence for the whole list, or for a row by its line or id."""
        of = self.rows.setdefault(sentence, [])
        if row is not None:
            of.append(str(row))

    def merge(self, other: Notes) -> None:
        """Take over the sentences of another collection."""
        for sentence, rows in other.rows.items():
            self.rows.setdefault(sentence, []).extend(rows)

    def sentences(self) -> list[str]:
        """Each sentence with its rows, of which the first five are named."""
        return [sentence + _which(rows) for sentence, rows in self.rows.items()]


def _which(rows: list[str]) -> str:
    if not rows:
        return ""
    named = ", ".join(rows[:5]) + (", ..." if len(rows) > 5 else "")
    return f" ({len(rows)} row{'s' if len(rows) > 1 else ''}: {named})"
