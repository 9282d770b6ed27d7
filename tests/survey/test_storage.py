"""Saving: the whole survey or the old one, one writer at a time, and a sentence when it fails."""

from __future__ import annotations

import errno
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from textwrap import dedent
from typing import Any

import pytest

import skyview
from skyview.errors import InputError, StorageError
from skyview.survey import storage
from skyview.survey.models import Spot, View, new_survey
from skyview.survey.storage import create, editing, load, photo_path, save

ROOT = Path(skyview.__file__).parents[1]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A survey at revision 1, with a text of more than one block of the disk."""
    survey = new_survey(40.0, -100.0, "Roof above the orchard")
    survey.spots = [Spot(id=f"spot{i}", enu_m=(float(i), 0.0, 6.0)) for i in range(200)]
    create(tmp_path / "house", survey)
    return tmp_path / "house"


def only_the_survey_is_left(folder: Path) -> bool:
    return {path.name for path in folder.iterdir()} <= {"survey.json", ".survey.lock"}


def run(script: str, *arguments: str) -> subprocess.Popen[str]:
    """A second Python that runs the script, its output to be read."""
    return subprocess.Popen(
        [sys.executable, "-c", dedent(script), *arguments],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def finished(process: subprocess.Popen[str]) -> str:
    out, complaints = process.communicate(timeout=120)
    assert complaints == ""
    return out


def test_create_then_load(tmp_path: Path) -> None:
    made = create(tmp_path / "new" / "house", new_survey(40.0, -100.0))
    assert made.revision == 1
    assert load(tmp_path / "new" / "house") == made


def test_create_refuses_what_is_there(folder: Path) -> None:
    before = (folder / "survey.json").read_bytes()
    with pytest.raises(InputError, match="there is a survey already; choose another folder"):
        create(folder, new_survey(1.0, 1.0))
    assert (folder / "survey.json").read_bytes() == before


def test_create_where_a_file_is_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "house").write_text("a file")
    with pytest.raises(StorageError, match="the folder cannot be made"):
        create(tmp_path / "house", new_survey(1.0, 1.0))


def test_each_save_grows_the_revision(folder: Path) -> None:
    survey = load(folder)
    survey.title = "Another"
    saved = save(folder, survey)
    assert saved.revision == 2
    assert load(folder) == saved
    assert survey.revision == 1
    assert only_the_survey_is_left(folder)


def test_a_stale_revision_is_refused(folder: Path) -> None:
    stale = load(folder)
    newer = save(folder, load(folder))
    with pytest.raises(StorageError) as caught:
        save(folder, stale)
    assert "changed by somebody else (revision 2, yours is based on 1); load it again" in str(
        caught.value
    )
    assert load(folder) == newer


def test_what_went_bad_in_memory_is_not_saved(folder: Path) -> None:
    survey = load(folder)
    survey.spots[3].heights_m.append(float("nan"))
    with pytest.raises(InputError, match=r"spots\.spot3\.heights_m\.0: NaN is not a finite"):
        save(folder, survey)
    assert load(folder).revision == 1


def test_a_newer_file_is_never_rewritten(folder: Path) -> None:
    survey = load(folder)
    newer = {**json.loads((folder / "survey.json").read_text()), "version": 2}
    (folder / "survey.json").write_text(json.dumps(newer))
    with pytest.raises(InputError, match="written by a newer program"):
        save(folder, survey)
    assert json.loads((folder / "survey.json").read_text()) == newer


def test_editing_saves_what_was_changed_in_place(folder: Path) -> None:
    with editing(folder) as edit:
        edit.survey.limits.lines_checked = True
    assert load(folder).limits.lines_checked is True
    assert load(folder).revision == edit.survey.revision == 2


def test_editing_saves_what_was_assigned(folder: Path) -> None:
    with editing(folder) as edit:
        edit.survey = edit.survey.model_copy(update={"title": "New"})
    assert load(folder).title == "New"


def test_editing_without_a_change_does_not_save(folder: Path) -> None:
    before = (folder / "survey.json").stat().st_mtime_ns
    with editing(folder) as edit:
        assert edit.survey.spots
    assert (folder / "survey.json").stat().st_mtime_ns == before
    assert load(folder).revision == 1


def _edit_and_fail(folder: Path) -> None:
    with editing(folder) as edit:
        edit.survey.title = "Half done"
        raise KeyError("trouble")


def test_editing_that_fails_saves_nothing(folder: Path) -> None:
    with pytest.raises(KeyError):
        _edit_and_fail(folder)
    assert load(folder).title == "Roof above the orchard"
    assert save(folder, load(folder)).revision == 2


def test_one_writer_at_a_time(folder: Path) -> None:
    with editing(folder), pytest.raises(StorageError) as caught:
        save(folder, load(folder), lock_timeout_s=0.05)
    assert str(caught.value) == (
        f"{folder / 'survey.json'}: another program is writing this survey; "
        "try again when it has finished."
    )


@pytest.mark.parametrize("step", ["replace", "fsync", "chmod"])
@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, "it cannot be saved: the disk is full; make room and try again"),
        (errno.EROFS, "it cannot be saved: the disk is read-only; choose a place"),
        (errno.EACCES, "it cannot be saved: permission was denied; ask for the right"),
        (errno.EIO, "it cannot be saved: input/output error"),
    ],
)
def test_a_save_that_fails_leaves_the_old_survey(
    folder: Path, monkeypatch: pytest.MonkeyPatch, step: str, number: int, said: str
) -> None:
    before = (folder / "survey.json").read_bytes()

    def fail(*_: Any, **__: Any) -> None:
        raise OSError(number, os.strerror(number))

    survey = load(folder)
    monkeypatch.setattr(os, step, fail)
    with pytest.raises(StorageError) as caught:
        save(folder, survey)
    monkeypatch.undo()
    assert said in str(caught.value)
    assert caught.value.exit_code == 1
    assert (folder / "survey.json").read_bytes() == before
    assert only_the_survey_is_left(folder)
    assert save(folder, survey).revision == 2


def test_a_disk_that_fills_while_writing(folder: Path) -> None:
    before = (folder / "survey.json").read_bytes()
    script = """
        import resource, sys
        from skyview.errors import StorageError
        from skyview.survey.storage import load, save
        survey = load(sys.argv[1])
        sys.dont_write_bytecode = True
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
        try:
            save(sys.argv[1], survey)
        except StorageError as error:
            print(error)
    """
    assert len(before) > 4096
    said = finished(run(script, str(folder)))
    assert "it cannot be saved: the file would be larger than is allowed here" in said
    assert (folder / "survey.json").read_bytes() == before
    assert only_the_survey_is_left(folder)


def test_a_writer_that_dies_leaves_the_old_survey_and_no_litter(folder: Path) -> None:
    before = (folder / "survey.json").read_bytes()
    script = """
        import os, sys
        from skyview.survey.storage import load, save
        os.replace = lambda *_: os._exit(9)
        save(sys.argv[1], load(sys.argv[1]))
    """
    process = run(script, str(folder))
    process.communicate(timeout=120)
    assert process.returncode == 9
    assert (folder / "survey.json").read_bytes() == before
    assert not only_the_survey_is_left(folder)
    assert save(folder, load(folder)).revision == 2
    assert only_the_survey_is_left(folder)


def test_two_processes_lose_nothing(folder: Path) -> None:
    script = """
        import sys
        from skyview.survey.models import Spot
        from skyview.survey.storage import editing
        for number in range(12):
            with editing(sys.argv[1], lock_timeout_s=60) as edit:
                name = f"{sys.argv[2]}{number}"
                edit.survey.spots.append(Spot(id=name, enu_m=(0.0, 0.0, 1.0)))
    """
    writers = [run(script, str(folder), name) for name in ("left", "right")]
    for writer in writers:
        finished(writer)
    survey = load(folder)
    assert survey.revision == 1 + 24
    assert {spot.id for spot in survey.spots} >= {
        f"{name}{number}" for name in ("left", "right") for number in range(12)
    }


@pytest.fixture
def open_to_all() -> Iterator[Path]:
    """A folder that every user of the computer may enter and read, but not write."""
    top = Path(tempfile.mkdtemp())
    top.chmod(0o755)
    create(top / "house", new_survey(40.0, -100.0))
    (top / "house").chmod(0o555)
    yield top / "house"
    (top / "house").chmod(0o755)
    shutil.rmtree(top)


@pytest.mark.skipif(not hasattr(os, "setuid"), reason="needs users")
def test_a_folder_that_one_may_not_write(open_to_all: Path) -> None:
    script = """
        import os, sys
        from skyview.errors import StorageError
        from skyview.survey.storage import create, load, save
        if os.getuid() == 0:
            os.setuid(65534)
        survey = load(sys.argv[1])
        for attempt in (save, lambda *_: create(sys.argv[1] + "/below", survey)):
            try:
                attempt(sys.argv[1], survey)
            except StorageError as error:
                print(error)
    """
    said = finished(run(script, str(open_to_all))).splitlines()
    assert "cannot be locked: permission was denied" in said[0]
    assert "the folder cannot be made: permission was denied" in said[1]
    assert load(open_to_all).revision == 1


def test_the_file_keeps_its_permissions(folder: Path) -> None:
    (folder / "survey.json").chmod(0o640)
    save(folder, load(folder))
    assert (folder / "survey.json").stat().st_mode & 0o777 == 0o640


def test_no_survey_and_no_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"survey\.json: there is no survey here; name a survey's"):
        load(tmp_path)
    with pytest.raises(InputError, match="there is no survey here"):
        save(tmp_path, new_survey(1.0, 1.0))
    with pytest.raises(InputError, match="there is no such folder"):
        save(tmp_path / "none", new_survey(1.0, 1.0))


def test_a_survey_that_is_a_folder(tmp_path: Path) -> None:
    (tmp_path / "survey.json").mkdir()
    with pytest.raises(StorageError, match="it cannot be read: it is a folder"):
        load(tmp_path)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe{\x00", "byte 0 is not UTF-8 text; save it as plain UTF-8"),
        (b"\xef\xbb\xbf{}", "it begins with a byte order mark"),
        (b"\x00" * 50, "it ends too early"),
        (b'{"format": "skyview-survey", "version": 1', "it ends too early"),
    ],
)
def test_content_that_is_no_survey(folder: Path, content: bytes, said: str) -> None:
    (folder / "survey.json").write_bytes(content)
    with pytest.raises(InputError) as caught:
        load(folder)
    assert str(caught.value).startswith(f"{folder / 'survey.json'}: {said}")
    with pytest.raises(InputError):
        save(folder, new_survey(1.0, 1.0))
    assert (folder / "survey.json").read_bytes() == content


def test_a_file_too_large_is_refused(folder: Path) -> None:
    with open(folder / "survey.json", "wb") as stream:
        stream.truncate(storage.LARGEST_FILE_BYTES + 1)
    with pytest.raises(InputError, match="it is larger than 64 MB"):
        load(folder)


def _view(photo: str) -> View:
    return View(id="v1", photo=photo, size_px=(4, 4), camera_enu_m=(0.0, 0.0, 1.0))


def test_a_photo_lies_inside_the_folder(folder: Path) -> None:
    inside = folder.resolve() / "photos" / "v1.jpg"
    assert photo_path(folder, _view("photos/v1.jpg")) == inside
    assert photo_path(folder, _view("photos/../photos/v1.jpg")) == inside


@pytest.mark.parametrize(
    ("photo", "said"),
    [
        ("/etc/hosts", "is an absolute path"),
        ("C:/pictures/v1.jpg", "is an absolute path"),
        ("C:v1.jpg", "is an absolute path"),
        ("//server/share/v1.jpg", "is an absolute path"),
        ("\\v1.jpg", "is an absolute path"),
        ("..\\v1.jpg", "holds a backslash"),
        ("../v1.jpg", "leads out of the folder"),
        ("photos/../../v1.jpg", "leads out of the folder"),
        (".", "leads out of the folder"),
        ("link/v1.jpg", "leads out of the folder"),
    ],
)
def test_a_photo_outside_the_folder_is_refused(folder: Path, photo: str, said: str) -> None:
    (folder / "link").symlink_to(folder.parent)
    with pytest.raises(InputError) as caught:
        photo_path(folder, _view(photo))
    assert said in caught.value.message
    assert caught.value.field == "views.v1.photo"
