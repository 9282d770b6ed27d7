"""Teaching the sky's edge on the page: by thumb, by mouse and by keys."""

from __future__ import annotations

import shutil
import time
from itertools import pairwise
from pathlib import Path

import pytest
from page_hands import PATIENCE_S
from PIL import Image
from playwright.sync_api import expect

CIRCLE = Path(__file__).parents[3] / "sample_images" / "gable_circle.jpg"
SIZES = ["phone", "laptop"]
READY = (
    "state.survey && state.pose && state.picture?.view === 'gable' && state.frame?.first === false"
)
SKY, SOLID = "This is sky", "This is not sky"
JOBS = "Object.values(state.jobs).filter((job) => job.kind === 'skyline')"
QUIET = f"{JOBS}.length && !{JOBS}.some((job) => job.state === 'working')"
DRAWN_PX = 0.2
"""Pixels are given to a tenth, and marks are drawn to one."""


@pytest.fixture
def taught(serve, hands, looked_folder, tmp_path):
    """Opens a view in which outlines are proposed, and what its page asks of the finder."""

    def taught_(size: str):
        server = serve(Path(shutil.copytree(looked_folder, tmp_path / "survey")))
        page = hands(server.address, size)
        asked = []
        page.page.on(
            "response",
            lambda one: (
                one.url.endswith("/api/skyline") and asked.append(one.request.post_data_json)
            ),
        )
        page.wait("state.survey && state.picture && state.frame")
        page.step("mark")
        page.page.get_by_role("button", name="gable", exact=True).click()
        page.wait(f"{READY} && state.proposals?.found")
        return page, asked

    return taught_


def draw(page, path, steps: int = 12) -> None:
    """Draws along corners in picture pixels with a finger or the mouse."""
    page.frames()
    corners = page.page.evaluate(
        """async (path) => {
            const { state } = await import('/static/js/state/store.js');
            const { toScreen } = await import('/static/js/geometry.js');
            const box = document.getElementById('overlay').getBoundingClientRect();
            return path.map((point) => toScreen(state.frame, point))
                .map(([x, y]) => [x + box.left, y + box.top]);
        }""",
        path,
    )
    way = [corners[0]]
    for (ax, ay), (bx, by) in pairwise(corners):
        way += [
            (ax + (bx - ax) * i / steps, ay + (by - ay) * i / steps) for i in range(1, steps + 1)
        ]
    if not page.touch:
        page.page.mouse.move(*way[0])
        page.page.mouse.down()
        for point in way[1:]:
            page.page.mouse.move(*point)
        page.page.mouse.up()
        return
    touch = page.page.context.new_cdp_session(page.page)
    for kind, points in (
        ("touchStart", way[:1]),
        *(("touchMove", [point]) for point in way[1:]),
        ("touchEnd", []),
    ):
        places = [{"x": x, "y": y} for x, y in points]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": places})


def close(page, pixel, other) -> None:
    """Whether a pixel is meant: nothing finer than the window's own pixels can be shown."""
    assert pixel == pytest.approx(other, abs=1.0 / page.state("state.frame.scale") + DRAWN_PX)


def heard(page, asked, sky: int, solid: int) -> None:
    """Waits until the finder was asked with so many pixels of each kind."""
    end = time.monotonic() + PATIENCE_S
    while not asked or (len(asked[-1]["sky"]), len(asked[-1]["solid"])) != (sky, solid):
        assert time.monotonic() < end, asked
        page.page.wait_for_timeout(40)
    page.frames()


def answered(page, asked, sky: int, solid: int) -> None:
    """Waits until the finder was asked so, and has answered."""
    heard(page, asked, sky, solid)
    page.wait(QUIET)


@pytest.mark.parametrize("size", ["phone", pytest.param("laptop", marks=pytest.mark.slow)])
def test_a_tap_says_what_its_pixel_is(taught, size) -> None:
    page, asked = taught(size)
    page.button(SOLID).click()
    page.tap(1200, 900)
    expect(page.page.locator("#overlay .stroke.s-solid")).to_have_count(1)
    heard(page, asked, 0, 1)
    [first] = asked
    assert (first["view"], first["sky"]) == ("gable", [])
    close(page, first["solid"][0], [1200, 900])
    assert len(first["solid"]) == 1
    scale = page.state("state.frame.scale")

    for _ in range(3):
        page.button("Closer").click()
    assert page.state("state.frame.scale") > 2 * scale
    page.tap(1404, 710)
    expect(page.page.locator("#overlay .stroke.s-solid")).to_have_count(2)
    heard(page, asked, 0, 2)
    assert asked[1]["solid"][0] == first["solid"][0]
    close(page, asked[1]["solid"][1], [1404, 710])
    assert page.state("state.tool") == "solid"


@pytest.mark.parametrize("size", SIZES)
def test_a_drag_gives_five_pixels_on_its_way(taught, size) -> None:
    page, asked = taught(size)
    page.button(SKY).click()
    page.bring(1500, 500)
    reach = 60.0 / page.state("state.frame.scale")
    corner = [1500, 500]
    draw(page, [[1500 - reach, 500], corner, [1500, 500 + reach]])
    expect(page.page.locator("#overlay .stroke.s-sky")).to_have_count(5)
    heard(page, asked, 5, 0)
    [body] = asked
    assert body["solid"] == []
    wanted = [[1500 - reach, 500], [1500 - reach / 2, 500], corner, [1500, 500 + reach / 2],
              [1500, 500 + reach]]  # fmt: skip
    for pixel, other in zip(body["sky"], wanted, strict=True):
        close(page, pixel, other)

    short = 24.0 / page.state("state.frame.scale")
    draw(page, [[1500 + short, 450], [1500 + 2 * short, 450]])
    expect(page.page.locator("#overlay .stroke.s-sky")).to_have_count(7)
    heard(page, asked, 7, 0)


@pytest.mark.parametrize("size", ["phone", pytest.param("laptop", marks=pytest.mark.slow)])
def test_strokes_add_up_and_are_taken_back(taught, size) -> None:
    page, asked = taught(size)
    rings = page.page.locator("#overlay .stroke circle.line")
    crosses = page.page.locator("#overlay .stroke path.line")
    page.button(SOLID).click()
    page.tap(1200, 900)
    page.page.get_by_role("group", name="What you touch is").get_by_role(
        "button", name="sky", exact=True
    ).click()
    page.wait("state.tool === 'sky'")
    page.tap(1230, 300)
    page.wait("state.strokes.gable.made.length === 2")
    expect(rings).to_have_count(1)
    expect(crosses).to_have_count(1)
    answered(page, asked, 1, 1)
    said = page.page.locator(".held [role=status]")
    sure = page.state("state.proposals.sure")
    expect(said).to_contain_text("was found" if sure else "not sure")

    page.button("Take back the last stroke").click()
    expect(rings).to_have_count(0)
    heard(page, asked, 0, 1)
    page.tap(1260, 320)
    page.wait("state.strokes.gable.made.length === 2")
    page.button("Forget the strokes").click()
    expect(page.page.locator("#overlay .stroke")).to_have_count(0)
    answered(page, asked, 0, 0)
    states = page.state(f"{JOBS}.map((job) => job.state)")
    assert states[-1] == "done"
    assert set(states) <= {"done", "cancelled"}

    page.page.keyboard.press("Escape")
    page.wait("state.tool === 'look'")
    expect(page.button(SOLID)).to_have_attribute("aria-pressed", "false")


def test_a_second_stroke_goes_before_the_first_one_s_answer(taught) -> None:
    page, asked = taught("laptop")
    before = page.state("state.proposals.line_px")
    page.button(SOLID).click()
    for x in (1200, 1500, 1800):
        page.tap(x, 300)
    answered(page, asked, 0, 3)
    states = page.state(f"{JOBS}.map((job) => job.state)")
    assert states == ["cancelled"] * (len(states) - 1) + ["done"]
    page.wait(f"JSON.stringify(state.proposals?.line_px) !== JSON.stringify({before})")
    assert page.page.locator("#overlay .line.proposed").count() > 0


def test_keys_alone(taught) -> None:
    page, asked = taught("laptop")
    page.button(SOLID).click()
    page.page.locator("#overlay").focus()
    for key in ("ArrowDown", "ArrowDown", "Enter"):
        page.page.keyboard.press(key)
    expect(page.page.locator("#overlay .stroke.s-solid")).to_have_count(1)
    cursor = page.state("state.cursor")
    heard(page, asked, 0, 1)
    page.page.keyboard.press("Delete")
    expect(page.page.locator("#overlay .stroke")).to_have_count(0)
    heard(page, asked, 0, 0)
    assert asked[0]["solid"][0] == pytest.approx(cursor, abs=DRAWN_PX)
    page.page.keyboard.press("Escape")
    page.wait("state.tool === 'look' && state.cursor === null")


def test_escape_under_a_pressed_button_leaves_no_stroke(taught) -> None:
    page, asked = taught("laptop")
    page.button(SOLID).click()
    x, y = page.bring(1500, 700)
    page.page.mouse.move(x, y)
    page.page.mouse.down()
    page.page.mouse.move(x + 40, y + 10, steps=4)
    page.page.keyboard.press("Escape")
    page.wait("state.tool === 'look'")
    page.page.mouse.up()
    page.frames()
    assert (page.state("state.strokes"), page.state("state.draft"), asked) == ({}, None, [])


def test_strokes_belong_to_a_view_and_its_picture(taught, tmp_path) -> None:
    page, _ = taught("laptop")
    page.button(SOLID).click()
    page.tap(1500, 900)
    expect(page.page.locator("#overlay .stroke")).to_have_count(1)
    choice = page.page.get_by_role("group", name="Picture", exact=True)
    choice.get_by_role("button", name="mast", exact=True).click()
    page.wait("state.picture?.view === 'mast'")
    expect(page.page.locator("#overlay .stroke")).to_have_count(0)
    choice.get_by_role("button", name="gable", exact=True).click()
    expect(page.page.locator("#overlay .stroke")).to_have_count(1)
    page.wait(f"{READY} && {QUIET}")

    key = page.state("state.picture.key")
    photo = Path(page.state("state.survey.views.find((one) => one.id === 'gable').photo"))
    file = tmp_path / "survey" / photo
    with Image.open(file) as picture:
        picture.load()
        picture.save(file, quality=60, exif=picture.getexif())
    page.page.get_by_role("button", name="Look", exact=True).click()
    page.page.locator(".cards .card", has_text="oak").first.click()
    page.type_in("Distance", "24")
    page.wait(f"state.saved === 'saved' && state.picture && state.picture.key !== '{key}'")
    page.wait("!state.strokes.gable")


def test_a_stroke_over_the_seam_of_a_full_circle(serve, hands, tmp_path) -> None:
    page = hands(serve(tmp_path / "circle").address)
    page.page.locator("#photo-file").set_input_files(CIRCLE)
    page.wait("state.picture?.state === 'ready' && state.angles && state.frame")
    page.step("mark")
    page.page.evaluate(
        """async () => {
            const { set } = await import('/static/js/state/store.js');
            set({ tool: 'sky' });
        }"""
    )
    wide = page.state("state.picture.width_px")
    page.bring(wide, 300)
    reach = 60.0 / page.state("state.frame.scale")
    draw(page, [[wide - reach, 300], [wide + reach, 300]])
    page.wait("state.strokes[state.view]?.made.length")
    columns = [x for x, _ in page.state("state.strokes[state.view].made[0].points_px")]
    assert all(0 <= x < wide for x in columns)
    wanted = [wide - reach, wide - reach / 2, 0, reach / 2, reach]
    for x, other in zip(columns, wanted, strict=True):
        close(page, (x - other + wide / 2) % wide - wide / 2, 0)
    assert "skyline" not in page.state("state.troubles")
