"""Copies of pictures: byte for byte into a survey's folder, or the bare pixels for others."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import uuid
from pathlib import Path
from typing import IO

from PIL import Image

from skyview.errors import StorageError
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
    source, target = Path(source), Path(target)
    check_file(source)
    neighbour = target.with_name(f".{uuid.uuid4().hex}.part")
    with open_stream(source) as stream:
        try:
            _write_through(stream, neighbour)
            os.replace(neighbour, target)
            _sync_folder(target.parent)
        except OSError as error:
            reason = error.strerror or type(error).__name__
            raise StorageError(
                f"the copy could not be written ({reason})",
                target,
                "photo",
                "check that the folder exists, may be written and has room",
            ) from error
        finally:
            with contextlib.suppress(OSError):
                neighbour.unlink(missing_ok=True)
    return target


def _write_through(stream: IO[bytes], neighbour: Path) -> None:
    with neighbour.open("xb") as out:
        shutil.copyfileobj(stream, out, _CHUNK_BYTES)
        out.flush()
        os.fsync(out.fileno())


def _sync_folder(folder: Path) -> None:
    """The new name survives a power cut only once the folder itself is on the disk."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
