"""The verb photo: what a photograph knows, and how it joins a survey."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.output import NUMBER, about, emit_json, warn
from skyview.errors import InputError
from skyview.files import make_folder

if TYPE_CHECKING:
    from skyview.photo.facts import PhotoFacts

PROBE_PX = 64
"""Longest side to which a picture is decoded to see whether it is whole."""

KINDS = ["equirectangular", "cylindrical", "rectilinear", "fisheye"]


@click.command("photo")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--into", type=click.Path(path_type=Path), metavar="SURVEY", help="Add it there.")
@click.option("--spot", metavar="ID", help="Id of the spot where it was taken.")
@click.option(
    "--id", "view_id", metavar="ID", help="Id of the new view; the file's name if left out."
)
@click.option(
    "--camera",
    nargs=3,
    type=NUMBER,
    metavar="E N U",
    help="Where the camera stood, metres east, north, up; eye height above the spot if left out.",
)
@click.option("--projection", type=click.Choice(KINDS), help="What kind of picture it is.")
@click.option(
    "--pose-centre",
    type=click.Choice(["full", "crop"]),
    default="full",
    show_default=True,
    help="Whose middle a cropped panorama's heading means.",
)
@click.option("--leaf", type=click.Choice(["in", "out"]), help="Trees in or out of leaf.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def photo_command(
    file: Path,
    into: Path | None,
    spot: str | None,
    view_id: str | None,
    camera: tuple[float, float, float] | None,
    projection: str | None,
    pose_centre: Any,
    leaf: str | None,
    as_json: bool,
) -> None:
    """Tell what the photograph FILE knows and what is missing, or add it to a survey."""
    from skyview.photo.facts import read_header
    from skyview.photo.pixels import read_pixels
    from skyview.photo.projection import projection_guess

    if into is None and (spot or view_id or camera or projection or leaf):
        raise InputError(
            "--spot, --id, --camera, --projection and --leaf tell of a survey's view",
            field="--into",
            mend="name the survey with --into",
        )
    facts = read_header(file)
    # A file cut short after its header shows itself only when it is decoded.
    read_pixels(file, PROBE_PX)
    guess = projection_guess(facts, pose_centre)
    added, revision = None, None
    if into is not None:
        added, revision = _add(file, facts, guess, into, spot, view_id, camera, projection, leaf)
    if as_json:
        row = _row(facts, guess) | ({"view": added} if added else {})
        emit_json("photo", [row], revision, facts.notes)
        return
    _describe(facts, guess)
    warn(facts.notes)
    if added:
        click.echo(f"added to {into} as view {added} (revision {revision})")


def _row(facts: PhotoFacts, guess: dict[str, Any] | None) -> dict[str, Any]:
    shape = {k: v for k, v in guess.items() if k != "scale_sigma"} if guess else None
    return {
        "file": facts.file,
        "width_px": facts.width_px,
        "height_px": facts.height_px,
        "rotation_applied": facts.rotation_applied,
        "latitude_deg": facts.latitude_deg,
        "longitude_deg": facts.longitude_deg,
        "altitude_m": facts.altitude_m,
        "position_sigma_m": facts.position_sigma_m,
        "direction_deg": facts.direction_deg,
        "direction_north": facts.direction_north,
        "focal_35mm": facts.focal_35mm,
        "taken": facts.taken,
        "utc_offset": facts.utc_offset,
        "projection": shape,
        "missing": list(facts.missing),
    }


def _describe(facts: PhotoFacts, guess: dict[str, Any] | None) -> None:
    lines = [f"{facts.file}: {facts.format}, {facts.width_px} x {facts.height_px} pixels"]
    if facts.latitude_deg is not None and facts.longitude_deg is not None:
        within = f", within {facts.position_sigma_m:g} m" if facts.position_sigma_m else ""
        lines.append(f"taken at {facts.latitude_deg:.5f}, {facts.longitude_deg:.5f}{within}")
    if facts.direction_deg is not None:
        lines.append(
            f"looks {facts.direction_deg:.0f} degrees from {_north(facts)} "
            "(a phone's compass is easily 10 degrees off)"
        )
    if facts.taken:
        lines.append(f"taken {facts.taken}")
    if guess:
        sigma = 100.0 * float(guess.get("scale_sigma") or 0.0)
        lines.append(f"projection: {guess['kind']}, angles good to {sigma:g} %")
    click.echo("\n  ".join(lines))
    for thing in facts.missing:
        click.echo(f"  missing: {thing}")


def _north(facts: PhotoFacts) -> str:
    return f"{facts.direction_north} north" if facts.direction_north else "north, taken as true"


def _add(
    file: Path,
    facts: PhotoFacts,
    guess: dict[str, Any] | None,
    into: Path,
    spot: str | None,
    view_id: str | None,
    camera: tuple[float, float, float] | None,
    kind: str | None,
    leaf: str | None,
) -> tuple[str, int]:
    """Copy the photograph into the survey and give it a view."""
    from skyview.survey.models import validate
    from skyview.survey.new_views import far_away, new_view
    from skyview.survey.storage import editing, photo_path

    with about(into), editing(into) as edit:
        view = new_view(
            edit.survey,
            facts,
            guess,
            view_id or file.stem,
            file.suffix,
            spot=spot,
            camera_enu_m=camera,
            kind=kind,
            leaf=leaf,
        )
        data = edit.survey.model_dump(exclude_unset=True)
        data["views"] = [*data.get("views", []), view.model_dump(exclude_unset=True)]
        edit.survey = validate(data, into / "survey.json")
        _copy(file, photo_path(into, view))
    warn(far_away(facts, edit.survey))
    return view.id, edit.survey.revision


def add_view(into: Path, view: dict[str, Any], copies: dict[str, Path]) -> int:
    """Store a view with the files that belong to it, by their path in the survey's folder; the
    new revision. A file of that name that is another one is refused."""
    from skyview.survey.models import View, validate
    from skyview.survey.storage import editing, inside

    with about(into), editing(into) as edit:
        data = edit.survey.model_dump(exclude_unset=True)
        checked = View.model_validate(view)
        data["views"] = [*data.get("views", []), checked.model_dump(exclude_unset=True)]
        edit.survey = validate(data, into / "survey.json")
        for name, source in copies.items():
            target = inside(into, name, "photo")
            if source.resolve() != target.resolve():
                _copy(source, target)
    return edit.survey.revision


def _copy(file: Path, target: Path) -> None:
    """Copy the photograph into the survey, never over another one."""
    from skyview.photo.copies import write_copy

    if target.exists() and target.read_bytes() != file.read_bytes():
        raise InputError(
            "another photograph of that name is there already", target, mend="give another --id"
        )
    make_folder(target.parent)
    write_copy(file, target)
