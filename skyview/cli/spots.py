"""The verbs spots and aim: which place, how high, which way."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from skyview.cli.choices import HEIGHTS, SEASON, SPOTS, checked_heights
from skyview.cli.output import (
    CSV_OUTPUT,
    NUMBER,
    PICTURE_FILE,
    about,
    emit_json,
    progress,
    text_table,
    warn,
    write_table,
)
from skyview.cli.roof import map_roof


@click.command("spots")
@click.argument("survey", type=click.Path(path_type=Path))
@SPOTS
@HEIGHTS
@SEASON
@click.option("--roof", is_flag=True, help="Map a grid over the roof (limits.roof_enu_m) instead.")
@click.option("--step", "step_m", type=NUMBER, help="Between points of the grid. [m]")
@click.option("--draw", "picture", type=PICTURE_FILE, help="Draw it: .png, .svg or .pdf.")
@CSV_OUTPUT
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def spots_command(
    survey: Path,
    spots: tuple[str, ...],
    heights: tuple[float, ...],
    leaf: Any,
    roof: bool,
    step_m: float | None,
    picture: Path | None,
    output: Path | None,
    as_json: bool,
) -> None:
    """What every spot of SURVEY brings at every height, and which is best.

    Nothing is said before somebody has noted that power lines were looked for. A place that is
    refused is too near a line or beyond a limit of the survey; one that is not may still be
    dangerous. Chances are those of the whole way from the transmitter, with the survey's antenna.
    """
    chosen = checked_heights(heights)
    if roof:
        map_roof(survey, heights, leaf, step_m, picture, output, as_json)
        return
    from skyview.report.mount_words import refusal_sentence
    from skyview.report.spot_words import (
        CAUTIONS,
        best_sentence,
        height_sentences,
        refused_lines,
    )
    from skyview.survey.mounts import mounts_of
    from skyview.survey.storage import load

    loaded = load(survey)
    with about(survey), progress("trying every spot and height"):
        found = mounts_of(loaded, spots=spots or None, heights_m=chosen, leaf=leaf)
    rows = [
        {**asdict(row), "refused": refusal_sentence(row.refused) if row.refused else None}
        for row in found.rows
    ]
    if output is not None:
        flat = [{k: v for k, v in row.items() if not isinstance(v, dict)} for row in rows]
        write_table(output, flat)
    if picture is not None:
        from skyview.report.spot_sheet import draw_spots

        draw_spots(found, loaded.title or "Survey", picture)
    if as_json:
        more = {
            "best": found.best,
            "alike": found.alike,
            "knees": [asdict(knee) for knee in found.knees],
            "good_enough": [asdict(enough) for enough in found.enough],
        }
        emit_json("spots", rows, loaded.revision, found.warnings, CAUTIONS, more)
        return
    table = [
        [
            row.spot,
            f"{row.antenna_height_m:.1f}",
            "-" if row.sure is None else str(row.sure),
            "-" if row.likely is None else str(row.likely),
            row.worst_must_have or "-",
            "-" if row.worst_probability is None else f"{100.0 * row.worst_probability:.0f} %",
            "" if row.refused is None else "refused",
        ]
        for row in found.rows
    ]
    heads = ["spot", "height (m)", "sure", "likely", "weakest must-have", "chance", ""]
    click.echo(text_table(heads, table))
    click.echo()
    said = [*refused_lines(found.rows), best_sentence(found), *height_sentences(found)]
    for sentence in (*said, CAUTIONS):
        click.echo(sentence)
    if output is not None:
        click.echo(f"wrote {output}")
    if picture is not None:
        click.echo(f"drew {picture}")
    warn(found.warnings)


@click.command("aim")
@click.argument("survey", type=click.Path(path_type=Path))
@click.option(
    "--spot", metavar="ID", help="Spot of the antenna; its own, or the first, if left out."
)
@click.option("--height", "height_m", type=NUMBER, help="Antenna this high above the spot. [m]")
@click.option(
    "--antenna", metavar="ID", help="Antenna that is turned, of several on downleads of their own."
)
@SEASON
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def aim_command(
    survey: Path,
    spot: str | None,
    height_m: float | None,
    antenna: str | None,
    leaf: Any,
    as_json: bool,
) -> None:
    """Which way to turn the antenna of SURVEY, and what to point it at.

    The heading is swept round with the antenna's pattern in every band, interference and overload
    included. A range costs no received station more than 1 dB.
    """
    from skyview.report.spot_words import (
        CAUTIONS,
        aim_sentence,
        aims_heading,
        extra_sentence,
        pointer_text,
        purpose_word,
        range_words,
    )
    from skyview.survey.aiming import aims_of
    from skyview.survey.storage import load

    if height_m is not None:
        checked_heights([height_m])
    loaded = load(survey)
    with about(survey), progress("turning the antenna"):
        found = aims_of(loaded, spot=spot, height_m=height_m, antenna=antenna, leaf=leaf)
    notes = list(found.warnings)
    if not loaded.limits.lines_checked:
        notes.insert(0, "nobody has noted that power lines were looked for: do that first")
    if as_json:
        rows = [
            {
                "spot": found.spot,
                "antenna_height_m": found.antenna_height_m,
                "antenna": found.antenna,
                **asdict(row),
                "point_at": pointer_text(row.point_at),
            }
            for row in found.rows
        ]
        more = {"extras": [asdict(extra) for extra in found.extras]}
        emit_json("aim", rows, loaded.revision, notes, CAUTIONS, more)
        return
    click.echo(aims_heading(found))
    heads = ["", "true (°)", "compass (°)", "true, 1 dB", "compass, 1 dB", "sure", "likely"]
    table = [
        [
            purpose_word(row),
            f"{row.aim_true_deg:.0f}",
            f"{row.aim_magnetic_deg:.0f}",
            range_words(row, magnetic=False),
            range_words(row, magnetic=True),
            str(row.sure),
            str(row.likely),
        ]
        for row in found.rows
    ]
    click.echo(text_table(heads, table))
    click.echo()
    for sentence in (
        *map(aim_sentence, found.rows),
        "Against the heading for the most stations:",
        *(f"  {extra_sentence(extra)}" for extra in found.extras),
        CAUTIONS,
    ):
        click.echo(sentence)
    warn(notes)
