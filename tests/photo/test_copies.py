from __future__ import annotations

import os
from pathlib import Path

import pytest

from skyview.errors import InputError, StorageError
from skyview.photo.copies import write_copy


def test_every_byte_is_copied(save, tmp_path: Path) -> None:
    source = save()
    source.write_bytes(source.read_bytes() + b"film behind the picture" * 100_000)
    target = write_copy(source, tmp_path / "photos.jpg")
    assert target.read_bytes() == source.read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["photos.jpg", "roof.jpg"]


def test_existing_target_is_replaced_whole(save, tmp_path: Path) -> None:
    target = tmp_path / "old.jpg"
    target.write_bytes(b"old")
    write_copy(str(save()), str(target))
    assert target.read_bytes() == (tmp_path / "roof.jpg").read_bytes()


def test_longest_allowed_name(save, tmp_path: Path) -> None:
    target = tmp_path / ("v" * 251 + ".jpg")
    assert write_copy(save(), target).exists()


def test_missing_source(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        write_copy(tmp_path / "absent.jpg", tmp_path / "v1.jpg")


@pytest.mark.parametrize("folder", ["absent", "roof.jpg"])
def test_folder_that_cannot_take_it(save, tmp_path: Path, folder: str) -> None:
    source = save()
    with pytest.raises(StorageError, match="the copy could not be written"):
        write_copy(source, tmp_path / folder / "v1.jpg")


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_trouble_leaves_the_old_target_and_no_scraps(
    save, tmp_path: Path, monkeypatch, step: str
) -> None:
    source, target = save(), tmp_path / "v1.jpg"
    target.write_bytes(b"old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, full)
    with pytest.raises(StorageError, match="the disk is full"):
        write_copy(source, target)
    assert target.read_bytes() == b"old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["roof.jpg", "v1.jpg"]
