"""The verb scan: what a receiver found beside what was predicted."""

from __future__ import annotations

import textwrap
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.output import about, emit_json, progress, terminal_width, text_table, warn
from skyview.errors import InputError

if TYPE_CHECKING:
    from skyview.survey.models import Survey
    from skyview.survey.scan.answer import ScanAnswer


@click.command("scan")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option(
    "--row",
    "typed",
    multiple=True,
    help="A row typed: '21 yes -58dBm 21dB steady'; may be repeated.",
)
@click.option("--taken", help="When, as in 2026-06-01T17:00; the file's own date if left out.")
@click.option(
    "--antenna", metavar="ID", help="Antenna of the scan; the survey's first if left out."
)
@click.option(
    "--at",
    type=click.Choice(["set", "terminals"]),
    help="Measured at the set, or at the antenna's terminals with a short cable.",
)
@click.option(
    "--season", "--leaf", "leaf", type=click.Choice(["in", "out"]), help="Trees in or out of leaf."
)
@click.option("--bars", type=click.IntRange(1, 100), help="Bars of a full display; 5 if not told.")
@click.option("--all-channels", is_flag=True, help="What the rows leave out was not received.")
@click.option("--columns", help="Columns in order, for a list without headers.")
@click.option("--strict", is_flag=True, help="Refuse the list if one row cannot be used.")
@click.option("--line-cleared", is_flag=True, help="The line was tested and is sound.")
@click.option("--use-offset", is_flag=True, help="Take the common offset as the site's own.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def scan_command(
    survey: Path,
    file: Path | None,
    typed: tuple[str, ...],
    taken: str | None,
    antenna: str | None,
    at: str | None,
    leaf: str | None,
    bars: int | None,
    all_channels: bool,
    columns: str | None,
    strict: bool,
    line_cleared: bool,
    use_offset: bool,
    as_json: bool,
) -> None:
    """Hold a receiver's scan in FILE, or typed rows, against SURVEY.

    FILE is CSV with a channel (RF or virtual), received or not, strength (dBm, dBuV, dBmV, % or
    bars), carrier to noise or MER, steady or not; whatever of it there is. The scan is kept with
    its date. A scan comes from a file or from rows, not from both; without either the last kept
    scan is looked at again.
    """
    from skyview.survey.scan.compare import compare
    from skyview.survey.scan.keeping import with_offset
    from skyview.survey.storage import editing

    if file is not None and typed:
        raise InputError(
            "a scan comes from a FILE or from rows, not from both",
            field="--row",
            mend="leave out one of the two, or write the rows into the file",
        )
    if file is None and (columns or strict):
        raise InputError("which file?", mend="give the FILE that --columns and --strict are about")
    given = {
        "taken": taken, "antenna": antenna, "at": at, "leaf": leaf, "bars": bars,
        "line_cleared": line_cleared or None,
    }  # fmt: skip
    notes: list[str] = []
    with about(survey), editing(survey) as edit:
        number = -1
        if file is not None or typed:
            number = _taken_in(edit, file, typed, given, all_channels, columns, strict, notes)
        elif all_channels or any(
            value is not None for key, value in given.items() if key != "line_cleared"
        ):
            raise InputError("which scan?", mend="give the FILE or the rows of these options")
        elif not edit.survey.scans:
            raise InputError(
                "the survey has no scan", field="scans", mend="give a FILE, or rows with --row"
            )
        elif line_cleared:
            edit.survey.scans[-1].line_cleared = True
        with progress("holding the scan against the prediction"):
            answer = compare(edit.survey, number)
        if use_offset:
            edit.survey = with_offset(edit.survey, answer)
    notes += answer.warnings
    if as_json:
        _emit(answer, edit.survey, notes, use_offset)
        return
    click.echo(_told(answer, edit.survey, min(terminal_width(), 100), use_offset))
    warn(notes)


def _taken_in(
    edit: Any,
    file: Path | None,
    typed: tuple[str, ...],
    given: dict[str, Any],
    all_channels: bool,
    columns: str | None,
    strict: bool,
    notes: list[str],
) -> int:
    """Puts the scan into the survey; its number there."""
    from skyview.survey.lists.scans import read_scan_list, typed_scan
    from skyview.survey.scan.keeping import rf_of_virtual, with_missing, with_scan

    plan, rf_of = edit.survey.site.channel_plan, rf_of_virtual(edit.survey)
    rows: list[dict[str, Any]]
    if file is None:
        rows = typed_scan(typed, plan, rf_of)
    else:
        reading = read_scan_list(file, plan=plan, rf_of=rf_of, columns=columns, strict=strict)
        rows = list(reading.scan)
        notes += [*reading.assumed, *reading.warnings]
        notes += [
            f"not used: {file}, line {r.line}, {r.field}: {r.reason}" for r in reading.rejected
        ]
    if all_channels:
        rows = with_missing(rows, edit.survey)
    scan = {key: value for key, value in given.items() if value is not None}
    if "taken" not in scan:
        written = None if file is None else moment_of(file.stat().st_mtime)
        scan["taken"] = (written or datetime.now(UTC)).isoformat(timespec="seconds")
        source = "now" if written is None else "the file's own date"
        notes.append(f"no --taken: {source} is taken, {scan['taken']}")
    if "antenna" not in scan and edit.survey.antennas:
        scan["antenna"] = edit.survey.antennas[0].id
    edit.survey, number, replaced = with_scan(edit.survey, {**scan, "rows": rows})
    if replaced:
        notes.append("the scan of the same moment that was kept is replaced")
    return number


def moment_of(seconds: float) -> datetime | None:
    """The moment so long after 1970; None for what no calendar holds, as a broken clock leaves it.

    >>> moment_of(0.0).year, moment_of(1e12)
    (1970, None)
    """
    try:
        return datetime.fromtimestamp(seconds, UTC)
    except (OSError, OverflowError, ValueError):
        return None


def _emit(answer: ScanAnswer, survey: Survey, notes: list[str], taken: bool) -> None:
    from skyview.report.scan_words import again_text, finding_record, offset_text, row_record

    rows = [row_record(row) for row in answer.rows]
    emit_json(
        "scan",
        rows,
        survey.revision,
        notes,
        more={
            "antenna": answer.antenna,
            "taken": answer.taken,
            "at": answer.at,
            "finding": finding_record(answer.finding),
            "others": [finding_record(finding) for finding in answer.others],
            "since": answer.since,
            "offset": {
                "offset_db": answer.offset_db,
                "sigma_db": answer.offset_sigma_db,
                "line_cleared": answer.line_cleared,
                "taken_over": taken,
                "text": " ".join(offset_text(answer, taken)),
            },
            "again_on": answer.again_on,
            "again_text": again_text(answer),
        },
    )


def _told(answer: ScanAnswer, survey: Survey, width: int, taken: bool) -> str:
    """The answer for a terminal."""
    from skyview.report import scan_words as words
    from skyview.report.figures import day
    from skyview.report.reception_words import caution
    from skyview.survey.scan.compare import antenna_of

    head = ["station", "channel", "received", "predicted", "read less predicted", "cause"]
    cells = [
        [
            row.station or "-",
            str(row.rf_channel),
            {True: "yes", False: "no", None: "-"}[row.received],
            "-" if row.predicted_probability is None else f"{row.predicted_probability:.0%}",
            "-"
            if row.difference_db is None
            else f"{row.difference_db:+.0f} ±{row.sigma_db or 0.0:.0f} dB",
            words.short_cause(row.cause),
        ]
        for row in answer.rows
    ]
    texts = [words.finding_text(answer.finding)]
    if answer.since is not None:
        texts.append(f"It was not so on {day(answer.since)}.")
    antenna = antenna_of(survey, answer.antenna)
    if antenna is not None and antenna.aim_true_deg is not None:
        texts += filter(None, [words.aimed_text(antenna.aim_true_deg, answer.finding)])
    if answer.finding.code != "none":
        texts += ["", f"Next test: {words.next_test(answer.finding.code)}"]
        texts += [caution("roof")] if words.on_the_roof(answer.finding.code) else []
    if answer.others and answer.finding.code != "none":
        head_line = "likely" if answer.finding.code == "cannot_tell" else "likely_else"
        texts += ["", f"{words.sentence(head_line)}:"]
        texts += [f"  {f.probability:4.0%}  {words.short_text(f)}" for f in answer.others[:4]]
    texts += ["", *words.offset_text(answer, taken)]
    texts += filter(None, [words.again_text(answer)])
    lines = [text_table(head, cells), ""]
    for text in texts:
        lines += [text] if text.startswith("  ") or not text else textwrap.wrap(text, width)
    return "\n".join(lines)
