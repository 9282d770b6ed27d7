"""Locked, full and read-only folders, and two writers: exit code 1, the old survey whole.

These run the product in processes of their own, since they limit what a process may do.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

RUN = "import sys; from skyview.cli.main import run; sys.exit(run(sys.argv[1:]))"
HOLD = """
import sys
from filelock import FileLock
with FileLock(sys.argv[1]):
    print("held", flush=True)
    sys.stdin.read()
"""
READ_ONLY = """
import os, sys
from skyview.cli.main import run
try:
    assert not run(["set", sys.argv[1], "title=Warm"])
except SystemExit as leaving:
    assert not leaving.code
if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
sys.exit(run(["set", sys.argv[2], "title=Mine"]))
"""


def skyview(*words: object, **limits) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", RUN, *map(str, words)],
        capture_output=True, text=True, check=False, timeout=60, **limits,
    )  # fmt: skip


def one_sentence(done: subprocess.CompletedProcess[str]) -> str:
    assert "Traceback" not in done.stderr
    lines = done.stderr.strip().splitlines()
    assert len(lines) == 1, done.stderr
    return lines[0]


@pytest.fixture
def stored(roof) -> Path:
    roof.station("QA", 30.0, 0.5)
    return roof.solve()


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that other users may enter, as the tests' own may not be."""
    with tempfile.TemporaryDirectory() as name:
        os.chmod(name, 0o755)
        yield Path(name)


def test_a_full_disk_leaves_the_old_survey_whole(stored) -> None:
    file = stored / "survey.json"
    before, beside = file.read_bytes(), sorted(p.name for p in stored.iterdir())
    small = len(before) // 3
    # Compiled modules would be cut short too, and some Pythons would take them for whole.
    done = skyview(
        "set", stored, "title=Mine", env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (small, small)),
    )  # fmt: skip
    assert done.returncode == 1
    assert "survey.json" in one_sentence(done)
    assert file.read_bytes() == before
    assert sorted(p.name for p in stored.iterdir()) == beside
    assert skyview("set", stored, "title=Mine").returncode == 0
    assert json.loads(file.read_text(encoding="utf-8"))["title"] == "Mine"


def test_a_read_only_folder(run, open_folder) -> None:
    warm, cold = open_folder / "warm", open_folder / "cold"
    for folder in (warm, cold):
        run.ok("new", folder, "--latitude", 12, "--longitude", -40)
    before = (cold / "survey.json").read_bytes()
    for file in cold.iterdir():
        file.chmod(0o444)
    cold.chmod(0o555)
    try:
        done = subprocess.run(
            [sys.executable, "-c", READ_ONLY, str(warm), str(cold)],
            capture_output=True, text=True, check=False, timeout=60,
        )  # fmt: skip
    finally:
        cold.chmod(0o755)
    assert done.returncode == 1, done.stderr
    assert str(cold) in one_sentence(done)
    assert (cold / "survey.json").read_bytes() == before


@pytest.fixture
def held(stored) -> Iterator[Path]:
    """The survey, while another process holds the lock that ``set`` left in the folder."""
    (lock,) = [p for p in stored.iterdir() if "lock" in p.name]
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(lock)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as holder:  # fmt: skip
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        yield stored
        holder.communicate("")


def test_a_writer_finds_the_lock_taken(held) -> None:
    before = (held / "survey.json").read_bytes()
    done = skyview("set", held, "title=Mine")
    assert done.returncode == 1
    sentence = one_sentence(done)
    assert str(held) in sentence
    assert "lock" in sentence or "another" in sentence
    assert (held / "survey.json").read_bytes() == before


def test_a_reader_needs_no_lock(held) -> None:
    done = skyview("paths", held, "--json")
    assert done.returncode == 0
    assert json.loads(done.stdout)["rows"][0]["station"] == "QA"


def test_many_writers_lose_nothing(stored) -> None:
    """Each that says it saved has saved; the others say that they have not."""
    start = json.loads((stored / "survey.json").read_text(encoding="utf-8"))["revision"]
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", RUN, "set", str(stored), "--add", "spots",
             json.dumps({"id": f"s{n}", "enu_m": [n, 0, 5], "heights_m": [1]})],
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
        )
        for n in range(3)
    ]  # fmt: skip
    saved = set()
    for n, writer in enumerate(writers):
        _, err = writer.communicate(timeout=60)
        assert writer.returncode in (0, 1), err
        if writer.returncode == 0:
            saved.add(f"s{n}")
    now = json.loads((stored / "survey.json").read_text(encoding="utf-8"))
    assert {spot["id"] for spot in now["spots"]} == saved | {"ridge"}
    assert now["revision"] == start + len(saved)
    assert saved
