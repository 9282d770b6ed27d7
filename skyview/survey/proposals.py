"""Outlines that the tool proposes for a view, and taking them into the survey.

Proposals wait beside the survey, in ``skyline/VIEW.json``, until somebody accepts them: nothing
that nobody looked at counts in an answer. Degrees and pixels as in the survey file.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.errors import InputError
from skyview.files import make_folder, write_whole
from skyview.outline.coarse import Mask, Pixels
from skyview.outline.skyline import Skyline
from skyview.outline.things import Thing, things_of
from skyview.photo.pixels import read_pixels
from skyview.survey.cameras import ViewCamera, camera_of
from skyview.survey.models import Survey, View, validate
from skyview.survey.storage import editing, photo_path

FOLDER = "skyline"
FORMAT = "skyview.proposals"
UNSURE_SHARE = 0.5
"""An outline is unsure where more of its skyline than this is."""


@dataclass(frozen=True)
class Proposals:
    """What was found in one view."""

    view: str
    revision: int
    outlines: list[dict[str, Any]]
    """id, kind, rings_px, reaches_ground, sky_share, unsure, azimuth_deg [left, right], top_deg."""
    columns: Array
    """(W, 7): x, y, sigma [px], azimuth, elevation, sigma of the elevation [deg], unsure 0 or 1."""
    sure: bool
    """Whether the sky's edge as a whole can be trusted."""
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Files:
    """Where proposals were written."""

    csv: Path
    json: Path


GRID_PX = 400
LEVEL_MARGIN_DEG, LEVEL_SIGMAS = 1.0, 3.0
"""Nothing this far below the level, and so many sigmas of the calibration more, is sky."""

COLUMNS = (
    "x_px", "y_px", "sigma_px", "azimuth_deg", "elevation_deg", "elevation_sigma_deg", "unsure",
)  # fmt: skip


def check_strokes(
    size_px: tuple[int, int],
    strokes: Mapping[str, Sequence[tuple[float, float]]],
    picture: Path | None = None,
) -> None:
    """InputError for a stroke outside a picture of this width and height; strokes by name. [px]"""
    width, height = size_px
    for name, points in strokes.items():
        for x, y in points:
            if not (0.0 <= x < width and 0.0 <= y < height):
                raise InputError(
                    f"{x:g},{y:g} lies outside the picture",
                    picture,
                    name,
                    f"give x from 0 to {width} and y from 0 to {height}",
                )


def picture_of(folder: str | Path, view: View) -> NDArray[np.uint8]:
    """The view's photograph, (height, width, 3) RGB; InputError where it has another size."""
    rgb = read_pixels(photo_path(folder, view))
    if rgb.shape[1::-1] != tuple(view.size_px):
        raise InputError(
            f"the photograph has {rgb.shape[1]} x {rgb.shape[0]} pixels, the survey says otherwise",
            None,
            f"views.{view.id}.size_px",
            "correct the size, or add the photograph again",
        )
    return rgb


def below_level(survey: Survey, view: View) -> Mask:
    """Where a view surely looks below the level, and so at no sky.

    On a grid of at most ``GRID_PX`` columns that is stretched over the picture, as
    ``find_skyline`` takes it. The dip of the sea's horizon is a small part of the margin.
    """
    camera = camera_of(survey, view)
    width, height = view.size_px
    columns = min(GRID_PX, width)
    rows = max(1, round(height * columns / width))
    x, y = np.meshgrid(
        (np.arange(columns) + 0.5) * width / columns, (np.arange(rows) + 0.5) * height / rows
    )
    _, elevation = camera.picture.camera.directions(x, y)
    _, sigma = camera.picture.direction_sigma(x, y)
    return np.asarray(elevation < -np.radians(LEVEL_MARGIN_DEG) - LEVEL_SIGMAS * sigma)


def propose(survey: Survey, view: View, found: Skyline, rgb: Pixels | None = None) -> Proposals:
    """Directions of the skyline, and one outline per thing, in a view of the survey.

    ``rgb`` (H, W, 3): the picture; without it things are parted by the skyline alone.
    """
    camera = camera_of(survey, view)
    per_deg = _px_per_deg(camera, found)
    things = things_of(found.mask, found.doubtful | (not found.sure), per_deg, rgb)
    outlines = [_outline(view, camera, n + 1, thing) for n, thing in enumerate(things)]
    columns = _columns(camera, found, per_deg)
    return Proposals(view.id, survey.revision, outlines, columns, bool(found.sure), camera.warnings)


def _px_per_deg(camera: ViewCamera, found: Skyline) -> float:
    """Rows per degree of elevation where the skyline runs, in the middle of the picture."""
    width, height = camera.view.size_px
    x = width / 2.0
    y = float(np.clip(np.nanmedian(found.row_px), 0.2 * height, 0.8 * height))
    step = 0.02 * height
    rays = camera.picture.camera.rays(np.array([x, x]), np.array([y - step, y + step]))
    angle = float(np.degrees(np.arccos(np.clip(rays[0] @ rays[1], -1.0, 1.0))))
    return 2.0 * step / angle


def _columns(camera: ViewCamera, found: Skyline, per_deg: float) -> Array:
    x = np.arange(len(found.row_px)) + 0.5
    azimuth, elevation = camera.picture.camera.directions(x, found.row_px)
    _, pose_sigma = camera.picture.direction_sigma(x, found.row_px)
    sigma = np.hypot(found.sigma_px / per_deg, np.degrees(pose_sigma))
    return np.stack(
        [
            x,
            found.row_px,
            found.sigma_px,
            np.degrees(azimuth),
            np.degrees(elevation),
            sigma,
            found.doubtful.astype(float),
        ],
        axis=1,
    )


def _outline(view: View, camera: ViewCamera, number: int, thing: Thing) -> dict[str, Any]:
    width, height = view.size_px
    ring = np.clip(thing.ring_px, 0.0, (float(width), float(height)))
    azimuth, elevation = camera.picture.camera.directions(ring[:, 0], ring[:, 1])
    turned = np.degrees(np.unwrap(azimuth[np.argsort(ring[:, 0])]))
    return {
        "id": f"{view.id}-{number}",
        "kind": thing.kind,
        "rings_px": [np.round(ring, 1).tolist()],
        "reaches_ground": thing.reaches_ground,
        "sky_share": None if thing.sky_share is None else round(thing.sky_share, 3),
        "unsure": thing.doubtful > UNSURE_SHARE,
        "azimuth_deg": [
            round(float(turned.min()) % 360.0, 2),
            round(float(turned.max()) % 360.0, 2),
        ],
        "top_deg": round(float(np.degrees(elevation.max())), 2),
    }


def write_proposals(folder: str | Path, proposals: Proposals) -> Files:
    """Write ``skyline/VIEW.csv`` and ``skyline/VIEW.json`` into the survey's folder."""
    home = Path(folder) / FOLDER
    name = "".join(
        letter if letter.isalnum() or letter in "-_." else "_" for letter in proposals.view
    )
    files = Files(home / f"{name}.csv", home / f"{name}.json")
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(
        ["" if np.isnan(value) else f"{value:.3f}" for value in row[:-1]] + [int(row[-1])]
        for row in proposals.columns
    )
    content = {
        "format": FORMAT,
        "version": 1,
        "revision": proposals.revision,
        "view": proposals.view,
        "sure": proposals.sure,
        "outlines": proposals.outlines,
    }
    make_folder(home)
    write_whole(files.csv, stream.getvalue())
    write_whole(files.json, json.dumps(content, allow_nan=False, indent=1) + "\n")
    return files


def read_proposals(folder: str | Path, view: str) -> tuple[list[dict[str, Any]], bool]:
    """The outlines that wait for this view, and whether the sky's edge is sure.

    InputError where there are none.
    """
    name = "".join(letter if letter.isalnum() or letter in "-_." else "_" for letter in view)
    file = Path(folder) / FOLDER / f"{name}.json"
    mend = f"propose outlines first, with: skyview skyline {folder} {view}"
    try:
        content = json.loads(file.read_text("utf-8"))
    except FileNotFoundError:
        raise InputError("nothing has been proposed for this view", file, mend=mend) from None
    except (OSError, ValueError, RecursionError):
        raise InputError("it cannot be read", file, mend=mend) from None
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise InputError("it holds no proposals", file, "format", mend)
    if content.get("view") != view:
        raise InputError(f"it is for view {content.get('view')}", file, "view", mend)
    outlines = content.get("outlines")
    if not isinstance(outlines, list) or not all(_is_outline(outline) for outline in outlines):
        raise InputError("it holds no outlines as they were written", file, "outlines", mend)
    return outlines, content.get("sure") is True


def _is_outline(outline: Any) -> bool:
    """Whether this is an outline as `propose` gives it; its values are checked by the survey."""
    wanted = {"id", "kind", "rings_px", "reaches_ground", "sky_share", "unsure",
              "azimuth_deg", "top_deg"}  # fmt: skip
    return isinstance(outline, dict) and wanted <= set(outline) and isinstance(outline["id"], str)


def accept(folder: str | Path, view: str, ids: Sequence[str] = ()) -> tuple[list[str], int]:
    """Take proposed outlines, all or those named, into the survey: their ids, its revision.

    Each becomes an obstruction of the same id whose kind is a guess, without a distance, and an
    outline of it. InputError for an id that was not proposed or is taken already.
    """
    with editing(folder) as edit:
        state = edit.survey.model_dump(exclude_unset=True)
        data, chosen = accepted(state, folder, view, ids)
        edit.survey = validate(data, Path(folder) / "survey.json")
    return chosen, edit.survey.revision


def accepted(
    state: dict[str, Any], folder: str | Path, view: str, ids: Sequence[str] = ()
) -> tuple[dict[str, Any], list[str]]:
    """A survey's plain data with proposed outlines taken in, and their ids; as ``accept``."""
    proposed, _ = read_proposals(folder, view)
    waiting = {outline["id"]: outline for outline in proposed}
    unknown = [name for name in ids if name not in waiting]
    if unknown:
        raise InputError(
            f"{unknown[0]} was not proposed", field="ID", mend=f"proposed: {', '.join(waiting)}"
        )
    there = {thing["id"] for thing in state.get("obstructions") or []}
    chosen = list(dict.fromkeys(ids)) or [name for name in waiting if name not in there]
    taken = [name for name in chosen if name in there]
    if taken:
        raise InputError(
            f"{taken[0]} is in the survey already",
            field="ID",
            mend=f"remove it first, with: skyview set {folder} --remove",
        )
    things = list(state.get("obstructions") or [])
    outlines = list(state.get("outlines") or [])
    for name in chosen:
        proposal = waiting[name]
        things.append({"id": name, "kind": proposal["kind"], "kind_by": "guess"})
        outline = {"id": f"{name}-o", "obstruction": name, "view": view, "by": "tool"}
        outline |= {key: proposal[key] for key in ("rings_px", "reaches_ground")}
        if proposal["sky_share"] is not None:
            outline["sky_share"] = proposal["sky_share"]
        outlines.append(outline)
    return {**state, "obstructions": things, "outlines": outlines}, chosen
