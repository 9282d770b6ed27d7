"""The verb mark: landmarks, marks in a picture, obstructions with their outlines."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click

from skyview.cli.distance import distance_command, measure_command, same_command
from skyview.cli.output import NUMBER, about, warn
from skyview.cli.verbs import Figures, Verbs
from skyview.errors import InputError
from skyview.survey.kinds import GROUNDED, WIRES

KINDS = [*GROUNDED, *WIRES]


class _Marks(Verbs):
    """The verbs of mark; ``mark --accept`` is the verb ``accept``, written as an option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        if args[:1] == ["--accept"]:
            args = ["accept", *args[1:]]
        return super().parse_args(ctx, args)


@click.group("mark", cls=_Marks, invoke_without_command=True)
@click.option(
    "--accept",
    metavar="SURVEY VIEW [ID]...",
    expose_value=False,
    help="Take the outlines proposed for a view, all or those named.",
)
@click.pass_context
def mark_command(context: click.Context) -> None:
    """Add a landmark, a mark in a picture, or an outline to a survey."""
    if context.invoked_subcommand is None:
        verbs = mark_command.commands.items()
        names = ", ".join(name for name, verb in verbs if not verb.hidden)
        raise click.UsageError(f"what shall be marked? One of {names}, --accept", context)


def _store(survey: Path, additions: dict[str, dict[str, Any]]) -> int:
    """Add one item to each of the lists named, together; the new revision."""
    from skyview.survey.models import validate
    from skyview.survey.storage import editing

    with about(survey), editing(survey) as edit:
        data = edit.survey.model_dump(exclude_unset=True)
        for name, item in additions.items():
            given = _told(item)
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


@mark_command.command("landmark", short_help="Add a landmark, a thing on the map.")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("landmark_id", metavar="ID")
@click.option("--latitude", type=NUMBER, required=True, help="Degrees north of the equator.")
@click.option("--longitude", type=NUMBER, required=True, help="Degrees east of Greenwich.")
@click.option("--top", "top_amsl_m", type=NUMBER, help="Its top above sea level. [m]")
@click.option("--sigma", "sigma_m", type=NUMBER, help="Error of its place on the map. [m]")
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


@mark_command.command("landmarks", short_help="Add the landmarks of a list.")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("file", metavar="LIST", type=click.Path(path_type=Path))
@click.option("--columns", help="Columns in order, for a list without headers.")
@click.option("--strict", is_flag=True, help="Refuse the list if one row cannot be used.")
def landmarks_command(survey: Path, file: Path, columns: str | None, strict: bool) -> None:
    """Add the landmarks of LIST, CSV or GeoJSON points; known ids take what it tells."""
    from skyview.survey.lists.merging import updated
    from skyview.survey.lists.reader import read_landmark_list
    from skyview.survey.models import validate
    from skyview.survey.storage import editing

    with about(survey), editing(survey) as edit:
        reading = read_landmark_list(file, columns=columns, strict=strict)
        data = edit.survey.model_dump(exclude_unset=True)
        old = {item["id"]: item for item in data.get("landmarks", [])}
        data["landmarks"] = list(updated(old, reading.landmarks).values())
        edit.survey = validate(data)
    click.echo(
        f"{file}: {reading.rows_read} rows read, {reading.rows_used} landmarks used "
        f"(revision {edit.survey.revision})"
    )
    rejected = [f"not used: line {r.line}, {r.field}: {r.reason}" for r in reading.rejected]
    warn([*reading.assumed, *reading.warnings, *rejected])


@mark_command.command("point", cls=Figures, short_help="Say what one pixel of a view shows.")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("view")
@click.argument("x_px", type=NUMBER)
@click.argument("y_px", type=NUMBER)
@click.option("--landmark", metavar="ID", help="It shows this landmark.")
@click.option("--station", metavar="ID", help="It shows the mast of this station.")
@click.option("--bearing", type=NUMBER, help="It lies on this bearing from true north. [deg]")
@click.option("--magnetic", is_flag=True, help="The bearing counts from magnetic north instead.")
@click.option("--elevation", type=NUMBER, help="Its elevation, with --bearing. [deg]")
@click.option("--level", type=click.Choice(["spirit", "sea"]), help="It lies on a level line.")
@click.option("--sun", is_flag=True, help="It is the sun's middle, at the photo's time.")
@click.option("--tie", metavar="ID", help="It is the point of this mark in another view.")
@click.option("--frame", metavar="NAME", help="X and Y are pixels of this frame of a panorama.")
@click.option("--sigma-px", type=NUMBER, help="Error of the click. [px]")
@click.option("--id", "mark_id", metavar="ID", help="Id of the mark; m1, m2 ... if left out.")
def point_command(
    survey: Path,
    view: str,
    x_px: float,
    y_px: float,
    frame: str | None,
    landmark: str | None,
    station: str | None,
    bearing: float | None,
    magnetic: bool,
    elevation: float | None,
    level: str | None,
    sun: bool,
    tie: str | None,
    sigma_px: float | None,
    mark_id: str | None,
) -> None:
    """Say what the pixel X_PX Y_PX of a view shows: one of the options names it."""
    meanings = {"landmark": landmark, "station": station, "bearing": bearing}
    meanings |= {"level": level, "sun": sun or None, "tie": tie}
    given = [kind for kind, value in meanings.items() if value is not None]
    if len(given) != 1:
        raise InputError(
            "a point needs exactly one meaning",
            mend="give one of --landmark, --station, --bearing, --level, --sun, --tie",
        )
    if bearing is None and (magnetic or elevation is not None):
        raise InputError(
            "--magnetic and --elevation tell more of a bearing", mend="give them with --bearing"
        )
    if frame is not None:
        _require_frame(survey, view, frame)
    item = {
        "id": mark_id or _free_id(survey, "marks", "m"),
        "view": view,
        "kind": given[0],
        "points_px": [[x_px, y_px]],
        "frame": frame,
        "landmark": landmark,
        "station": station,
        "azimuth_deg": bearing,
        "north": None if bearing is None else ("magnetic" if magnetic else "true"),
        "elevation_deg": elevation,
        "level_by": level,
        "other": tie,
        "sigma_px": sigma_px,
    }
    revision = _store(survey, {"marks": item})
    click.echo(f"mark {item['id']} added (revision {revision}); next: skyview calibrate {survey}")


def _require_frame(survey: Path, view: str, frame: str) -> None:
    """InputError unless the view was joined from frames and this is one of them."""
    from skyview.survey.known import known_item
    from skyview.survey.storage import load
    from skyview.survey.sweeps import frame_of

    with about(survey):
        frame_of(known_item(load(survey).views, view, "view"), frame)


@mark_command.command("line", cls=Figures, short_help="Say what a line of a view is.")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("view")
@click.argument("pixels", nargs=-1, type=NUMBER, metavar="X Y X Y [X Y]...")
@click.option("--plumb", is_flag=True, help="Points on one upright edge.")
@click.option("--shadow", is_flag=True, help="Two points along a plumb line's shadow.")
@click.option("--level", type=click.Choice(["spirit", "sea"]), help="Points on a level line.")
@click.option("--sigma-px", type=NUMBER, help="Error of each click. [px]")
@click.option("--id", "mark_id", metavar="ID", help="Id of the mark; m1, m2 ... if left out.")
def line_command(
    survey: Path,
    view: str,
    pixels: tuple[float, ...],
    plumb: bool,
    shadow: bool,
    level: str | None,
    sigma_px: float | None,
    mark_id: str | None,
) -> None:
    """Say what a line of a view is: upright, level, or a shadow on level ground.

    Never look at the sun: a shadow tells its azimuth as well.
    """
    meanings = {"plumb": plumb, "shadow": shadow, "level": level is not None}
    given = [kind for kind, yes in meanings.items() if yes]
    if len(given) != 1:
        raise InputError(
            "a line needs exactly one meaning", mend="give one of --plumb, --shadow, --level"
        )
    if len(pixels) % 2:
        raise InputError("pixels come in pairs", field="X Y", mend="give x and y of each point")
    item = {
        "id": mark_id or _free_id(survey, "marks", "m"),
        "view": view,
        "kind": given[0],
        "points_px": [list(pair) for pair in zip(pixels[::2], pixels[1::2], strict=True)],
        "level_by": level,
        "sigma_px": sigma_px,
    }
    revision = _store(survey, {"marks": item})
    click.echo(f"mark {item['id']} added (revision {revision}); next: skyview calibrate {survey}")


@mark_command.command("outline", short_help="Outline a thing that stands in the way.")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("view")
@click.argument("obstruction")
@click.option("--points", required=True, help="The edge in pixels: 'x,y x,y x,y ...'.")
@click.option("--hole", multiple=True, help="A hole in it, likewise; may be repeated.")
@click.option("--kind", type=click.Choice(KINDS), help="What it is; needed when it is new.")
@click.option("--distance", "distance_m", type=NUMBER, help="From the camera, horizontal. [m]")
@click.option("--distance-sigma", type=NUMBER, help="Error of the distance. [m]")
@click.option("--by", "distance_by", help="How it was measured, as in paced.")
@click.option("--depth", "depth_m", type=NUMBER, help="Depth along the line of sight. [m]")
@click.option("--sky-share", type=NUMBER, help="Share of sky between leaves, 0 to 1.")
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
    """Outline the OBSTRUCTION in a view; a new one needs its kind, and should have a distance."""
    from skyview.survey.models import validate
    from skyview.survey.storage import editing, load

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
        "rings_px": [_ring(points, "--points"), *(_ring(text, "--hole") for text in hole)],
        "reaches_ground": kind in GROUNDED and not floating,
        "sky_share": sky_share,
    }
    facts = {
        "distance_m": distance_m,
        "distance_sigma_m": distance_sigma,
        "distance_by": distance_by,
        "distance_from": view if distance_m is not None else None,
        "depth_m": depth_m,
    }
    thing = {"id": obstruction, "kind": kind, "kind_by": "hand", **facts}
    with about(survey), editing(survey) as edit:
        data = edit.survey.model_dump(exclude_unset=True)
        _put_thing(data, survey, thing, facts)
        data["outlines"] = [*data.get("outlines", []), _told(outline)]
        edit.survey = validate(data, survey / "survey.json")
    click.echo(f"outline {outline['id']} added (revision {edit.survey.revision})")
    stored = next(o for o in edit.survey.obstructions if o.id == obstruction)
    if stored.distance_m is None and stored.enu_m is None and kind not in WIRES:
        click.echo(
            "note: without a distance its place at the antenna is a guess; give one with "
            f"skyview set {survey} obstructions.{obstruction}.distance_m=...",
            err=True,
        )


def _told(item: dict[str, Any]) -> dict[str, Any]:
    return {field: value for field, value in item.items() if value is not None}


def _put_thing(
    data: dict[str, Any], survey: Path, thing: dict[str, Any], facts: dict[str, Any]
) -> None:
    """Add the obstruction, or fill in what a known one leaves open; never change what it says."""
    things = data.setdefault("obstructions", [])
    known = next((old for old in things if old["id"] == thing["id"]), None)
    if known is None:
        things.append(_told(thing))
        return
    for field, value in _told(facts).items():
        if known.get(field) not in (None, value):
            raise InputError(
                f"{thing['id']} has another {field} already ({known[field]})",
                survey / "survey.json",
                f"obstructions.{thing['id']}.{field}",
                f"change it with: skyview set {survey} obstructions.{thing['id']}.{field}={value}",
            )
        known[field] = value


def _ring(text: str, option: str) -> list[list[float]]:
    try:
        pairs = [pair.split(",") for pair in re.split(r"[;\s]+", text.strip())]
        return [[float(x), float(y)] for x, y in pairs]
    except ValueError:
        raise InputError(
            f"{text[:40]!r} is not a list of pixels",
            field=option,
            mend="write it as in '120,80 300,80 300,400'",
        ) from None


@mark_command.command("accept", hidden=True)
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("view")
@click.argument("ids", nargs=-1, metavar="[ID]...")
def accept_command(survey: Path, view: str, ids: tuple[str, ...]) -> None:
    """Take the outlines proposed for a VIEW, all or those named, into the survey."""
    from skyview.survey.known import known_item
    from skyview.survey.proposals import accept
    from skyview.survey.storage import load

    with about(survey):
        known_item(load(survey).views, view, "view")
        taken, revision = accept(survey, view, ids)
    told = ", ".join(taken) or "nothing: all that were proposed are in the survey"
    click.echo(f"accepted {told} (revision {revision})")
    if taken:
        click.echo(
            "note: kinds are guesses and distances are missing; give them with "
            f"skyview set {survey} obstructions.{taken[0]}.distance_m=...",
            err=True,
        )


mark_command.add_command(same_command)
mark_command.add_command(measure_command)
mark_command.add_command(distance_command)
