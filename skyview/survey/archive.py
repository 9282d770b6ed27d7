"""A survey as one file to hand over: the survey, its pictures, its answers.

The position can be made rough or left out; what would give it away goes with it.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Literal

import numpy as np

from skyview.errors import InputError
from skyview.files import writing
from skyview.photo.copies import plain_jpeg
from skyview.survey.json_text import to_text
from skyview.survey.models import Calibration, Survey, View
from skyview.survey.solving import solve
from skyview.survey.storage import load, photo_path

Position = Literal["exact", "rough", "none"]

CELL_DEG = 0.1
"""A rough position is the middle of a cell of this width: about 11 km from north to south."""

HALF_CELL_M = 8000.0
"""From a cell's middle to its corner at the equator, rounded up."""

NOWHERE_SIGMA_M = 2e7
"""One sigma of a position that was left out: half the earth's circumference."""

TELLING = frozenset({"landmark", "station", "sun", "shadow", "bearing"})
"""Marks that give a direction to something whose place is known."""

TELLING_ANSWERS = (
    "bearing_deg",
    "magnetic_bearing_deg",
    "bearing_sigma_deg",
    "distance_km",
    "arrival_elevation_deg",
    "optical_elevation_deg",
    "field_dbuv_m",
)
"""Columns of the answers that tell where the site is, from three stations or more."""


def without_position(survey: Survey, position: Position) -> Survey:
    """The survey with its position rough or left out, its calibrations kept as they are solved.

    Rough: the middle of a cell of `CELL_DEG`. None: stations go too, since their bearings would
    tell it, and the time zone. Either way landmarks and the marks that point to them go, and the
    title, the ground's height, the terrain, scans and the time of day of the pictures.
    """
    if position == "exact":
        return survey
    site = survey.site
    cell = [
        (np.floor(angle / CELL_DEG) + 0.5) * CELL_DEG
        for angle in (site.latitude_deg, site.longitude_deg)
    ]
    rough = position == "rough"
    place = {
        "latitude_deg": round(float(cell[0]), 6) if rough else 0.0,
        "longitude_deg": round(float(cell[1]), 6) if rough else 0.0,
        "position_sigma_m": HALF_CELL_M if rough else NOWHERE_SIGMA_M,
        "ground_amsl_m": None,
        "terrain": None,
        "time_zone": site.time_zone if rough else None,
    }
    kept = [m for m in survey.marks if m.kind not in TELLING and m.kind != "tie"]
    return survey.model_copy(
        update={
            "title": "",
            "site": site.model_copy(update=place),
            "views": [_posed(survey, view) for view in survey.views],
            "landmarks": [],
            "marks": kept,
            "stations": survey.stations if rough else [],
            "promises": survey.promises if rough else [],
            "scans": [],
        }
    )


def _posed(survey: Survey, view: View) -> View:
    """The view with its pose as it is solved now, for good: without its marks it would be lost."""
    pose: Calibration = solve(survey, view)[0]
    settled = pose.model_copy(update={"digest": "", "residuals": [], "findings": []})
    day = None if view.taken is None else view.taken[:10]
    return view.model_copy(update={"calibration": settled, "taken": day})


def archive(
    folder: str | Path,
    target: str | Path,
    papers: Mapping[str, bytes],
    *,
    position: Position = "exact",
    strip: bool = False,
) -> list[str]:
    """Write the survey in ``folder`` with its pictures and ``papers`` to the zip file ``target``.

    ``papers`` are further files by name. With ``strip``, or where the position is not exact, the
    pictures are written anew without anything but their pixels. The file is whole or not there.
    Gives the names of what is in it. Raises InputError, StorageError.
    """
    target = Path(target)
    if target.suffix.lower() != ".zip":
        raise InputError("cannot pack into that", target, mend="end its name in .zip")
    survey = load(folder)
    bare = strip or position != "exact"
    packed = without_position(survey, position)
    if target.is_dir():
        raise InputError("that is a folder", target, mend="name a file in it")
    names: list[str] = []
    with writing(target) as out, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        views = []
        for view, picture in _pictures(folder, packed.views):
            name = str(Path(view.photo).with_suffix(".jpg")) if bare else view.photo
            if name not in names:
                names.append(name)
                _store(file, name, plain_jpeg(picture) if bare else picture.read_bytes())
            views.append(view.model_copy(update={"photo": name}))
        if packed.site.terrain is not None:
            ground = Path(folder) / packed.site.terrain
            if ground.is_file():
                names.append(packed.site.terrain)
                _store(file, packed.site.terrain, ground.read_bytes())
        text = to_text(packed.model_copy(update={"views": views}))
        for name, content in {"survey.json": text.encode("utf-8"), **papers}.items():
            names.append(name)
            _store(file, name, content)
    return names


def _pictures(folder: str | Path, views: Sequence[View]) -> Iterator[tuple[View, Path]]:
    for view in views:
        path = photo_path(folder, view)
        if not path.is_file():
            raise InputError(
                "the picture is missing",
                path,
                f"views.{view.id}.photo",
                "put it back, or remove the view",
            )
        yield view, path


def _store(file: zipfile.ZipFile, name: str, content: bytes) -> None:
    """A member with a fixed date, so that two packs of one survey are the same."""
    member = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
    member.external_attr = 0o644 << 16
    squeezed = Path(name).suffix.lower() in (".jpg", ".jpeg", ".png", ".pdf", ".heic")
    member.compress_type = zipfile.ZIP_STORED if squeezed else zipfile.ZIP_DEFLATED
    with file.open(member, "w") as out:
        out.write(io.BytesIO(content).getbuffer())
