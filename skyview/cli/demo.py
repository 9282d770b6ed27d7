"""The verb demo: the whole job on the sample survey."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from skyview.cli.output import is_piped, progress, terminal_width, warn, write_table
from skyview.files import make_folder, write_whole

if TYPE_CHECKING:
    from skyview.survey.assess import Assessment
    from skyview.survey.models import Survey

PICTURES = (
    ("ridge.png", "sweep", "ridge"),
    ("gable.png", "gable", "gable"),
)
"""File, view and spot of each picture of the demo."""


@click.command("demo")
@click.argument("folder", type=click.Path(path_type=Path), default=Path("skyview-demo"))
def demo_command(folder: Path) -> None:
    """Run the whole job on the sample survey, into FOLDER.

    Writes FOLDER/survey (kept if it is there) and FOLDER/out. Place, stations and call signs are
    invented.
    """
    from skyview.report.records import flat_record
    from skyview.report.summary import CAUTIONS, summary
    from skyview.report.table import paths_table
    from skyview.survey.assess import assess
    from skyview.survey.storage import load

    place, out = folder / "survey", folder / "out"
    _ensure_survey(place)
    survey = load(place)
    with progress("finding every station's path"):
        found = assess(survey, cures=True)
    make_folder(out)
    write_table(out / "paths.csv", [flat_record(row) for row in found.rows])
    write_whole(out / "paths.txt", paths_table(found.rows, 100, True) + "\n")
    views, spots = {v.id for v in survey.views}, {s.id for s in survey.spots}
    drawn = [p for p in PICTURES if p[1] in views and p[2] in spots]
    for name, view, spot in drawn:
        with progress(f"drawing {name}"):
            _draw(survey, place, found, view, spot, out / name)
    click.echo(f"{survey.title}: {len(survey.stations)} stations, {len(survey.views)} pictures\n")
    top = [r for r in found.rows if r.spot == survey.spots[0].id]
    highest = max(r.antenna_height_m for r in top)
    click.echo(
        paths_table([r for r in top if r.antenna_height_m == highest], terminal_width(), is_piped())
    )
    must_have = [station.id for station in survey.stations if station.must_have]
    click.echo("\n" + summary(found.rows, must_have))
    click.echo("\n" + "\n".join(CAUTIONS))
    pictures = " and ".join(name for name, _, _ in drawn) or "paths.csv"
    click.echo(f"\nLook at {pictures} in {out}; the survey is {place}.")
    click.echo(f"Next: skyview serve {place}, or skyview check {place}.")
    warn(found.warnings)


def _ensure_survey(place: Path) -> None:
    """Lay out the sample survey, calibrated, unless it is there."""
    from skyview.photo.copies import write_copy
    from skyview.survey.cameras import solve
    from skyview.survey.json_text import load_text
    from skyview.survey.samples import samples_folder
    from skyview.survey.storage import FILE, create, editing, photo_path

    if (place / FILE).exists():
        return
    source = samples_folder() / "demo_survey.json"
    survey = load_text(source.read_text(encoding="utf-8"), source)
    make_folder(place / "photos")
    for view in survey.views:
        target = photo_path(place, view)
        write_copy(source.parent / target.name, target)
    create(place, survey)
    with editing(place) as edit:
        for view in edit.survey.views:
            view.calibration, _ = solve(edit.survey, view)


def _draw(survey: Survey, place: Path, found: Assessment, view: str, spot: str, file: Path) -> None:
    from skyview.report.panorama import draw_plate
    from skyview.survey.plates import plate_of

    hidden = [r for r in found.rows if r.spot == spot and r.path == "blocked"]
    chosen = max(hidden, key=lambda r: r.obstruction_loss_db).station if hidden else None
    plate = plate_of(survey, place, found, view=view, spot=spot, station=chosen)
    draw_plate(plate, file)
