"""Copies of pictures: byte for byte into a survey's folder, or the bare pixels for others."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

from PIL import Image

from skyview.files import writing
from skyview.photo.pixels import read_pixels
from skyview.photo.reader import check_file, open_stream

_CHUNK_BYTES = 1 << 20

PLAIN_QUALITY = 93
"""Quality of a picture that is written anew, on the usual scale to 100: our own choice."""


def plain_jpeg(source: str | Path) -> bytes:
    """The picture upright as a JPEG that holds its pixels and nothing else: no place, no time, no
    maker. Raises InputError for a source that cannot be read."""
    out = io.BytesIO()
    Image.fromarray(read_pixels(source)).save(out, "JPEG", quality=PLAIN_QUALITY, subsampling=0)
    return out.getvalue()


def write_copy(source: str | Path, target: str | Path) -> Path:
    """Copy ``source`` to ``target`` byte for byte; ``target`` is whole or as it was before.

    The bytes go to a neighbour file first, reach the disk, and take the name in one step; an
    existing target is replaced. Returns the target. Raises InputError for a source that cannot
    be read, StorageError where the target cannot be written.
    """
    check_file(Path(source))
    with (
        open_stream(Path(source)) as stream,
        writing(target, "the copy could not be written") as out,
    ):
        shutil.copyfileobj(stream, out, _CHUNK_BYTES)
    return Path(target)
