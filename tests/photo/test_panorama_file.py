"""A panorama's geometry goes into its file and comes out the same."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import ExifTags, Image

from skyview import files
from skyview.errors import InputError, StorageError
from skyview.photo.facts import read_header
from skyview.photo.panorama_file import PanoramaPlace, write_panorama
from skyview.photo.projection import projection_guess

RGB = np.full((60, 200, 3), 120, np.uint8)


def test_geometry_and_heading_are_read_back(tmp_path):
    file = tmp_path / "p.jpg"
    write_panorama(file, RGB, PanoramaPlace((360, 180), 80, 70, 123.5, 7))
    facts = read_header(file)
    assert facts.notes == ()
    assert facts.direction_deg == pytest.approx(123.5)
    guess = projection_guess(facts)
    edges = [guess[f"{side}_deg"] for side in ("left", "right", "top", "bottom")]
    assert edges == pytest.approx([-100.0, 100.0, 20.0, -40.0])


def test_a_heading_nobody_knows_is_not_written(tmp_path):
    file = tmp_path / "p.jpg"
    write_panorama(file, RGB, PanoramaPlace((360, 180), 80, 70, None, 7))
    assert read_header(file).direction_deg is None


def test_place_and_time_come_from_a_frame_but_not_its_lens(tmp_path):
    exif = Image.Exif()
    place = {1: "S", 2: (38.0, 38.0, 30.0), 3: "W", 4: (117.0, 23.0, 33.0), 16: "M", 17: 99.0}
    exif[ExifTags.IFD.GPSInfo] = place
    exif[ExifTags.IFD.Exif] = {
        ExifTags.Base.DateTimeOriginal: "2026:02:01 14:04:00",
        ExifTags.Base.OffsetTimeOriginal: "-08:00",
        ExifTags.Base.FocalLengthIn35mmFilm: 27,
    }
    frame = tmp_path / "f.jpg"
    Image.fromarray(RGB).save(frame, exif=exif.tobytes())
    write_panorama(tmp_path / "p.jpg", RGB, PanoramaPlace((360, 180), 80, 70, None, 2), frame)
    facts = read_header(tmp_path / "p.jpg")
    assert facts.latitude_deg == pytest.approx(-38.64167, abs=1e-4)
    assert facts.taken == "2026-02-01T14:04:00-08:00"
    assert facts.focal_35mm is None
    assert facts.direction_deg is None


def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path, monkeypatch):
    file = tmp_path / "p.jpg"
    file.write_bytes(b"old")

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(StorageError, match="the disk is full"):
        write_panorama(file, RGB, PanoramaPlace((360, 180), 80, 70, None, 2))
    assert [p.name for p in tmp_path.iterdir()] == ["p.jpg"]
    assert file.read_bytes() == b"old"


def test_only_jpeg_names(tmp_path):
    with pytest.raises(InputError, match=r"\.jpg"):
        write_panorama(tmp_path / "p.png", RGB, PanoramaPlace((360, 180), 80, 70, None, 2))
