"""A panorama joined from frames: opened, marked in the page beside marks made in its frames."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

from skyview.cli.main import run
from skyview.survey.storage import load
from skyview.survey.sweeps import in_panorama

SAMPLES = Path(__file__).parents[3] / "sample_images"
FRAMES = [SAMPLES / f"turn_{number}.jpg" for number in (6, 7, 8)]
WATER_TOWER, LATTICE_TOP = ("turn_8.jpg", 612, 365), ("turn_6.jpg", 419, 292)
"""Where the two landmarks stand in the sample frames."""


def done(*words: object) -> None:
    """A verb of the command line that ends well."""
    with pytest.raises(SystemExit) as leaving:
        run([str(word) for word in words])
    assert leaving.value.code == 0


@pytest.fixture(scope="module")
def joined_folder(sample_folder, tmp_path_factory) -> Path:
    """The sample survey with a panorama of three frames, and a mark made in one of them."""
    home = tmp_path_factory.mktemp("joined")
    folder = Path(shutil.copytree(sample_folder, home / "survey"))
    done("sweep", *FRAMES, "-o", home / "joined.jpg", "--into", folder, "--spot", "ridge")
    frame, x, y = WATER_TOWER
    done("mark", "point", folder, "joined", x, y, "--landmark", "water_tower", "--frame", frame,
         "--id", "in_frame")  # fmt: skip
    return folder


@pytest.mark.parametrize("size", ["phone", pytest.param("laptop", marks=pytest.mark.slow)])
def test_a_joined_panorama_is_marked(serve, hands, joined_folder, tmp_path, size) -> None:
    folder = Path(shutil.copytree(joined_folder, tmp_path / "survey"))
    frame, x, y = WATER_TOWER
    view = next(one for one in load(folder).views if one.id == "joined")

    page = hands(serve(folder).address, size)
    expect(page.page.locator("#work")).to_contain_text("from 3 frames")
    page.step("mark")
    page.page.get_by_role("button", name="joined", exact=True).click()
    page.wait("state.view === 'joined' && state.picture && state.angles && state.pose?.in_picture")
    [placed] = page.state("state.pose.in_picture")
    expected = [float(v[0]) for v in in_panorama(view, frame, [x], [y])[:2]]
    assert placed["mark"] == "in_frame"
    assert placed["points_px"][0] == pytest.approx(expected, abs=0.6)
    expect(page.page.locator(".card", has_text="water_tower")).to_be_visible()

    page.button("Landmark").click()
    page.page.get_by_label("Which", exact=True).select_option("lattice_top")
    frame, x, y = LATTICE_TOP
    before = page.state("state.revision")
    page.tap(*(float(v[0]) for v in in_panorama(view, frame, [x], [y])[:2]))
    page.wait(f"state.revision > {before} && state.saved === 'saved'")
    page.wait("state.pose?.residuals?.length === 2")
    offs = [one["azimuth_residual_deg"] for one in page.state("state.pose.residuals")]
    assert max(map(abs, offs)) < 0.3
    assert page.state("state.pose.azimuth_sigma_deg") < 1.0
    marks = {one.landmark: one for one in load(folder).marks if one.view == "joined"}
    assert marks["water_tower"].frame == "turn_8.jpg"
    assert marks["lattice_top"].frame is None
