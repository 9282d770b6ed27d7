"""The page in a real browser: the system's Chromium, a server of its own for each survey."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import pytest
from page_hands import SIZES, Hands
from playwright.sync_api import Browser, sync_playwright

REASON = "no Chromium here: name it in SKYVIEW_CHROMIUM or install it as chromium"
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
    """`skyview serve` as a process of its own."""

    def __init__(self, folder: Path, port: int | None = None) -> None:
        self.folder = folder
        self.port = port or _free_port()
        self.address = f"http://127.0.0.1:{self.port}/"
        self.start()

    def start(self) -> None:
        command = [sys.executable, "-c", "from skyview.cli.main import run; run()", "serve"]
        command += [str(self.folder), "--no-open", "--port", str(self.port)]
        log = subprocess.DEVNULL
        self.process = subprocess.Popen(command, stdout=log, stderr=log)
        end = time.monotonic() + 40
        while time.monotonic() < end:
            try:
                with urlopen(f"{self.address}api/state", timeout=5):
                    return
            except (URLError, OSError):
                time.sleep(0.1)
        raise TimeoutError("the server did not answer within 40 s")

    def kill(self) -> None:
        """Ends it at once, as a flat battery would."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(15)
        except subprocess.TimeoutExpired:
            self.kill()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


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


@pytest.fixture
def hands(browser) -> Iterator[Callable[..., Hands]]:
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
    complaints = [text for one in opened for text in one.complaints]
    for one in opened:
        one.page.context.close()
    assert complaints == []
