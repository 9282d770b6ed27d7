"""The whole picture: size, formats, what it says, what it survives."""

from __future__ import annotations

import io
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from PIL import Image

from skyview.errors import InputError, StorageError
from skyview.report import words
from skyview.report.panorama import draw_plate
from skyview.report.reception_words import RECEPTION_WORDS, reception_meaning
from skyview.survey.results import Plate, Silhouette

SVG = "{http://www.w3.org/2000/svg}"


def drawn(plate: Plate, file_format: str, width_px: int = 2200) -> bytes:
    out = io.BytesIO()
    draw_plate(plate, out, file_format=file_format, width_px=width_px)
    return out.getvalue()


def texts(plate: Plate, width_px: int = 2200) -> list[tuple[str, float, float]]:
    """Every text of the SVG with its place. [pt]"""
    root = ElementTree.fromstring(drawn(plate, "svg", width_px))
    return [
        ("".join(node.itertext()), float(node.get("x")), float(node.get("y")))
        for node in root.iter(f"{SVG}text")
    ]


@pytest.mark.parametrize("width_px", [1131, 2200])
def test_the_picture_has_the_stated_width(make_plate, width_px: int, tmp_path: Path) -> None:
    file = tmp_path / "view.png"
    draw_plate(make_plate(), file, width_px=width_px)
    with Image.open(file) as picture:
        assert picture.width == width_px
        assert picture.height > 500
        assert picture.info["Title"] == words.heading(make_plate())
    root = ElementTree.fromstring(drawn(make_plate(), "svg", width_px))
    assert root.get("width") == str(width_px)


def test_svg_keeps_text_as_text_and_describes_itself(make_plate) -> None:
    plate = make_plate()
    root = ElementTree.fromstring(drawn(plate, "svg"))
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title").text == words.heading(plate)
    assert root.find(f"{SVG}desc").text == words.description(plate)
    shown = [text for text, _, _ in texts(plate)]
    for row in plate.rows:
        assert row.station in shown
    for path in words.PATH_WORDS:
        assert shown.count(words.path_word(path)) >= 2, "beside its mark and in the legend"
        assert words.path_meaning(path) in shown
    assert words.sentence("beyond_horizon") in shown
    for code in ("legend_solid", "legend_tree", "legend_power_line", "legend_level"):
        assert words.sentence(code) in shown
    together = " ".join(shown)
    assert words.outlines_caption(1.4) in together
    assert words.sentence("whole_way") in together
    for reception in RECEPTION_WORDS:
        assert reception in shown, "in the legend"
        assert reception_meaning(reception) in shown
    assert shown.count("unknown") == 1 + len(plate.rows), "under every tag too"
    for text in ("N 0°", "E 90°", "8.4 m", "block, 119 m", "oak, 22 m", "true", "magn."):
        assert text in shown


def test_the_halo_is_on_the_text_itself(make_plate) -> None:
    root = ElementTree.fromstring(drawn(make_plate(), "svg"))
    (call,) = [n for n in root.iter(f"{SVG}text") if n.text == "QBEN"]
    assert "paint-order: stroke" in call.get("style")


@pytest.mark.parametrize("file_format", ["png", "svg", "pdf"])
def test_the_same_plate_gives_the_same_bytes(make_plate, file_format: str) -> None:
    plate = make_plate(left_deg=0.0, right_deg=100.0)
    first = drawn(plate, file_format, 900)
    assert first == drawn(plate, file_format, 900)
    assert b"CreationDate" not in first
    assert b"dc:date" not in first


def test_pdf_embeds_outlines_of_letters_as_true_type(make_plate) -> None:
    content = drawn(make_plate(), "pdf")
    assert content.startswith(b"%PDF")
    assert b"/FontFile2" in content
    assert b"/Type3" not in content


def test_stations_on_both_sides_of_north_lie_side_by_side(make_plate, make_row) -> None:
    rows = (make_row("QWES", 359.9), make_row("QEAS", 0.1), make_row("QFAR", 90.0))
    for left, right in ((-60.0, 140.0), (300.0, 500.0)):
        plate = make_plate(rows=rows, left_deg=left, right_deg=right, selected=None, fresnel=None)
        x = {text: at for text, at, _ in texts(plate) if text.startswith("Q")}
        assert abs(x["QWES"] - x["QEAS"]) < 25.0
        assert x["QFAR"] - x["QEAS"] > 200.0


def test_a_station_outside_stands_in_the_chip_at_its_edge(make_plate, make_row) -> None:
    plate = make_plate(rows=(make_row("QRIT", 160.0), make_row("QLEF", 280.0)), selected=None)
    at = {text: (x, y) for text, x, y in texts(plate)}
    assert at["QLEF"][0] < 0.1 * 1584 < 0.85 * 1584 < at["QRIT"][0]
    assert "160°" in at
    assert "0 stations in view, 2 outside the picture" in at


def test_what_a_chip_cannot_hold_is_listed_below(make_plate, make_row) -> None:
    rows = tuple(make_row(f"QX{i:02d}", 150.0 + i) for i in range(12))
    shown = {text: y for text, _, y in texts(make_plate(rows=rows, selected=None))}
    assert {row.station for row in rows} <= set(shown)
    assert words.and_more(8) in shown
    assert shown["QX11"] > shown["QX00"] + 200.0
    assert words.sentence("outside_right") in shown


def test_sixty_stations_are_all_named_somewhere(make_plate, make_row) -> None:
    rng = np.random.default_rng(4)
    rows = tuple(
        make_row(f"Q{i:02d}X", float(a), path=words.PATH_WORDS[i % 5], beyond=i % 7 == 0)
        for i, a in enumerate(rng.uniform(0.0, 360.0, 60))
    )
    shown = {text for text, _, _ in texts(make_plate(rows=rows, selected=None))}
    assert {row.station for row in rows} <= shown


def test_a_station_above_the_plate_still_has_its_tag(make_plate, make_row) -> None:
    plate = make_plate(rows=(make_row("QTOP", 40.0, elevation_deg=70.0),), selected=None)
    shown = {text for text, _, _ in texts(plate)}
    assert {"QTOP", "ch 21"} <= shown
    assert words.sentence("untagged") not in shown


HOSTILE = ["$x_1$", "<b>&\"'</b>", r"\frac{1}{2}", "q" * 300, "line\nbreak\ttab", "Q\U00013000"]


@pytest.mark.parametrize("file_format", ["png", "svg", "pdf"])
def test_hostile_names_are_plain_text(make_plate, make_row, file_format: str) -> None:
    block = np.array([[10.0, -3.0], [10.0, 10.0], [16.0, 10.0], [16.0, -3.0]])
    plate = make_plate(
        title=HOSTILE[1],
        spot=HOSTILE[0],
        rows=(
            *(make_row(name, 20.0 * i, obstruction=name) for i, name in enumerate(HOSTILE)),
            *(make_row(f"{name}2", 180.0) for name in HOSTILE),
        ),
        silhouettes=tuple(
            Silhouette(name, "power_line", 20.0, (block + np.array([20.0 * i, 0.0]),))
            for i, name in enumerate(HOSTILE)
        ),
        selected=HOSTILE[0],
        fresnel=None,
    )
    content = drawn(plate, file_format, 1000)
    if file_format == "svg":
        whole = "".join(ElementTree.fromstring(content).itertext())
        assert all(name in whole for name in HOSTILE[:3])
        assert "line break tab" in whole
        assert "qqqqqq…" in whole
        assert "Q□" in whole


@pytest.mark.parametrize("width_px", [900, 2200])
def test_a_power_line_is_always_named(make_plate, make_row, width_px: int) -> None:
    line = np.column_stack([np.linspace(-10.0, 80.0, 30), np.full(30, 11.0)])
    line = np.concatenate([line, line[-2:0:-1]])
    rows = tuple(make_row(f"QX{i:02d}", (i * 4.0 - 20.0) % 360.0) for i in range(25))
    plate = make_plate(
        silhouettes=(Silhouette("feeder", "power_line", 20.0, (line,)),), rows=rows, selected=None
    )
    whole = " ".join(text for text, _, _ in texts(plate, width_px))
    assert "Power line in this picture: feeder." in whole
    assert "licensed people" in whole


def test_a_narrow_sheet_cuts_the_plate_into_strips(make_plate) -> None:
    plate = make_plate(left_deg=-180.0, right_deg=180.0)
    narrow = [text for text, _, _ in texts(plate, 900)]
    assert narrow.count("true") == 4
    assert [text for text, _, _ in texts(plate, 2200)].count("true") == 1
    assert {row.station for row in plate.rows} <= set(narrow)


def test_nothing_is_drawn_beyond_the_sheet(make_plate) -> None:
    with Image.open(io.BytesIO(drawn(make_plate(), "png", 900))) as picture:
        pixels = np.asarray(picture.convert("RGB"))
    paper = np.array([252, 250, 244])
    assert (pixels[:, :4] == paper).all()
    assert (pixels[:, -4:] == paper).all()
    assert (pixels[-4:] == paper).all()


@pytest.mark.parametrize(
    "fields",
    [
        {"rows": (), "selected": None, "fresnel": None},
        {"silhouettes": (), "fresnel": None},
        {"left_deg": 10.0, "right_deg": 30.0, "bottom_deg": 5.0, "top_deg": 20.0},
        {"bottom_deg": -90.0, "top_deg": 90.0, "left_deg": -180.0, "right_deg": 180.0},
        {"elevation_sigma_deg": 40.0, "azimuth_sigma_deg": 0.001},
    ],
)
def test_odd_plates_are_drawn(make_plate, fields: dict) -> None:
    assert drawn(make_plate(**fields), "png", 1400).startswith(b"\x89PNG")


def test_a_row_without_elevation_spread_is_drawn(make_plate, make_row) -> None:
    row = replace(make_row(), elevation_sigma_deg=None)
    assert drawn(make_plate(rows=(row,), selected=None), "png", 900)


def test_unknown_formats_and_widths_are_refused(make_plate, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="png"):
        draw_plate(make_plate(), tmp_path / "view.gif")
    with pytest.raises(InputError, match="png"):
        draw_plate(make_plate(), io.BytesIO())
    with pytest.raises(InputError, match="480"):
        draw_plate(make_plate(), tmp_path / "view.png", width_px=100)
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_cannot_be_written_is_storage_trouble(make_plate, tmp_path: Path) -> None:
    with pytest.raises(StorageError, match=r"view\.png"):
        draw_plate(make_plate(), tmp_path / "nowhere" / "view.png", width_px=900)


def test_the_former_settings_of_matplotlib_come_back(make_plate) -> None:
    with matplotlib.rc_context({"svg.fonttype": "path", "lines.linewidth": 9.0}):
        before = dict(matplotlib.rcParams)
        one = drawn(make_plate(), "png", 900)
        assert dict(matplotlib.rcParams) == before
    assert one == drawn(make_plate(), "png", 900)


def test_pyplot_is_never_loaded() -> None:
    code = "import sys, skyview.report.panorama; sys.exit('matplotlib.pyplot' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_the_terrains_skyline_stands_on_the_picture_and_in_the_legend(make_plate):
    """A ruled line of elevation 12 degrees changes the pixels there, and nothing high above."""
    plain = make_plate()
    azimuth = np.linspace(plain.left_deg, plain.right_deg, 361)
    line = np.stack([azimuth, np.full(361, 12.0)], axis=1)
    line[:30, 1] = np.nan
    with_line = replace(plain, terrain_deg=line)
    said = words.sentence("legend_terrain")
    assert said in [text for text, _, _ in texts(with_line)]
    assert said not in [text for text, _, _ in texts(plain)]
    pictures = [
        np.asarray(Image.open(io.BytesIO(drawn(p, "png"))).convert("L"), int)
        for p in (plain, with_line)
    ]
    height = min(len(p) for p in pictures) // 2
    changed = np.abs(pictures[1][:height] - pictures[0][:height]).max(axis=1) > 30
    rows = np.flatnonzero(changed)
    assert 2 <= np.ptp(rows) + 1 <= 16
