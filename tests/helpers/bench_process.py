"""A workbench in a process of its own, as ``skyview serve`` starts it."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import httpx

RUN = "from skyview.cli.main import run; run()"


class Served:
    """A running server: its address, its output, how to ask and how to kill it."""

    def __init__(self, folder: Path | None, *options: str, cwd: Path | None = None) -> None:
        words = ["serve", *([str(folder)] if folder else []), "--no-open", *options]
        self.process = subprocess.Popen(
            [sys.executable, "-c", RUN, *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=cwd,
            env={**os.environ, "PYTHONUNBUFFERED": "1", "OPENBLAS_NUM_THREADS": "1"},
        )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, (line, self.process.stderr.read() if self.process.stderr else "")
        self.address = found.group(0)
        self.home = self.address.split("/?")[0].rstrip("/")
        self.said: list[str] = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        self.client = httpx.Client(base_url=self.home, timeout=60, trust_env=False)
        for _ in range(1200):
            with contextlib.suppress(httpx.ConnectError):
                self.client.get("/api/state")
                return
            threading.Event().wait(0.05)
        raise AssertionError("the server does not answer")

    def _read(self) -> None:
        assert self.process.stdout is not None
        self.said += self.process.stdout

    def revision(self) -> int:
        return int(self.client.get("/api/state").json()["revision"])

    def kill(self) -> None:
        """kill -9, without a word."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def close(self) -> None:
        self.client.close()
        if self.process.poll() is None:
            self.kill()
        for stream in (self.process.stdout, self.process.stderr):
            if stream is not None:
                stream.close()


@contextlib.contextmanager
def served(folder: Path | None, *options: str, cwd: Path | None = None) -> Iterator[Served]:
    """A server for the block."""
    server = Served(folder, *options, cwd=cwd)
    try:
        yield server
    finally:
        server.close()
