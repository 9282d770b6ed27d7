"""Verbs about the survey file as a whole: new, set, check, schema."""

from __future__ import annotations

import json
from pathlib import Path

import click

from skyview.cli.output import NUMBER, about, emit_json, warn
from skyview.errors import InputError

FIRST_SPOT = {"id": "roof", "enu_m": [0.0, 0.0, 6.0], "heights_m": [1.5, 3.0]}
"""What ``new`` supposes about the roof until told otherwise; it says so."""


@click.command("new")
@click.argument("survey", type=click.Path(path_type=Path))
@click.option("--latitude", type=NUMBER, help="Degrees north of the equator.")
@click.option("--longitude", type=NUMBER, help="Degrees east of Greenwich.")
@click.option(
    "--place-from",
    type=click.Path(path_type=Path),
    help="Take latitude and longitude from this photograph.",
)
@click.option("--title", default="", help="What people call the survey.")
@click.option("--ground", "ground_amsl_m", type=NUMBER, help="Ground above sea level. [m]")
@click.option("--position-sigma", "position_sigma_m", type=NUMBER, help="Error of the place. [m]")
@click.option(
    "--plan",
    "channel_plan",
    type=click.Choice(["americas-6mhz", "europe-8mhz", "australia-7mhz", "japan-6mhz"]),
    default="americas-6mhz",
    show_default=True,
    help="Plan of RF channels.",
)
@click.option(
    "--spot",
    nargs=4,
    type=(str, NUMBER, NUMBER, NUMBER),
    metavar="ID E N U",
    help="First spot: id, metres east, north and up of the site's ground.",
)
@click.option(
    "--heights", default="1.5,3", show_default=True, help="Antenna heights above the spot. [m]"
)
def new_command(
    survey: Path,
    latitude: float | None,
    longitude: float | None,
    place_from: Path | None,
    title: str,
    ground_amsl_m: float | None,
    position_sigma_m: float | None,
    channel_plan: str,
    spot: tuple[str, float, float, float] | None,
    heights: str,
) -> None:
    """Start a survey in the folder SURVEY, at a latitude and longitude."""
    from skyview.survey.models import validate
    from skyview.survey.storage import create

    notes = []
    if place_from is not None and not (latitude is None and longitude is None):
        raise InputError(
            "the place is told twice", mend="give --latitude and --longitude, or --place-from PHOTO"
        )
    if place_from is not None:
        from skyview.photo.facts import read_header

        facts = read_header(place_from)
        if facts.latitude_deg is None or facts.longitude_deg is None:
            raise InputError(
                "this photograph knows no position",
                place_from,
                mend="give --latitude and --longitude, or --place-from PHOTO",
            )
        latitude, longitude = facts.latitude_deg, facts.longitude_deg
        position_sigma_m = position_sigma_m or facts.position_sigma_m
        notes.append("the position is the phone's: read it off a map to make it better")
    if latitude is None or longitude is None:
        raise InputError(
            "where is the site?", mend="give --latitude and --longitude, or --place-from PHOTO"
        )
    site = {
        "latitude_deg": latitude,
        "longitude_deg": longitude,
        "position_sigma_m": position_sigma_m,
        "ground_amsl_m": ground_amsl_m,
        "channel_plan": channel_plan,
    }
    first = dict(FIRST_SPOT)
    if spot is None:
        notes.append(
            "supposed a spot 'roof' 6 m above the ground: correct it with "
            f"skyview set {survey} spots.roof.enu_m='[0, 0, 6]'"
        )
    else:
        first = {"id": spot[0], "enu_m": list(spot[1:])}
    first["heights_m"] = _numbers(heights, "--heights")
    data = {
        "format": "skyview-survey",
        "version": 1,
        "revision": 0,
        "title": title or survey.resolve().name,
        "site": {name: value for name, value in site.items() if value is not None},
        "spots": [first],
    }
    saved = create(survey, validate(data, survey / "survey.json"))
    click.echo(f"started {survey} (revision {saved.revision}); next: skyview check {survey}")
    warn(notes)


def _numbers(text: str, option: str) -> list[float]:
    try:
        return [float(part) for part in text.replace(";", ",").split(",") if part.strip()]
    except ValueError:
        raise InputError(
            f"{text!r} is not a list of numbers", field=option, mend="write it as in 1.5,3"
        ) from None


@click.command("set")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("assignments", nargs=-1, metavar="[PATH=VALUE]...")
@click.option(
    "--add",
    nargs=2,
    multiple=True,
    metavar="LIST JSON",
    help='Add one item to a list, as in: --add spots \'{"id": "gable", "enu_m": [4, 0, 7]}\'; '
    "may be repeated.",
)
@click.option(
    "--remove", multiple=True, metavar="ID", help="Remove the item with this id; may be repeated."
)
def set_command(
    survey: Path,
    assignments: tuple[str, ...],
    add: tuple[tuple[str, str], ...],
    remove: tuple[str, ...],
) -> None:
    """Set fields of SURVEY by path, as in antennas.main.aim_true_deg=140; null makes one unknown.

    All changes of one call are stored together, or none of them.
    """
    from skyview.survey.check import check
    from skyview.survey.edit import add_item, remove_item, set_field
    from skyview.survey.storage import editing

    if not (assignments or add or remove):
        raise InputError("nothing to set", mend="give PATH=VALUE, --add LIST JSON or --remove ID")
    with about(survey), editing(survey) as edit:
        for name in remove:
            edit.survey = remove_item(edit.survey, name)
        for list_path, text in add:
            edit.survey = add_item(edit.survey, list_path, text)
        for assignment in assignments:
            path, equals, value = assignment.partition("=")
            if not equals:
                raise InputError(
                    f"{assignment!r} sets nothing", mend="write it as PATH=VALUE, without blanks"
                )
            edit.survey = set_field(edit.survey, path, value)
    click.echo(f"{survey} is at revision {edit.survey.revision}")
    told = {assignment.partition("=")[0] for assignment in assignments}
    found = check(edit.survey, survey) if told else []
    warn([f.sentence for f in found if f.field in told and f.severity != "note"])


@click.command("check")
@click.argument("survey", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def check_command(survey: Path, as_json: bool) -> None:
    """Say what is missing or doubtful in SURVEY, and what to do next."""
    from dataclasses import asdict

    from skyview.survey.check import check
    from skyview.survey.storage import load

    loaded = load(survey)
    findings = check(loaded, survey)
    if as_json:
        emit_json("check", [asdict(finding) for finding in findings], loaded.revision)
        return
    if not findings:
        click.echo("nothing is missing; next: skyview paths " + str(survey))
    for finding in findings:
        click.echo(f"{finding.severity}: {finding.sentence}")
        if finding.mend:
            click.echo(f"    {finding.mend}")


@click.command("schema")
def schema_command() -> None:
    """Print the JSON Schema of survey.json."""
    from skyview.survey.models import schema

    click.echo(json.dumps(schema(), indent=1, ensure_ascii=False))
