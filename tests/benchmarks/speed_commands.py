"""Commands timed from a new process, as a user starts them."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
from batch_throughput import lay_out
from long_list import write_long_list
from PIL import Image
from random_surveys import random_survey
from speed_work import MEGABYTE, ROOT, Case, Command, Goal, Work

from skyview.survey.models import validate
from skyview.survey.storage import create

SAMPLES = ROOT / "sample_images"
ROOF = [
    [[-4.0, -5.0, 4.0], [4.0, -5.0, 4.0], [4.0, 0.0, 5.0], [-4.0, 0.0, 5.0]],
    [[-4.0, 0.0, 5.0], [4.0, 0.0, 5.0], [4.0, 5.0, 4.0], [-4.0, 5.0, 4.0]],
]
"""Two faces, 8 m by 10 m. East, north, up. [m]"""
STITCHER = "OpenCV's own stitcher"
HEIGHTS_M = (1.0, 1.5, 2.0, 2.5, 3.0)


def demo_survey(folder: Path) -> str:
    """The sample survey; its name in the folder."""
    if not (folder / "demo").is_dir():
        Command(("demo", "demo"), folder)()
    return "demo/survey"


def drawn_survey(folder: Path, stations: int, things: int, **more: Any) -> str:
    """A random survey, saved; its name in the folder."""
    name = f"drawn_{stations}_{things}_{len(more)}"
    if not (folder / name).is_dir():
        told = random_survey(0, stations, things, **more).model_dump(exclude_none=True)
        told["limits"] = {"lines_checked": True, "roof_enu_m": ROOF}
        create(folder / name, validate(told))
    return name


def picture(folder: Path, megapixels: float, suffix: str) -> Path:
    """The sample sweep's middle, 4:3, as large as wanted; PNG with a channel of opacity."""
    file = folder / f"picture_{megapixels:g}.{suffix}"
    if not file.is_file():
        width, height = picture_size(megapixels)
        with Image.open(SAMPLES / "ridge_sweep.jpg") as sweep:
            middle = sweep.crop((1600, 0, 1600 + sweep.height * 4 // 3, sweep.height))
        large = middle.resize((width, height), Image.Resampling.BICUBIC)
        (large.convert("RGBA") if suffix == "png" else large).save(file, quality=90)
    return file


def picture_size(megapixels: float) -> tuple[int, int]:
    """Width and height of a 4:3 picture. [px]"""
    height = round((megapixels * 0.75e6) ** 0.5)
    return round(height * 4 / 3), height


def words_of(*words: str) -> Callable[[Path], Work]:
    """A command on the sample survey, which stands for SURVEY."""

    def ready(folder: Path) -> Work:
        survey = demo_survey(folder)
        told = tuple(survey if word == "SURVEY" else word for word in words)
        return Work(Command(told, folder))

    return ready


def help_text(folder: Path) -> Work:
    numpy = [sys.executable, "-c", "import numpy"]
    return Work(Command(("--help",), folder), beside=lambda: subprocess.run(numpy, check=True))


def photograph(megapixels: float, suffix: str) -> Callable[[Path], Work]:
    def ready(folder: Path) -> Work:
        file = picture(folder, megapixels, suffix)
        width, height = picture_size(megapixels)
        channels = 4 if suffix == "png" else 3
        decoded = width * height * channels / MEGABYTE
        return Work(Command(("photo", file.name, "--json"), folder), decoded_mb=decoded)

    return ready


def skyline(folder: Path) -> Work:
    file = picture(folder, 12.0, "jpg")
    width, height = picture_size(12.0)
    words = ("skyline", file.name, "-o", "mask.png")
    return Work(Command(words, folder), decoded_mb=width * height * 3 / MEGABYTE)


def station_list(folder: Path) -> Work:
    """Into an empty survey; the same rows each time."""
    file = write_long_list(folder / "long.csv")
    if not (folder / "listed").is_dir():
        place = ("--latitude", "37", "--longitude", "-95", "--ground", "300")
        Command(("new", "listed", *place, "--spot", "ridge", "0", "0", "5"), folder)()
    return Work(Command(("stations", "listed", file.name, "--within", "150"), folder))


def paths(things: int) -> Callable[[Path], Work]:
    def ready(folder: Path) -> Work:
        return Work(Command(("paths", drawn_survey(folder, 100, things)), folder))

    return ready


def spots(*words: str) -> Callable[[Path], Work]:
    def ready(folder: Path) -> Work:
        name = drawn_survey(folder, 40, 15, spots=10, heights_m=HEIGHTS_M)
        return Work(Command(("spots", name, *words), folder))

    return ready


def locate(folder: Path) -> Work:
    survey = demo_survey(folder)
    view = json.loads((folder / survey / "survey.json").read_text())["views"][0]["id"]
    return Work(Command(("locate", survey, view, "2500", "700"), folder))


def sweep(scale: int, more: bool = False) -> Callable[[Path], Work]:
    """The nine frames of the sample turn enlarged, with ``more`` three others from there."""

    def ready(folder: Path) -> Work:
        frames = [f"turn_{number}.jpg" for number in range(1, 10)]
        frames += [f"ridge_frame_{number}.jpg" for number in range(1, 4)] if more else []
        made = [enlarged(folder, frame, scale).name for frame in frames]

        def stitched() -> None:
            pictures = [cv2.imread(str(folder / name)) for name in made]
            cv2.Stitcher.create(cv2.Stitcher_PANORAMA).stitch(pictures)

        return Work(Command(("sweep", *made, "-o", "turn.jpg"), folder), beside=stitched)

    return ready


def enlarged(folder: Path, name: str, scale: int) -> Path:
    """A sample frame, so many times as wide as the turn's, with its metadata."""
    file = folder / f"{scale}_{name}"
    if not file.is_file():
        with Image.open(SAMPLES / name) as frame:
            longest = 1008 * scale
            size = tuple(round(side * longest / max(frame.size)) for side in frame.size)
            large = frame.resize(size, Image.Resampling.BICUBIC)
            large.save(file, quality=90, exif=frame.info["exif"])
    return file


@dataclass
class Batch(Command):
    """Works out all surveys anew each time."""

    def __call__(self) -> None:
        for file in self.folder.glob("results.csv*"):
            file.unlink()
        super().__call__()


def batch(folder: Path) -> Work:
    """Eight surveys."""
    drawer = folder / "drawer"
    if not drawer.is_dir():
        drawer.mkdir()
        lay_out(drawer, 8)
    words = ("batch", ".", "--stations", "new.csv", "-o", "results.csv", "--workers")
    return Work(Batch((*words, "2"), drawer), beside=Batch((*words, "1"), drawer))


COMMANDS = (
    Case("`skyview --help`", Goal(seconds=0.3), help_text, "starting Python with numpy", 5),
    Case("`photo`: a JPEG of 50 megapixels", Goal(seconds=2, decoded_times=6),
         photograph(50.0, "jpg")),
    Case("`photo`: a PNG of 50 megapixels with opacity", Goal(seconds=2, decoded_times=6),
         photograph(50.0, "png")),
    Case("`stations`: a list of 50 000 rows", Goal(), station_list),
    Case("`calibrate`: three views", Goal(), words_of("calibrate", "SURVEY")),
    Case("`locate`: one pixel", Goal(), locate),
    Case("`skyline`: 12 megapixels, mask written", Goal(seconds=1.5, decoded_times=6), skyline),
    Case("`paths`: 100 stations, 15 outlines", Goal(), paths(15)),
    Case("`paths`: 100 stations, 20 outlines, 500 draws", Goal(seconds=10, peak_mb=1000),
         paths(20)),
    Case("`draw`: the annotated picture", Goal(),
         words_of("draw", "SURVEY", "--spot", "ridge", "--height", "3", "-o", "view.png")),
    Case("`spots`: 10 spots, 5 heights, 40 stations, 15 outlines", Goal(seconds=20), spots(),
         rounds=1),
    Case("`spots --roof`: 500 points, 40 stations, 15 outlines", Goal(seconds=60),
         spots("--roof", "--step", "0.4", "--height", "2"), rounds=1),
    Case("`sweep`: nine frames of 0.8 megapixels", Goal(ratio=1.5), sweep(1), STITCHER),
    Case("`sweep`: nine frames of 3 megapixels", Goal(ratio=1.5), sweep(2), STITCHER),
    Case("`sweep`: twelve frames of 12 megapixels", Goal(peak_mb=3000), sweep(4, more=True),
         STITCHER, rounds=1),
    Case("`batch`: 8 surveys, two processes", Goal(ratio=0.588), batch, "one process", rounds=1),
    Case("`aim`: every heading", Goal(), words_of("aim", "SURVEY")),
    Case("`sheet`: the customer's PDF", Goal(), words_of("sheet", "SURVEY", "-o", "sheet.pdf"),
         rounds=2),
)  # fmt: skip
