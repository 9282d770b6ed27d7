"""Every state of the page without a violation of axe's rules, by day and in the evening."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}


def violations(page) -> list[str]:
    found = Axe().run(page.page, options=RULES).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:160]} ({one['help']})" for one in found]


SMALL = """() => [...document.querySelectorAll('button, select, input, summary, [role=slider]')]
    .filter((one) => one.checkVisibility() && !one.classList.contains('hide'))
    .map((one) => [one, (one.closest('label') ?? one).getBoundingClientRect()])
    .filter(([one, box]) => box.height < 43.5 || box.width < 43.5)
    .filter(([one]) => one.getAttribute('role') !== 'slider')
    .map(([one, box]) => `${one.outerHTML.slice(0, 90)} ${box.width}x${box.height}`)"""
"""What is smaller than a thumb."""

OTHERS = [
    pytest.param("laptop", "dark", marks=pytest.mark.slow),
    pytest.param("phone", "light", marks=pytest.mark.slow),
]


@pytest.mark.parametrize(
    ("size", "scheme"),
    [("laptop", "light"), pytest.param("phone", "dark", marks=pytest.mark.slow), *OTHERS],
)
def test_each_step_of_a_full_survey(sample_server, hands, size, scheme) -> None:
    page = hands(sample_server.address, size, scheme)
    page.wait("state.survey && state.pose && state.picture")
    assert violations(page) == []
    page.step("mark")
    page.page.locator(".cards .card", has_text="oak").first.click()
    assert violations(page) == []
    page.button("Landmark").click()
    assert violations(page) == []
    page.step("answer")
    page.wait("state.paths?.rows?.length")
    page.page.locator(".stations .call", has_text="QPEL").click()
    page.wait("state.why?.station === 'QPEL'")
    assert violations(page) == []
    page.step("spots")
    page.wait("state.spots?.state === 'done'")
    page.frames()
    assert violations(page) == []


@pytest.mark.parametrize(("size", "scheme"), [("phone", "dark"), *OTHERS])
def test_teaching_the_sky(serve, hands, looked_folder, tmp_path, size, scheme) -> None:
    server = serve(Path(shutil.copytree(looked_folder, tmp_path / "survey")))
    page = hands(server.address, size, scheme)
    page.wait("state.survey && state.pose && state.picture")
    page.step("mark")
    page.page.get_by_role("button", name="gable", exact=True).click()
    page.button("This is not sky").click()
    page.wait("state.frame?.first === false && state.proposals?.found")
    page.tap(1500, 900)
    page.button("Forget the strokes").wait_for()
    assert violations(page) == []
    if page.touch:
        assert page.page.evaluate(SMALL) == []


@pytest.mark.parametrize(("size", "scheme"), [("phone", "light"), *OTHERS[:1]])
def test_an_empty_survey_and_a_trouble(serve, hands, tmp_path, size, scheme) -> None:
    page = hands(serve(tmp_path / "new").address, size, scheme)
    page.wait("state.ready")
    assert violations(page) == []
    (tmp_path / "note.jpg").write_text("no picture", encoding="utf-8")
    page.page.locator("#photo-file").set_input_files(tmp_path / "note.jpg")
    page.wait("state.troubles.photo")
    assert violations(page) == []


def test_targets_are_as_large_as_a_thumb(sample_server, hands) -> None:
    page = hands(sample_server.address, "phone")
    page.wait("state.survey && state.pose")
    there = {
        "photos": "state.next",
        "mark": "state.angles",
        "answer": "state.paths?.rows?.length && state.heights",
        "spots": "state.spots?.state === 'done'",
    }
    for step, awaited in there.items():
        page.step(step)
        page.wait(awaited)
        page.frames()
        assert page.page.evaluate(SMALL) == []
        across = page.page.evaluate("document.documentElement.scrollWidth")
        assert across <= 390
