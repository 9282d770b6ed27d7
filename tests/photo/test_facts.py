from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest
from PIL import ExifTags, Image

from skyview.photo.facts import read_header


def test_everything_told(facts_photo: Path) -> None:
    facts = read_header(facts_photo)
    assert (facts.format, facts.width_px, facts.height_px) == ("JPEG", 64, 48)
    assert facts.latitude_deg == pytest.approx(47.37)
    assert facts.longitude_deg == pytest.approx(-8.51)
    assert (facts.altitude_m, facts.position_sigma_m) == (412.5, 4.5)
    assert (facts.direction_deg, facts.direction_north) == (141.25, "true")
    assert (facts.focal_35mm, facts.taken) == (26.0, "2026-06-01T14:05:00.250+02:00")
    assert facts.tilt is not None
    assert facts.tilt.sigma_deg == 4.0
    assert facts.missing == ()


def test_nothing_told(save) -> None:
    facts = read_header(save("bare.png"))
    assert [gap.split(":")[0] for gap in facts.missing] == [
        "position",
        "compass direction",
        "field of view",
        "time",
        "tilt",
    ]
    assert all(";" in gap for gap in facts.missing), "each says what would settle it"
    assert facts.notes == ()
    assert (facts.taken, facts.tilt, facts.panorama, facts.focal_35mm) == (None,) * 4


def test_facts_are_frozen_and_fit_into_json(facts_photo: Path) -> None:
    facts = read_header(str(facts_photo))
    with pytest.raises(dataclasses.FrozenInstanceError):
        facts.width_px = 1  # type: ignore[misc]
    assert json.loads(json.dumps(dataclasses.asdict(facts)))["file"] == str(facts_photo)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_size_is_that_of_the_upright_picture(save, orientation: int) -> None:
    facts = read_header(save(main={ExifTags.Base.Orientation: orientation}))
    assert (facts.width_px, facts.height_px) == ((48, 64) if orientation >= 5 else (64, 48))


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.webp", "a.tif"])
def test_every_format_brings_its_exif(save, name: str) -> None:
    facts = read_header(save(name, main={ExifTags.Base.Orientation: 6}, gps={0x10: "M", 0x11: 9.0}))
    assert (facts.direction_deg, facts.direction_north) == (9.0, "magnetic")
    assert (facts.width_px, facts.height_px, facts.rotation_applied) == (48, 64, 90)


def test_picture_cut_after_it_was_taken_says_so(save) -> None:
    taken = {
        ExifTags.Base.ExifImageWidth: 128,
        ExifTags.Base.ExifImageHeight: 96,
        ExifTags.Base.FocalLengthIn35mmFilm: 26,
    }
    cut = read_header(save("cut.jpg", size=(100, 50), camera=taken))
    resized = read_header(save("resized.jpg", size=(64, 48), camera=taken))
    assert cut.cut_from_px == (128, 96)
    assert any("cut after it was taken" in note for note in cut.notes)
    assert resized.cut_from_px is None


def test_digital_zoom_is_told_and_noted(save) -> None:
    camera = {ExifTags.Base.FocalLengthIn35mmFilm: 52, ExifTags.Base.DigitalZoomRatio: 2.0}
    facts = read_header(save(camera=camera))
    assert (facts.focal_35mm, facts.digital_zoom) == (52.0, 2.0)
    assert any("Digital zoom 2" in note for note in facts.notes)


def test_sweep_has_no_tilt_since_the_vector_means_nothing_there(save, note_with) -> None:
    note = {ExifTags.Base.MakerNote: note_with((-1.0, 0.0, 0.0))}
    assert read_header(save("one.jpg", camera=note)).tilt is not None
    assert read_header(save("sweep.jpg", camera=note, size=(300, 60))).tilt is None


def test_frames_behind_the_first_are_left_alone(save) -> None:
    path = save("two.mpo", save_all=True, append_images=[Image.new("RGB", (64, 48))], format="MPO")
    facts = read_header(path)
    assert (facts.format, facts.width_px) == ("MPO", 64)
