"""Several pages of one survey, and a server that dies: nothing acknowledged is lost."""

from __future__ import annotations

import json
import socket

import pytest
from bench_process import served
from playwright.sync_api import Error, expect


def set_distance(page, thing: str, metres: int) -> None:
    page.page.locator(".cards .card", has_text=thing).first.click()
    page.type_in("Distance", str(metres))


def things(folder) -> dict[str, dict]:
    survey = json.loads((folder / "survey.json").read_text(encoding="utf-8"))
    return {one["id"]: one for one in survey["obstructions"]}


def test_two_pages_never_overwrite_one_another_silently(serve, hands, folder) -> None:
    server = serve(folder)
    first, second = hands(server.address), hands(server.address)
    for page in (first, second):
        page.wait("state.survey && state.pose")
        page.step("mark")

    set_distance(first, "oak", 24)
    second.wait("state.survey.obstructions.find((one) => one.id === 'oak').distance_m === 24")
    expect(second.page.locator("#notices")).to_contain_text("Another page changed the survey")

    # The second page is cut off while the first goes on: it holds an old revision.
    second.page.context.set_offline(True)
    set_distance(first, "oak", 25)
    first.saved()
    set_distance(second, "oak", 26)
    expect(second.page.locator("#saved")).to_contain_text("Not saved yet")
    second.page.context.set_offline(False)
    expect(second.page.locator("#notices")).to_contain_text("Another page changed oak")
    assert things(folder)["oak"]["distance_m"] == 25
    assert (
        second.state("state.survey.obstructions.find((one) => one.id === 'oak').distance_m") == 26
    )
    second.button("Mine").click()
    second.saved()
    assert things(folder)["oak"]["distance_m"] == 26

    # Different things go side by side without a question.
    second.page.context.set_offline(True)
    set_distance(first, "apartments", 130)
    first.saved()
    set_distance(second, "oak", 27)
    second.page.context.set_offline(False)
    second.saved()
    second.wait("state.saved === 'saved'")
    stored = things(folder)
    assert (stored["oak"]["distance_m"], stored["apartments"]["distance_m"]) == (27, 130)


def port_of_its_own() -> str:
    """A port that no other test's server is given meanwhile."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return str(probe.getsockname()[1])


def test_a_killed_server_loses_nothing(hands, folder) -> None:
    port = port_of_its_own()
    with served(folder, "--port", port) as server:
        page = hands(server.home)
        page.wait("state.survey && state.pose")
        page.step("mark")
        set_distance(page, "oak", 24)
        page.saved()
        page.wait("state.saved === 'saved'")
        server.kill()
    assert things(folder)["oak"]["distance_m"] == 24
    set_distance(page, "apartments", 131)
    expect(page.page.locator("#saved")).to_contain_text("Not saved yet")
    with pytest.raises(Error, match="ERR_CONNECTION_REFUSED"):
        page.page.reload()
    apartments = "state.survey.obstructions.find((one) => one.id === 'apartments')"
    with served(folder, "--port", port) as again:
        page.open(again.home)
        page.wait("state.survey && state.saved === 'saved'")
        page.wait(f"{apartments}.distance_m === 131")
        assert things(folder)["apartments"]["distance_m"] == 131
        assert page.undo_all() == 2
