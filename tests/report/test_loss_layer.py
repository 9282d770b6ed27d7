"""The loss layer on the sheet: steps of tint, lines, what is hidden and what stays."""

from __future__ import annotations

import io
from collections.abc import Callable
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image

from skyview.errors import InputError
from skyview.report import ink, words
from skyview.report.frame import Window
from skyview.report.loss_plate import draw_loss_plates
from skyview.report.loss_steps import FAINT_DB, SPECK_DEG2, STEPS, drawn_loss
from skyview.survey.loss_view import LossLayer
from skyview.survey.results import Plate

SVG = "{http://www.w3.org/2000/svg}"


def make_layer(
    loss: Callable[[np.ndarray, np.ndarray], np.ndarray], mhz: float = 515.0
) -> LossLayer:
    azimuth, elevation = np.linspace(-60.0, 140.0, 801), np.linspace(0.0, 38.0, 153)
    return LossLayer(mhz, azimuth, elevation, loss(*np.meshgrid(azimuth, elevation)), 1.0)


def mountain(azimuth: np.ndarray, elevation: np.ndarray) -> np.ndarray:
    """30 dB at azimuth 60, level; 1 dB 29 degrees away."""
    return 30.0 - np.hypot(azimuth - 60.0, elevation)


def drawn(
    plate: Plate, layers: list[LossLayer], file_format: str = "png", width: int = 2200
) -> bytes:
    out = io.BytesIO()
    draw_loss_plates(plate, layers, out, file_format=file_format, width_px=width)
    return out.getvalue()


def pixels(content: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(content)) as picture:
        return np.asarray(picture.convert("RGB"), float)


def texts(content: bytes) -> list[str]:
    return ["".join(node.itertext()) for node in ElementTree.fromstring(content).iter(f"{SVG}text")]


def test_lines_carry_their_figures_and_the_sheet_its_words(make_plate) -> None:
    shown = texts(drawn(make_plate(), [make_layer(mountain), make_layer(mountain, 69.0)], "svg"))
    assert {"1 dB", "6", "12", "20"} <= set(shown)
    assert "515 MHz (RF channel 21)" in shown
    assert "69 MHz" in shown
    for step in ("under 1 dB", "1 to 6 dB", "6 to 12 dB", "12 to 20 dB", "over 20 dB"):
        assert shown.count(step) == 1
    assert words.loss_heading(make_plate()) in shown


def test_tags_are_hidden_and_marks_stay(make_plate) -> None:
    content = drawn(make_plate(), [make_layer(mountain)], "svg")
    for row in make_plate().rows:
        assert row.station not in texts(content)
    for path in ("through_trees", "grazing", "blocked"):
        assert ink.WORD_COLOURS[path].lower() in content.decode().lower()


def test_two_layers_are_two_plates_one_above_the_other(make_plate) -> None:
    one, two = (pixels(drawn(make_plate(), [make_layer(mountain)] * n)) for n in (1, 2))
    assert two.shape[0] > 1.5 * one.shape[0]
    assert two.shape[1] == one.shape[1] == 2200


@pytest.mark.parametrize(("loss_db", "opacity"), [(0.0, 0.0), (3.0, 0.16), (8.0, 0.30),
                                                  (15.0, 0.44), (40.0, 0.58)])  # fmt: skip
def test_the_tint_has_the_opacity_of_its_step(make_plate, loss_db: float, opacity: float) -> None:
    plate = make_plate(rows=(), silhouettes=(), selected=None, fresnel=None)
    bare, tinted = (
        pixels(drawn(plate, [make_layer(lambda a, e, v=v: np.full(a.shape, v))]))
        for v in (0.0, loss_db)
    )
    window = _window(bare)
    x, y = int(window.x(26.0)), int(window.y(16.0))
    expected = (1.0 - opacity) * bare[y, x] + opacity * 255.0 * np.array(to_rgb(ink.TINT))
    assert np.abs(tinted[y, x] - expected).max() < 2.0


def test_nothing_is_drawn_below_level(make_plate) -> None:
    plate = make_plate(elevation_sigma_deg=0.05)
    bare, tinted = (
        pixels(drawn(plate, [make_layer(loss)])) for loss in (lambda a, e: 0.0 * a, mountain)
    )
    window = _window(bare)
    below, above = int(window.y(-1.5)), int(window.y(1.5))
    low = slice(below, int(window.y(-12.0)))
    assert np.array_equal(bare[low], tinted[low])
    assert not np.array_equal(bare[above], tinted[above])


def _window(picture: np.ndarray) -> Window:
    """The plate's window on a sheet 2200 px wide, found by its frame's dark lines."""
    dark = picture.sum(axis=2) < 150.0
    top = int(np.flatnonzero(dark[:, 300:1900].mean(axis=1) > 0.9)[0])
    columns = np.flatnonzero(dark[top + 5 : top + 300].mean(axis=0) > 0.9)
    width = int(columns[-1] - columns[0])
    height = round(width * 51.0 / 200.0)
    return Window(-60.0, 140.0, -13.0, 38.0, float(columns[0]), float(top), width, height)


def test_specks_and_faint_islands_are_left_out_and_broad_ones_stay(make_plate) -> None:
    def islands(azimuth: np.ndarray, elevation: np.ndarray) -> np.ndarray:
        loss = np.zeros(azimuth.shape)
        for middle, half, height in ((0.0, 0.6, 30.0), (40.0, 8.0, 1.0 + 0.5 * FAINT_DB),
                                     (80.0, 8.0, 9.0)):  # fmt: skip
            loss[np.hypot(azimuth - middle, elevation - 15.0) < half] = height
        return loss

    loss = drawn_loss(make_layer(islands), make_plate())
    azimuth = np.linspace(-60.0, 140.0, 801)
    assert np.pi * 0.6**2 < SPECK_DEG2
    assert np.nanmax(loss[:, np.abs(azimuth) < 5.0]) <= 1.0
    assert np.nanmax(loss[:, np.abs(azimuth - 40.0) < 10.0]) <= 1.0
    assert loss[60, np.argmin(np.abs(azimuth - 80.0))] == pytest.approx(9.0, abs=0.05)


def test_where_no_photograph_reaches_nothing_is_drawn(make_plate) -> None:
    def reach(azimuth: np.ndarray, elevation: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        outside = np.asarray(elevation) > 20.0
        return np.where(outside, np.nan, azimuth), np.where(outside, np.nan, elevation)

    layer = make_layer(mountain)
    loss = drawn_loss(layer, make_plate(pixel_of=reach))
    assert np.isnan(loss[layer.elevation_deg > 20.0]).all()
    assert np.isfinite(loss[layer.elevation_deg <= 20.0]).all()


def test_steps_are_those_of_the_legend_and_rise() -> None:
    assert [step.level_db for step in STEPS] == [1.0, 6.0, 12.0, 20.0]
    assert [step.opacity for step in STEPS] == [0.16, 0.30, 0.44, 0.58]
    assert max(STEPS, key=lambda step: step.weight).level_db == 6.0
    assert [step.level_db for step in STEPS if step.dash] == [12.0]


@pytest.mark.parametrize("file_format", ["png", "svg", "pdf"])
def test_the_same_layer_gives_the_same_bytes(make_plate, file_format: str) -> None:
    first, second = (drawn(make_plate(), [make_layer(mountain)], file_format, 900) for _ in "ab")
    assert first == second


def test_an_unknown_format_is_refused(make_plate) -> None:
    with pytest.raises(InputError, match="gif"):
        drawn(make_plate(), [make_layer(mountain)], "gif")
