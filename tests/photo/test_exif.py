from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
from PIL import ExifTags, Image, TiffImagePlugin

from skyview.photo.exif import TURNS, number, read_tags, text
from skyview.photo.facts import read_header
from skyview.photo.reader import opened


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (7, 7.0),
        ((7,), 7.0),
        (b"\x07", 7.0),
        (TiffImagePlugin.IFDRational(7, 2), 3.5),
        (TiffImagePlugin.IFDRational(7, 0), None),
        (float("inf"), None),
        ("7", None),
        ((1, 2), None),
        (b"ab", None),
        (None, None),
        (object(), None),
    ],
)
def test_number_takes_numbers_only(value: object, expected: float | None) -> None:
    assert number(value) == expected


def test_text_loses_padding() -> None:
    assert text(b"T\0\0") == text("T ") == "T"
    assert text(12) == ""


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turns_do_what_pillow_does(orientation: int) -> None:
    stored = np.arange(6).reshape(2, 3)
    methods = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }
    image = Image.fromarray(stored.astype(np.uint8))
    if orientation in methods:
        image = image.transpose(methods[orientation])
    turn = TURNS[orientation]
    ours = np.rot90(stored[:, ::-1] if turn.mirrored else stored, -turn.degrees // 90)
    np.testing.assert_array_equal(ours, np.asarray(image))


@pytest.mark.parametrize("orientation", [0, 9, 65535])
def test_impossible_orientation_is_upright_with_a_note(save, orientation: int) -> None:
    with opened(save(main={ExifTags.Base.Orientation: orientation})) as picture:
        tags = read_tags(picture)
    assert tags.orientation == 1
    assert any("none of 1 to 8" in note for note in tags.notes)


def test_exif_behind_the_pixels_of_a_png_is_found(save, tmp_path: Path) -> None:
    before = save("before.png", gps={0x10: "T", 0x11: 77.0}).read_bytes()
    start = before.index(b"eXIf") - 4
    length = struct.unpack(">I", before[start : start + 4])[0] + 12
    end = before.index(b"IEND") - 4
    chunk = before[start : start + length]
    after = before[:start] + before[start + length : end] + chunk + before[end:]
    path = tmp_path / "after.png"
    path.write_bytes(after)
    assert read_header(path).direction_deg == 77.0


def test_garbage_for_exif_counts_as_missing(save) -> None:
    facts = read_header(save(exif=b"Exif\0\0" + b"this is no directory at all"))
    assert facts.direction_deg is None
    assert any("damaged" in note for note in facts.notes)
