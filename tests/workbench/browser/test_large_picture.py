"""A panorama of 60 megapixels: how long frames take under the hand, and the slider's answer.

The figures go to ``large_picture.csv`` beside this file with ``SKYVIEW_WRITE_FIGURES=1``.
"""

from __future__ import annotations

import csv
import json
import os
from pathlib import Path
from statistics import median

import pytest
from PIL import Image

from skyview.survey.models import validate
from skyview.survey.samples import samples_folder
from skyview.survey.storage import create
from skyview.workbench.poses import calibrate_stale

TIMES = 2.84
FIGURES = Path(__file__).with_name("large_picture.csv")

RECORD = """() => {
    window.gaps = [];
    let last = performance.now();
    const tick = (now) => {
        window.gaps.push(now - last);
        last = now;
        window.ticking = requestAnimationFrame(tick);
    };
    window.ticking = requestAnimationFrame(tick);
}"""


def enlarged(folder: Path) -> Path:
    """The sample survey with its sweep blown up to 60 megapixels, pixels and all."""
    data = json.loads((samples_folder() / "demo_survey.json").read_text(encoding="utf-8"))
    view = next(one for one in data["views"] if one["id"] == "sweep")
    (folder / "photos").mkdir(parents=True)
    with Image.open(samples_folder() / "ridge_sweep.jpg") as picture:
        size = tuple(round(TIMES * side) for side in picture.size)
        picture.resize(size, Image.Resampling.BILINEAR).save(folder / view["photo"], quality=85)
    view["size_px"] = size
    view["projection"]["px_per_rad"] *= TIMES
    view["projection"]["centre_px"] = [TIMES * value for value in view["projection"]["centre_px"]]
    data["views"] = [view]
    for name in ("marks", "outlines"):
        data[name] = [one for one in data[name] if one["view"] == "sweep"]
    for mark in data["marks"]:
        mark["points_px"] = [[TIMES * x, TIMES * y] for x, y in mark["points_px"]]
        mark["sigma_px"] = TIMES * mark.get("sigma_px", 2)
    for outline in data["outlines"]:
        outline["rings_px"] = [
            [[TIMES * x, TIMES * y] for x, y in ring] for ring in outline["rings_px"]
        ]
    survey = validate(data)
    calibrate_stale(survey)
    create(folder, survey)
    return folder


def drag(page, across: float, steps: int) -> None:
    box = page.page.locator("#overlay").bounding_box()
    x, y = box["x"] + box["width"] * 0.6, box["y"] + box["height"] * 0.45
    page.page.mouse.move(x, y)
    page.page.mouse.down()
    for i in range(1, steps + 1):
        page.page.mouse.move(x + across * i / steps, y)
    page.page.mouse.up()


def frames(page, act) -> dict[str, float]:
    """Gaps between frames and the page's own drawing time while something is done. [ms]"""
    page.page.evaluate(RECORD)
    act()
    gaps = page.page.evaluate(
        "() => { cancelAnimationFrame(window.ticking); return window.gaps.slice(1); }"
    )
    gaps.sort()
    return {"median": median(gaps), "p95": gaps[int(0.95 * (len(gaps) - 1))], "frames": len(gaps)}


SLIDE = """async () => {
    const slider = document.querySelector('[role=slider]');
    const times = [];
    for (let i = 0; i < 24; i += 1) {
        const begun = performance.now();
        slider.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowUp', bubbles: true }));
        await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
        times.push(performance.now() - begun);
    }
    return times;
}"""


TURNING = """() => {
    window.turned = [];
    document.getElementById('border').addEventListener('pointermove', () => {
        const begun = performance.now();
        const told = () => window.turned.push(performance.now() - begun);
        requestAnimationFrame(() => requestAnimationFrame(told));
    });
}"""


def turns(page) -> list[float]:
    """How long each step of a drag along the border takes until the words stand there. [ms]"""
    page.page.evaluate(TURNING)
    box = page.page.locator("#border").bounding_box()
    x, y = box["x"] + 0.3 * box["width"], box["y"] + 15
    page.page.mouse.move(x, y)
    page.page.mouse.down()
    for i in range(24):
        page.page.mouse.move(x + (i + 1) * 0.02 * box["width"], y)
        page.page.wait_for_timeout(40)
    times = page.page.evaluate("window.turned")
    page.page.mouse.up()
    return sorted(times)


@pytest.mark.slow
@pytest.mark.parametrize("size", ["laptop", "phone"])
def test_sixty_megapixels_follow_the_hand(serve, hands, tmp_path, size) -> None:
    page = hands(serve(enlarged(tmp_path / "large")).address, size)
    page.wait("state.picture?.state === 'ready' && state.frame && state.angles", 180)
    megapixels = page.state("state.picture.width_px * state.picture.height_px / 1e6")
    assert megapixels >= 60
    found = {"whole": frames(page, lambda: drag(page, -300, 60))}
    for _ in range(3):
        page.page.locator("#zoom-in").click()
    found["closer"] = frames(page, lambda: drag(page, -300, 60))
    page.step("answer")
    page.wait("state.heights?.state === 'done' && state.heights.ready.every(Boolean)", 240)
    found["with stations"] = frames(page, lambda: drag(page, 200, 60))
    page.page.get_by_role("slider").press("Home")
    page.page.wait_for_timeout(1500)
    times = sorted(page.page.evaluate(SLIDE))
    found["slider"] = {"median": median(times), "p95": times[22], "frames": len(times)}
    page.wait("state.aims?.height_m === state.height && state.paths?.height_m === state.height", 60)
    times = turns(page)
    found["aim"] = {"median": median(times), "p95": times[-2], "frames": len(times)}
    for what, figure in found.items():
        print(f"{size}, {what}: median {figure['median']:.1f} ms, 95 % {figure['p95']:.1f} ms")
        assert figure["median"] < 1000
    if os.environ.get("SKYVIEW_WRITE_FIGURES") == "1":
        new = not FIGURES.exists()
        with FIGURES.open("a", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            if new:
                writer.writerow(["megapixels", "size", "what", "median_ms", "p95_ms", "frames"])
            for what, figure in found.items():
                row = [f"{figure['median']:.1f}", f"{figure['p95']:.1f}", figure["frames"]]
                writer.writerow([f"{megapixels:.0f}", size, what, *row])
