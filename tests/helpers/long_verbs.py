"""Every command that takes its time, as words for the sample survey in ``home / "survey"``."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from PIL import Image

SCAN = ["--row", "21 yes -58dBm 21dB steady", "--row", "14 no", "--taken", "2026-06-01T17:00"]


class Verb(NamedTuple):
    """A command line; the files it leaves, by their names below home."""

    words: tuple[str, ...]
    writes: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What to call it in a test."""
        return " ".join(word for word in self.words[:2] if "/" not in word and word != "survey")


LONG = (
    Verb(("scan", "survey", *SCAN)),
    *(Verb(tuple(words.split()), tuple(writes)) for words, *writes in (
        ("calibrate survey",),
        ("locate survey sweep 300 200",),
        ("paths survey -o p.csv", "p.csv"),
        ("paths survey -o p.geojson", "p.geojson"),
        ("why survey QIVE --spot ridge",),
        ("spots survey --draw s.png -o s.csv", "s.png", "s.csv"),
        ("spots survey --roof --draw r.svg", "r.svg"),
        ("aim survey",),
        ("draw survey -o view.pdf", "view.pdf"),
        ("draw survey --loss-at 500 -o loss.png", "loss.png"),
        ("skyline photo.jpg -o mask.png", "mask.png"),
        ("skyline survey gable", "survey/skyline/gable.csv", "survey/skyline/gable.json"),
        ("brief survey -o brief.pdf", "brief.pdf"),
        ("card -o card.html", "card.html"),
        ("sheet survey -o sheet.pdf", "sheet.pdf"),
        ("job survey -o job.html", "job.html"),
        ("pack survey -o all.zip --papers", "all.zip"),
        ("pack survey -o rough.zip --position rough", "rough.zip"),
        ("photo photo.jpg --into survey --id another --spot ridge", "survey/photos/another.jpg"),
        ("stations survey list.csv --within 200",),
        ("batch . --stations list.csv -o b.csv", "b.csv"),
        ("sweep turn_1.jpg turn_2.jpg -o turn.jpg --into survey --spot ridge", "turn.jpg"),
        ("check survey",),
        ("demo demo", "demo/out/paths.csv", "demo/out/paths.txt", "demo/out/ridge.png",
         "demo/out/gable.png", "demo/survey/survey.json"),
    )),
)  # fmt: skip


def is_whole(file: Path) -> bool:
    """Whether a file of the kind that its name tells can be read to its end."""
    content = file.read_bytes()
    return _WHOLE[file.suffix](content)


def _zip(content: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        return packed.testzip() is None and "survey.json" in packed.namelist()


def _picture(content: bytes) -> bool:
    with Image.open(io.BytesIO(content)) as picture:
        picture.load()
        return picture.width > 1


def _csv(content: bytes) -> bool:
    rows = list(csv.reader(io.StringIO(content.decode("utf-8"), newline="")))
    return content.endswith(b"\n") and len({len(row) for row in rows}) == 1


def _json(content: bytes) -> bool:
    return isinstance(json.loads(content), dict)


_WHOLE: dict[str, Callable[[bytes], bool]] = {
    ".csv": _csv,
    ".txt": lambda content: content.endswith(b"\n"),
    ".json": _json,
    ".geojson": _json,
    ".html": lambda content: content.rstrip().endswith(b"</html>"),
    ".pdf": lambda content: content.rstrip().endswith(b"%%EOF"),
    ".svg": lambda content: content.rstrip().endswith(b"</svg>"),
    ".png": _picture,
    ".jpg": _picture,
    ".zip": _zip,
}
