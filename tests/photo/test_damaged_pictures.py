"""Whatever happens to the bytes of a picture: facts, or one sentence; never a hang."""

from __future__ import annotations

import io
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image

from skyview.errors import InputError, SkyviewError
from skyview.photo.facts import PhotoFacts, read_header
from skyview.photo.pixels import read_pixels

FORMATS = ["JPEG", "MPO", "PNG", "TIFF", "WEBP", "GIF"]


def whole_picture(picture_format: str) -> bytes:
    """Some 20 kB of picture with Exif, GPS, a maker note and XMP."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    exif.get_ifd(ExifTags.IFD.Exif).update(
        {
            ExifTags.Base.DateTimeOriginal: "2026:06:01 14:05:00",
            ExifTags.Base.OffsetTimeOriginal: "+02:00",
            ExifTags.Base.FocalLengthIn35mmFilm: 26,
            ExifTags.Base.DigitalZoomRatio: 1.5,
            ExifTags.Base.MakerNote: b"Qphonecam\0\0\1MM\0\1\0\x08\0\x0a\0\0\0\3\0\0\0\x14" * 2,
        }
    )
    exif.get_ifd(ExifTags.IFD.GPSInfo).update(
        {1: "N", 2: (47.0, 22.0, 12.5), 3: "E", 4: (8.0, 30.0, 1.5), 0x10: "M", 0x11: 10.5}
        | {5: b"\0", 6: 400.5, 7: (12.0, 5.0, 0.0), 0x1D: "2026:06:01"}
    )
    noise = np.random.default_rng(5).integers(0, 60, (96, 128, 3), dtype=np.uint8)
    image = Image.fromarray(noise)
    stream = io.BytesIO()
    extras = {"append_images": [image], "save_all": True} if picture_format == "MPO" else {}
    xmp = b"<x xmlns:p='http://ns.google.com/photos/1.0/panorama/' p:ProjectionType='cylindrical'/>"
    if picture_format not in ("PNG", "TIFF"):
        extras["xmp"] = xmp
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        image.save(stream, picture_format, exif=exif, **extras)
    return stream.getvalue()


PICTURES = {name: whole_picture(name) for name in FORMATS}


def read_or_sentence(read: Callable[[Path], object], path: Path) -> object:
    start = time.process_time()
    result: object
    try:
        result = read(path)
    except SkyviewError as error:
        result = error
    if isinstance(result, SkyviewError):
        assert str(path) in str(result)
        assert "\n" not in str(result)
    # A flipped size may ask for all of the 250 megapixels that are allowed.
    assert time.process_time() - start < (2.0 if read is read_header else 15.0)
    return result


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("damaged") / "photo.bin"


@pytest.mark.parametrize("picture_format", FORMATS)
def test_cut_at_each_kilobyte(path: Path, picture_format: str) -> None:
    whole = PICTURES[picture_format]
    path.write_bytes(whole)
    assert isinstance(read_or_sentence(read_pixels, path), np.ndarray)
    # An MPO may lose its second frame and still be read.
    first_frame_ends = len(PICTURES["JPEG"]) if picture_format == "MPO" else len(whole)
    for length in range(0, len(whole), 1024):
        path.write_bytes(whole[:length])
        assert isinstance(read_or_sentence(read_header, path), PhotoFacts | InputError)
        if length < first_frame_ends:
            assert isinstance(read_or_sentence(read_pixels, path), InputError), length


@pytest.mark.parametrize("picture_format", FORMATS)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_flipped_bytes(path: Path, picture_format: str, data: st.DataObject) -> None:
    flipped = bytearray(PICTURES[picture_format])
    near_start = st.integers(0, min(1500, len(flipped) - 1))
    places = data.draw(st.lists(near_start | st.integers(0, len(flipped) - 1), max_size=12))
    for place in places:
        flipped[place] = data.draw(st.integers(0, 255))
    path.write_bytes(bytes(flipped))
    assert isinstance(read_or_sentence(read_header, path), PhotoFacts | SkyviewError)
    assert isinstance(read_or_sentence(read_pixels, path), np.ndarray | SkyviewError)


@settings(max_examples=60, deadline=None)
@given(content=st.binary(max_size=200), mark=st.sampled_from([b"", *PICTURES.values()]))
def test_any_bytes_behind_a_true_beginning(path: Path, content: bytes, mark: bytes) -> None:
    path.write_bytes(mark[:24] + content)
    assert isinstance(read_or_sentence(read_header, path), PhotoFacts | InputError)


@settings(max_examples=100, deadline=None)
@given(
    packet=st.binary(max_size=400), order=st.sampled_from([b"II*\0\x08\0\0\0", b"MM\0*\0\0\0\x08"])
)
def test_any_bytes_for_exif(path: Path, packet: bytes, order: bytes) -> None:
    Image.new("RGB", (16, 12)).save(path, "JPEG", exif=b"Exif\0\0" + order + packet)
    facts = read_or_sentence(read_header, path)
    assert isinstance(facts, PhotoFacts), "a broken tag never keeps a sound picture out"
    assert read_pixels(path).shape[2] == 3


def test_nothing_is_printed(path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """Neither Pillow's warnings, nor its log, nor the messages of the C libraries below it."""
    rng = np.random.default_rng(11)
    for whole in PICTURES.values():
        for _ in range(25):
            flipped = np.frombuffer(whole, np.uint8).copy()
            flipped[rng.integers(8, 600, 6)] = rng.integers(0, 256, 6)
            path.write_bytes(flipped.tobytes())
            read_or_sentence(read_header, path)
            read_or_sentence(read_pixels, path)
    assert capfd.readouterr() == ("", "")
