"""The whole job, from an empty survey to the answer, by thumb and by mouse; then all undone."""

from __future__ import annotations

import json

import pytest
from playwright.sync_api import expect

from skyview.survey.samples import samples_folder
from skyview.survey.storage import load

SAMPLE = json.loads((samples_folder() / "demo_survey.json").read_text(encoding="utf-8"))
LANDMARKS = {one["id"]: one for one in SAMPLE["landmarks"]}
PIXELS = {
    one["landmark"]: one["points_px"][0]
    for one in SAMPLE["marks"]
    if one["view"] == "sweep" and one["kind"] == "landmark"
}
APARTMENTS = [[764, 655], [1058, 655], [1057, 900], [763, 960]]


def mark_landmark(hands, name: str) -> None:
    """Types where a landmark is and taps it."""
    place = LANDMARKS[name]
    hands.button("Landmark").click()
    hands.type_in("Name", name)
    hands.type_in("Latitude", str(place["latitude_deg"]))
    hands.type_in("Longitude", str(place["longitude_deg"]))
    hands.type_in("Top above sea, if known", str(place["top_amsl_m"]))
    before = hands.state("state.revision")
    hands.tap(*PIXELS[name])
    hands.wait(f"state.revision > {before} && state.saved === 'saved'")


@pytest.mark.parametrize("size", ["phone", pytest.param("laptop", marks=pytest.mark.slow)])
def test_from_nothing_to_the_answer_and_back(serve, hands, tmp_path, size) -> None:
    folder = tmp_path / "new"
    server = serve(folder)
    page = hands(server.address, size)

    expect(page.page.locator("#blank")).to_contain_text("Begin with the view from the roof")
    page.page.locator("#photo-file").set_input_files(samples_folder() / "ridge_sweep.jpg")
    page.wait("state.picture && state.angles && state.saved === 'saved'")
    expect(page.page.locator("#work")).to_contain_text("power lines were looked for")

    page.button("Add a spot below the camera").click()
    page.wait("state.survey.spots?.length === 1")

    page.page.locator("#station-file").set_input_files(samples_folder() / "stations.csv")
    page.wait("state.survey.stations?.length === 12")

    page.step("mark")
    for name in ("lattice_top", "water_tower"):
        mark_landmark(page, name)
    page.wait("state.pose?.calibrated")
    assert page.state("state.pose.azimuth_sigma_deg") < 2
    assert len(page.state("state.pose.residuals")) == 2
    expect(page.page.locator("#work")).to_contain_text("Bearings good to")

    page.button("Outline").click()
    for corner in APARTMENTS:
        page.tap(*corner)
    page.button("Close the shape").click()
    page.page.get_by_label("Kind", exact=True).select_option("building")
    page.type_in("Distance", "128")
    page.wait("state.saved === 'saved' && state.survey.obstructions[0].distance_m === 128")
    assert page.state("state.survey.obstructions[0].kind") == "building"
    drawn = page.state("state.survey.outlines[0].rings_px[0]")
    assert all(
        abs(a - b) < 6
        for p, q in zip(drawn, APARTMENTS, strict=True)
        for a, b in zip(p, q, strict=True)
    )

    page.step("answer")
    expect(page.page.locator(".stations tbody tr")).to_have_count(12)
    page.page.locator(".stations .call", has_text="QPEL").click()
    expect(page.page.locator(".why h2")).to_contain_text("QPEL")
    expect(page.page.locator(".why .say")).not_to_have_text("Working out why …")
    assert page.page.locator("#overlay .layer-station .mark").count() > 0
    row = page.state("state.paths.rows.find((one) => one.station === 'QPEL')")
    assert row["obstruction"] == page.state("state.survey.obstructions[0].id")

    on_disk = load(folder)
    assert on_disk.revision == page.state("state.revision")
    assert len(on_disk.marks) == 2
    assert page.undo_all() >= 7
    undone = load(folder)
    assert (undone.marks, undone.outlines, undone.stations, undone.landmarks) == ([], [], [], [])
