"""Work of several kinds that is killed at a random moment, and what must hold afterwards.

Every kind of work is one `Row`: how its folder is laid out, how its steps are asked for one after
the other, and how many steps the survey holds. A step is acknowledged when its command line has
returned or its request was answered.
"""

from __future__ import annotations

import contextlib
import io
import random
import shutil
import signal
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import numpy as np
from bench_process import Served
from forge import Forge
from PIL import Image

from skyview.errors import SkyviewError
from skyview.survey.models import Spot, Survey, new_survey
from skyview.survey.storage import create, editing, load, photo_path

STEPS = 400
"""More than any work does before it is killed."""

INPUTS = 6
SAMPLES = Path(__file__).parents[2] / "sample_images"
FRAMES = ("turn_1.jpg", "turn_2.jpg")
LISTED = 40
LOCK_S = 2.0


@dataclass(frozen=True)
class Row:
    """One kind of work."""

    work: str
    begin: Callable[[Forge, Path], Working]
    """Starts it on the survey in ``home / "survey"``."""
    kept: Callable[[Survey, Path], int]
    """How many steps the survey holds; ValueError for a step that is there by half."""
    latest_s: float = 1.2
    """Kills come up to so long after the start."""


@dataclass(frozen=True)
class Working:
    """Work under way."""

    kill: Callable[[], None]
    acknowledged: Callable[[], int]
    """How many steps were acknowledged; asked when it is dead."""


@dataclass(frozen=True)
class Killed:
    """What one kill left."""

    work: str
    moment_s: float
    acknowledged: int
    kept: int
    troubles: tuple[str, ...]
    """What must not be: acknowledged work lost, half files, a lock, a survey that does not open."""


def killed(row: Row, forge: Forge, home: Path, seed: int) -> Killed:
    """Begin the work in a new folder, kill it at a random moment, and look at what is left."""
    moment = random.Random(f"{row.work} {seed}").uniform(0.0, row.latest_s)
    home.mkdir(parents=True)
    laid_out(home)
    working = row.begin(forge, home)
    time.sleep(moment)
    working.kill()
    done = working.acknowledged()
    kept, troubles = looked_at(home, row.kept, done)
    return Killed(row.work, moment, done, kept, troubles)


def laid_out(home: Path) -> None:
    """A survey of more than one block of the disk; pictures and lists to be read into it."""
    survey = new_survey(40.0, -100.0, "0")
    survey.spots = [Spot(id=f"spot{n}", enu_m=(float(n), 0.0, 6.0)) for n in range(150)]
    create(home / "survey", survey)
    (home / "in").mkdir()
    for number in range(INPUTS):
        (home / "in" / f"p{number}.jpg").write_bytes(_picture(number))


def _picture(number: int) -> bytes:
    noise = np.random.default_rng(number).integers(0, 255, (300, 400, 3), dtype=np.uint8)
    exif = Image.Exif()
    exif[0x010E] = f"picture {number}"
    out = io.BytesIO()
    Image.fromarray(noise).save(out, "JPEG", quality=95, exif=exif)
    return out.getvalue()


def looked_at(
    home: Path, count: Callable[[Survey, Path], int], acknowledged: int
) -> tuple[int, tuple[str, ...]]:
    """Steps kept (-1 where that cannot be told), and everything that is not as it must be."""
    folder, kept, troubles = home / "survey", -1, []
    try:
        kept = count(load(folder), home)
    except (SkyviewError, ValueError) as error:
        troubles.append(f"does not open whole: {error}")
    else:
        if kept < acknowledged:
            troubles.append(f"lost: {kept} kept of {acknowledged} acknowledged")
        if kept > acknowledged + 1:
            troubles.append(f"{kept} kept though only {acknowledged} were acknowledged")
    handed = [*(home / "in").iterdir(), *home.glob("panorama*.jpg")]
    whole = {file.read_bytes() for file in handed}
    for photo in (folder / "photos").rglob("[!.]*"):
        if photo.is_file() and photo.read_bytes() not in whole:
            troubles.append(f"half written: {photo.name}")
    try:
        with editing(folder, lock_timeout_s=LOCK_S) as edit:
            edit.survey.limits.lines_checked = True
    except SkyviewError as error:
        troubles.append(f"takes no more change: {error}")
    troubles += [f"left lying: {scrap.name}" for scrap in folder.rglob(".*.part")]
    return kept, tuple(troubles)


def _lines(
    step: Callable[[Path, int], list[object]], steps: int = STEPS
) -> Callable[[Forge, Path], Working]:
    """Work that is one command line a step."""

    def begin(forge: Forge, home: Path) -> Working:
        job = forge.start(home, [step(home, number) for number in range(steps)])

        def kill() -> None:
            job.send(signal.SIGKILL)
            job.wait()

        def acknowledged() -> int:
            if any(job.codes):
                raise AssertionError(job.said)
            return len(job.codes)

        return Working(kill, acknowledged)

    return begin


def _requests(
    ask: Callable[[Path, int, int], dict[str, Any]],
) -> Callable[[Forge, Path], Working]:
    """Work that is one request a step: ``ask`` gives it for the home, number and revision."""

    def begin(_: Forge, home: Path) -> Working:
        server, done = Served(home / "survey"), [0]
        base = server.revision()

        def post() -> None:
            revision = base
            with contextlib.suppress(httpx.TransportError):
                for number in range(STEPS):
                    told = server.client.post(**ask(home, number, revision))
                    if told.status_code not in (200, 201):
                        done[0] = STEPS
                        return
                    revision, done[0] = told.json()["revision"], number + 1

        poster = threading.Thread(target=post)
        poster.start()

        def kill() -> None:
            server.kill()
            poster.join()
            server.close()

        return Working(kill, lambda: done[0])

    return begin


def _set(home: Path, number: int) -> list[object]:
    return ["set", home / "survey", f"title={number + 1}"]


def _titled(survey: Survey, _: Path) -> int:
    return int(survey.title)


def _mark(home: Path, number: int) -> list[object]:
    place = ["--latitude", 40 + number / 1000, "--longitude", -100]
    return ["mark", "landmark", home / "survey", f"l{number}", *place]


def _marked(survey: Survey, _: Path) -> int:
    return _counted([item.id for item in survey.landmarks], "l")


def _photo(home: Path, number: int) -> list[object]:
    file = home / "in" / f"p{number % INPUTS}.jpg"
    return ["photo", file, "--into", home / "survey", "--id", f"v{number}", "--spot", "spot0"]


def _pictured(survey: Survey, home: Path) -> int:
    """Views in order, each with its own picture as it was handed in."""
    for number, view in enumerate(survey.views):
        wanted = (home / "in" / f"p{number % INPUTS}.jpg").read_bytes()
        path = photo_path(home / "survey", view)
        if not path.exists() or path.read_bytes() != wanted:
            raise ValueError(f"the picture of {view.id} is not what was handed in")
    return _counted([view.id for view in survey.views], "v")


def _stations(home: Path, number: int) -> list[object]:
    file = home / f"list{number}.csv"
    head = "id,latitude_deg,longitude_deg,antenna_amsl_m,rf_channel,erp_kw\n"
    rows = (f"Q{n:02},{40 + n / 100},-99.5,600,21,{number + 1}\n" for n in range(LISTED))
    file.write_text(head + "".join(rows), encoding="utf-8")
    return ["stations", home / "survey", file]


def _listed(survey: Survey, _: Path) -> int:
    """All stations come from one and the same list."""
    powers = {station.erp_kw for station in survey.stations}
    if not survey.stations:
        return 0
    if len(survey.stations) != LISTED or len(powers) != 1:
        raise ValueError(f"{len(survey.stations)} stations of {len(powers)} lists")
    return int(powers.pop() or 0)


def _sweep(home: Path, number: int) -> list[object]:
    for frame in FRAMES:
        shutil.copy(SAMPLES / frame, home / "in" / frame)
    files = [home / "in" / frame for frame in FRAMES]
    place = ["--into", home / "survey", "--id", f"v{number}", "--spot", "spot0"]
    return ["sweep", *files, "-o", home / f"panorama{number}.jpg", *place]


def _joined(survey: Survey, home: Path) -> int:
    """Views in order, each with its panorama and both frames; no panorama is written by half."""
    for panorama in home.glob("panorama*.jpg"):
        with Image.open(panorama) as picture:
            try:
                picture.load()
            except OSError as error:
                raise ValueError(f"{panorama.name} is half a picture") from error
    for number, view in enumerate(survey.views):
        path = photo_path(home / "survey", view)
        if path.read_bytes() != (home / f"panorama{number}.jpg").read_bytes():
            raise ValueError(f"the panorama of {view.id} is another one")
        for frame in FRAMES:
            copy = path.with_name(f"{view.id}-frames") / frame
            if copy.read_bytes() != (home / "in" / frame).read_bytes():
                raise ValueError(f"{frame} of {view.id} is not what was handed in")
    return _counted([view.id for view in survey.views], "v")


def _counted(ids: list[str], letter: str) -> int:
    if ids != [f"{letter}{number}" for number in range(len(ids))]:
        raise ValueError(f"a step is missing in {ids}")
    return len(ids)


def _ask_change(_: Path, number: int, revision: int) -> dict[str, Any]:
    changes = [{"do": "set", "part": "title", "value": str(number + 1)}]
    return {"url": "/api/changes", "json": {"base": revision, "label": "to", "changes": changes}}


def _ask_photo(home: Path, number: int, revision: int) -> dict[str, Any]:
    file = home / "in" / f"p{number % INPUTS}.jpg"
    fields = {"base": revision, "id": f"v{number}", "spot": "spot0"}
    return {"url": "/api/photos", "data": fields, "files": {"file": file.read_bytes()}}


ROWS = (
    Row("save: set", _lines(_set), _titled),
    Row("save: mark", _lines(_mark), _marked),
    Row("import: photo", _lines(_photo), _pictured),
    Row("import: stations", _lines(_stations), _listed),
    Row("sweep", _lines(_sweep, 8), _joined, 4.0),
    Row("serve: changes", _requests(_ask_change), _titled),
    Row("serve: photo", _requests(_ask_photo), _pictured),
)
"""All work that is killed; the study and its test take every row."""
