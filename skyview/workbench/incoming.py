"""Files that people drop on the page: photographs, lists of stations and of landmarks.

A file gets a name of the server's own while it is looked at; the name that it came with is only
a suggestion for an id, and its format is what its bytes are.
"""

from __future__ import annotations

import filecmp
import re
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

from skyview.errors import InputError, SkyviewError, StorageError
from skyview.files import make_folder
from skyview.photo.copies import write_copy
from skyview.photo.facts import PhotoFacts, read_header
from skyview.photo.pixels import read_pixels
from skyview.photo.projection import projection_guess
from skyview.survey.json_text import plain
from skyview.survey.lists.choose import band_words, select
from skyview.survey.lists.merging import updated
from skyview.survey.lists.reader import read_landmark_list, read_station_list
from skyview.survey.models import Survey, View, validate
from skyview.survey.new_views import far_away, new_view
from skyview.survey.places import doubtful_places
from skyview.survey.storage import photo_path
from skyview.workbench.desk import Desk, Outcome
from skyview.workbench.folder import workbench_folder
from skyview.workbench.patches import Plain

MOST_MEGAPIXELS = 150
PROBE_PX = 64
"""Longest side to which a picture is decoded to see whether it is whole."""

FIRST_SPOT = {"id": "roof", "enu_m": [0.0, 0.0, 6.0], "heights_m": [1.5, 3.0]}
"""What is supposed about the roof until told otherwise; the answer says so."""

SUPPOSED = "supposed a spot 'roof' 6 m above the ground: correct it"
OFF_THE_MAP = "the position is the phone's: read it off a map to make it better"

_SUFFIXES = {
    "JPEG": ".jpg",
    "MPO": ".jpg",
    "PNG": ".png",
    "TIFF": ".tif",
    "WEBP": ".webp",
    "HEIF": ".heic",
    "AVIF": ".avif",
    "GIF": ".gif",
    "BMP": ".bmp",
}
_LIST_SUFFIXES = (".csv", ".tsv", ".txt", ".geojson", ".json")
_REJECTED_SHOWN = 50


@contextmanager
def landed(desk: Desk, stream: BinaryIO, suffix: str) -> Iterator[Path]:
    """The bytes as a file of the server's own naming, gone again at the end of the block."""
    file = workbench_folder(desk.folder, "incoming") / f"{uuid.uuid4().hex}{suffix}"
    try:
        with open(file, "xb") as target:
            shutil.copyfileobj(stream, target, 1 << 20)
    except OSError as error:
        file.unlink(missing_ok=True)
        raise StorageError(
            f"the file cannot be kept ({error.strerror})", mend="make room and send it again"
        ) from error
    try:
        yield file
    except SkyviewError as error:
        raise type(error)(error.message, None, error.field, error.mend) from None
    finally:
        file.unlink(missing_ok=True)


def begun(
    latitude_deg: float, longitude_deg: float, title: str, **more: Any
) -> tuple[Survey, list[str]]:
    """A new survey with one supposed spot, and what is supposed."""
    site = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg, **more}
    data = {
        "format": "skyview-survey",
        "version": 1,
        "revision": 0,
        "title": title,
        "site": {name: value for name, value in site.items() if value is not None},
        "spots": [FIRST_SPOT],
    }
    return validate(data), [SUPPOSED]


def add_photo(
    desk: Desk,
    stream: BinaryIO,
    file_name: str,
    base: int | None,
    page: str | None,
    *,
    view_id: str | None = None,
    spot: str | None = None,
    leaf: str | None = None,
    place_deg: tuple[float, float] | None = None,
) -> tuple[Outcome, str, PhotoFacts, list[str]]:
    """Take a photograph into the survey, which begins with it if there is none.

    Gives the outcome, the new view's id, the photograph's facts and notes. InputError for what
    is no picture, is too large, or leaves open where the site is.
    """
    with landed(desk, stream, ".picture") as file:
        facts = read_header(file)
        megapixels = facts.width_px * facts.height_px / 1e6
        if megapixels > MOST_MEGAPIXELS:
            raise InputError(
                f"the picture has {megapixels:.0f} megapixels, more than {MOST_MEGAPIXELS}",
                None,
                "file",
                "save it smaller",
            )
        read_pixels(file, PROBE_PX)
        notes: list[str] = []
        if not desk.is_open:
            notes = _begin_with(desk, facts, place_deg)
            base = desk.survey().revision
        if base is None:
            raise InputError("on which revision is this based?", None, "base", "send the revision")
        guess = projection_guess(facts)
        name = view_id or _id_from(file_name, desk.survey())
        added: list[View] = []

        def make(state: Plain) -> Plain:
            survey = validate(state)
            view = new_view(
                survey, facts, guess, name, _SUFFIXES[facts.format], spot=spot, leaf=leaf
            )
            view = _with_free_file(desk.folder, view, file)
            added.append(view)
            return {**state, "views": [*state.get("views", []), plain(view)]}

        outcome = desk.change(base, f"add the photograph {name}", page, make)
        notes += far_away(facts, outcome.survey)
    odd = [note for note in facts.notes if not note.startswith("The name ends in")]
    return outcome, added[-1].id, facts, [*notes, *odd]


def _begin_with(desk: Desk, facts: PhotoFacts, place_deg: tuple[float, float] | None) -> list[str]:
    notes = []
    if place_deg is None:
        if facts.latitude_deg is None or facts.longitude_deg is None:
            raise InputError(
                "this photograph does not know where it was taken",
                None,
                "site",
                "give latitude and longitude, read off a map",
            )
        place_deg = facts.latitude_deg, facts.longitude_deg
        notes.append(OFF_THE_MAP)
    sigma_m = facts.position_sigma_m
    survey, supposed = begun(*place_deg, desk.folder.name[:100], position_sigma_m=sigma_m)
    desk.begin(survey)
    return [*notes, *supposed]


def _id_from(file_name: str, survey: Survey) -> str:
    """A free id for a view, from the name that the file came with."""
    stem = re.sub(r"[^A-Za-z0-9_-]+", "-", Path(file_name.replace("\\", "/")).stem).strip("-_")
    stem = stem[:40] or "view"
    used = {view.id for view in survey.views}
    return next(
        name
        for name in (stem, *(f"{stem}-{n}" for n in range(2, len(used) + 3)))
        if name not in used
    )


def _with_free_file(folder: Path, view: View, source: Path) -> View:
    """Copy the photograph into the survey, under a name that no other picture has."""
    for number in range(1, 1000):
        target = photo_path(folder, view)
        if not target.exists():
            make_folder(target.parent)
            write_copy(source, target)
            return view
        if filecmp.cmp(target, source, shallow=False):
            return view
        file = Path(view.photo)
        stem = file.stem.removesuffix(f"-{number}")
        view = view.model_copy(update={"photo": f"photos/{stem}-{number + 1}{file.suffix}"})
    raise InputError("too many pictures of that name", None, "file", "give it another name")


def add_stations(
    desk: Desk,
    stream: BinaryIO,
    file_name: str,
    base: int,
    page: str | None,
    *,
    within_km: float | None,
    bands: str | None,
    replace: bool,
) -> tuple[Outcome, dict[str, Any], list[str]]:
    """Read a list of stations into the survey: the outcome, what was read, notes."""
    site = desk.survey().site
    with landed(desk, stream, _list_suffix(file_name)) as file:
        reading = read_station_list(file, plan=site.channel_plan)
        chosen = select(
            reading.stations,
            site.channel_plan,
            site.latitude_deg,
            site.longitude_deg,
            km=within_km,
            bands=band_words(bands),
        )
    if not chosen.stations:
        raise InputError(
            "no station of the list is left", None, "file", chosen.hint or "choose a wider circle"
        )

    def make(state: Plain) -> Plain:
        old = {} if replace else {s["id"]: s for s in state.get("stations", [])}
        return {**state, "stations": list(updated(old, chosen.stations).values())}

    outcome = desk.change(base, "read a list of stations", page, make)
    read = _read(reading) | {"kept": len(chosen.stations), "interferers": chosen.interferers}
    far = [sentence for _, sentence in doubtful_places(outcome.survey)]
    hint = [chosen.hint] if chosen.hint else []
    return outcome, read, [*reading.assumed, *reading.warnings, *hint, *far]


def add_landmarks(
    desk: Desk, stream: BinaryIO, file_name: str, base: int, page: str | None
) -> tuple[Outcome, dict[str, Any], list[str]]:
    """Read a list of landmarks into the survey: the outcome, what was read, notes."""
    with landed(desk, stream, _list_suffix(file_name)) as file:
        reading = read_landmark_list(file)

    def make(state: Plain) -> Plain:
        old = {item["id"]: item for item in state.get("landmarks", [])}
        return {**state, "landmarks": list(updated(old, reading.landmarks).values())}

    outcome = desk.change(base, "read a list of landmarks", page, make)
    read = _read(reading) | {"kept": len(reading.landmarks), "interferers": 0}
    return outcome, read, [*reading.assumed, *reading.warnings]


def _list_suffix(file_name: str) -> str:
    suffix = Path(file_name).suffix.lower()
    return suffix if suffix in _LIST_SUFFIXES else ".csv"


def _read(reading: Any) -> dict[str, Any]:
    return {
        "rows": reading.rows_read,
        "used": reading.rows_used,
        "rejected": [
            {"line": row.line, "field": row.field, "reason": row.reason}
            for row in reading.rejected[:_REJECTED_SHOWN]
        ],
    }
