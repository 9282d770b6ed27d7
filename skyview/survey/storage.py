"""Keeping a survey in its folder: one writer at a time, and never half a file.

``load``, ``create``, ``save`` and ``editing`` work on ``FOLDER/survey.json``. A save goes to a
temporary file in the same folder that then takes the place of the old one, so that whoever reads
meanwhile, and whatever fails in between, finds the old survey or the new one.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path, PurePosixPath, PureWindowsPath

from filelock import FileLock, Timeout

from skyview.errors import InputError, StorageError
from skyview.files import PART, make_folder, storage_error, write_whole
from skyview.survey.json_text import load_object, load_text, plain, to_text
from skyview.survey.models import Survey, View, validate

__all__ = [
    "Edit",
    "create",
    "editing",
    "inside",
    "load",
    "load_text",
    "photo_path",
    "read_text",
    "save",
]

FILE = "survey.json"
LOCK = ".survey.lock"
PHOTOS = "photos"
"""Folder of the pictures in a survey's folder."""

LARGEST_FILE_BYTES = 64 * 1024 * 1024
LOCK_TIMEOUT_S = 2.0


class Edit:
    """What ``editing`` yields: assign to ``survey`` or change its parts; the exit saves."""

    def __init__(self, survey: Survey) -> None:
        self.survey = survey
        """The survey as it is now; after the exit, as it was saved."""


def load(folder: str | Path) -> Survey:
    """The survey kept in this folder.

    InputError, one sentence with file and field, if there is none or it is not valid;
    StorageError if it cannot be read.
    """
    file = Path(folder) / FILE
    return load_text(read_text(file), file).kept_in(folder)


def create(folder: str | Path, survey: Survey) -> Survey:
    """Write a new survey, the folder too if need be, and give it back with its revision.

    InputError if a survey is there already or the new one is not valid; StorageError if it
    cannot be written.
    """
    make_folder(folder)
    with _locked(folder):
        file = Path(folder) / FILE
        if file.exists() or file.is_symlink():
            raise InputError("there is a survey already", file, mend="choose another folder")
        return _write(file, survey)


def save(folder: str | Path, survey: Survey, lock_timeout_s: float = LOCK_TIMEOUT_S) -> Survey:
    """Write the survey and give it back with its revision grown by one.

    StorageError if somebody saved since the survey was loaded, if another writer holds the lock
    for longer than ``lock_timeout_s`` seconds, or if it cannot be written; InputError if the
    survey is not valid. In all these cases the file is left as it was.
    """
    with _locked(folder, lock_timeout_s):
        return _save_locked(folder, survey)


@contextlib.contextmanager
def editing(folder: str | Path, lock_timeout_s: float = LOCK_TIMEOUT_S) -> Iterator[Edit]:
    """Hold the lock while the block changes the survey; save it if it did and did not raise.

    Raises what ``load`` and ``save`` raise.
    """
    with _locked(folder, lock_timeout_s):
        edit = Edit(load(folder))
        before = plain(edit.survey)
        yield edit
        if plain(edit.survey) != before:
            edit.survey = _save_locked(folder, edit.survey)


def photo_path(folder: str | Path, view: View) -> Path:
    """Where the view's photograph is; it need not exist.

    InputError if the path in the survey is absolute or leads out of the survey's folder.
    """
    return inside(folder, view.photo, f"views.{view.id}.photo", "photos/v1.jpg")


def inside(folder: str | Path, name: str, field: str, example: str = "ground.tif") -> Path:
    """Where a file of a survey is, from its path in the folder; it need not exist.

    InputError, naming ``field``, if the path is absolute or leads out of the folder.
    """
    mend = f"give a path inside the survey's folder, as in {example}"
    windows = PureWindowsPath(name)
    if PurePosixPath(name).is_absolute() or windows.drive or windows.root:
        raise InputError(f"{name!r} is an absolute path", Path(folder) / FILE, field, mend)
    if "\\" in name:
        raise InputError(f"{name!r} holds a backslash", Path(folder) / FILE, field, mend)
    home = Path(folder).resolve()
    path = (home / name).resolve()
    if home not in path.parents:
        raise InputError(f"{name!r} leads out of the folder", Path(folder) / FILE, field, mend)
    return path


def read_text(file: Path) -> str:
    """What a survey's file holds. InputError where there is none or it is no text; StorageError."""
    try:
        with open(file, "rb") as stream:
            content = stream.read(LARGEST_FILE_BYTES + 1)
    except FileNotFoundError:
        raise InputError(
            "there is no survey here", file, mend="name a survey's folder, or begin a new survey"
        ) from None
    except NotADirectoryError:
        raise InputError(
            "this is no folder", file.parent, mend="name the survey's folder, not a file in it"
        ) from None
    except OSError as error:
        raise storage_error(error, file, "it cannot be read") from error
    if len(content) > LARGEST_FILE_BYTES:
        limit = LARGEST_FILE_BYTES // 1024**2
        raise InputError(f"it is larger than {limit} MB", file, mend="it is no survey")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise InputError(
            f"byte {error.start} is not UTF-8 text", file, mend="save it as plain UTF-8"
        ) from None


@contextlib.contextmanager
def _locked(folder: str | Path, timeout_s: float = LOCK_TIMEOUT_S) -> Iterator[None]:
    """Hold the survey's lock; what dead writers left behind is removed under it."""
    folder = Path(folder)
    try:
        if not folder.is_dir():
            raise InputError("there is no such folder", folder, mend="name a survey's folder")
    except OSError as error:
        raise storage_error(error, folder, "it cannot be opened") from error
    lock = FileLock(folder / LOCK, timeout=timeout_s)
    try:
        lock.acquire()
    except Timeout:
        raise StorageError(
            "another program is writing this survey",
            folder / FILE,
            mend="try again when it has finished",
        ) from None
    except OSError as error:
        raise storage_error(error, folder / LOCK, "the survey cannot be locked") from error
    try:
        for pattern in (PART.format(FILE), f"{PHOTOS}/**/{PART.format('*')}"):
            for stale in folder.glob(pattern):
                with contextlib.suppress(OSError):
                    stale.unlink()
        yield
    finally:
        lock.release()


def _save_locked(folder: str | Path, survey: Survey) -> Survey:
    file = Path(folder) / FILE
    there = load_object(read_text(file), file).get("revision")
    if there != survey.revision:
        raise StorageError(
            f"changed by somebody else (revision {there}, yours is based on {survey.revision})",
            file,
            mend="load it again and repeat the change",
        )
    return _write(file, survey)


def _write(file: Path, survey: Survey) -> Survey:
    """Write the next revision in one step, after making sure that it can be read again."""
    grown = survey.model_copy(update={"revision": survey.revision + 1})
    saved = validate(plain(grown), file)
    write_whole(file, to_text(saved), "it cannot be saved")
    return saved.kept_in(file.parent)
