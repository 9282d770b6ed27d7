"""Files that are whole or not there: written beside their place, synced, renamed in one step.

Bytes come in, a file of that name is left; whatever fails in between leaves what was there
before. What is handed in is written and never looked at.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from skyview.errors import StorageError

PART = ".{}-*.part"
"""Pattern of what a killed writer of a file leaves beside it."""

_LONGEST_NAME = 40
"""So many letters of the file's name stand in that of its part: four bytes each at most."""

_REASONS = {
    errno.ENOSPC: ("the disk is full", "make room and try again"),
    errno.EDQUOT: ("your share of the disk is full", "make room and try again"),
    errno.EFBIG: ("the file would be larger than is allowed here", "raise that limit"),
    errno.EROFS: ("the disk is read-only", "choose a place where you may write"),
    errno.EACCES: ("permission was denied", "ask for the right to read and write there"),
    errno.EPERM: ("permission was denied", "ask for the right to read and write there"),
    errno.ENOENT: ("there is no such folder", "make the folder first"),
    errno.ENOTDIR: ("part of the path is not a folder", "name a folder"),
    errno.EEXIST: ("there is a file of that name", "name a folder"),
    errno.EISDIR: ("it is a folder", "name a file in it"),
    errno.ENAMETOOLONG: ("the path is too long", "choose a shorter one"),
}


@contextlib.contextmanager
def writing(target: str | Path, what: str = "it cannot be written") -> Iterator[BinaryIO]:
    """A stream whose bytes take the name ``target`` when the block ends without an error.

    A file that was there keeps its permissions. StorageError, its sentence beginning with
    ``what``, where it cannot be written.
    """
    target = Path(target)
    part = target.with_name(f".{target.name[:_LONGEST_NAME]}-{secrets.token_hex(8)}.part")
    try:
        with open(part, "xb") as out:
            yield out
            out.flush()
            os.fsync(out.fileno())
        if target.exists():
            os.chmod(part, target.stat().st_mode & 0o777)
        os.replace(part, target)
    except OSError as error:
        raise storage_error(error, target, what) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
    _sync_folder(target.parent)


def write_whole(
    target: str | Path, content: str | bytes, what: str = "it cannot be written"
) -> None:
    """Write bytes, or text as UTF-8, to ``target``; StorageError as in ``writing``.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_whole(Path(folder) / "note.txt", "20 m\\r\\n")
    ...     sorted(file.name for file in Path(folder).iterdir())
    ['note.txt']
    """
    with writing(target, what) as out:
        out.write(content.encode("utf-8") if isinstance(content, str) else content)


def make_folder(folder: str | Path, what: str = "the folder cannot be made") -> Path:
    """Make a folder, with those above it, unless it is there; StorageError where it cannot be."""
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise storage_error(error, folder, what) from error
    return folder


def storage_error(error: OSError, file: str | Path, what: str) -> StorageError:
    """The trouble as a sentence: what failed, the reason, and a mend where one is known.

    >>> print(storage_error(OSError(errno.ENOSPC, ""), "s/survey.json", "it cannot be saved"))
    s/survey.json: it cannot be saved: the disk is full; make room and try again.
    """
    usual = ((error.strerror or str(error) or type(error).__name__).lower(), None)
    reason, mend = _REASONS.get(error.errno or 0, usual)
    return StorageError(f"{what}: {reason}", file, mend=mend)


def _sync_folder(folder: Path) -> None:
    """Make the new name durable, on the systems where a folder can be flushed."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
