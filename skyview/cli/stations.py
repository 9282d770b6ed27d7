"""The verb stations: a list read into a survey."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.output import (
    NUMBER,
    OUTPUT,
    about,
    emit_json,
    text_table,
    warn,
    write_table,
)
from skyview.errors import InputError

if TYPE_CHECKING:
    from skyview.survey.lists.choose import Selection
    from skyview.survey.lists.reading import StationReading
    from skyview.survey.models import Survey

REJECTED_SHOWN = 10
"""Rejected rows that are told one by one; the rest are counted."""


def reading_options(command: Callable[..., None]) -> Callable[..., None]:
    """Options of verbs that read a list of stations."""
    columns = click.option(
        "--columns", help="Columns in order, for a list without headers: 'id,latitude_deg,-,...'."
    )
    strict = click.option(
        "--strict", is_flag=True, help="Refuse the list if one row cannot be used."
    )
    return columns(strict(command))


@click.command("stations")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("file", metavar="[LIST]", required=False, type=click.Path(path_type=Path))
@reading_options
@click.option("--within", "within_km", type=NUMBER, metavar="KM", help="Only those so near. [km]")
@click.option("--bands", help="Only these: low_vhf,high_vhf,uhf.")
@click.option("--replace", is_flag=True, help="Forget the stations that the survey has.")
@OUTPUT
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def stations_command(
    survey: Path,
    file: Path | None,
    columns: str | None,
    strict: bool,
    within_km: float | None,
    bands: str | None,
    replace: bool,
    output: Path | None,
    as_json: bool,
) -> None:
    """Read the stations of LIST into SURVEY; without a list, show those it has.

    LIST is CSV, TSV or GeoJSON. A station whose id the survey has already takes what the row
    tells and keeps the rest. With --within, distant transmitters on wanted channels or their
    neighbours stay as interferers.
    """
    from skyview.survey.lists.choose import band_words, select
    from skyview.survey.lists.reader import read_station_list
    from skyview.survey.places import doubtful_places
    from skyview.survey.storage import editing, load

    if file is None:
        if columns or strict or within_km or bands or replace:
            raise InputError("which list?", mend="give the LIST that these options are about")
        _show(load(survey), as_json, output)
        return
    with about(survey), editing(survey) as edit:
        site = edit.survey.site
        reading = read_station_list(file, plan=site.channel_plan, columns=columns, strict=strict)
        chosen = select(
            reading.stations,
            site.channel_plan,
            site.latitude_deg,
            site.longitude_deg,
            km=within_km,
            bands=band_words(bands),
        )
        if not chosen.stations:
            raise InputError(
                "no station of the list is left", file, mend=chosen.hint or "widen --within"
            )
        edit.survey = _merged(edit.survey, chosen.stations, replace)
        far = [sentence for _, sentence in doubtful_places(edit.survey)]
    if output is not None:
        _write(edit.survey, output)
    _tell(file, reading, chosen, edit.survey, far, as_json)
    if output is not None and not as_json:
        click.echo(f"wrote {output}")


def _merged(survey: Survey, records: list[dict[str, Any]], replace: bool) -> Survey:
    from skyview.survey.lists.merging import updated
    from skyview.survey.models import validate

    data = survey.model_dump(exclude_unset=True)
    old = {} if replace else {s["id"]: s for s in data.get("stations", [])}
    data["stations"] = list(updated(old, records).values())
    return validate(data)


def _tell(
    file: Path,
    reading: StationReading,
    chosen: Selection,
    survey: Survey,
    far: list[str],
    as_json: bool,
) -> None:
    notes = [*reading.assumed, *reading.warnings, *([chosen.hint] if chosen.hint else []), *far]
    if as_json:
        told = [*notes, *_rejected(file, reading)]
        emit_json("stations", chosen.stations, survey.revision, told)
        return
    click.echo(
        f"{file}: {reading.rows_read} rows read, {reading.rows_used} used, "
        f"{len(chosen.stations)} kept ({chosen.interferers} as interferers), "
        f"{len(survey.stations)} in the survey (revision {survey.revision})"
    )
    warn([*notes, *rejected_notes(file, reading)])


def _rejected(file: Path, reading: StationReading) -> list[str]:
    return [f"{file}, line {row.line}, {row.field}: {row.reason}" for row in reading.rejected]


def rejected_notes(file: Path, reading: StationReading) -> list[str]:
    """Sentences about rows that could not be used; beyond the first few they are counted."""
    rejected = _rejected(file, reading)
    more = len(rejected) - REJECTED_SHOWN
    shown = rejected[:REJECTED_SHOWN] + ([f"... and {more} more rows"] if more > 0 else [])
    return [f"not used: {row}" for row in shown]


def _rows(survey: Survey) -> list[dict[str, Any]]:
    return [station.model_dump(exclude_unset=True) for station in survey.stations]


def _write(survey: Survey, output: Path) -> None:
    """All stations that the survey has, as a table or a map."""
    from skyview.survey.lists.export import bearing_lines

    site, rows = survey.site, _rows(survey)
    write_table(output, rows, lambda: bearing_lines(site.latitude_deg, site.longitude_deg, rows))


def _show(survey: Survey, as_json: bool, output: Path | None) -> None:
    if output is not None:
        _write(survey, output)
    if as_json:
        emit_json("stations", _rows(survey), survey.revision)
        return
    if not survey.stations:
        click.echo("no stations yet; read a list with: skyview stations SURVEY LIST")
        return
    cells = [
        [
            s.id,
            s.name or "",
            str(s.rf_channel),
            f"{s.latitude_deg:.4f}",
            f"{s.longitude_deg:.4f}",
            f"{s.antenna_amsl_m:.0f}",
            "must have" if s.must_have else s.role,
        ]
        for s in survey.stations
    ]
    headings = [
        "id", "name", "channel", "latitude (°)", "longitude (°)", "above sea level (m)", "role",
    ]  # fmt: skip
    click.echo(text_table(headings, cells))
    if output is not None:
        click.echo(f"wrote {output}")
