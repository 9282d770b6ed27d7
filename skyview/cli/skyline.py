"""The verb skyline: the sky of a picture, or of a view with its directions and outlines."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from skyview.cli.output import OutputFile, about, emit_json, progress, text_table, warn
from skyview.errors import InputError
from skyview.files import write_whole

if TYPE_CHECKING:
    from skyview.outline.coarse import Mask
    from skyview.outline.skyline import Skyline

UNSURE = (
    "unsure: the sky of this picture may be wrong; look at the mask, then teach it with "
    "--sky X,Y or --solid X,Y on what it took wrongly"
)


class _Stroke(click.ParamType):
    """X,Y in pixels."""

    name = "X,Y"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[float, float]:
        try:
            x, y = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(f"{value!r} is not a pixel; write it as in 120,80", param, ctx)
        return x, y


@click.command("skyline")
@click.argument("picture", type=click.Path(path_type=Path), metavar="PICTURE|SURVEY")
@click.argument("view", required=False)
@click.option(
    "-o", "--output", type=OutputFile("a mask is a PNG", ".png"), help="Mask to write; .png."
)
@click.option("--sky", multiple=True, type=_Stroke(), help="This pixel is sky; may be repeated.")
@click.option("--solid", multiple=True, type=_Stroke(), help="This one is not; may be repeated.")
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def skyline_command(
    picture: Path,
    view: str | None,
    output: Path | None,
    sky: tuple[tuple[float, float], ...],
    solid: tuple[tuple[float, float], ...],
    as_json: bool,
) -> None:
    """Tell sky from not-sky in a PICTURE, or in a VIEW of a survey, and propose outlines.

    The mask has the picture's size: 255 is sky, 0 is not, between is a share of sky. For a view
    the skyline goes to skyline/VIEW.csv in azimuth and elevation, and outlines are proposed;
    take them into the survey with: skyview mark --accept SURVEY VIEW
    """
    if view is not None:
        _of_view(picture, view, output, sky, solid, as_json)
        return
    if picture.is_dir():
        raise InputError("a survey needs one of its views", picture, "VIEW", "name the view")
    from skyview.photo.pixels import read_pixels

    with progress("finding the sky"):
        found = _found(read_pixels(picture), picture, sky, solid)
    if output is not None:
        write_mask(output, found)
    notes = [] if found.sure else [UNSURE]
    if as_json:
        emit_json("skyline", [_row(str(picture), output, found)], None, notes)
        return
    _describe(str(picture), found)
    if output is not None:
        click.echo(f"wrote {output}")
    warn(notes)


def _found(rgb: Any, picture: Path, sky: Any, solid: Any, ground: Mask | None = None) -> Skyline:
    from skyview.outline.skyline import find_skyline

    if sky or solid:
        # Its package takes longer to load than the sky to find.
        from skyview.survey.proposals import check_strokes

        height, width = rgb.shape[:2]
        check_strokes((width, height), {"--sky": sky, "--solid": solid}, picture)
    return find_skyline(rgb, sky, solid, ground)


def write_mask(output: Path, found: Skyline) -> None:
    """The mask as a PNG; a StorageError where it cannot be written."""
    import cv2

    coded = cv2.imencode(".png", found.mask, [cv2.IMWRITE_PNG_COMPRESSION, 1])[1]
    write_whole(output, coded.tobytes())


def stretches(flags: Mask) -> list[list[int]]:
    """[first, last + 1] of every run of columns that is flagged.

    >>> import numpy as np
    >>> stretches(np.array([False, True, True, False, True]))
    [[1, 3], [4, 5]]
    """
    import numpy as np

    steps = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(flags, int), [0]])))
    return [[int(a), int(b)] for a, b in zip(steps[::2], steps[1::2], strict=True)]


def _row(name: str, output: Path | None, found: Skyline) -> dict[str, Any]:
    columns = [
        {"x_px": i + 0.5, "y_px": round(float(y), 2), "sigma_px": round(float(s), 2)}
        for i, (y, s) in enumerate(zip(found.row_px, found.sigma_px, strict=True))
    ]
    return {
        "picture": name,
        "mask": None if output is None else str(output),
        "columns": columns,
        "confidence": round(found.confidence, 4),
        "sure": found.sure,
        "unsure": stretches(found.doubtful),
    }


def _describe(name: str, found: Skyline) -> None:
    share = float((found.mask > 127).mean())
    click.echo(
        f"{name}: {100 * share:.0f} % sky, {'sure' if found.sure else 'UNSURE'} "
        f"(confidence {found.confidence:.2f}), "
        f"{100 * float(found.doubtful.mean()):.0f} % of the skyline unsure"
    )


def _of_view(
    survey: Path,
    name: str,
    output: Path | None,
    sky: tuple[tuple[float, float], ...],
    solid: tuple[tuple[float, float], ...],
    as_json: bool,
) -> None:
    from skyview.survey.known import known_item
    from skyview.survey.proposals import below_level, picture_of, propose, write_proposals
    from skyview.survey.storage import load, photo_path

    loaded = load(survey)
    with about(survey), progress("finding the sky"):
        view = known_item(loaded.views, name, "view")
        rgb = picture_of(survey, view)
        found = _found(rgb, photo_path(survey, view), sky, solid, below_level(loaded, view))
        proposed = propose(loaded, view, found, rgb)
        files = write_proposals(survey, proposed)
    if output is not None:
        write_mask(output, found)
    notes = [*proposed.notes, *([] if found.sure else [UNSURE])]
    if as_json:
        row = _row(view.photo, output, found) | {
            "view": name,
            "csv": str(files.csv),
            "outlines": proposed.outlines,
        }
        emit_json("skyline", [row], loaded.revision, notes)
        return
    _describe(view.photo, found)
    headings = ["id", "guess", "left (°)", "right (°)", "top (°)", "unsure"]
    rows = [
        [
            o["id"],
            o["kind"],
            f"{o['azimuth_deg'][0]:.1f}",
            f"{o['azimuth_deg'][1]:.1f}",
            f"{o['top_deg']:.1f}",
            "yes" if o["unsure"] else "-",
        ]
        for o in proposed.outlines
    ]
    click.echo(text_table(headings, rows))
    click.echo(f"wrote {files.csv} and {files.json}")
    if output is not None:
        click.echo(f"wrote {output}")
    click.echo(f"next: skyview mark --accept {survey} {name} [ID]...")
    warn(notes)
