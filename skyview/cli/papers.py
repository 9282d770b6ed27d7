"""The verbs brief, card, sheet and job: what is printed or read on the telephone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.output import OutputFile, about, progress, warn
from skyview.errors import InputError
from skyview.files import write_whole

if TYPE_CHECKING:
    from skyview.report.papers.blocks import Paper
    from skyview.survey.handover import Handover

SHEETS = {"a4": "a4", "letter": "us-letter"}


def _options(command: Callable[..., None]) -> Callable[..., None]:
    """Where a paper goes, and how large it is."""
    out = click.option(
        "-o",
        "--output",
        type=OutputFile("a paper cannot be written there", ".pdf", ".html"),
        required=True,
        help="File to write: .pdf to print, .html for the telephone.",
    )
    size = click.option(
        "--paper",
        "sheet_size",
        type=click.Choice(sorted(SHEETS)),
        default="a4",
        show_default=True,
        help="Size of the printed page.",
    )
    return out(size(command))


def _write(paper: Paper, output: Path, sheet_size: str) -> None:
    """The paper in the form that the file's name asks for; the file is whole or not there."""
    if output.suffix.lower() == ".html":
        from skyview.report.papers.page import html_of

        content = html_of(paper).encode("utf-8")
    else:
        from skyview.report.papers.typeset import pdf_of

        form: Any = SHEETS[sheet_size]
        content = pdf_of(paper, form)
    write_whole(output, content)
    click.echo(f"wrote {output}")


@click.command("sheet")
@click.argument("survey", type=click.Path(path_type=Path))
@_options
@click.option(
    "--station", metavar="ID", help="Station to explain at length; the weakest if left out."
)
def sheet_command(survey: Path, output: Path, sheet_size: str, station: str | None) -> None:
    """The customer's sheet: what SURVEY's roof receives, why not, and what would help."""
    from skyview.survey.handover import handover_of
    from skyview.survey.storage import load

    loaded = load(survey)
    with about(survey), progress("finding every station's path"):
        told = handover_of(loaded, station)
        paper = sheet_of(told, survey)
    _write(paper, output, sheet_size)
    warn(told.found.warnings)


def sheet_of(told: Handover, folder: Path) -> Paper:
    """The customer's sheet of a survey whose pictures lie in ``folder``."""
    from skyview.report.papers.sheet import sheet
    from skyview.survey.plates import plate_of

    plate = None
    if told.survey.views:
        weakest = told.weakest.row.station if told.weakest else None
        plate = plate_of(told.survey, folder, told.found, station=weakest)
    return sheet(told, plate)


class _Day(click.ParamType):
    """A day of which the sun's place is known; what else was typed is named in one sentence."""

    name = "date"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> date:
        from skyview.place.sun import FIRST_YEAR, LAST_YEAR

        try:
            day = datetime.strptime(str(value), "%Y-%m-%d").date()
        except ValueError:
            raise InputError(
                f"{str(value)[:40]!r} is no day",
                field="--day",
                mend="write year, month and day as in 2026-06-21",
            ) from None
        if not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise InputError(
                f"the sun's place is known for {FIRST_YEAR} to {LAST_YEAR}",
                field="--day",
                mend="give a day of those years",
            )
        return day


@click.command("brief")
@click.argument("survey", type=click.Path(path_type=Path))
@_options
@click.option(
    "--day",
    type=_Day(),
    metavar="DATE",
    help="Day of the visit, as in 2026-06-21, for the sun; today if left out.",
)
def brief_command(survey: Path, output: Path, sheet_size: str, day: date | None) -> None:
    """The brief before the visit: needs only SURVEY's place and a list of stations."""
    from skyview.report.papers.brief import brief
    from skyview.survey.outlook import outlook_of
    from skyview.survey.storage import load

    loaded = load(survey)
    with about(survey), progress("looking at the stations"):
        outlook = outlook_of(loaded, day or date.today())
        paper = brief(outlook)
    _write(paper, output, sheet_size)
    warn(outlook.warnings)


@click.command("card")
@_options
def card_command(output: Path, sheet_size: str) -> None:
    """The roof card: what to photograph and measure, one side, for gloves."""
    from skyview.report.papers.card import card

    _write(card(), output, sheet_size)


@click.command("job")
@click.argument("survey", type=click.Path(path_type=Path))
@_options
def job_command(survey: Path, output: Path, sheet_size: str) -> None:
    """The installer's sheet: place, aim, parts and order of work for SURVEY's antenna."""
    from skyview.report.papers.job import job
    from skyview.survey.handover import handover_of
    from skyview.survey.storage import load
    from skyview.survey.work import work_of

    loaded = load(survey)
    with about(survey), progress("finding every station's path"):
        work = work_of(handover_of(loaded))
        paper = job(work)
    _write(paper, output, sheet_size)
    warn(work.told.found.warnings)
