"""The verbs calibrate and locate: where a view looks, and what a pixel of it means."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.output import CSV_OUTPUT, NUMBER, about, emit_json, text_table, warn, write_table
from skyview.cli.verbs import Figures
from skyview.errors import InputError

if TYPE_CHECKING:
    from skyview.angles import Array
    from skyview.survey.cameras import ViewCamera
    from skyview.survey.models import Calibration, Survey, View


VAGUE_DEG = 90.0
"""A direction that may be off by more is not known: far outside a picture the slopes explode."""


def _view(survey: Survey, name: str) -> View:
    from skyview.survey.known import known_item

    return known_item(survey.views, name, "view", hint="none; add one with skyview photo")


@click.command("calibrate")
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("views", nargs=-1, metavar="[VIEW]...")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def calibrate_command(survey: Path, views: tuple[str, ...], as_json: bool) -> None:
    """Solve the pose of all views of SURVEY, or of those named, and store it."""
    from skyview.report.pose_words import sentences
    from skyview.survey.cameras import solve
    from skyview.survey.storage import editing

    notes: list[str] = []
    with about(survey), editing(survey) as edit:
        if not edit.survey.views:
            raise InputError(
                "the survey has no view",
                survey / "survey.json",
                "views",
                "add one with: skyview photo FILE --into SURVEY --spot ID",
            )
        chosen = [_view(edit.survey, name) for name in views] or list(edit.survey.views)
        for view in chosen:
            view.calibration, more = solve(edit.survey, view)
            notes += more
    solved = [(v.id, v.calibration) for v in chosen if v.calibration]
    for name, calibration in solved:
        notes += sentences(name, calibration)
    if as_json:
        emit_json("calibrate", [_row(*pair) for pair in solved], edit.survey.revision, notes)
        return
    for name, calibration in solved:
        _describe(name, calibration)
    click.echo(f"stored in {survey} (revision {edit.survey.revision})")
    warn(notes)


def _sigmas_deg(calibration: Calibration) -> dict[str, float]:
    import numpy as np

    spread = np.sqrt(np.diag(np.array(calibration.covariance)))
    return dict(zip(calibration.parameters, spread.tolist(), strict=True))


def _row(name: str, calibration: Calibration) -> dict[str, Any]:
    from math import degrees

    from skyview.report.pose_words import suggestion

    sigma = _sigmas_deg(calibration)
    wrong = [f for f in calibration.findings if f.code in ("probably_wrong", "contradict")]
    return {
        "view": name,
        "solved": calibration.solved,
        "held": calibration.held,
        "yaw_deg": calibration.yaw_deg,
        "pitch_deg": calibration.pitch_deg,
        "roll_deg": calibration.roll_deg,
        "yaw_sigma_deg": degrees(sigma["yaw"]),
        "pitch_sigma_deg": degrees(sigma["pitch"]),
        "roll_sigma_deg": degrees(sigma["roll"]),
        "scale": calibration.scale,
        "scale_sigma": sigma["log_scale"],
        "level_row_px": calibration.level_row_px,
        "k1": calibration.k1,
        "log_aspect": calibration.log_aspect,
        "stretch": calibration.stretch,
        "azimuth_sigma_deg": calibration.azimuth_sigma_deg,
        "elevation_sigma_deg": calibration.elevation_sigma_deg,
        "marks": [residual.model_dump() for residual in calibration.residuals],
        "probably_wrong": wrong[0].marks if wrong else [],
        "next_mark": suggestion(calibration),
        "findings": [finding.model_dump() for finding in calibration.findings],
    }


def _describe(name: str, calibration: Calibration) -> None:
    from math import degrees

    from skyview.report.pose_words import parameter_names

    sigma = _sigmas_deg(calibration)
    click.echo(
        f"view {name}: yaw {calibration.yaw_deg:.2f} ± {degrees(sigma['yaw']):.2f}, "
        f"pitch {calibration.pitch_deg:.2f} ± {degrees(sigma['pitch']):.2f}, "
        f"roll {calibration.roll_deg:.2f} ± {degrees(sigma['roll']):.2f} degrees, "
        f"scale {calibration.scale:.4f} ± {sigma['log_scale']:.4f}"
    )
    if calibration.azimuth_sigma_deg is not None and calibration.elevation_sigma_deg is not None:
        click.echo(
            f"  over the picture: azimuth ± {calibration.azimuth_sigma_deg:.2f}, "
            f"elevation ± {calibration.elevation_sigma_deg:.2f} degrees"
        )
    if calibration.solved:
        click.echo(f"  solved from the marks: {parameter_names(calibration.solved)}")
    if calibration.held:
        click.echo(
            f"  held at what was known before, for want of marks: "
            f"{parameter_names(calibration.held)}"
        )
    if calibration.residuals:
        rows = [
            [
                r.mark,
                _signed(r.azimuth_residual_deg),
                _signed(r.elevation_residual_deg),
                _signed(_first(r.azimuth_without_deg, r.line_without_deg)),
                _signed(r.elevation_without_deg),
                "-" if r.doubt_sigmas is None else f"{r.doubt_sigmas:.1f}",
            ]
            for r in calibration.residuals
        ]
        headings = [
            "mark", "azimuth off (°)", "elevation off (°)", "azimuth without it (°)",
            "elevation without it (°)", "sigmas",
        ]  # fmt: skip
        table = text_table(headings, rows)
        click.echo("  " + table.replace("\n", "\n  "))


def _first(*values: float | None) -> float | None:
    return next((value for value in values if value is not None), None)


def _signed(value: float | None) -> str:
    return "-" if value is None else f"{value:+.2f}"


@click.command("locate", cls=Figures)
@click.argument("survey", type=click.Path(path_type=Path))
@click.argument("view")
@click.argument("pixels", nargs=-1, type=NUMBER, metavar="X Y [X Y]...")
@click.option("--frame", metavar="NAME", help="X and Y are pixels of this frame of a panorama.")
@CSV_OUTPUT
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def locate_command(
    survey: Path,
    view: str,
    pixels: tuple[float, ...],
    frame: str | None,
    output: Path | None,
    as_json: bool,
) -> None:
    """Azimuth and elevation of pixels X Y of a VIEW, as the camera saw them."""
    import numpy as np

    from skyview.angles import wrap_360_deg
    from skyview.survey.cameras import camera_of, declination_of
    from skyview.survey.storage import load

    if not pixels or len(pixels) % 2:
        raise InputError("pixels come in pairs", field="X Y", mend="give x and y of each point")
    loaded = load(survey)
    with about(survey):
        camera = camera_of(loaded, _view(loaded, view))
    given = x, y = np.array(pixels[::2]), np.array(pixels[1::2])
    if frame is not None:
        from skyview.survey.sweeps import in_panorama

        with about(survey):
            x, y, _ = in_panorama(camera.view, frame, x, y)
    azimuth, elevation = (np.degrees(v) for v in camera.picture.camera.directions(x, y))
    sigmas = [np.degrees(v) for v in camera.picture.direction_sigma(x, y)]
    sigmas = [np.where(sigma < VAGUE_DEG, sigma, np.nan) for sigma in sigmas]
    declination = declination_of(loaded, camera.view).declination_deg
    columns = {
        "x_px": given[0],
        "y_px": given[1],
        "azimuth_deg": azimuth,
        "elevation_deg": elevation,
        "azimuth_sigma_deg": sigmas[0],
        "elevation_sigma_deg": sigmas[1],
        "magnetic_azimuth_deg": wrap_360_deg(azimuth - declination),
    }
    table = np.stack(list(columns.values()), axis=1)
    rows = [
        {"view": view}
        | {
            key: None if np.isnan(value) else float(value)
            for key, value in zip(columns, line, strict=True)
        }
        for line in table
    ]
    notes = [*camera.warnings, *_outside(camera, x, y)]
    if output is not None:
        write_table(output, rows)
    if as_json:
        emit_json("locate", rows, loaded.revision, notes)
        return
    headings = [
        "x (px)", "y (px)", "azimuth (°)", "elevation (°)", "azimuth ± (°)", "elevation ± (°)",
        "compass (°)",
    ]  # fmt: skip
    cells = [["-" if np.isnan(v) else f"{v:.2f}" for v in line] for line in table]
    click.echo(text_table(headings, cells))
    if output is not None:
        click.echo(f"wrote {output}")
    warn(notes)


def _outside(camera: ViewCamera, x: Array, y: Array) -> list[str]:
    """A sentence for each pixel that the picture does not have; its direction is carried on."""
    width, height = camera.view.size_px
    inside = (y >= 0.0) & (y <= height) & (camera.full_circle | ((x >= 0.0) & (x <= width)))
    return [
        f"pixel {a:g}, {b:g} lies outside view {camera.view.id} ({width} x {height})"
        for a, b in zip(x[~inside], y[~inside], strict=True)
    ]
