"""Files to text, and delimited text to cells, with the line on which each row begins.

Encodings: UTF-8, UTF-16 and UTF-32 by their marks, UTF-16 without a mark by its zero bytes, and
Windows-1252 where the bytes are no UTF-8. Line ends: LF, CR LF or CR. Delimiters: comma,
semicolon, tabulator or vertical bar, told by which of them shows the most known headers.
"""

from __future__ import annotations

import codecs
import csv
import itertools
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from skyview.errors import InputError, StorageError
from skyview.survey.lists.columns import Layout, layout_from, layout_of, meaning_of
from skyview.survey.lists.reading import Notes
from skyview.survey.lists.spellings import Kind
from skyview.survey.lists.values import shown

MOST_BYTES = 200_000_000
"""A longer file is no list of stations: a national one has some megabytes."""

Row = tuple[int, list[str]]

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tabulator", "|": "vertical bar"}
_HEADER_WITHIN_ROWS = 60
_COMMENTS = ("#", "//", "%")
_RULE = re.compile(r"[-=+_*]*")
_NUMBER = re.compile(r"[+-]?[\d.,]+")
_END = "\x1e"
_UNCLOSED = "a quotation mark opens here and is never closed"
_LONG = "the line is too long for a row of a list"
_BOMS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_FOREIGN = (
    (b"PK\x03\x04", "is a workbook or an archive"),
    (b"\xd0\xcf\x11\xe0", "is a workbook"),
    (b"%PDF", "is a PDF"),
    (b"\x1f\x8b", "is compressed"),
    (b"\x89PNG", "is a picture"),
    (b"\xff\xd8\xff", "is a picture"),
)
_AS_CSV = "save the list as CSV text"


def text_of(path: str | Path, notes: Notes) -> tuple[str, str]:
    """A file's text with LF line ends, and the name of its encoding.

    Raises InputError for a file that is missing, empty or no text, and StorageError where the
    file system refuses.
    """
    data = _bytes_of(path)
    for mark, what in _FOREIGN:
        if data.startswith(mark):
            raise InputError(f"the file {what}, not text", path, mend=_AS_CSV)
    encoding = next((name for mark, name in _BOMS if data.startswith(mark)), None)
    if encoding is None:
        encoding = _unmarked(data, notes)
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as trouble:
        raise InputError(
            f"byte {trouble.start} is no {encoding} text", path, mend="save the list as UTF-8"
        ) from None
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise InputError("the file is empty", path, mend="give a list with a line of headers")
    _refuse_binary(text, path)
    return text, encoding


def _bytes_of(path: str | Path) -> bytes:
    try:
        with open(path, "rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError, ValueError):
        raise InputError("there is no such file", path, mend="check the path") from None
    except IsADirectoryError:
        raise InputError("this is a folder, not a file", path, mend="name the list in it") from None
    except OSError as trouble:
        raise StorageError(f"the file cannot be read ({trouble.strerror})", path) from trouble
    if len(data) > MOST_BYTES:
        raise InputError(
            f"the file is longer than {MOST_BYTES // 1_000_000} MB",
            path,
            mend="cut the list to the region of the survey",
        )
    return data


def _unmarked(data: bytes, notes: Notes) -> str:
    """The encoding of bytes without a mark."""
    head = data[:4096]
    for offset, name in ((1, "utf-16-le"), (0, "utf-16-be")):
        if len(head) >= 4 and head[offset::2].count(0) > 0.4 * len(head[offset::2]):
            notes.add(f"no mark of its encoding; read as {name.upper()} by its zero bytes")
            return name
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        try:
            data.decode("cp1252")
        except UnicodeDecodeError:
            notes.add("not UTF-8; read as Latin-1, so letters with accents may be wrong")
            return "latin-1"
        notes.add("not UTF-8; read as Windows-1252, so letters with accents may be wrong")
        return "cp1252"
    return "utf-8"


def _refuse_binary(text: str, path: str | Path) -> None:
    zero = text.find("\0")
    if zero >= 0:
        line = text.count("\n", 0, zero) + 1
        raise InputError(f"line {line} holds a zero byte; this is no text", path, mend=_AS_CSV)
    head = text[:4096]
    strange = sum(1 for letter in head if ord(letter) < 32 and letter not in "\t\n\f\v")
    strange += sum(1 for letter in head if "\x7f" <= letter <= "\x9f" or letter == "\ufffd")
    if strange > 0.02 * len(head):
        raise InputError("the file is binary, not text", path, mend=_AS_CSV)


@dataclass(frozen=True)
class Table:
    """Delimited text: what its columns hold, and its rows of data."""

    layout: Layout
    delimiter: str
    width: int
    """Number of columns."""
    rows: list[Row]
    broken: list[tuple[int, str]]
    """Lines that cannot be parted into cells, each with the reason."""

    @property
    def name(self) -> str:
        """The delimiter in words."""
        return _DELIMITERS[self.delimiter]


def table_of(text: str, kind: Kind, columns: str | None, path: str | Path, notes: Notes) -> Table:
    """The rows of delimited text below its headers, or all of them when ``columns`` names those.

    Blank lines, comments and the lines above the headers are skipped, and that is noted. Headers
    that stand there in spite of ``columns`` are passed over. Raises InputError when no line of
    headers is found or nothing stands below it.
    """
    delimiter = _most_telling(text, kind) if columns is None else _most_regular(text, columns, path)
    rows, broken = _rows_of(text, delimiter)
    at = _header_at(rows, kind)
    if columns is None and at is None:
        raise _no_headers(rows, kind, path)
    headers = [] if at is None else rows[at][1]
    layout = layout_of(_bare(headers), kind) if columns is None else layout_from(columns, kind)
    width = len(headers) if columns is None else columns.count(",") + 1
    if at is not None:
        skipped = at if columns is None else at + 1
        if skipped:
            notes.add(f"lines up to the headers skipped, {skipped} in all")
        rows = rows[at + 1 :]
    below = [row for row in rows if not _comment(row[1]) and row[1] != headers]
    if len(below) < len(rows):
        notes.add(f"comments, rules and repeated headers skipped, {len(rows) - len(below)} in all")
    if not below and not broken:
        raise InputError("no row stands below the headers", path, mend="give a list with rows")
    return Table(layout, delimiter, width, below, broken)


_HEADERS: dict[Kind, str] = {
    "stations": "id,latitude_deg,longitude_deg,rf_channel",
    "landmarks": "id,latitude_deg,longitude_deg,top_amsl_m",
    "scans": "rf_channel,received,strength",
}


def _no_headers(rows: list[Row], kind: Kind, path: str | Path) -> InputError:
    first = shown(", ".join(rows[0][1])) if rows else "nothing"
    return InputError(
        f"no line of known column headers is found; the first line reads {first}",
        path,
        mend=f"add headers such as {_HEADERS[kind]} or name the columns in order with --columns",
    )


def _rows_of(text: str, delimiter: str) -> tuple[list[Row], list[tuple[int, str]]]:
    """Rows that are not blank, with the line each begins on; and the broken lines.

    A mark behind the last line shows whether a quotation mark is still open there. The line that
    opened it is broken, and all below it is read again with quotation marks as plain letters.
    """
    lines = text.split("\n")
    rows: list[Row] = []
    broken: list[tuple[int, str]] = []
    start = 0
    quoting: Literal[0, 3] = csv.QUOTE_MINIMAL
    while start < len(lines):
        feed = (line + "\n" for line in itertools.chain(lines[start:], [_END]))
        reader = csv.reader(feed, delimiter=delimiter, quoting=quoting)
        begun = start
        try:
            for cells in reader:
                if start + reader.line_num > len(lines):
                    break
                if any(cell.strip() for cell in cells):
                    rows.append((begun + 1, cells))
                begun = start + reader.line_num
            if begun == len(lines):
                break
        except csv.Error:
            pass
        long = len(lines[begun]) > csv.field_size_limit()
        broken.append((begun + 1, _LONG if long else _UNCLOSED))
        start, quoting = begun + 1, csv.QUOTE_NONE
    return rows, broken


def _bare(headers: list[str]) -> list[str]:
    """Headers without the mark of a comment before them."""
    return [headers[0].lstrip("#/% "), *headers[1:]] if headers else []


def _known(cells: list[str], kind: Kind) -> int:
    """How many columns a row would name if it were the headers; 0 where it holds more numbers."""
    found = {meaning[0] for cell in _bare(cells) if (meaning := meaning_of(cell[:80], kind))}
    numbers = sum(1 for cell in cells if _NUMBER.fullmatch(cell.strip()))
    return len(found) if len(found) > numbers else 0


def _header_at(rows: list[Row], kind: Kind) -> int | None:
    """Index of the row that names most columns, at least two, among the first ones."""
    counts = [_known(cells[:200], kind) for _, cells in rows[:_HEADER_WITHIN_ROWS]]
    best = max(counts, default=0)
    return counts.index(best) if best >= 2 else None


def _head_of(text: str) -> str:
    """The first lines of a text, enough to tell its delimiter."""
    return "\n".join(text[:400_000].split("\n")[:200])


def _most_telling(text: str, kind: Kind) -> str:
    """The delimiter under which a row names most columns."""

    def known(delimiter: str) -> int:
        rows, _ = _rows_of(_head_of(text), delimiter)
        return max(
            (_known(cells[:200], kind) for _, cells in rows[:_HEADER_WITHIN_ROWS]), default=0
        )

    return max(_DELIMITERS, key=known)


def _most_regular(text: str, columns: str, path: str | Path) -> str:
    """The delimiter under which most rows have as many values as there are columns.

    Raises InputError where none parts any row so.
    """
    width = columns.count(",") + 1

    def regular(delimiter: str) -> int:
        rows, _ = _rows_of(_head_of(text), delimiter)
        return sum(1 for _, cells in rows if len(fitted(cells, width)) == width)

    best = max(_DELIMITERS, key=regular)
    if not regular(best):
        raise InputError(
            f"no row has the {width} values that the columns name",
            path,
            "--columns",
            f"part the values by {', '.join(_DELIMITERS.values())}, and name every column",
        )
    return best


def fitted(cells: list[str], width: int) -> list[str]:
    """A row without the blank cells that surplus delimiters at its ends make.

    >>> fitted(["", "a", "b", ""], 2)
    ['a', 'b']
    """
    while len(cells) > width and not cells[-1].strip():
        cells = cells[:-1]
    return cells[1:] if len(cells) == width + 1 and not cells[0].strip() else cells


def _comment(cells: list[str]) -> bool:
    first = cells[0].lstrip()
    return first.startswith(_COMMENTS) or all(_RULE.fullmatch(cell.strip()) for cell in cells)
