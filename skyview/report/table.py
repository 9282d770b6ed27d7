"""The table of paths that a person reads in a terminal, and its plain form for a pipe."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

from skyview.report import words
from skyview.report.reception_words import margin_cell
from skyview.survey.results import PathRow, PathWord, ReceptionWord

_GAP = "  "
_LONGEST_CELL = 28
_SHAPES: dict[PathWord, str] = {
    "clear": "⊙",
    "grazing": "◒",
    "through_trees": "✿",
    "blocked": "■",
    "not_seen": "◌",
}
_LINES: dict[ReceptionWord, str] = {
    "sure": "══",
    "likely": "──",
    "doubtful": "╌╌",
    "no": "┤├",
    "unknown": "··",
}


@dataclass(frozen=True)
class _Column:
    """One column: where its wording is, what stands in a cell, how soon it is dropped."""

    code: str
    cell: Callable[[PathRow], str]
    rank: int
    """0 stays to the last."""
    right: bool = True


def _figure(value: float | None, digits: int = 1, sign: bool = False) -> str:
    if value is None:
        return "?"
    rounded = round(value, digits) + 0.0
    return f"{rounded:{'+' if sign and rounded else ''}.{digits}f}"


def _azimuth(degrees: float) -> str:
    return _figure(round(degrees % 360.0, 1) % 360.0)


def _remarks(row: PathRow) -> str:
    remarks = [words.table_word("beyond")] if row.beyond_horizon else []
    remarks += [words.table_word("unseen")] if row.unseen_behind else []
    return ", ".join(remarks)


def _clearance(value: float | None, row: PathRow, digits: int = 1) -> str:
    return "" if row.obstruction is None else _figure(value, digits, sign=True)


def _matters(row: PathRow) -> bool:
    """Whether the costliest outline costs anything, or the ray runs within a zone of it."""
    return row.obstruction is not None and (
        row.obstruction_loss_db >= 0.3 or (row.clearance_fresnel_radii or 0.0) < 1.0
    )


def _bearing_sigma(row: PathRow) -> str:
    """Against the pictures: unknown where none shows the direction."""
    return _figure(None if row.path == "not_seen" else row.bearing_sigma_deg, 2)


def _end(row: PathRow, high: bool) -> str:
    """One end of the margin's spread."""
    margin = row.margin_db
    end = None if margin is None else margin.p90 if high else margin.p10
    return _figure(end, sign=True)


def _chance(row: PathRow) -> str:
    known = row.reception != "unknown" and row.reception_probability is not None
    return _figure(100.0 * (row.reception_probability or 0.0), 0) if known else "?"


_COLUMNS = (
    _Column("station", lambda row: row.station, 0, right=False),
    _Column("channel", lambda row: str(row.rf_channel), 9),
    _Column("frequency", lambda row: _figure(row.frequency_mhz), 17),
    _Column("bearing", lambda row: _azimuth(row.bearing_deg), 4),
    _Column("magnetic", lambda row: _azimuth(row.magnetic_bearing_deg), 10),
    _Column("bearing_sigma", _bearing_sigma, 15),
    _Column("distance", lambda row: _figure(row.distance_km), 12),
    _Column("elevation", lambda row: _figure(row.arrival_elevation_deg, 2, sign=True), 11),
    _Column("elevation_sigma", lambda row: _figure(row.elevation_sigma_deg, 2), 16),
    _Column("reception", lambda row: row.reception, 1, right=False),
    _Column("margin", lambda row: margin_cell(row.margin_db), 3),
    _Column("margin_low", lambda row: _end(row, high=False), 18),
    _Column("margin_high", lambda row: _end(row, high=True), 19),
    _Column("chance", _chance, 20),
    _Column("path", lambda row: words.path_word(row.path), 2, right=False),
    _Column("remarks", _remarks, 5, right=False),
    _Column(
        "obstruction", lambda row: (row.obstruction or "") if _matters(row) else "", 6, right=False
    ),
    _Column("loss", lambda row: _figure(row.obstruction_loss_db) if _matters(row) else "", 7),
    _Column("clearance_deg", lambda row: _clearance(row.clearance_deg, row), 8),
    _Column("clearance_m", lambda row: _clearance(row.clearance_m, row), 13),
    _Column("clearance_radii", lambda row: _clearance(row.clearance_fresnel_radii, row, 2), 14),
)


def one_line(text: str) -> str:
    """The text without line breaks, tabs and anything else that steers a terminal."""
    kept = (" " if letter.isspace() else letter for letter in text)
    return "".join(letter for letter in kept if unicodedata.category(letter)[0] != "C")


def columns_of(text: str) -> int:
    """How many terminal columns a text takes: wide letters two, combining marks none.

    Source: Unicode Standard Annex 11, East Asian Width, classes W and F.

    >>> columns_of("QALD"), columns_of("杉")
    (4, 2)
    """
    return sum(
        0
        if unicodedata.category(letter) in ("Mn", "Me")
        else 2
        if unicodedata.east_asian_width(letter) in "WF"
        else 1
        for letter in text
    )


def _cut(text: str, room: int) -> str:
    """The text, or its beginning with three dots, in at most ``room`` columns."""
    if columns_of(text) <= room:
        return text
    while text and columns_of(text) > room - 1:
        text = text[:-1]
    return text.rstrip() + "…" if room > 0 else ""


def _padded(text: str, room: int, right: bool) -> str:
    blank = " " * (room - columns_of(text))
    return blank + text if right else text + blank


def paths_table(rows: Sequence[PathRow], width: int, plain: bool) -> str:
    """The rows as a table, grouped by spot and height, each group under a heading.

    In a terminal (``plain`` False) no line is longer than ``width`` columns: the less important
    columns are left out, then long names are cut. Piped (``plain`` True) every column stands,
    nothing is cut and no drawn lines or shapes are used. Clearance is positive when free,
    negative when the ray is inside the outline; "?" is unknown. The text ends without a line
    break.

    >>> print(paths_table([], 80, plain=True))
    No station is listed.
    """
    if not rows:
        return words.sentence("no_stations")
    parts = []
    shown: set[str] = set()
    for (spot, height, antenna), group in groupby(
        rows, key=lambda row: (row.spot, row.antenna_height_m, row.antenna)
    ):
        heading = one_line(words.table_heading(spot, height, antenna))
        if plain:
            lines, codes = _plain_group(list(group))
        else:
            lines, codes = _group(list(group), width)
            heading = _cut(heading, width)
        parts.append("\n".join([heading, *lines]))
        shown |= codes
    notes = _notes(rows, shown)
    if not plain:
        notes = [line for note in notes for line in textwrap.wrap(note, max(width, 1))]
    return "\n\n".join([*parts, "\n".join(notes)])


def _notes(rows: Sequence[PathRow], shown: set[str]) -> list[str]:
    """What the short words and columns mean, for those that the table shows."""
    notes = [words.table_note(code) for code in ("reception", "margin") if code in shown]
    if "remarks" in shown and any(row.beyond_horizon for row in rows):
        notes.append(words.table_note("beyond"))
    if "remarks" in shown and any(row.unseen_behind for row in rows):
        notes.append(words.table_note("unseen"))
    if "clearance_deg" in shown:
        notes.append(words.table_note("clearance"))
    if "clearance_radii" in shown:
        notes.append(words.table_note("zones"))
    return [*notes, words.sentence("whole_way")]


def _plain_group(rows: Sequence[PathRow]) -> tuple[list[str], set[str]]:
    """Every column, names and units on one line; the codes of the columns."""
    heads = []
    for column in _COLUMNS:
        name, unit = words.table_column(column.code)
        heads.append(f"{name} ({unit})" if unit else name)
    cells = [[one_line(column.cell(row)) for column in _COLUMNS] for row in rows]
    return _set_out([heads, *cells], _COLUMNS), {column.code for column in _COLUMNS}


def _group(rows: Sequence[PathRow], width: int) -> tuple[list[str], set[str]]:
    """The columns that fit, under two lines of heading and a rule; their codes."""
    heads = {column.code: words.table_column(column.code) for column in _COLUMNS}
    cells = {
        column.code: [_cut(one_line(column.cell(row)), _LONGEST_CELL) for row in rows]
        for column in _COLUMNS
    }
    cells["path"] = [f"{_SHAPES[row.path]} {words.path_word(row.path)}" for row in rows]
    cells["reception"] = [f"{_LINES[row.reception]} {row.reception}" for row in rows]
    wide = {
        code: max(columns_of(text) for text in (*heads[code], *texts))
        for code, texts in cells.items()
    }
    room = max(width - len(_GAP) - wide["reception"], 4)
    wide["station"] = min(wide["station"], room)
    cells["station"] = [_cut(text, wide["station"]) for text in cells["station"]]
    shown = _fitting(wide, {code for code, texts in cells.items() if any(texts)}, width)
    table = [[_cut(heads[c.code][line], wide[c.code]) for c in shown] for line in (0, 1)]
    table += [[cells[c.code][i] for c in shown] for i in range(len(rows))]
    lines = [_cut(line, width) for line in _set_out(table, shown)]
    rule = "─" * min(width, max(columns_of(line) for line in lines))
    heading = [line for line in lines[:2] if line]
    return [*heading, rule, *lines[2:]], {column.code for column in shown}


def _fitting(wide: dict[str, int], filled: set[str], width: int) -> list[_Column]:
    """The most important columns that fit together, in the order of the table."""
    chosen: set[str] = set()
    used = -len(_GAP)
    for column in sorted(_COLUMNS, key=lambda column: column.rank):
        if column.code not in filled:
            continue
        used += len(_GAP) + wide[column.code]
        if chosen and used > width:
            break
        chosen.add(column.code)
    return [column for column in _COLUMNS if column.code in chosen]


def _set_out(table: Sequence[Sequence[str]], columns: Sequence[_Column]) -> list[str]:
    """Rows of cells as lines, each column as wide as its widest cell."""
    wide = [max(columns_of(cell) for cell in column) for column in zip(*table, strict=True)]
    return [
        _GAP.join(
            _padded(cell, room, column.right)
            for cell, room, column in zip(row, wide, columns, strict=True)
        ).rstrip()
        for row in table
    ]
