"""What a person does on the page: choosing steps, tapping the picture, waiting for the answer."""

from __future__ import annotations

import time
from typing import Any

from playwright.sync_api import Locator, Page, expect

PATIENCE_S = 90.0
"""How long is waited for what should come: it costs nothing where things are quick."""

expect.set_options(timeout=1000 * PATIENCE_S)

SIZES: dict[str, dict[str, Any]] = {
    "laptop": {"viewport": {"width": 1440, "height": 900}},
    "phone": {
        "viewport": {"width": 390, "height": 844},
        "has_touch": True,
        "is_mobile": True,
        "device_scale_factor": 2,
    },
}
_EXPECTED = ("net::ERR_", "status of 4")

_HEAR = """
    window.heard = [];
    for (const type of ['pointerdown', 'pointerup', 'pointercancel', 'click', 'dblclick']) {
        addEventListener(type, ({ target, clientX, clientY }) => heard.push([
            type, target.id || target.textContent?.slice(0, 24) || target.nodeName,
            Math.round(clientX), Math.round(clientY), Math.round(performance.now()),
        ]), true);
    }
"""
"""What reaches the page, in order."""

_BRING = """
    async ([x, y]) => {
        document.dispatchEvent(new CustomEvent('skyview:bring', { detail: [[x, y]] }));
        const frame = () => new Promise((done) => requestAnimationFrame(done));
        await frame();
        await frame();
        const { state } = await import('/static/js/state/store.js');
        const { toScreen } = await import('/static/js/geometry.js');
        const overlay = document.getElementById('overlay');
        const box = overlay.getBoundingClientRect();
        const [sx, sy] = toScreen(state.frame, [x, y]);
        const place = [sx + box.left, sy + box.top];
        return [...place, overlay.contains(document.elementFromPoint(...place))];
    }
"""
"""Brings a picture point into view: its place, and whether the picture is on top there."""

LOST_AFTER_S = 3.0
"""A touch that has not reached the page by then was lost on its way there."""


class Hands:
    """A page with its size and with everything that the browser complained of."""

    def __init__(self, page: Page, size: str) -> None:
        self.page = page
        self.touch = size == "phone"
        self.complaints: list[str] = []
        page.set_default_timeout(1000 * PATIENCE_S)
        page.add_init_script(_HEAR)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("console", self._hear)

    def _hear(self, message: Any) -> None:
        if message.type == "error" and not any(part in message.text for part in _EXPECTED):
            self.complaints.append(message.text)

    def open(self, address: str) -> None:
        self.page.goto(address)
        self.page.wait_for_selector("#steps button")

    def step(self, name: str) -> None:
        """Goes to a step: photos, mark, answer or spots."""
        self.page.locator(f"#steps button[data-key={name}]").click()
        expect(
            self.page.locator(f"#steps button[data-key={name}][aria-current=page]")
        ).to_be_visible()

    def state(self, expression: str) -> Any:
        """Something of the page's state, as in ``state.revision``."""
        code = f"import('/static/js/state/store.js').then(({{ state }}) => {expression})"
        return self.page.evaluate(code)

    def wait(self, expression: str, seconds: float = PATIENCE_S) -> None:
        """Waits until an expression of the state holds."""
        end = time.monotonic() + seconds
        while not self.state(f"Boolean({expression})"):
            if time.monotonic() > end:
                raise TimeoutError(f"still not so after {seconds} s: {expression}")
            self.page.wait_for_timeout(40)

    def frames(self) -> None:
        """Waits until what was done is drawn."""
        self.page.evaluate(
            "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
        )

    def bring(self, x_px: float, y_px: float) -> tuple[float, float]:
        """Brings a picture point into the middle of the plate; its place on the window.

        At the picture's edge the middle may be out of reach, and the point then lie beneath the
        zoom buttons: the picture is brought closer until it is clear of them.
        """
        left_px, top_px, clear = self.page.evaluate(_BRING, [x_px, y_px])
        for _ in range(3):
            if clear:
                break
            self.page.locator("#zoom-in").click()
            left_px, top_px, clear = self.page.evaluate(_BRING, [x_px, y_px])
        return left_px, top_px

    def tap(self, x_px: float, y_px: float) -> None:
        """Taps or clicks a picture point.

        A touch that the browser never handed to the page, as happens on a busy machine, is made
        again; what the page makes of a touch that reached it is not looked at.
        """
        if not self.touch:
            self.page.mouse.click(*self.bring(x_px, y_px))
            return
        for _ in range(3):
            before = self.page.evaluate("heard.length")
            self.page.touchscreen.tap(*self.bring(x_px, y_px))
            end = time.monotonic() + LOST_AFTER_S
            while time.monotonic() < end:
                if self.page.evaluate(f"heard.length > {before}"):
                    return
                self.page.wait_for_timeout(20)
        raise TimeoutError(f"no touch at {x_px}, {y_px} reached the page")

    def told(self) -> str:
        """What reached the page last and what it has in hand, for a test that fails."""
        keys = ["tool", "step", "view", "draft", "strokes", "troubles", "saved", "frame"]
        held = {key: self.state(f"state.{key}") for key in keys}
        return f"heard: {self.page.evaluate('heard.slice(-12)')}\nstate: {held}"

    def type_in(self, label: str, text: str) -> None:
        field = self.page.get_by_label(label, exact=True)
        field.fill(text)
        field.press("Tab")

    def button(self, name: str) -> Locator:
        return self.page.get_by_role("button", name=name, exact=True)

    def saved(self) -> None:
        expect(self.page.locator("#saved")).to_contain_text("Saved")

    def undo_all(self) -> int:
        """Undoes until nothing is left; how many steps that took."""
        count = 0
        while self.state("Boolean(state.history.undo)"):
            before = self.state("state.revision")
            self.page.locator("#hands button").first.click()
            self.wait(f"state.revision > {before} && state.saved === 'saved'")
            count += 1
        return count
