"""The verbs mark same, mark measure and mark distance: one thing in several views, how far away."""

from __future__ import annotations

import re
from dataclasses import asdict
from math import isfinite
from pathlib import Path
from typing import Any

import click

from skyview.cli.output import NUMBER, about, emit_json, progress, text_table, warn
from skyview.cli.verbs import Figures
from skyview.errors import InputError

WAYS = ("paced", "tape", "laser", "map", "size")


@click.command("same", short_help="Say which obstructions are one thing.")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("ids", nargs=-1, metavar="[ID]...")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def same_command(survey: Path, ids: tuple[str, ...], as_json: bool) -> None:
    """Say that the obstructions ID ID ... are one thing; without ids, propose which may be.

    The first id stays. A wrong match puts a thing where none stands: look at both pictures.
    """
    from skyview.survey.cameras import camera_of
    from skyview.survey.same import joined, proposals_of
    from skyview.survey.storage import editing, load

    if ids:
        with about(survey), editing(survey) as edit:
            edit.survey = joined(edit.survey, ids)
        click.echo(f"{', '.join(ids[1:])} joined with {ids[0]} (revision {edit.survey.revision})")
        click.echo(
            f"note: see its distance with: skyview mark distance {survey} {ids[0]}", err=True
        )
        return
    loaded = load(survey)
    with about(survey), progress("comparing the views"):
        cameras = {view.id: camera_of(loaded, view) for view in loaded.views}
        found = proposals_of(loaded, cameras)
    if as_json:
        emit_json("same", [_plain(asdict(p)) for p in found], loaded.revision)
        return
    if not found:
        click.echo("no two obstructions outlined in different views look like one thing")
        return
    rows = [
        [
            p.first,
            p.second,
            f"{p.first_view}, {p.second_view}",
            f"{100.0 * p.likeness:.0f} %",
            "-" if p.distance_m is None else f"{p.distance_m:.0f}",
        ]
        for p in found
    ]
    click.echo(text_table(["this", "and this", "in views", "alike", "distance (m)"], rows))
    click.echo(
        f"note: nothing is joined yet; say so with: skyview mark same {survey} "
        f"{found[0].first} {found[0].second}",
        err=True,
    )


@click.command("measure", cls=Figures, short_help="Note how far a thing is, or its size.")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("obstruction")
@click.argument("distance_m", type=NUMBER, required=False, metavar="[METRES]")
@click.option("--view", required=True, metavar="ID", help="View from whose camera it was measured.")
@click.option("--by", help=f"How: {', '.join(WAYS)}, or another word.")
@click.option("--sigma", "sigma_m", type=NUMBER, help="Error of the distance. [m]")
@click.option("--size", "size_m", type=NUMBER, help="Known size of something on it. [m]")
@click.option("--size-sigma", "size_sigma_m", type=NUMBER, help="Error of the size. [m]")
@click.option("--between", help="Its two ends in the view, in pixels: 'x,y x,y'.")
def measure_command(
    survey: Path,
    obstruction: str,
    distance_m: float | None,
    view: str,
    by: str | None,
    sigma_m: float | None,
    size_m: float | None,
    size_sigma_m: float | None,
    between: str | None,
) -> None:
    """Note how far OBSTRUCTION is from a view's camera, or the size of something on it.

    Every measurement is kept; skyview mark distance puts them together.
    """
    from skyview.survey.cameras import camera_of
    from skyview.survey.known import known_item
    from skyview.survey.measurements import by_size, usual_sigma_m, with_measurement
    from skyview.survey.models import Measured
    from skyview.survey.storage import editing

    if (distance_m is None) == (size_m is None):
        raise InputError("give either METRES, or --size with --between", field="METRES")
    if distance_m is not None and distance_m <= 0.0:
        raise InputError("a distance is more than 0 m", field="METRES")
    with about(survey), editing(survey) as edit:
        seen = known_item(edit.survey.views, view, "view", field="--view")
        if size_m is not None:
            ends, size_sigma = _ends(between), _size_sigma(size_m, size_sigma_m)
            distance_m, size_error = by_size(camera_of(edit.survey, seen), ends, size_m, size_sigma)
            sigma_m = size_error if sigma_m is None else sigma_m
        assert distance_m is not None
        way = by or ("size" if size_m is not None else "no way named")
        sigma = usual_sigma_m(way, distance_m) if sigma_m is None else sigma_m
        measured = Measured(
            view=view, distance_m=round(distance_m, 2), sigma_m=round(sigma, 2), by=way
        )
        edit.survey = with_measurement(edit.survey, obstruction, measured)
    click.echo(
        f"{obstruction}: {measured.distance_m:g} m ± {measured.sigma_m:g} noted "
        f"(revision {edit.survey.revision})"
    )


def _size_sigma(size_m: float, sigma_m: float | None) -> float:
    if size_m <= 0.0:
        raise InputError("a size is more than 0 m", field="--size")
    return 0.1 * size_m if sigma_m is None else sigma_m


def _ends(text: str | None) -> tuple[tuple[float, float], tuple[float, float]]:
    numbers = re.findall(r"-?\d+(?:\.\d+)?", text or "")
    if len(numbers) != 4:
        raise InputError(
            "the size rule needs two pixels", field="--between", mend="write it as '120,80 120,310'"
        )
    x1, y1, x2, y2 = map(float, numbers)
    return (x1, y1), (x2, y2)


@click.command("distance", short_help="How far away things are, by all sources.")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("ids", nargs=-1, metavar="[ID]...")
@click.option("--keep", is_flag=True, help="Write what all sources together say into the survey.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def distance_command(survey: Path, ids: tuple[str, ...], keep: bool, as_json: bool) -> None:
    """How far away obstructions stand, by every measurement and by the views that show them.

    Intervals hold 95 of 100 cases. Nothing is written without --keep.
    """
    from skyview.report.mount_words import range_text, ranging_notes
    from skyview.survey.cameras import camera_of
    from skyview.survey.distances import is_keepable, kept, rangings
    from skyview.survey.storage import editing, load

    loaded = load(survey)
    with about(survey), progress("bringing the views together"):
        cameras = {view.id: camera_of(loaded, view) for view in loaded.views}
        found = rangings(loaded, cameras, ids)
    notes = [note for ranging in found for note in ranging_notes(ranging)]
    revision, written = loaded.revision, [r.obstruction for r in found if is_keepable(r)]
    if keep:
        with about(survey), editing(survey) as edit:
            if edit.survey.revision != loaded.revision:
                raise InputError("the survey was changed meanwhile", mend="run it again")
            edit.survey = kept(edit.survey, found)
        revision = edit.survey.revision
    if as_json:
        emit_json("distance", [_plain(asdict(r)) for r in found], revision, notes)
        return
    rows = []
    for ranging in found:
        wide = "-" if ranging.width_m is None else f"{ranging.width_m:.1f}"
        top = "-" if not ranging.enu_m or ranging.enu_m[2] is None else f"{ranging.enu_m[2]:.1f}"
        for source in ranging.sources:
            rows.append([ranging.obstruction, ranging.view, source.by, range_text(source), "", ""])
        if ranging.combined is not None:
            said = "they disagree" if ranging.conflicts else range_text(ranging.combined)
            rows.append([ranging.obstruction, ranging.view, "all", said, wide, top])
    click.echo(
        text_table(["obstruction", "from view", "by", "distance", "wide (m)", "top (m)"], rows)
    )
    if keep:
        click.echo(f"kept: {', '.join(written) or 'nothing'} (revision {revision})")
    warn(notes)


def _plain(value: Any) -> Any:
    """The same with None for numbers without a bound, as JSON knows none."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return None if isinstance(value, float) and not isfinite(value) else value
