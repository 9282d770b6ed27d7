"""The verb why: one station explained, with what would help."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.choices import SEASON, checked_heights
from skyview.cli.output import NUMBER, about, emit_json, progress, terminal_width, warn

if TYPE_CHECKING:
    from skyview.survey.results import Cure, Why


@click.command("why")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("station")
@click.option(
    "--spot", metavar="ID", help="Spot of the antenna; its own, or the first, if left out."
)
@click.option("--height", "height_m", type=NUMBER, help="Antenna this high above the spot. [m]")
@SEASON
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def why_command(
    survey: Path,
    station: str,
    spot: str | None,
    height_m: float | None,
    leaf: Any,
    as_json: bool,
) -> None:
    """Why STATION of SURVEY comes in or not, and what would help.

    What weakens it is listed in decibels, each cure with what it gains, the new chances and what
    it costs other stations.
    """
    from skyview.report.reception_words import sentence
    from skyview.report.records import why_record
    from skyview.survey.storage import load
    from skyview.survey.why import why

    if height_m is not None:
        checked_heights([height_m])
    loaded = load(survey)
    with about(survey), progress(f"looking into {station}"):
        found = why(loaded, station, spot, height_m, leaf)
    if as_json:
        emit_json(
            "why", [why_record(found.why)], loaded.revision, found.warnings, sentence("promises")
        )
        return
    click.echo(_told(found.why, min(terminal_width(), 100)))
    warn(found.warnings)


def _told(why: Why, width: int) -> str:
    """The answer for a terminal."""
    from skyview.report import reception_words as words
    from skyview.report.words import table_heading

    row = why.row
    lines = [
        table_heading(row.spot, row.antenna_height_m, row.antenna),
        "",
        *textwrap.wrap(words.customer_sentence(why), width),
        "",
        *(line for text in words.standing(why) for line in textwrap.wrap(text, width)),
        "",
        words.sentence("causes_head"),
    ]
    lines += [f"  {cause.db:6.1f} dB  {words.cause_text(cause)}" for cause in why.causes]
    lines += [] if why.causes else [f"  {words.sentence('no_causes')}"]
    if row.reception in ("likely", "doubtful", "no"):
        lines += ["", words.sentence("cures_head")]
        lines += [line for cure in row.cures for line in _cure_lines(cure, width)]
        lines += [] if row.cures else [f"  {words.sentence('no_cures')}"]
        lines += ["", *textwrap.wrap(words.caution("roof"), width)]
    return "\n".join(lines)


def _cure_lines(cure: Cure, width: int) -> list[str]:
    from skyview.report.reception_words import chances, cure_text

    head = f"  {cure.gain_db:+6.1f} dB  "
    text = f"{cure_text(cure)} Then {chances(cure.probability)}."
    return textwrap.wrap(text, width, initial_indent=head, subsequent_indent=" " * len(head))
