"""Pictures that cannot be used: exit code 2 and one sentence naming the file."""

from __future__ import annotations

import struct
import zlib

import pytest
from PIL import Image


def png_header(width: int, height: int) -> bytes:
    """A PNG that claims a size and has hardly any pixels behind it."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(
            ">I", zlib.crc32(kind + body)
        )  # fmt: skip

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(
        b"IDAT", zlib.compress(b"\0" * 64)
    ) + chunk(b"IEND", b"")  # fmt: skip


@pytest.fixture
def started(run, tmp_path):
    """A survey with a spot and no view."""
    folder = tmp_path / "s"
    run.ok("new", folder, "--latitude", 12, "--longitude", -40, "--spot", "ridge", 0, 0, 6.5)
    return folder


@pytest.fixture
def good_jpeg(tmp_path):
    file = tmp_path / "good.jpg"
    Image.effect_noise((640, 480), 40).convert("RGB").save(file, quality=90)
    return file


@pytest.fixture(params=["missing", "empty", "half", "text", "huge", "folder", "noise"])
def bad_photo(request, tmp_path, good_jpeg):
    file = tmp_path / f"{request.param}.jpg"
    match request.param:
        case "empty":
            file.write_bytes(b"")
        case "half":
            whole = good_jpeg.read_bytes()
            file.write_bytes(whole[: len(whole) // 2])
        case "text":
            file.write_text("<html>Not found</html>", encoding="utf-8")
        case "huge":
            file = file.with_suffix(".png")
            file.write_bytes(png_header(100_000, 100_000))
        case "folder":
            file.mkdir()
        case "noise":
            file.write_bytes(bytes(range(256)) * 40)
    return file


def test_photo_refuses_it(run, bad_photo) -> None:
    assert bad_photo.name in run.refused("photo", bad_photo)


def test_it_does_not_enter_a_survey(run, started, bad_photo) -> None:
    before = (started / "survey.json").read_bytes()
    sentence = run.refused("photo", bad_photo, "--into", started, "--spot", "ridge")
    assert bad_photo.name in sentence
    assert (started / "survey.json").read_bytes() == before
    assert not list(started.glob("photos/*"))


def test_the_huge_header_says_how_large(run, tmp_path) -> None:
    file = tmp_path / "huge.png"
    file.write_bytes(png_header(100_000, 100_000))
    sentence = run.refused("photo", file)
    assert "100000" in sentence.replace(" ", "").replace(",", "")


def test_a_png_called_jpg_is_read_for_what_it_is_or_refused(run, tmp_path) -> None:
    file = tmp_path / "view.jpg"
    Image.new("RGB", (64, 48)).save(file, format="PNG")
    answer = run("photo", file)
    assert answer.code in (0, 2)
    assert "PNG" in answer.out + answer.err


def test_a_photo_lost_later_is_named(roof) -> None:
    roof.station("QA", 30.0, 0.5)
    folder = roof.solve()
    (folder / "photos" / "v1.png").unlink()
    said = roof.runner.ok("check", folder, "--json").rows
    assert any("v1.png" in row["sentence"] + row["field"] + str(row["mend"]) for row in said)
    sentence = roof.runner.refused("draw", folder, "-o", folder / "out.png")
    assert "v1.png" in sentence
    assert not (folder / "out.png").exists()


def test_a_photo_of_another_size_is_noticed(roof) -> None:
    """Pixels were clicked in 1440 x 360; the file is now half as large."""
    folder = roof.solve()
    Image.new("L", (720, 180)).save(folder / "photos" / "v1.png")
    said = roof.runner.ok("check", folder, "--json").rows
    assert any("720" in row["sentence"] for row in said)


@pytest.mark.parametrize("turn", [1, 3, 6, 8])
def test_exif_orientation_is_applied(run, tmp_path, turn) -> None:
    file = tmp_path / "turned.jpg"
    picture = Image.new("RGB", (64, 48))
    exif = picture.getexif()
    exif[0x0112] = turn
    picture.save(file, exif=exif)
    row = run.ok("photo", file, "--json").row
    assert (row["width_px"], row["height_px"]) == ((48, 64) if turn in (6, 8) else (64, 48))


def test_an_interrupt_leaves_130(run, good_jpeg, monkeypatch) -> None:
    def interrupt(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Image, "open", interrupt)
    answer = run("photo", good_jpeg)
    assert answer.code == 130
    assert "Traceback" not in answer.err
