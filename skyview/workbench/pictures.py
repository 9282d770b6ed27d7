"""Photographs as tiles of several scales, made once, kept beside the survey and streamed.

Level k is the upright photograph at 1 / 2^k of its size, cut into tiles; an overview comes at
once, before there are tiles. What a browser gets is always drawn anew from pixels, so that
nothing else that a file may hold goes out.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from skyview.errors import InputError, StorageError
from skyview.files import write_whole
from skyview.photo.pixels import read_pixels
from skyview.survey.models import Survey, View
from skyview.survey.storage import photo_path
from skyview.workbench.folder import NAME, workbench_folder
from skyview.workbench.jobs import Job, Jobs, Report, apart

TILE_PX = 512
OVERVIEW_PX = 2048
JPEG_QUALITY = 88

KEY = re.compile(r"[0-9a-f]{16}")
_DONE = "picture.json"

Pixels = NDArray[np.uint8]


@dataclass(frozen=True)
class Level:
    """One scale of a picture."""

    level: int
    scale: int
    width_px: int
    height_px: int
    columns: int
    rows: int


def levels_of(width_px: int, height_px: int) -> list[Level]:
    """The levels of a picture, full size first, until one fits into one tile.

    >>> [(level.scale, level.columns, level.rows) for level in levels_of(1500, 400)]
    [(1, 3, 1), (2, 2, 1), (4, 1, 1)]
    """
    found = []
    for number in range(32):
        scale = 2**number
        wide, high = -(-width_px // scale), -(-height_px // scale)
        columns, rows = -(-wide // TILE_PX), -(-high // TILE_PX)
        found.append(Level(number, scale, wide, high, columns, rows))
        if columns == rows == 1:
            break
    return found


def key_of(photo: Path) -> str:
    """A key that changes with the file. InputError if there is no such file."""
    try:
        status = photo.stat()
    except OSError:
        raise InputError(
            "the photograph is not in the survey's folder",
            None,
            "photo",
            "copy it back, or add it again",
        ) from None
    told = f"{photo.name} {status.st_size} {status.st_mtime_ns}"
    return hashlib.sha256(told.encode()).hexdigest()[:16]


class Pictures:
    """The tiles of one survey's photographs."""

    def __init__(self, folder: Path, jobs: Jobs) -> None:
        self._folder, self._jobs = folder, jobs
        self._overviews = threading.Lock()

    def message(self, view: View, full_circle: bool) -> dict[str, Any]:
        """What the page needs to show a view's picture; begins to make its tiles if need be."""
        photo = photo_path(self._folder, view)
        key = key_of(photo)
        job = None if self._is_done(key) else self._start(view, photo, key)
        if job is not None:
            job.raise_fault()
        width, height = view.size_px
        scale = min(1.0, OVERVIEW_PX / max(width, height))
        return {
            "format": "skyview.picture",
            "version": 1,
            "view": view.id,
            "width_px": width,
            "height_px": height,
            "full_circle": full_circle,
            "key": key,
            "state": "ready" if job is None or job.state == "done" else "making",
            "job": None if job is None else job.id,
            "tile_px": TILE_PX,
            "levels": [vars(level) for level in levels_of(width, height)],
            "overview": f"/api/pictures/{key}/overview.jpg",
            "overview_width_px": max(1, round(width * scale)),
            "overview_height_px": max(1, round(height * scale)),
        }

    def _start(self, view: View, photo: Path, key: str) -> Job:
        home = workbench_folder(self._folder, "tiles")

        def work(report: Report) -> None:
            apart(report, make_tiles, photo, home / key, tuple(view.size_px))

        return self._jobs.start("tiles", key, {"view": view.id}, work, turn="aside")

    def _is_done(self, key: str) -> bool:
        return (self._folder / NAME / "tiles" / key / _DONE).is_file()

    def tile(self, key: str, level: int, column: int, row: int) -> Path | None:
        """The file of a tile, None where there is none."""
        if not KEY.fullmatch(key):
            return None
        file = self._folder / NAME / "tiles" / key / f"{level}_{column}_{row}.jpg"
        return file if file.is_file() else None

    def overview(self, survey: Survey, key: str) -> Path | None:
        """The file of a picture's overview, made if need be; None for a key that is unknown."""
        if not KEY.fullmatch(key):
            return None
        view = next((v for v in survey.views if self._has_key(v, key)), None)
        if view is None:
            return None
        file = workbench_folder(self._folder, "tiles") / f"{key}-overview.jpg"
        with self._overviews:
            if not file.is_file():
                pixels = read_pixels(photo_path(self._folder, view), OVERVIEW_PX)
                write_whole(file, _jpeg(pixels), "the picture cannot be written")
        return file

    def _has_key(self, view: View, key: str) -> bool:
        try:
            return key_of(photo_path(self._folder, view)) == key
        except InputError:
            return False


def make_tiles(report: Report, photo: Path, target: Path, size_px: tuple[int, int]) -> None:
    """Cut a photograph into the tiles of all its levels; ``target`` appears when all are there.

    InputError if the photograph cannot be read or has another size than the survey says;
    StorageError if the tiles cannot be written.
    """
    report(0.02)
    pixels = read_pixels(photo)
    if pixels.shape[1::-1] != size_px:
        raise InputError(
            f"the photograph has {pixels.shape[1]} x {pixels.shape[0]} pixels, "
            f"the survey says {size_px[0]} x {size_px[1]}",
            None,
            "size_px",
            "correct the size, or add the photograph again",
        )
    levels = levels_of(*size_px)
    count = sum(level.columns * level.rows for level in levels)
    part = target.with_name(f".{target.name}-{os.getpid()}")
    made = 0
    try:
        part.mkdir(exist_ok=True)
        for level in levels:
            for row in range(level.rows):
                for column in range(level.columns):
                    tile = pixels[_span(row), _span(column)]
                    file = part / f"{level.level}_{column}_{row}.jpg"
                    file.write_bytes(_jpeg(tile))
                    made += 1
                report(0.3 + 0.7 * made / count)
            pixels = _halved(pixels)
        (part / _DONE).write_text(json.dumps({"width_px": size_px[0], "height_px": size_px[1]}))
        if not target.exists():
            part.rename(target)
    except OSError as error:
        raise StorageError(
            f"the picture's tiles cannot be written ({error.strerror})", mend="make room"
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _span(index: int) -> slice:
    return slice(index * TILE_PX, (index + 1) * TILE_PX)


def _halved(pixels: Pixels) -> Pixels:
    """Half the size exactly: an odd last row or column is taken twice."""
    high, wide = pixels.shape[:2]
    if high % 2 or wide % 2:
        pixels = np.asarray(
            cv2.copyMakeBorder(pixels, 0, high % 2, 0, wide % 2, cv2.BORDER_REPLICATE), np.uint8
        )
    half = cv2.resize(pixels, (-(-wide // 2), -(-high // 2)), interpolation=cv2.INTER_AREA)
    return np.asarray(half, np.uint8)


def _jpeg(pixels: Pixels) -> bytes:
    done, coded = cv2.imencode(
        ".jpg", np.ascontiguousarray(pixels[:, :, ::-1]), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    )
    assert done
    return bytes(coded)
