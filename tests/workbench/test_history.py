"""The journal survives a torn line, a save that never happened, and another server."""

from __future__ import annotations

import pytest

from skyview.errors import StorageError
from skyview.workbench.history import FILE, History, digest_of_state

PATCH = [{"part": "title", "old": "a", "new": "b"}]
STATE = {"title": "b", "revision": 4}


def journal(folder, count=3):
    """A history whose survey is at revision ``count`` + 1."""
    history = History(folder)
    history.read(1, "x")
    for number in range(count):
        history.write_change(f"step {number}", PATCH, number + 2, digest_of_state(STATE))
    return history


def read(folder, revision=4, locked=True):
    history = History(folder)
    history.read(revision, digest_of_state(STATE), locked)
    return history


def test_steps_are_read_again_by_another_server(tmp_path):
    journal(tmp_path)
    again = read(tmp_path)
    assert [step.label for step in again.done] == ["step 0", "step 1", "step 2"]
    assert again.patch_of(again.done[1]) == PATCH


def test_undo_and_redo_are_read_again_too(tmp_path):
    history = journal(tmp_path)
    history.write_move("undo", 5, digest_of_state(STATE))
    again = read(tmp_path, 5)
    assert [step.id for step in again.done] == [1, 2]
    assert [step.id for step in again.undone] == [3]
    again.write_change("another", PATCH, 6, "d")
    assert [step.id for step in again.done] == [1, 2, 4]
    assert again.undone == []


@pytest.mark.parametrize("cut", [1, 5, 30])
def test_a_line_torn_by_a_kill_is_dropped(tmp_path, cut):
    journal(tmp_path)
    file = tmp_path / FILE
    file.write_bytes(file.read_bytes()[:-cut])
    again = read(tmp_path, 3)
    assert [step.id for step in again.done] == [1, 2]
    again.write_change("after it", PATCH, 4, digest_of_state(STATE))
    assert [step.label for step in read(tmp_path).done] == ["step 0", "step 1", "after it"]


def test_a_line_whose_save_never_happened_is_dropped(tmp_path):
    journal(tmp_path)
    assert [step.id for step in read(tmp_path, revision=3).done] == [1, 2]
    assert (tmp_path / FILE).read_bytes().count(b"\n") == 2


def test_a_line_whose_revision_another_program_took_is_dropped(tmp_path):
    journal(tmp_path)
    history = History(tmp_path)
    history.read(4, "the digest of what the other program saved")
    assert [step.id for step in history.done] == [1, 2]


def test_a_line_that_another_server_is_about_to_save_is_left_alone(tmp_path):
    writer = journal(tmp_path)
    before = (tmp_path / FILE).read_bytes()
    reader = read(tmp_path, revision=3, locked=False)
    assert [step.id for step in reader.done] == [1, 2]
    assert (tmp_path / FILE).read_bytes() == before
    reader.read(4, digest_of_state(STATE))
    assert [step.id for step in reader.done] == [step.id for step in writer.done] == [1, 2, 3]


def test_a_full_disk_is_one_sentence_and_no_step(tmp_path, monkeypatch):
    history = journal(tmp_path)

    def full(*_args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("skyview.workbench.history.os.fsync", full)
    with pytest.raises(StorageError, match="history cannot be written"):
        history.write_change("too much", PATCH, 5, "d")
    monkeypatch.undo()
    history.read(4, digest_of_state(STATE))
    assert [step.id for step in history.done] == [1, 2, 3]
