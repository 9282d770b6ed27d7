"""The page in a real browser: the system's Chromium, a server for each survey."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import uvicorn
from page_hands import SIZES, Hands
from playwright.sync_api import Browser, sync_playwright

from skyview.survey.storage import load, photo_path
from skyview.workbench.app import guarded
from skyview.workbench.bench import Bench
from skyview.workbench.folder import workbench_folder
from skyview.workbench.gate import Door
from skyview.workbench.pictures import key_of, make_tiles
from skyview.workbench.server import listen
from skyview.workbench.skylines import find_proposals

REASON = "no Chromium here: name it in SKYVIEW_CHROMIUM or install it as chromium"
FAILED = pytest.StashKey[bool]()
_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
_QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def chromium_path() -> str | None:
    """The browser that SKYVIEW_CHROMIUM names, else the first that is found by name."""
    named = os.environ.get("SKYVIEW_CHROMIUM")
    if named:
        return shutil.which(named)
    return next((found for name in _NAMES if (found := shutil.which(name))), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests; each page has a context of its own."""
    path = chromium_path()
    if path is None:
        if os.environ.get("SKYVIEW_CI") == "1":
            pytest.fail(REASON)
        pytest.skip(REASON)
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, args=list(_QUIET))
        yield running
        running.close()


class Server:
    """The workbench in a thread of the tests: it starts without importing all anew."""

    def __init__(self, folder: Path) -> None:
        listening = listen(None, share=False)
        self.folder = folder
        self._bench = Bench(folder)
        app = guarded(self._bench, Door(listening.hosts))
        self._server = uvicorn.Server(uvicorn.Config(app, log_level="critical", ws="none"))
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [listening.socket]}, daemon=True
        )
        self._thread.start()
        self.address = f"http://127.0.0.1:{listening.port}/"

    def stop(self) -> None:
        self._bench.hub.close()
        self._server.should_exit = True
        self._thread.join(20)


@pytest.fixture(scope="session")
def sample_folder(sample_folder, tmp_path_factory) -> Path:
    """The sample survey with its tiles made, so that no copy of it makes them again."""
    folder = Path(shutil.copytree(sample_folder, tmp_path_factory.mktemp("tiled") / "survey"))
    for view in load(folder).views:
        photo = photo_path(folder, view)
        home = workbench_folder(folder, "tiles") / key_of(photo)
        make_tiles(lambda share: None, photo, home, tuple(view.size_px))
    return folder


@pytest.fixture(scope="session")
def looked_folder(sample_folder, tmp_path_factory) -> Path:
    """The sample survey with outlines proposed in one view; to be copied, not changed."""
    folder = tmp_path_factory.mktemp("looked") / "survey"
    shutil.copytree(sample_folder, folder)
    find_proposals(lambda share: None, folder, "gable", (), ())
    return folder


@pytest.fixture(scope="session")
def sample_server(browser, sample_folder, tmp_path_factory) -> Iterator[Server]:
    """A server of the sample survey for tests that change nothing."""
    folder = tmp_path_factory.mktemp("shown") / "survey"
    server = Server(Path(shutil.copytree(sample_folder, folder)))
    yield server
    server.stop()


@pytest.fixture
def serve(browser) -> Iterator[Callable[[Path], Server]]:
    """Starts a server for a folder that the test may change."""
    started = []

    def serve_(folder: Path) -> Server:
        started.append(Server(folder))
        return started[-1]

    yield serve_
    for server in started:
        server.stop()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item) -> Iterator[None]:
    """Lets fixtures see whether their test failed."""
    report = yield
    if report.when == "call":
        item.stash[FAILED] = report.failed
    return report


@pytest.fixture
def hands(browser, request) -> Iterator[Callable[..., Hands]]:
    """Opens the page at an address; what the browser complains of fails the test."""
    opened = []

    def hands_(address: str, size: str = "laptop", scheme: str = "light", **more: object) -> Hands:
        context = browser.new_context(
            color_scheme=scheme, reduced_motion="reduce", **SIZES[size], **more
        )
        one = Hands(context.new_page(), size)
        opened.append(one)
        one.open(address)
        return one

    yield hands_
    if request.node.stash.get(FAILED, False):
        for one in opened:
            print(one.told())
    complaints = [text for one in opened for text in one.complaints]
    for one in opened:
        one.page.context.close()
    assert complaints == []
