from __future__ import annotations

import os
import struct
import subprocess
import sys
import time
import zlib
from pathlib import Path

import pytest
from PIL import Image

from skyview.errors import InputError, StorageError
from skyview.photo.facts import read_header
from skyview.photo.pixels import read_pixels


def png_of_size(width: int, height: int) -> bytes:
    """A PNG that is all header: IHDR of that size, a scrap of data, IEND."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    scrap = chunk(b"IDAT", zlib.compress(b"\0" * 10))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + scrap + chunk(b"IEND", b"")


@pytest.mark.parametrize("read", [read_header, read_pixels])
@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("a.jpg", b"", "a.jpg, file: the file is empty; copy it from the phone again."),
        ("b.jpg", b"The view from the roof\n", "this is a text file, not a picture"),
        ("c.jpg", b"\x00\x00\x00\x14ftypqt  \0\0\0\0qt  ", "this is a film, not a picture"),
        ("d.pdf", b"%PDF-1.7 \x80", "this is a PDF document, not a picture"),
        ("e.jpg", b"PK\x03\x04\x14\0\0\0", "this is a zip archive, not a picture"),
        ("f.jpg", b"\xff\xd8\xff\xe0\0", "the picture is cut short or damaged"),
        ("g.png", b"\x89PNG\r\n\x1a\n\0\0", "no picture that can be read"),
        ("h.jpg", bytes(range(256)), "no picture that can be read"),
    ],
)
def test_no_picture_is_said_in_one_sentence(
    tmp_path: Path, read, name: str, content: bytes, sentence: str
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read(path)
    assert sentence in str(caught.value)
    assert caught.value.file == str(path)
    assert caught.value.field
    assert caught.value.mend


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file; check the name"):
        read_header(tmp_path / "absent.jpg")


def test_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="this is a folder; name one picture in it"):
        read_header(tmp_path)


@pytest.mark.parametrize("name", ["nul\0byte.jpg", "x" * 5000 + ".jpg"])
def test_impossible_name(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="this is no name of a file"):
        read_header(tmp_path / name)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_named_pipe_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    with pytest.raises(InputError, match="not an ordinary file"):
        read_header(tmp_path / "pipe.jpg")


@pytest.mark.parametrize(
    ("error", "kind", "words"),
    [
        (PermissionError(13, "Permission denied"), InputError, "may not read this file"),
        (OSError(5, "Input/output error"), StorageError, r"cannot be read \(Input/output error\)"),
    ],
)
def test_file_that_cannot_be_opened(save, monkeypatch, error, kind, words: str) -> None:
    path = save()

    def refuse(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(kind, match=words):
        read_header(path)


@pytest.mark.parametrize(
    ("name", "true_format"), [("a.jpg", "PNG"), ("b.png", "JPEG"), ("c.heic", "JPEG")]
)
def test_lying_name_is_read_and_the_true_format_said(save, name: str, true_format: str) -> None:
    facts = read_header(save(name, format=true_format))
    assert facts.format == true_format
    assert facts.notes == (f"The name ends in {name[1:]}, but the picture is {true_format}.",)


@pytest.mark.parametrize("name", ["a.JPG", "b.jpeg", "no_suffix", "d.odd"])
def test_honest_or_unknown_names_are_not_remarked(save, name: str) -> None:
    assert read_header(save(name, format="JPEG")).notes == ()


@pytest.mark.parametrize("read", [read_header, read_pixels])
def test_bomb_is_refused_with_its_size_before_decoding(tmp_path: Path, read) -> None:
    path = tmp_path / "bomb.png"
    path.write_bytes(png_of_size(100_000, 100_000))
    start = time.process_time()
    with pytest.raises(InputError, match=r"100000 x 100000 pixels \(10000 megapixels\)") as caught:
        read(path)
    assert "250 megapixels" in str(caught.value)
    assert time.process_time() - start < 2.0


def test_webp_canvas_is_refused_before_memory_is_claimed(tmp_path: Path) -> None:
    path = tmp_path / "bomb.webp"
    size = (100_000 - 1).to_bytes(3, "little")
    body = (
        b"WEBPVP8X"
        + struct.pack("<I", 10)
        + b"\x02\0\0\0"
        + size
        + (40_000 - 1).to_bytes(3, "little")
    )
    path.write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)
    with pytest.raises(InputError, match="100000 x 40000 pixels"):
        read_header(path)


def test_200_megapixels_are_taken_although_pillow_alone_refuses_them(tmp_path: Path) -> None:
    path = tmp_path / "large.png"
    path.write_bytes(png_of_size(16320, 12240))
    with pytest.raises(Image.DecompressionBombError):
        Image.open(path)
    assert read_header(path).width_px == 16320
    with pytest.raises(Image.DecompressionBombError):
        Image.open(path)


@pytest.mark.parametrize(("size", "taken"), [((25_000, 10_000), True), ((25_000, 10_001), False)])
def test_limit_is_250_megapixels(tmp_path: Path, size: tuple[int, int], taken: bool) -> None:
    path = tmp_path / "limit.png"
    path.write_bytes(png_of_size(*size))
    if taken:
        assert read_header(path).height_px == 10_000
    else:
        with pytest.raises(InputError, match="save it smaller"):
            read_header(path)


def test_raw_file_is_refused(save) -> None:
    path = save("raw.dng", format="TIFF", tiffinfo={0xC612: b"\1\4\0\0"})
    with pytest.raises(InputError, match=r"raw file.*most compatible"):
        read_header(path)


def test_jpeg_with_a_broken_index_of_frames_keeps_its_first(save, tmp_path: Path) -> None:
    mpo = save("a.mpo", format="MPO", save_all=True, append_images=[Image.new("RGB", (64, 48))])
    data = mpo.read_bytes()
    at = data.index(b"MPF\0") + 4
    for noise in (b"\xff", b"\0", b"M", b"\x7f"):
        path = tmp_path / "b.jpg"
        path.write_bytes(data[:at] + noise * 60 + data[at + 60 :])
        assert read_pixels(path).shape == (48, 64, 3)


def test_heic_without_its_extra_names_the_extra_and_the_phone_setting(
    tmp_path: Path, monkeypatch
) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    path = tmp_path / "photo.heic"
    path.write_bytes(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(100))
    with pytest.raises(InputError) as caught:
        read_header(path)
    assert "skyview[heic]" in str(caught.value)
    assert "most compatible" in str(caught.value)


def test_heic_is_not_turned_twice(tmp_path: Path) -> None:
    """The decoder turns by the container's box: orientation 6 brings the corner right."""
    pillow_heif = pytest.importorskip("pillow_heif")
    stored = Image.new("RGB", (64, 48), (20, 20, 230))
    stored.paste((230, 20, 20), (0, 0, 16, 16))
    exif = Image.Exif()
    exif[0x0112] = 6
    path = tmp_path / "photo.heic"
    pillow_heif.from_pillow(stored).save(path, quality=90, exif=exif.tobytes())
    facts = read_header(path)
    assert (facts.format, facts.width_px, facts.height_px) == ("HEIF", 48, 64)
    assert (facts.rotation_applied, facts.mirrored) == (0, False)
    pixels = read_pixels(path)
    assert pixels.shape == (64, 48, 3)
    assert pixels[3, -4, 0] > 200
    assert pixels[3, 3, 0] < 60
    assert read_pixels(path, 32).shape == (32, 24, 3)


def test_heic_cut_short(save, tmp_path: Path) -> None:
    pillow_heif = pytest.importorskip("pillow_heif")
    path = tmp_path / "photo.heic"
    pillow_heif.from_pillow(Image.open(save())).save(path, quality=90)
    path.write_bytes(path.read_bytes()[:-100])
    with pytest.raises(InputError, match="cut short or damaged"):
        read_pixels(path)


def test_pillow_loads_with_the_reader_only() -> None:
    """The errors and the tags of other layers must not wait for a picture library."""
    code = "import sys, skyview.photo.tilt; sys.exit('PIL' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="counts handles under /proc")
def test_no_handle_stays_open(save, tmp_path: Path) -> None:
    good, bad = save("good.jpg"), tmp_path / "bad.png"
    whole = save("whole.png").read_bytes()
    bad.write_bytes(whole[: len(whole) // 2])
    before = len(os.listdir("/proc/self/fd"))
    for _ in range(5):
        read_header(good)
        read_pixels(good)
        with pytest.raises(InputError):
            read_pixels(bad)
    assert len(os.listdir("/proc/self/fd")) == before
