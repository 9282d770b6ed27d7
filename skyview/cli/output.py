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

from skyview.errors import InputError
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

OUTPUT = click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="Write the table to this file too: .csv, or .geojson for a map.",
)
"""The option of verbs whose table can be taken away."""

CSV_OUTPUT = click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="Write the table to this .csv too."
)
"""The same where no map can be made of it."""


def write_table(
    file: Path, rows: Sequence[Mapping[str, Any]], geojson: Callable[[], str] | None = None
) -> None:
    """The rows as CSV or, by the file's name, as GeoJSON; the file is whole or not there."""
    from skyview.survey.lists.export import rows_to_csv

    kind = file.suffix.lower()
    if kind == ".geojson" and geojson is not None:
        text = geojson()
    elif kind == ".csv":
        text = rows_to_csv(rows)
    else:
        kinds = ".csv or .geojson" if geojson is not None else ".csv"
        raise InputError("a table cannot be written there", file, mend=f"end its name in {kinds}")
    write_whole(file, text)


@contextmanager
def about(survey: Path) -> Iterator[None]:
    """Errors about a survey that do not name their file get its name."""
    try:
        yield
    except InputError as error:
        if error.file is not None:
            raise
        file = survey / "survey.json"
        raise InputError(error.message, file, error.field, error.mend) from error


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
