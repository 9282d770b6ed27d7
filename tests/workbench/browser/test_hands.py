"""Taps and presses that come at an odd moment: quick ones, and while the page changes."""

from __future__ import annotations

import pytest

STORE = "const { set, state } = await import('/static/js/state/store.js');"


def begun(page) -> None:
    """Marking, with an outline's corners in hand."""
    page.wait("state.survey && state.pose && state.picture")
    page.step("mark")
    page.button("Outline").click()
    page.wait("state.tool === 'corners' && state.frame")
    page.frames()


def test_quick_taps_at_four_corners_leave_the_shape_open(sample_server, hands) -> None:
    page = hands(sample_server.address, "phone")
    begun(page)
    corners = [(1500, 300), (1700, 300), (1700, 400), (1500, 400)]
    for corner in corners:
        page.tap(*corner)
    page.frames()
    assert page.state("state.tool") == "corners"
    assert page.state("state.draft.points") == [pytest.approx(c, abs=2) for c in corners]


def test_a_double_click_closes_the_shape(serve, hands, folder) -> None:
    page = hands(serve(folder).address)
    begun(page)
    before = page.state("state.survey.outlines.length")
    for corner in [(2500, 300), (2900, 300), (2900, 500)]:
        page.tap(*corner)
        # Long enough for two clicks at one place of the window to be two.
        page.page.wait_for_timeout(700)
    x, y = page.bring(2500, 500)
    page.page.mouse.dblclick(x, y)
    page.wait(f"state.saved === 'saved' && state.survey.outlines.length === {before + 1}")
    assert len(page.state("state.survey.outlines.at(-1).rings_px[0]")) == 4
    assert page.state("state.tool") == "look"


def test_a_button_that_is_held_waits_with_the_page_for_its_click(sample_server, hands) -> None:
    page = hands(sample_server.address)
    page.wait("state.survey && state.pose && state.picture")
    page.step("mark")
    target = page.page.get_by_role("button", name="mast", exact=True)
    target.scroll_into_view_if_needed()
    box = target.bounding_box()
    page.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.page.mouse.down()
    # Views come and go from another page: the buttons beside this one move along.
    page.page.evaluate(
        f"""async () => {{ {STORE}
            const [first, ...rest] = state.survey.views;
            const views = [first, {{ ...first, id: 'attic' }}, ...rest];
            set({{ survey: {{ ...state.survey, views }} }});
        }}"""
    )
    page.frames()
    page.page.mouse.up()
    page.wait("state.view === 'mast'")
    page.page.get_by_role("button", name="attic", exact=True).wait_for()
