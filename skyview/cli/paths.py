"""The verbs paths and draw: what stands before each station, as a table and as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from skyview.cli.choices import HEIGHTS, SEASON, SPOTS, checked_heights
from skyview.cli.output import (
    NUMBER,
    OUTPUT,
    PICTURE_FILE,
    about,
    emit_json,
    is_piped,
    progress,
    terminal_width,
    warn,
    write_table,
)
from skyview.errors import InputError


def _choices(function: Any) -> Any:
    """Options that paths and draw share."""
    return SPOTS(HEIGHTS(SEASON(function)))


@click.command("paths")
@click.argument("survey", type=click.Path(path_type=Path))
@_choices
@click.option(
    "--station", "stations", multiple=True, metavar="ID", help="Only this station; may be repeated."
)
@OUTPUT
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def paths_command(
    survey: Path,
    spots: tuple[str, ...],
    heights: tuple[float, ...],
    leaf: Any,
    stations: tuple[str, ...],
    output: Path | None,
    as_json: bool,
) -> None:
    """Whether every station comes in, for each spot and height of SURVEY.

    Reception is told for the whole way from the transmitter to the set, with its spread; near
    path is what was outlined in the last few hundred metres. JSON and files hold causes and cures
    too; skyview why explains one station.
    """
    from skyview.report.records import flat_record, path_record
    from skyview.report.table import paths_table
    from skyview.report.words import sentence
    from skyview.survey.assess import assess
    from skyview.survey.lists.export import bearing_lines
    from skyview.survey.storage import load

    chosen = checked_heights(heights)
    loaded = load(survey)
    with about(survey), progress("finding every station's path"):
        found = assess(
            loaded,
            spots=spots or None,
            heights_m=chosen,
            stations=stations or None,
            leaf=leaf,
            cures=as_json or output is not None,
        )
    if output is not None:
        places = [station.model_dump() for station in loaded.stations]
        site, flat = loaded.site, [flat_record(row) for row in found.rows]
        write_table(
            output,
            flat,
            lambda: bearing_lines(site.latitude_deg, site.longitude_deg, places, flat),
        )
    if as_json:
        rows = [path_record(row) for row in found.rows]
        emit_json("paths", rows, loaded.revision, found.warnings, sentence("whole_way"))
        return
    click.echo(paths_table(found.rows, terminal_width(), is_piped()))
    if output is not None:
        click.echo(f"wrote {output}")
    warn(found.warnings)


@click.command("draw")
@click.argument("survey", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    type=PICTURE_FILE,
    default=Path("view.png"),
    show_default=True,
    help="File to write; .png, .svg or .pdf.",
)
@_choices
@click.option(
    "--view", metavar="ID", help="View to draw on; the one with most stations if left out."
)
@click.option("--station", metavar="ID", help="Station to single out.")
@click.option(
    "--carry",
    metavar="VIEW",
    help="Draw where the outlines of this other view should lie in the photo of --view: a check "
    "of distances.",
)
@click.option(
    "--loss-at",
    "loss_at_mhz",
    multiple=True,
    type=NUMBER,
    metavar="MHZ",
    help="Draw the loss in every direction at this frequency instead of outlines and tags; "
    "given twice, one plate above the other. [MHz]",
)
@click.option(
    "--width",
    "width_px",
    type=click.IntRange(900, 8000),
    default=2200,
    show_default=True,
    help="Width of the picture. [px]",
)
def draw_command(
    survey: Path,
    output: Path,
    spots: tuple[str, ...],
    heights: tuple[float, ...],
    leaf: Any,
    view: str | None,
    station: str | None,
    carry: str | None,
    loss_at_mhz: tuple[float, ...],
    width_px: int,
) -> None:
    """Draw a view of SURVEY: angles, outlines as the antenna sees them, stations."""
    from skyview.report.carried_plate import draw_carried_plate
    from skyview.report.loss_plate import draw_loss_plates
    from skyview.report.panorama import draw_plate
    from skyview.survey.assess import assess
    from skyview.survey.carried import carried
    from skyview.survey.loss_view import layer_of
    from skyview.survey.plates import plate_of
    from skyview.survey.storage import load

    if carry is not None and loss_at_mhz:
        raise InputError("--carry and --loss-at draw different sheets", mend="give one of them")
    kind = output.suffix.lower().lstrip(".")
    chosen = checked_heights(heights)
    loaded = load(survey)
    with about(survey), progress("drawing"):
        found = assess(loaded, spots=spots or None, heights_m=chosen, leaf=leaf)
        plate = plate_of(
            loaded,
            survey,
            found,
            view=view,
            spot=spots[0] if spots else None,
            height_m=heights[0] if heights else None,
            station=station,
            leaf=leaf,
        )
        if carry is not None:
            shapes = carried(loaded, found.cameras, found.screens, carry, plate.view)
            draw_carried_plate(plate, shapes, carry, output, file_format=kind, width_px=width_px)
        elif loss_at_mhz:
            layers = [layer_of(loaded, found, plate, mhz) for mhz in loss_at_mhz]
            draw_loss_plates(plate, layers, output, file_format=kind, width_px=width_px)
        else:
            draw_plate(plate, output, file_format=kind, width_px=width_px)
    click.echo(f"drew {output}")
    warn(found.warnings)
