"""Command lines in processes of their own that begin at once, to be killed or interrupted.

One process loads the whole product and then forks for every job, so that a signal meets the work
and not the loading. What a job has finished is noted in a file line by line, as soon as the
command line has returned.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

IDLE = 97
"""Exit code of a job that was interrupted before or after its command lines."""

_LOADER = """
import importlib, json, os, pkgutil, resource, signal, sys, time, traceback
import skyview
from skyview.cli.main import run
for found in pkgutil.walk_packages(skyview.__path__, "skyview."):
    importlib.import_module(found.name)

def work(job):
    # Whoever runs the tests in the background ignores it, and children inherit that.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    sys.stdin = open(os.devnull)
    os.chdir(job["home"])
    noted = os.open(job["noted"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    out = os.open(job["out"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(out, 1)
    os.dup2(os.open(job["err"], os.O_WRONLY | os.O_CREAT | os.O_APPEND), 2)
    if job["largest_bytes"]:
        sys.dont_write_bytecode = True
        resource.setrlimit(resource.RLIMIT_FSIZE, (job["largest_bytes"],) * 2)
    code = 0
    while not os.path.exists(job["go"]):
        time.sleep(0.001)
    for words in job["lines"]:
        try:
            code = run(words) or 0
        except SystemExit as leaving:
            code = leaving.code or 0
        sys.stdout.flush()
        sys.stderr.flush()
        os.write(noted, f"{code}\\n".encode())
        if code and job["stops"]:
            break
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    return code

print("ready", flush=True)
for line in sys.stdin:
    job = json.loads(line)
    if "wait" in job:
        print(os.waitstatus_to_exitcode(os.waitpid(job["wait"], 0)[1]), flush=True)
        continue
    pid = os.fork()
    if pid == 0:
        try:
            code = work(job)
        except KeyboardInterrupt as stop:
            names = [frame.name for frame in traceback.extract_tb(stop.__traceback__)]
            os._exit(98 if "run" in names else 97)
        # As a command line ends, so that what it leaves for its end is cleared away.
        sys.exit(code)
    os.setpgid(pid, pid)
    print(pid, flush=True)
"""


@dataclass
class Job:
    """Command lines at work in a process group of their own."""

    forge: Forge
    pid: int
    home: Path
    name: str
    code: int | None = None

    def send(self, number: signal.Signals) -> None:
        """The signal to the whole group, as a terminal sends it."""
        os.killpg(self.pid, number)

    def wait(self) -> int:
        """The exit code, negative for the signal that ended it."""
        if self.code is None:
            self.code = int(self.forge.ask({"wait": self.pid}))
        return self.code

    @property
    def codes(self) -> list[int]:
        """Exit codes of the command lines that have returned."""
        file = self.home / f"{self.name}.noted"
        return [int(line) for line in file.read_text().split()] if file.exists() else []

    @property
    def said(self) -> str:
        """All that went to standard error."""
        return (self.home / f"{self.name}.err").read_text(encoding="utf-8")

    @property
    def told(self) -> str:
        """All that went to standard output."""
        return (self.home / f"{self.name}.out").read_text(encoding="utf-8")


class Forge:
    """Forks jobs; ``close`` ends it with all that still runs."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", _LOADER],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        )
        self._jobs: list[Job] = []
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == "ready\n"

    def ask(self, job: dict[str, Any]) -> str:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(job) + "\n")
        self._process.stdin.flush()
        return self._process.stdout.readline()

    def start(
        self,
        home: Path,
        lines: Iterable[Iterable[object]],
        *,
        name: str = "job",
        stops: bool = True,
        largest_bytes: int = 0,
        together: Path | None = None,
    ) -> Job:
        """Begin command lines one after the other; notes and output go to ``home``.

        With ``stops`` the first that fails is the last. No file may grow beyond ``largest_bytes``
        where given. Jobs with the file ``together`` wait until it is there.
        """
        files = {key: str(home / f"{name}.{key}") for key in ("noted", "out", "err")}
        told = [[str(word) for word in words] for words in lines]
        job = {**files, "home": str(home), "lines": told, "stops": stops,
               "largest_bytes": largest_bytes, "go": str(together or home)}  # fmt: skip
        begun = Job(self, int(self.ask(job)), home, name)
        self._jobs.append(begun)
        return begun

    def run(self, home: Path, *words: object, name: str = "job", largest_bytes: int = 0) -> Job:
        """One command line to its end."""
        job = self.start(home, [words], name=name, largest_bytes=largest_bytes)
        job.wait()
        return job

    def close(self) -> None:
        for job in self._jobs:
            if job.code is None:
                job.send(signal.SIGKILL)
                job.wait()
        self._process.communicate()
