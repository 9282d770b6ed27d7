"""The verb batch: a drawer of surveys against a new list of stations."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.choices import SEASON
from skyview.cli.output import NUMBER, TABLE_FILE, emit_json, warn
from skyview.cli.stations import reading_options, rejected_notes
from skyview.errors import InputError
from skyview.files import writing

if TYPE_CHECKING:
    from skyview.survey.batch.drawer import Drawer, Effect, Engine
    from skyview.survey.batch.journal import Journal

TELL_EVERY_S, TELLS = 0.2, 10
"""On a terminal the progress is renewed so often; elsewhere it is told so many times."""


@click.command("batch")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--stations",
    "file",
    required=True,
    metavar="LIST",
    type=click.Path(path_type=Path),
    help="The new list of stations: CSV, TSV or GeoJSON.",
)
@click.option(
    "-o",
    "--output",
    type=TABLE_FILE,
    default=Path("results.csv"),
    show_default=True,
    help="File to write; what is done is kept beside it until then.",
)
@reading_options
@click.option("--within", "within_km", type=NUMBER, metavar="KM",
              help="Stations that a survey has not yet: only those so near. [km]")  # fmt: skip
@click.option("--bands", help="Likewise only these: low_vhf,high_vhf,uhf.")
@click.option(
    "--partial", "others", is_flag=True, help="Stations that LIST does not name stay as they are."
)
@SEASON
@click.option("--workers", type=click.IntRange(1, 512), metavar="N", help="Processes; all cores.")
@click.option("--cluster", "address", metavar="ADDRESS", help="Dask cluster to use instead.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def batch_command(
    folder: Path,
    file: Path,
    output: Path,
    columns: str | None,
    strict: bool,
    within_km: float | None,
    bands: str | None,
    others: bool,
    leaf: Any,
    workers: int | None,
    address: str | None,
    as_json: bool,
) -> None:
    """Hold every survey below FOLDER against a new station list; change none.

    One row a survey, position and station, the word by the survey's own stations beside the new
    one. LIST is taken to be whole: a station that it does not name is gone. An interrupted run
    goes on where it stopped. A survey that fails is told and the rest goes on; only where all
    fail is the exit code 2.
    """
    from skyview.survey.batch.drawer import readings_of, surveys_below, work_through
    from skyview.survey.batch.evaluate import Request
    from skyview.survey.batch.journal import Journal
    from skyview.survey.lists.choose import band_words, check_choice
    from skyview.survey.lists.reading import StationReading

    drawer = surveys_below(folder)
    readings = readings_of(file, columns, strict)
    lists = {k: r.stations if isinstance(r, StationReading) else r for k, r in readings.items()}
    request = Request(lists, within_km, band_words(bands), others, leaf)
    check_choice(request.within_km, request.bands)
    told = _Progress(drawer)
    with Journal(output) as journal:
        try:
            work_through(drawer, request, journal, _engine(workers, address), told)
        except KeyboardInterrupt:
            told.end()
            warn([f"{told.done} of {len(drawer.folders)} surveys done and kept; run it again "
                  "to go on"])  # fmt: skip
            raise
        told.end()
        plans = _write(output, drawer, journal)
        notes = [n for plan in plans for n in _list_notes(file, readings[plan])]
        _tell(file, output, drawer, journal, list(dict.fromkeys(notes)), as_json)
        journal.tidy(_answered(drawer))
    if len(drawer.problems) == len(drawer.folders):
        raise InputError(
            "none of its surveys could be evaluated",
            folder,
            mend=f"the column problem of {output} says why",
        )


def _engine(workers: int | None, address: str | None) -> Engine:
    """What does the work: processes of this computer, or a cluster."""
    if address is not None:
        if workers is not None:
            raise InputError("--workers and --cluster exclude each other", mend="give one of them")
        from skyview.survey.batch.cluster import on_cluster

        return partial(on_cluster, address=address)
    from skyview.survey.batch.processes import cores, in_processes

    return partial(in_processes, workers=workers or cores())


def _answered(drawer: Drawer) -> list[str]:
    return [survey for survey in drawer.folders if survey not in drawer.problems]


def _missing(drawer: Drawer, journal: Journal) -> Iterator[tuple[str, str]]:
    """Surveys that lack photographs, each with a sentence."""
    from skyview.report.batch_words import photo_sentence
    from skyview.survey.batch.drawer import missing_photos

    for survey in _answered(drawer):
        photos = missing_photos(journal.outcome(survey), drawer.folders[survey])
        if photos:
            yield survey, photo_sentence(survey, photos)


def _write(output: Path, drawer: Drawer, journal: Journal) -> list[str]:
    """The results, survey by survey in the order of their folders; the plans that they have."""
    from skyview.report.records import BATCH_COLUMNS, flat_batch_record
    from skyview.survey.lists.export import rows_to_csv

    plans: dict[str, None] = {}
    problems = {**drawer.problems, **dict(_missing(drawer, journal))}
    with writing(output) as stream:
        heading = rows_to_csv([], BATCH_COLUMNS)
        stream.write(heading.encode("utf-8"))
        for survey in drawer.folders:
            rows: list[dict[str, Any]] = []
            if survey not in drawer.problems:
                outcome = journal.outcome(survey)
                plans.setdefault(outcome.plan or "")
                rows = [flat_batch_record(survey, row) for row in outcome.rows]
            if survey in problems:
                rows.append({"survey": survey, "problem": problems[survey]})
            text = rows_to_csv(rows, BATCH_COLUMNS).removeprefix(heading)
            stream.write(text.encode("utf-8"))
    return list(plans)


def _list_notes(file: Path, reading: Any) -> list[str]:
    return [*reading.assumed, *reading.warnings, *rejected_notes(file, reading)]


def _tell(
    file: Path,
    output: Path,
    drawer: Drawer,
    journal: Journal,
    notes: list[str],
    as_json: bool,
) -> None:
    """The summary: how many surveys change, which, and which failed."""
    from skyview.report.batch_words import COUNTED, count_sentence, effect_lines, shortened
    from skyview.report.records import batch_record
    from skyview.survey.batch.drawer import effect_of

    effects: dict[str, Effect] = {}
    records: list[dict[str, Any]] = []
    assumed: list[str] = []
    for survey in _answered(drawer):
        outcome = journal.outcome(survey)
        effects[survey] = effect_of(outcome.rows)
        assumed += [f"{survey}: {note}" for note in outcome.notes]
        if as_json:
            records += [batch_record(survey, row) for row in outcome.rows]
    missing = [sentence for _, sentence in _missing(drawer, journal)]
    notes = [*drawer.unread, *notes, *shortened(assumed), *shortened(missing)]
    if as_json:
        kinds = ("worse", "better", "unclear")
        more: dict[str, Any] = {
            "surveys": len(drawer.folders),
            **{kind: [s for s, e in effects.items() if getattr(e, kind)] for kind in kinds},
            "failed": [
                {"survey": survey, "problem": drawer.problems[survey]}
                for survey in drawer.folders
                if survey in drawer.problems
            ],
        }
        emit_json("batch", records, None, notes, COUNTED, more)
        return
    failed = [drawer.problems[survey] for survey in drawer.folders if survey in drawer.problems]
    click.echo(count_sentence(len(drawer.folders), effects, len(failed), str(file)))
    for kind in ("worse", "better", "unclear"):
        for line in effect_lines(effects, kind):
            click.echo(line)
    click.echo(COUNTED)
    click.echo(f"wrote {output}")
    warn([*notes, *(f"failed: {line}" for line in shortened(failed))])


class _Progress:
    """Tells on standard error how far the work is."""

    def __init__(self, drawer: Drawer) -> None:
        self._drawer = drawer
        self._start = time.monotonic()
        self._terminal = sys.stderr.isatty()
        self._last = self._start
        self.done = 0

    def __call__(self, done: int) -> None:
        self.done = done
        now, whole = time.monotonic(), len(self._drawer.folders)
        if self._terminal:
            if now - self._last >= TELL_EVERY_S or done == whole:
                self._last = now
                click.echo(f"\r{self._line(now)}\x1b[K", err=True, nl=False)
        elif done * TELLS // whole > (done - 1) * TELLS // whole:
            click.echo(self._line(now), err=True)

    def _line(self, now: float) -> str:
        from skyview.report.batch_words import progress_line

        drawer, whole = self._drawer, len(self._drawer.folders)
        fresh = self.done - drawer.taken_over
        left = (now - self._start) / fresh * (whole - self.done) if fresh > 0 else None
        return progress_line(self.done, whole, len(drawer.problems), left)

    def end(self) -> None:
        """Leave the line."""
        if self._terminal and self.done:
            click.echo(err=True)
