"""How answers leave the command line: JSON in one envelope, tables, warnings, progress."""

from __future__ import annotations

import json
import math
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from skyview.errors import InputError, StorageError
from skyview.files import write_whole

WIDEST_TABLE = 120


def emit_json(
    verb: str,
    rows: Sequence[Mapping[str, Any]],
    revision: int | None = None,
    warnings: Sequence[str] = (),
    about: str | None = None,
    more: Mapping[str, Any] | None = None,
) -> None:
    """Print the one object that every verb answers with; ``about`` says how to read its rows, and
    ``more`` holds what belongs to all of them."""
    answer = {
        "format": f"skyview.{verb}",
        "version": 1,
        "revision": revision,
        "warnings": list(warnings),
        **({"about": about} if about else {}),
        **(more or {}),
        "rows": list(rows),
    }
    click.echo(json.dumps(answer, ensure_ascii=False, allow_nan=False, indent=1))


def warn(sentences: Sequence[str]) -> None:
    """Each sentence on standard error."""
    for sentence in sentences:
        click.echo(f"note: {sentence}", err=True)


def terminal_width() -> int:
    """Columns to fill: the terminal's, at most ``WIDEST_TABLE``."""
    return min(shutil.get_terminal_size((100, 24)).columns, WIDEST_TABLE)


def is_piped() -> bool:
    """Whether standard output goes to a file or another program."""
    return not sys.stdout.isatty()


def text_table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Columns aligned by blanks; numbers to the right.

    >>> print(text_table(["view", "yaw"], [["sweep", "68.7"], ["b", "5.0"]]))
    view    yaw
    sweep  68.7
    b       5.0
    """
    cells = [list(headings), *[list(row) for row in rows]]
    widths = [max(len(row[i]) for row in cells) for i in range(len(headings))]
    numeric = [bool(rows) and all(_is_number(row[i]) for row in rows) for i in range(len(headings))]
    lines = [
        "  ".join(
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(row, widths, numeric, strict=True)
        ).rstrip()
        for row in cells
    ]
    return "\n".join(lines)


def _is_number(text: str) -> bool:
    try:
        float(text.strip("±") or "x")
    except ValueError:
        return text in ("-", "")
    return True


class _Number(click.ParamType):
    """A finite number; what else was typed is named in one sentence."""

    name = "number"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        try:
            number = float(str(value))
        except ValueError:
            number = float("nan")
        if not math.isfinite(number):
            place = param.opts[0] if param and param.opts else None
            raise InputError(
                f"{str(value)[:40]!r} is no number",
                field=place,
                mend="write it plainly as in 12.5, without a unit and with a point",
            )
        return number


NUMBER = _Number()
"""Type of every number on the command line."""


class OutputFile(click.ParamType):
    """A file to write; its name and its folder are looked at before any work is done.

    ``refusal`` is the sentence for a name that ends in none of ``endings``.
    """

    name = "path"

    def __init__(self, refusal: str, *endings: str) -> None:
        self._refusal, self._endings = refusal, endings

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> Path:
        file, place = Path(str(value)), param.opts[-1] if param else None
        if file.suffix.lower() not in self._endings:
            kinds = " or ".join(filter(None, [", ".join(self._endings[:-1]), self._endings[-1]]))
            raise InputError(self._refusal, file, place, f"end its name in {kinds}")
        if file.is_dir():
            raise InputError("that is a folder", file, place, "name a file in it")
        if not file.resolve().parent.is_dir():
            raise StorageError("there is no such folder", file, place, "make the folder first")
        return file


PICTURE_FILE = OutputFile("a picture cannot be written there", ".png", ".svg", ".pdf")
"""Type of the name of a drawing."""

_NO_TABLE = "a table cannot be written there"

TABLE_FILE = OutputFile(_NO_TABLE, ".csv")
"""Type of the name of a table of which no map can be made."""

OUTPUT = click.option(
    "-o",
    "--output",
    type=OutputFile(_NO_TABLE, ".csv", ".geojson"),
    help="Write the table to this file too: .csv, or .geojson for a map.",
)
"""The option of verbs whose table can be taken away."""

CSV_OUTPUT = click.option(
    "-o", "--output", type=TABLE_FILE, help="Write the table to this .csv too."
)
"""The same where no map can be made of it."""


def write_table(
    file: Path, rows: Sequence[Mapping[str, Any]], geojson: Callable[[], str] | None = None
) -> None:
    """The rows as CSV or, by the file's name, as GeoJSON; the file is whole or not there."""
    from skyview.survey.lists.export import rows_to_csv

    if geojson is not None and file.suffix.lower() == ".geojson":
        write_whole(file, geojson())
    else:
        write_whole(file, rows_to_csv(rows))


@contextmanager
def about(survey: Path) -> Iterator[None]:
    """Errors about a survey name its file, unless they are about an option or name another;
    a command that mends them is given with the survey's own folder."""
    try:
        yield
    except InputError as error:
        if error.file is not None:
            raise
        of_option = error.field is not None and error.field.startswith("--")
        file = None if of_option else survey / "survey.json"
        mend = error.mend and error.mend.replace("SURVEY", str(survey))
        raise InputError(error.message, file, error.field, mend) from error


@contextmanager
def progress(what: str) -> Iterator[None]:
    """Say what takes time, on a terminal only, and how long it took."""
    shown = sys.stderr.isatty()
    start = time.monotonic()
    if shown:
        click.echo(f"{what} ...", err=True, nl=False)
    try:
        yield
    finally:
        if shown:
            click.echo(f" {time.monotonic() - start:.1f} s", err=True)
