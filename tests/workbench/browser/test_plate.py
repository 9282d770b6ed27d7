"""The plate: angles under the pointer, zoom, the seam of a full circle, keys alone, tags."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from bench_ground import write_ridge
from playwright.sync_api import expect

CIRCLE = Path(__file__).parents[3] / "sample_images" / "gable_circle.jpg"


GEOMETRY = "const G = await import('/static/js/geometry.js');"
STORE = "const { state } = await import('/static/js/state/store.js');"


def ready(page) -> None:
    page.wait("state.survey && state.pose && state.angles && state.frame && state.picture")


def test_angles_from_the_tables_are_those_of_the_server(sample_server, hands) -> None:
    page = hands(sample_server.address)
    ready(page)
    worst, back = page.page.evaluate(
        f"""async () => {{ {GEOMETRY} {STORE}
            const points = [];
            for (let i = 0; i < 60; i += 1) {{
                points.push([60 + 83.7 * i, 300 + ((i * 137.3) % 1000)]);
            }}
            const query = points.map(([x, y]) => `x=${{x}}&y=${{y}}`).join('&');
            const asked = await fetch(`/api/locate?view=${{state.view}}&${{query}}`);
            const answer = await asked.json();
            let [worst, back] = [0, 0];
            answer.rows.forEach((row, i) => {{
                const at = G.anglesAt(state.angles, points[i], null);
                const across = Math.abs(((at.azimuth - row.azimuth_deg + 540) % 360) - 180);
                worst = Math.max(worst, across, Math.abs(at.elevation - row.elevation_deg));
                const [x, y] = G.pointAt(state.angles, row.azimuth_deg, row.elevation_deg);
                back = Math.max(back, Math.hypot(x - points[i][0], y - points[i][1]));
            }});
            return [worst, back];
        }}"""
    )
    assert worst <= page.state("state.angles.error_deg") + 1e-3
    assert back < 2.0


def test_read_out_follows_the_pointer(sample_server, hands) -> None:
    page = hands(sample_server.address)
    ready(page)
    x, y = page.bring(2500, 800)
    page.page.mouse.move(x, y)
    expect(page.page.locator("#readout")).to_contain_text("true")
    expect(page.page.locator("#readout")).to_contain_text("magn.")
    assert page.page.locator("#readout").inner_text().count("±") == 2


WINDOWS = {"laptop": (1440, 900), "small laptop": (1280, 720), "tablet": (768, 1024),
           "phone": (390, 844)}  # fmt: skip


@pytest.mark.parametrize("window", WINDOWS)
def test_read_out_covers_nothing_else(sample_server, hands, window) -> None:
    page = hands(sample_server.address, "phone" if window == "phone" else "laptop")
    wide, high = WINDOWS[window]
    page.page.set_viewport_size({"width": wide, "height": high})
    ready(page)
    page.step("answer")
    page.wait("state.paths && state.paths.rows.length")
    x, y = page.bring(2500, 700)
    if not page.touch:
        page.button("Closer").click()
    page.page.mouse.move(x, y)
    expect(page.page.locator("#readout")).to_contain_text("°")
    page.frames()
    assert page.page.locator("#overlay .chip").count() == 2
    others = page.page.evaluate(
        """() => ['.chip', '.tag', '.layer-name text', '.zoomers', '#border', '#mast'].flatMap(
            (kind) => [...document.querySelectorAll(kind)].map((one) => {
                const box = (one) => one.getBoundingClientRect();
                const [a, b] = [box(one), box(document.getElementById('readout'))];
                const apart = a.right <= b.left || b.right <= a.left
                    || a.bottom <= b.top || b.bottom <= a.top;
                return [kind, one.textContent, apart];
            }))"""
    )
    assert {kind for kind, _, _ in others} >= {".chip", ".tag", ".zoomers", "#border"}
    assert [one for one in others if not one[2]] == []


def test_another_picture_shows_its_outlines(sample_server, hands) -> None:
    page = hands(sample_server.address)
    ready(page)
    page.step("mark")
    drawn = page.page.locator("#overlay .layer-shape path.line")
    for view in ("gable", "sweep", "mast"):
        page.page.get_by_role("button", name=view, exact=True).click()
        page.wait(f"state.picture?.view === '{view}' && state.angles?.view === '{view}'")
        page.wait("state.frame")
        page.frames()
        count = page.state(f"state.survey.outlines.filter((one) => one.view === '{view}').length")
        expect(drawn).to_have_count(count)
        assert count > 0


def test_wheel_keeps_the_point_under_the_pointer(sample_server, hands) -> None:
    page = hands(sample_server.address)
    ready(page)
    box = page.page.locator("#overlay").bounding_box()
    x, y = box["x"] + 400, box["y"] + 200
    place = "[400 / scale + left, 200 / scale + top]"
    under = f"(({{ scale, left, top }}) => {place})(state.frame)"
    page.page.mouse.move(x, y)
    before, scale = page.state(under), page.state("state.frame.scale")
    page.page.mouse.wheel(0, -300)
    page.wait(f"state.frame.scale > {1.5 * scale}")
    after = page.state(under)
    assert before == pytest.approx(after, abs=1.0)
    for _ in range(30):
        page.page.mouse.wheel(0, -600)
    page.wait("state.frame.scale === 8")
    for _ in range(30):
        page.page.mouse.wheel(0, 600)
    page.wait("Math.abs(state.frame.scale * 5151 - state.frame.width) < 1")


def test_pinch_zooms_about_the_fingers(sample_server, hands) -> None:
    page = hands(sample_server.address, "phone")
    ready(page)
    box = page.page.locator("#overlay").bounding_box()
    scale = page.state("state.frame.scale")
    touch = page.page.context.new_cdp_session(page.page)

    def send(kind: str, spread: float) -> None:
        middle_x, middle_y = box["x"] + 195, box["y"] + 140
        points = (
            []
            if kind == "touchEnd"
            else [(middle_x - spread, middle_y), (middle_x + spread, middle_y)]
        )
        touch.send(
            "Input.dispatchTouchEvent",
            {
                "type": kind,
                "touchPoints": [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(points)],
            },
        )

    send("touchStart", 30)
    for spread in range(35, 95, 5):
        send("touchMove", spread)
    send("touchEnd", 0)
    assert 2.0 < page.state("state.frame.scale") / scale < 3.6


def test_the_seam_of_a_full_circle(serve, hands, tmp_path) -> None:
    page = hands(serve(tmp_path / "circle").address)
    page.page.locator("#photo-file").set_input_files(CIRCLE)
    page.wait("state.picture?.state === 'ready' && state.angles && state.frame")
    assert page.state("state.picture.full_circle") is True
    result = page.page.evaluate(
        f"""async () => {{ {GEOMETRY} {STORE}
            const {{ set, sheet }} = await import('/static/js/state/store.js');
            const wide = state.picture.width_px;
            set({{ frame: G.centreOn(state.frame, sheet(), [wide, 900], 0.6) }});
            await new Promise((done) => setTimeout(done, 900));
            const screen = (x) => G.toScreen(state.frame, [x, 900])[0];
            const places = [wide - 10, 10, wide + 10].map(screen);
            const canvas = document.getElementById('photo');
            const middle = canvas.width / 2;
            const ink = canvas.getContext('2d');
            const row = ink.getImageData(middle - 3, canvas.height / 2, 6, 1).data;
            const before = state.frame.left;
            const azimuth = (x) => G.anglesAt(state.angles, [wide + x, 900], wide).azimuth;
            const azimuths = [-20, -5, 5, 20].map(azimuth);
            return {{ places, row: [...row], azimuths, before }};
        }}"""
    )
    left, right, same = result["places"]
    assert right - left == pytest.approx(12.0, abs=0.01)
    assert right == pytest.approx(same)
    steps = [(b - a + 540) % 360 - 180 for a, b in pairwise(result["azimuths"])]
    assert all(0 < step < 3 for step in steps)
    pixels = [result["row"][i : i + 3] for i in range(0, 24, 4)]
    assert all(max(abs(a - b) for a, b in zip(p, q, strict=True)) < 60 for p, q in pairwise(pixels))
    box = page.page.locator("#overlay").bounding_box()
    page.page.mouse.move(box["x"] + 900, box["y"] + 200)
    page.page.mouse.down()
    page.page.mouse.move(box["x"] + 100, box["y"] + 200, steps=8)
    page.page.mouse.up()
    moved = (page.state("state.frame.left") - result["before"]) % page.state(
        "state.picture.width_px"
    )
    assert moved == pytest.approx(800 / 0.6, abs=12)


def test_an_outline_by_keys_alone(serve, hands, folder) -> None:
    page = hands(serve(folder).address)
    ready(page)
    keys = page.page.keyboard
    page.page.locator("#steps button[data-key=mark]").focus()
    keys.press("Enter")
    count = page.state("state.survey.outlines.length")
    page.button("Outline").focus()
    keys.press("Enter")
    page.page.locator("#overlay").focus()
    for key in ("ArrowRight", "ArrowDown", "ArrowLeft"):
        for _ in range(6):
            keys.press(key)
        keys.press("Enter")
    assert page.state("state.draft.points.length") == 3
    keys.press("Control+z")
    page.wait("state.draft.points.length === 2")
    keys.press("Control+Shift+z")
    page.wait("state.draft.points.length === 3")
    page.button("Close the shape").focus()
    keys.press("Enter")
    page.wait(f"state.survey.outlines.length === {count + 1} && state.saved === 'saved'")
    page.button("Next corner").focus()
    keys.press("Enter")
    page.wait("state.draft?.corner?.index === 0")
    before = page.state("state.survey.outlines.at(-1).rings_px[0][0]")
    page.page.locator("#overlay").focus()
    for _ in range(5):
        keys.press("ArrowUp")
    page.wait(f"state.survey.outlines.at(-1).rings_px[0][0][1] < {before[1] - 5}")


def test_corners_are_dragged_put_in_and_taken_away(serve, hands, folder) -> None:
    page = hands(serve(folder).address)
    ready(page)
    page.step("mark")
    page.page.locator(".cards .card", has_text="house_brick").first.click()
    rings = "state.survey.outlines.find((one) => one.id === state.picked.id).rings_px"
    ring = page.state(f"{rings}[0]")
    x, y = page.bring(*ring[0])
    page.page.mouse.move(x, y)
    page.page.mouse.down()
    page.page.mouse.move(x + 20, y - 15, steps=4)
    page.page.mouse.up()
    page.wait(f"{rings}[0][0][1] < {ring[0][1] - 8} && state.saved === 'saved'")
    moved = page.state(f"{rings}[0]")
    scale = page.state("state.frame.scale")
    assert moved[0] == pytest.approx([ring[0][0] + 20 / scale, ring[0][1] - 15 / scale], abs=1.5)

    far = max(range(len(moved)), key=lambda i: _gap(moved, i))
    a, b = moved[far], moved[(far + 1) % len(moved)]
    page.tap((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    page.wait(f"{rings}[0].length === {len(moved) + 1} && state.saved === 'saved'")
    page.button("Remove corner").click()
    page.wait(f"{rings}[0].length === {len(moved)} && state.saved === 'saved'")
    assert page.undo_all() == 3
    assert page.state(f"{rings}[0]") == ring


def _gap(ring: list, i: int) -> float:
    (ax, ay), (bx, by) = ring[i], ring[(i + 1) % len(ring)]
    return (ax - bx) ** 2 + (ay - by) ** 2


def test_the_slider_changes_words_ahead_of_the_server(sample_server, hands) -> None:
    page = hands(sample_server.address)
    ready(page)
    page.step("answer")
    page.wait("state.heights?.state === 'done' && state.heights.changes.length", 120)
    turn = page.state("state.heights.changes[0]")
    word = f"state.heights.path[{{}}][state.heights.stations.indexOf('{turn['station']}')]"
    at = page.state(f"state.heights.heights_m.findIndex((one) => one >= {turn['height_m']})")
    assert page.state(word.format(at)) != page.state(word.format(at - 1))
    page.page.route("**/api/**", lambda route: route.abort())
    cell = page.page.locator(
        "tr", has=page.page.locator(f".call:text-is('{turn['station']}')")
    ).locator(".word")
    slider = page.page.get_by_role("slider")
    slider.focus()
    slider.press("Home")
    seen = [cell.inner_text()]
    for _ in range(24):
        slider.press("ArrowUp")
        page.frames()
        seen.append(cell.inner_text())
    assert len(set(seen)) > 1
    assert float(slider.get_attribute("aria-valuenow")) == 6.0


def test_tags_never_touch(sample_server, hands) -> None:
    page = hands(sample_server.address)
    clashes, hung = page.page.evaluate(
        """async () => {
            const { placeTags } = await import('/static/js/draw/tags.js');
            const { touches } = await import('/static/js/draw/svg.js');
            let seed = 7;
            const random = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
            let [clashes, hung] = [0, 0];
            for (let round = 0; round < 40; round += 1) {
                const pins = Array.from({ length: 4 + (round % 24) }, (_, i) => {
                    const [x, y] = [20 + random() * 1280, 250 + random() * 100];
                    const box = [x - 15, y - 15, x + 15, y + 15];
                    const sizes = [[110, 55], [80, 55], [60, 20]];
                    return { id: String(i), x, box, weight: 1, sizes };
                });
                const board = { left: 4, right: 1320, rails: [92, 8], solids: [[300, 0, 326, 27]] };
                const placed = [...placeTags(pins, board).values()].filter(Boolean);
                hung += placed.length;
                const meet = (a, b) =>
                    touches(a.box, b.box) || touches(a.box, b.upright) || touches(b.box, a.upright);
                placed.forEach((a, i) => {
                    clashes += placed.slice(i + 1).filter((b) => meet(a, b)).length;
                });
            }
            return [clashes, hung];
        }"""
    )
    assert clashes == 0
    assert hung > 400


def test_aim_is_turned_by_drag_and_by_buttons(serve, hands, small_folder) -> None:
    page = hands(serve(small_folder).address)
    ready(page)
    page.step("answer")
    page.wait("state.paths?.rows?.length")
    page.page.get_by_role("group", name="Spot").get_by_role("button", name="gable").click()
    page.button("Put one up").click()
    page.wait(
        "state.survey.antennas?.length === 2 && state.saved === 'saved' && state.pattern?.bands"
    )
    aim = "state.survey.antennas.find((one) => one.spot === 'gable').aim_true_deg"
    start = page.state(aim)
    page.button("Turn one degree right").click()
    page.wait(f"{aim} === {start + 1} && state.saved === 'saved'")
    box = page.page.locator("#border").bounding_box()
    y = box["y"] + 20
    page.page.mouse.move(box["x"] + 400, y)
    page.page.mouse.down()
    page.page.mouse.move(box["x"] + 520, y, steps=5)
    expect(page.page.locator("#pattern .aim")).to_contain_text("magnetic")
    page.page.mouse.up()
    page.wait(f"{aim} !== {start + 1} && state.saved === 'saved' && state.aim === null")
    assert page.page.locator("#pattern .pattern-fill").count() > 0


def test_words_follow_the_aim_ahead_of_the_server(sample_server, hands) -> None:
    """With the server out of reach the list says what the chain says of every heading."""
    page = hands(sample_server.address)
    ready(page)
    page.step("answer")
    page.wait(
        "state.spot === 'chimney' && state.paths && state.aims?.height_m === state.paths.height_m"
    )
    page.page.route("**/api/**", lambda route: route.abort())
    box = page.page.locator("#border").bounding_box()
    page.page.mouse.move(box["x"] + 100, box["y"] + 20)
    page.page.mouse.down()
    seen = set()
    for x in range(140, 1240, 100):
        page.page.mouse.move(box["x"] + x, box["y"] + 20)
        expected = page.state("state.aims.reception[Math.round(state.aim) % 360]")
        stations = page.state("state.aims.stations")
        for station in ("QVEL", "QPEL", "QHES"):
            cell = page.page.locator("tr", has=page.page.locator(f".call:text-is('{station}')"))
            word = expected[stations.index(station)]
            expect(cell.locator("td").last).to_have_text(word, timeout=60_000)
            seen.add((station, word))
    assert len(seen) >= 5


def test_the_terrains_skyline_is_drawn_and_can_be_hidden(serve, hands, small_folder) -> None:
    write_ridge(small_folder)
    page = hands(serve(small_folder).address)
    ready(page)
    line = page.page.locator(".layer-ground .line.ground")
    expect(line).not_to_have_count(0, timeout=60_000)
    page.step("answer")
    page.wait("state.paths?.rows?.length")
    terrain = page.page.get_by_role("group", name="Terrain")
    terrain.get_by_role("button", name="hide").click()
    expect(line).to_have_count(0)
    terrain.get_by_role("button", name="show").click()
    expect(line).not_to_have_count(0)
    assert page.page.get_by_text("skyline of the bare ground").count() == 1


def test_a_power_line_s_name_is_never_under_the_page_s_buttons(sample_server, hands) -> None:
    page = hands(sample_server.address, "phone")
    ready(page)
    places = page.page.evaluate(
        """async () => {
            const { names } = await import('/static/js/draw/shapes.js');
            const frame = { width: 390, height: 232, left: 0, top: 0, scale: 1, period: 0 };
            const full = [0, 0, 390, 232];
            const buttons = [130, 186, 262, 230];
            return [100, 205, 224].map((y) => {
                const rings = [[[140, y], [250, y + 3]]];
                const label = 'line, power line: keep clear';
                const line = { thing: 'line', family: 'line', label, rings };
                const [name] = names(frame, [line], null, [full], [buttons]);
                return [Number(name.getAttribute('y')), y];
            });
        }"""
    )
    assert places[0][0] == pytest.approx(93.0)
    for baseline, _ in places:
        assert baseline + 5 <= 186 or baseline - 14 >= 230
