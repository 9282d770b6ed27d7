"""Spots side by side on the page: nothing is praised that the command line refuses."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from skyview.report.mount_words import refusal_sentence
from skyview.survey.mounts import mounts_of
from skyview.survey.storage import load


@pytest.mark.parametrize("size", ["phone", pytest.param("laptop", marks=pytest.mark.slow)])
def test_refused_spots_are_said_with_their_reason(sample_server, hands, size) -> None:
    found = mounts_of(load(sample_server.folder))
    page = hands(sample_server.address, size)
    page.wait("state.survey && state.picture")
    page.step("spots")
    panel = page.page.locator("#work")
    refused = [row for row in found.rows if row.refused]
    assert len(refused) == 3
    for row in refused:
        said = refusal_sentence(row.refused)
        expect(panel).to_contain_text(f"{row.spot} at {row.antenna_height_m:.1f} m: {said}")
    page.wait("state.spots?.state === 'done'")
    expect(panel).to_contain_text(f"Best by what is known: {found.best[0]}")
    heads = page.page.locator(".spots thead th")
    told = dict(
        page.page.evaluate(
            """() => [...document.querySelectorAll('.spots thead th')].slice(1).map((one) => [
                one.querySelector('button').textContent, one.querySelector('b')?.textContent])"""
        )
    )
    assert heads.count() == len(found.rows) + 1
    name = {(row.spot, row.antenna_height_m): f"{row.spot}, {row.antenna_height_m:.1f} m"
            for row in found.rows}  # fmt: skip
    assert {place for place, word in told.items() if word == "refused"} == {
        name[row.spot, row.antenna_height_m] for row in refused
    }
    assert {p for p, word in told.items() if word == "best"} == {name[found.best]}


def test_a_refused_mast_is_said_beside_the_mast(sample_server, hands) -> None:
    page = hands(sample_server.address)
    page.step("answer")
    page.page.get_by_role("group", name="Spot").get_by_role("button", name="ridge").click()
    page.wait("state.heights?.spot === 'ridge' && state.heights.refused.some(Boolean)")
    slider = page.page.get_by_role("slider")
    slider.press("Home")
    expect(page.page.locator("#mast")).not_to_contain_text("Refused here")
    for _ in range(12):
        slider.press("ArrowUp")
    expect(page.page.locator("#mast")).to_contain_text("Refused here")
    expect(page.page.locator("#work")).to_contain_text("ridge at 3.0 m is refused: the power line")


def test_a_new_limit_takes_the_praise_away_at_once(serve, hands, small_folder) -> None:
    """What was best before a change is not shown as best after it, saved or not."""
    page = hands(serve(small_folder).address)
    page.wait("state.survey && state.picture")
    page.step("spots")
    page.wait("state.spots?.state === 'done'")
    best = page.page.get_by_text("Best by what is known")
    expect(best).to_be_visible()
    page.page.route("**/api/changes", lambda route: route.abort())
    page.page.get_by_label("Power lines were looked for on the spot").uncheck()
    expect(page.page.locator("#work")).to_contain_text("This waits until the last change is saved")
    expect(best).to_have_count(0)
    page.page.unroute("**/api/changes")
    expect(page.page.locator("#work .trouble")).to_contain_text("power lines were looked for")
    assert page.page.locator(".spots").count() == 0
    expect(best).to_have_count(0)
    page.page.get_by_label("Power lines were looked for on the spot").check()
    expect(best).to_be_visible()
