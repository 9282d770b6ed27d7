"""The verb mark: landmarks, marks in a picture, obstructions with their outlines."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click

from skyview.cli.output import about
from skyview.errors import InputError

GROUNDED = ("conifer", "broadleaf", "dead_tree", "tree", "building", "mast")
"""Kinds that stand on the ground, so that their outlines go on down to it."""

KINDS = [*GROUNDED, "wire", "hill", "own_roof", "power_line"]


@click.group("mark", invoke_without_command=True)
@click.option(
    "--accept",
    "accepted",
    nargs=2,
    type=str,
    metavar="SURVEY VIEW",
    help="Take every outline proposed for a view; some of them: skyview mark accept.",
)
@click.pass_context
def mark_command(context: click.Context, accepted: tuple[str, str] | None) -> None:
    """Add a landmark, a mark in a picture, or an outline to a survey."""
    if accepted is not None:
        context.invoke(accept_command, survey=Path(accepted[0]), view=accepted[1], ids=())
    elif context.invoked_subcommand is None:
        click.echo(context.get_help())


def _store(survey: Path, additions: dict[str, dict[str, Any]]) -> int:
    """Add one item to each of the lists named, together; the new revision."""
    from skyview.survey.models import validate
    from skyview.survey.storage import editing

    with about(survey), editing(survey) as edit:
        data = edit.survey.model_dump(exclude_unset=True)
        for name, item in additions.items():
            given = {field: value for field, value in item.items() if value is not None}
            if any(old["id"] == given["id"] for old in data.get(name, [])):
                raise InputError(
                    f"there is one called {given['id']} already",
                    survey / "survey.json",
                    name,
                    "choose another id, or remove the old one with: skyview set --remove",
                )
            data[name] = [*data.get(name, []), given]
        edit.survey = validate(data, survey / "survey.json")
    return edit.survey.revision


def _free_id(survey: Path, name: str, stem: str) -> str:
    from skyview.survey.storage import load

    used = {item.id for item in getattr(load(survey), name)}
    return next(f"{stem}{n}" for n in range(1, len(used) + 2) if f"{stem}{n}" not in used)


@mark_command.command("landmark")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("landmark_id", metavar="ID")
@click.option("--latitude", type=float, required=True, help="Degrees north.")
@click.option("--longitude", type=float, required=True, help="Degrees east.")
@click.option("--top", "top_amsl_m", type=float, help="Its top above sea level. [m]")
@click.option("--sigma", "sigma_m", type=float, help="Error of its place on the map. [m]")
def landmark_command(
    survey: Path,
    landmark_id: str,
    latitude: float,
    longitude: float,
    top_amsl_m: float | None,
    sigma_m: float | None,
) -> None:
    """Add a landmark: something on the map that a picture shows."""
    item = {
        "id": landmark_id,
        "latitude_deg": latitude,
        "longitude_deg": longitude,
        "top_amsl_m": top_amsl_m,
        "sigma_m": sigma_m,
    }
    revision = _store(survey, {"landmarks": item})
    click.echo(f"landmark {landmark_id} added (revision {revision})")


@mark_command.command("point", context_settings={"ignore_unknown_options": True})
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("view")
@click.argument("x_px", type=float)
@click.argument("y_px", type=float)
@click.option("--landmark", help="It shows this landmark.")
@click.option("--station", help="It shows the mast of this station.")
@click.option("--bearing", type=float, help="It lies on this bearing. [deg]")
@click.option("--magnetic", is_flag=True, help="The bearing counts from magnetic north.")
@click.option("--elevation", type=float, help="Its elevation, with --bearing. [deg]")
@click.option("--level", type=click.Choice(["spirit", "sea"]), help="It lies on a level line.")
@click.option("--sigma-px", type=float, help="Error of the click. [px]")
@click.option("--id", "mark_id", help="Id of the mark.")
def point_command(
    survey: Path,
    view: str,
    x_px: float,
    y_px: float,
    landmark: str | None,
    station: str | None,
    bearing: float | None,
    magnetic: bool,
    elevation: float | None,
    level: str | None,
    sigma_px: float | None,
    mark_id: str | None,
) -> None:
    """Say what the pixel X_PX Y_PX of a view shows: one of the options names it."""
    meanings = {"landmark": landmark, "station": station, "bearing": bearing, "level": level}
    given = [kind for kind, value in meanings.items() if value is not None]
    if len(given) != 1:
        raise InputError(
            "a point needs exactly one meaning",
            mend="give one of --landmark, --station, --bearing, --level",
        )
    item = {
        "id": mark_id or _free_id(survey, "marks", "m"),
        "view": view,
        "kind": given[0],
        "points_px": [[x_px, y_px]],
        "landmark": landmark,
        "station": station,
        "azimuth_deg": bearing,
        "north": None if bearing is None else ("magnetic" if magnetic else "true"),
        "elevation_deg": elevation,
        "level_by": level,
        "sigma_px": sigma_px,
    }
    revision = _store(survey, {"marks": item})
    click.echo(f"mark {item['id']} added (revision {revision}); next: skyview calibrate {survey}")


@mark_command.command("outline")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("view")
@click.argument("obstruction")
@click.option("--points", required=True, help="The edge in pixels: 'x,y x,y x,y ...'.")
@click.option("--hole", multiple=True, help="A hole in it, likewise.")
@click.option("--kind", type=click.Choice(KINDS), help="What it is; needed when it is new.")
@click.option("--distance", "distance_m", type=float, help="From the camera, horizontal. [m]")
@click.option("--distance-sigma", type=float, help="Error of the distance. [m]")
@click.option("--by", "distance_by", help="How it was measured, as in paced.")
@click.option("--depth", "depth_m", type=float, help="Depth along the line of sight. [m]")
@click.option("--sky-share", type=float, help="Share of sky between leaves, 0 to 1.")
@click.option("--floating", is_flag=True, help="It does not go on down to the ground.")
def outline_command(
    survey: Path,
    view: str,
    obstruction: str,
    points: str,
    hole: tuple[str, ...],
    kind: str | None,
    distance_m: float | None,
    distance_sigma: float | None,
    distance_by: str | None,
    depth_m: float | None,
    sky_share: float | None,
    floating: bool,
) -> None:
    """Outline the OBSTRUCTION in a view; a new one needs its kind, and a distance."""
    from skyview.survey.storage import load

    known = {thing.id: thing for thing in load(survey).obstructions}
    if obstruction not in known and kind is None:
        raise InputError(
            f"what is {obstruction}?", field="--kind", mend=f"give one of {', '.join(KINDS)}"
        )
    if obstruction in known and kind not in (None, known[obstruction].kind):
        raise InputError(
            f"{obstruction} is a {known[obstruction].kind} already",
            field="--kind",
            mend=f"leave it out, or skyview set {survey} obstructions.{obstruction}.kind={kind}",
        )
    kind = kind or known[obstruction].kind
    outline = {
        "id": _free_id(survey, "outlines", f"{obstruction}-"),
        "obstruction": obstruction,
        "view": view,
        "by": "hand",
        "rings_px": [_ring(text) for text in (points, *hole)],
        "reaches_ground": kind in GROUNDED and not floating,
        "sky_share": sky_share,
    }
    additions: dict[str, dict[str, Any]] = {}
    if obstruction not in known:
        additions["obstructions"] = {
            "id": obstruction,
            "kind": kind,
            "kind_by": "hand",
            "distance_m": distance_m,
            "distance_sigma_m": distance_sigma,
            "distance_by": distance_by,
            "distance_from": view if distance_m is not None else None,
            "depth_m": depth_m,
        }
    additions["outlines"] = outline
    revision = _store(survey, additions)
    click.echo(f"outline {outline['id']} added (revision {revision})")
    if distance_m is None and obstruction not in known:
        click.echo(
            "note: without a distance its place at the antenna is a guess; give one with "
            f"skyview set {survey} obstructions.{obstruction}.distance_m=...",
            err=True,
        )


def _ring(text: str) -> list[list[float]]:
    try:
        pairs = [pair.split(",") for pair in re.split(r"[;\s]+", text.strip())]
        return [[float(x), float(y)] for x, y in pairs]
    except ValueError:
        raise InputError(
            f"{text[:40]!r} is not a list of pixels",
            field="--points",
            mend="write it as in '120,80 300,80 300,400'",
        ) from None


@mark_command.command("accept")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("view")
@click.argument("ids", nargs=-1, metavar="[ID]...")
def accept_command(survey: Path, view: str, ids: tuple[str, ...]) -> None:
    """Take the outlines proposed for a VIEW, all or those named, into the survey."""
    from skyview.survey.proposals import accept

    with about(survey):
        taken, revision = accept(survey, view, ids)
    click.echo(f"accepted {', '.join(taken) or 'nothing'} (revision {revision})")
    if taken:
        click.echo(
            "note: kinds are guesses and distances are missing; give them with "
            f"skyview set {survey} obstructions.{taken[0]}.distance_m=...",
            err=True,
        )
