"""The verb pack: the record of a survey as one file."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.output import OutputFile, about, progress
from skyview.errors import InputError

if TYPE_CHECKING:
    from skyview.survey.models import Survey


@click.command("pack")
@click.argument("survey", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    type=OutputFile("cannot pack into that", ".zip"),
    required=True,
    help="File to write; .zip.",
)
@click.option(
    "--position",
    type=click.Choice(["exact", "rough", "none"]),
    default="exact",
    show_default=True,
    help="rough: to about 10 km; none: left out, with stations and all bearings.",
)
@click.option("--strip", is_flag=True, help="Pictures without anything but their pixels.")
@click.option("--papers", is_flag=True, help="With the customer's and the installer's sheet.")
def pack_command(survey: Path, output: Path, position: Any, strip: bool, papers: bool) -> None:
    """Put SURVEY, its pictures and its answers into one file to hand over or keep."""
    from skyview.survey.archive import archive
    from skyview.survey.storage import load

    if papers and position != "exact":
        raise InputError(
            "sheets tell where the site is", field="--papers", mend="leave out one of the two"
        )
    with about(survey), progress("packing"):
        loaded = load(survey)
        further = _answers(loaded, position) | (_papers(loaded, survey) if papers else {})
        names = archive(survey, output, further, position=position, strip=strip)
    click.echo(f"packed {len(names)} files into {output}")
    if position != "exact":
        click.echo(
            "title, landmarks, marks towards them, bearings and the pictures' metadata are left "
            "out; the pictures themselves may still show where they were taken"
        )


def _answers(loaded: Survey, position: str) -> dict[str, bytes]:
    """Every path of the survey as it is answered today, where anything can be."""
    from skyview.survey.archive import TELLING_ANSWERS
    from skyview.survey.assess import assess

    if not (loaded.stations and loaded.spots):
        return {}
    rows = [asdict(row) for row in assess(loaded).rows]
    if position != "exact":
        rows = [{k: v for k, v in row.items() if k not in TELLING_ANSWERS} for row in rows]
    text = json.dumps({"format": "skyview.paths", "version": 1, "rows": rows}, indent=1)
    return {"answers/paths.json": text.encode("utf-8")}


def _papers(loaded: Survey, folder: Path) -> dict[str, bytes]:
    """The customer's and the installer's sheet, A4."""
    from skyview.cli.papers import sheet_of
    from skyview.report.papers.job import job
    from skyview.report.papers.typeset import pdf_of
    from skyview.survey.handover import handover_of
    from skyview.survey.work import work_of

    told = handover_of(loaded)
    return {
        "papers/sheet.pdf": pdf_of(sheet_of(told, folder)),
        "papers/job.pdf": pdf_of(job(work_of(told))),
    }
