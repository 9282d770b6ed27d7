"""A packed survey opens again and answers the same; what was to be left out is nowhere in it."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from sample_house import lay_out, trimmed

from skyview.cli.main import run as run_skyview

SITE = (-38.6417, -117.3925)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample survey's gable and four stations, with a place in the picture's metadata."""
    folder = trimmed(lay_out(tmp_path_factory.mktemp("pack") / "house"))
    data = json.loads((folder / "survey.json").read_text("utf-8"))
    picture = folder / data["views"][0]["photo"]
    for other in set(folder.glob("photos/*")) - {picture}:
        other.unlink()
    exif = Image.Exif()
    exif[0x010F] = "Invented Maker"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "S", (38.0, 38.0, 30.12), "W", (117.0, 23.0, 33.0)
    with Image.open(picture) as before:
        pixels = before.convert("RGB")
    pixels.save(picture, "JPEG", quality=90, exif=exif)
    return folder


@pytest.fixture(scope="module")
def packed(house: Path, tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """Packs the house with options: the file, made once."""

    @cache
    def packed_(*options: str) -> Path:
        file = tmp_path_factory.mktemp("packed") / "house.zip"
        with pytest.raises(SystemExit) as leaving:
            run_skyview(["pack", str(house), "-o", str(file), *options])
        assert leaving.value.code == 0
        return file

    return packed_


def unpacked(file: Path, where: Path) -> Path:
    with zipfile.ZipFile(file) as packed:
        packed.extractall(where)
    return where


def test_unpacked_survey_answers_the_same(
    run: Any, house: Path, packed: Callable[..., Path], tmp_path: Path
) -> None:
    again = unpacked(packed(), tmp_path / "again")
    now = run.ok("paths", house, "--json").rows
    assert run.ok("paths", again, "--json").rows == now
    kept = json.loads((again / "answers" / "paths.json").read_text("utf-8"))["rows"]
    assert [(r["station"], r["spot"], r["reception"]) for r in kept] == [
        (r["station"], r["spot"], r["reception"]) for r in now
    ]
    first = next(p for p in house.glob("photos/*"))
    assert (again / "photos" / first.name).read_bytes() == first.read_bytes()


def test_two_packs_are_the_same(
    run: Any, house: Path, packed: Callable[..., Path], tmp_path: Path
) -> None:
    run.ok("pack", house, "-o", tmp_path / "b.zip")
    assert packed().read_bytes() == (tmp_path / "b.zip").read_bytes()


@pytest.mark.parametrize("position", ["rough", "none"])
def test_position_is_nowhere_in_it(
    run: Any, packed: Callable[..., Path], tmp_path: Path, position: str
) -> None:
    again = unpacked(packed("--position", position), tmp_path / "p")
    data = json.loads((again / "survey.json").read_text("utf-8"))
    off = abs(data["site"]["latitude_deg"] - SITE[0]), abs(data["site"]["longitude_deg"] - SITE[1])
    if position == "none":
        assert (data["site"]["latitude_deg"], data["site"]["longitude_deg"]) == (0.0, 0.0)
        assert data.get("stations", []) == []
    else:
        assert max(off) <= 0.05 + 1e-9
        assert max(off) > 1e-4
    assert data.get("landmarks", []) == []
    assert "Tern Rise" not in data.get("title", "")
    for file in (f for f in again.rglob("*") if f.suffix == ".json"):
        text = file.read_text("utf-8")
        for secret in ("38.641", "117.392", "38.642", "bearing_deg", "distance_km", "2026-02-01T"):
            assert secret not in text, (file.name, secret)
    for file in again.glob("photos/*"):
        content = file.read_bytes()
        picture = Image.open(io.BytesIO(content))
        assert len(picture.getexif()) == 0
        assert b"Exif" not in content
        assert b"xmp" not in content.lower()
    assert run("check", again).code in (0, 2)
    outcome = run("paths", again, "--json")
    assert outcome.code == (2 if position == "none" else 0), outcome.err
    if position == "none":
        assert "no stations" in outcome.err


def test_rough_survey_keeps_where_its_pictures_look(
    run: Any, house: Path, packed: Callable[..., Path], tmp_path: Path
) -> None:
    again = unpacked(packed("--position", "rough"), tmp_path / "p")
    data = json.loads((house / "survey.json").read_text("utf-8"))
    view = data["views"][0]["id"]
    was = run.ok("locate", house, view, "2000", "400", "--json").row
    now = run.ok("locate", again, view, "2000", "400", "--json").row
    assert now["azimuth_deg"] == pytest.approx(was["azimuth_deg"], abs=1e-6)
    assert now["elevation_deg"] == pytest.approx(was["elevation_deg"], abs=1e-6)


def test_strip_leaves_pixels_alone(
    run: Any, house: Path, packed: Callable[..., Path], tmp_path: Path
) -> None:
    again = unpacked(packed("--strip"), tmp_path / "s")
    sizes = {}
    for file in house.glob("photos/*"):
        with Image.open(file) as picture:
            sizes[file.stem] = picture.size
    for file in again.glob("photos/*"):
        with Image.open(file) as picture:
            assert picture.size == sizes[file.stem]
            assert len(picture.getexif()) == 0
    assert run.ok("paths", again, "--json").rows == run.ok("paths", house, "--json").rows


def test_refusals_are_one_sentence_and_leave_nothing(run: Any, house: Path, tmp_path: Path) -> None:
    assert ".zip" in run.refused("pack", house, "-o", tmp_path / "house.tar")
    run.refused("pack", house, "-o", tmp_path / "no" / "house.zip", code=1)
    message = run.refused("pack", house, "-o", tmp_path / "p.zip", "--papers", "--position", "none")
    assert "where the site is" in message
    assert list(tmp_path.iterdir()) == []


def test_papers_verbs_refuse_bad_names(run: Any, house: Path, tmp_path: Path) -> None:
    for words in (("brief", house), ("sheet", house), ("job", house), ("card",)):
        assert ".pdf or .html" in run.refused(*words, "-o", tmp_path / "paper.docx")
    (tmp_path / "dir.pdf").mkdir()
    assert "folder" in run.refused("card", "-o", tmp_path / "dir.pdf")
    run.refused("card", "-o", tmp_path / "no" / "card.pdf", code=1)
    assert [p.name for p in tmp_path.iterdir()] == ["dir.pdf"]


def test_papers_verbs_write_whole_files(run: Any, house: Path, tmp_path: Path) -> None:
    run.ok("card", "-o", tmp_path / "card.pdf", "--paper", "letter")
    run.ok("brief", house, "-o", tmp_path / "brief.html", "--day", "2026-06-01")
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF-")
    assert "Before the visit" in (tmp_path / "brief.html").read_text("utf-8")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["brief.html", "card.pdf"]


def test_station_to_explain_must_be_known(run: Any, house: Path, tmp_path: Path) -> None:
    message = run.refused("sheet", house, "-o", tmp_path / "s.pdf", "--station", "QNOT")
    assert "QNOT" in message
