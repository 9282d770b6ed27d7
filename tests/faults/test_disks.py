"""Full, read-only and broken disks: every step of every writer fails once, nothing is lost."""

from __future__ import annotations

import errno
import json
import shutil
from pathlib import Path

import pytest
from bench_client import HOST, put
from disks import Disk, failing
from long_verbs import LONG, is_whole
from starlette.testclient import TestClient

from skyview.cli.main import run
from skyview.survey.storage import load
from skyview.workbench.app import application
from skyview.workbench.bench import Bench

TROUBLE = (errno.ENOSPC, errno.EROFS, errno.EIO)

QUICK = (
    ("set survey title=Mine",),
    ("mark landmark survey l1 --latitude 1 --longitude 2",),
    ("photo photo.jpg --into survey --id another --spot ridge", "survey/photos/another.jpg"),
    ("stations survey list.csv --replace --bands uhf",),
    ("stations survey -o out.csv", "out.csv"),
    ("stations survey -o out.geojson", "out.geojson"),
    ("card -o card.html", "card.html"),
    ("new fresh --latitude 40 --longitude -100", "fresh/survey.json"),
    ("pack bare -o all.zip --position none", "all.zip"),
)
"""Command lines that write at all their kinds of places, and what they write."""


def call(capsys, words):
    """Exit code and standard error of a command line run in this process."""
    capsys.readouterr()
    try:
        code = run([str(word) for word in words]) or 0
    except SystemExit as leaving:
        code = leaving.code or 0
    return code, capsys.readouterr().err


def all_fail(capsys, monkeypatch, home, words, writes, numbers=TROUBLE):
    """Let each step of the command line fail in turn; how many steps there were."""
    kept = home.with_name(f"{home.name}-kept")
    shutil.copytree(home, kept)
    monkeypatch.chdir(home)
    with failing(Disk(home)) as whole:
        code, said = call(capsys, words)
    assert code == 0, said
    for step in range(1, len(whole.steps) + 1):
        shutil.rmtree(home)
        shutil.copytree(kept, home)
        monkeypatch.chdir(home)
        with failing(Disk(home, step, numbers[step % len(numbers)])) as disk:
            code, said = call(capsys, words)
        place = (words, step, disk.steps[-1], said)
        assert code in (0, 1), place
        lines = [line for line in said.splitlines() if not line.startswith("note: ")]
        assert len(lines) == (1 if code else 0), place
        assert "Traceback" not in said, place
        after_trouble(home, kept, writes, code, place)
    shutil.rmtree(kept)
    return len(whole.steps)


def after_trouble(home, kept, writes, code, place):
    """The survey is the old one or the new one, whole; so is every file."""
    before = (kept / "survey" / "survey.json").read_bytes()
    now = load(home / "survey")
    assert now.revision - load(kept / "survey").revision in (0, 1), place
    assert code == 0 or (home / "survey" / "survey.json").read_bytes() == before, place
    for view in now.views:
        assert (home / "survey" / view.photo).is_file(), place
    for name in writes:
        file = home / name
        assert file.exists() or code, place
        assert not file.exists() or is_whole(file), place
    assert list(home.rglob(".*.part")) == [], place


@pytest.mark.parametrize("line", QUICK, ids=lambda line: line[0])
def test_every_step_of_a_writer_may_fail(capsys, monkeypatch, home, line):
    words, *writes = line
    assert all_fail(capsys, monkeypatch, home, words.split(), writes) >= 4


@pytest.mark.slow
@pytest.mark.parametrize("verb", [v for v in LONG if v.writes], ids=lambda verb: verb.name)
def test_every_step_of_a_long_verb_may_fail(capsys, monkeypatch, home, verb):
    assert all_fail(capsys, monkeypatch, home, verb.words, verb.writes) >= 4


def test_every_step_of_the_page_may_fail(home):
    """A change is refused with 503 or kept whole; the next one goes through."""
    folder = home / "survey"
    item = {"latitude_deg": -38.6, "longitude_deg": -117.4}
    bench = Bench(folder)
    client = TestClient(application(bench), base_url=f"http://{HOST}")
    refused = step = 0
    while True:
        step += 1
        base = bench.desk.survey().revision
        changes = [put("landmarks", id=f"n{step}", **item)]
        body = {"base": base, "label": f"n{step}", "changes": changes}
        with failing(Disk(home, step, TROUBLE[step % 3])) as disk:
            told = client.post("/api/changes", json=body)
        now = json.loads((folder / "survey.json").read_text("utf-8"))
        assert told.status_code in (200, 503), told.text
        assert now["revision"] == base + (told.status_code == 200)
        ids = {landmark["id"] for landmark in now["landmarks"]}
        assert (f"n{step}" in ids) == (told.status_code == 200)
        refused += told.status_code == 503
        if len(disk.steps) < step:
            break
    assert refused >= 4
    labels = [step["label"] for step in client.get("/api/history").json()["rows"] if step["done"]]
    assert len(labels) == step - refused
    for label in labels:
        undone = client.post("/api/undo", json={"base": bench.desk.survey().revision})
        assert undone.status_code == 200, (label, undone.text)


def test_a_disk_that_fills_while_a_photograph_comes_in(forge, home):
    """The real limit of the system, in a process of its own."""
    before = (home / "survey" / "survey.json").read_bytes()
    job = forge.run(home, "photo", "photo.jpg", "--into", "survey", "--spot", "ridge",
                    largest_bytes=100_000)  # fmt: skip
    assert job.code == 1
    (line,) = job.said.splitlines()
    assert "the file would be larger than is allowed here" in line
    assert (home / "survey" / "survey.json").read_bytes() == before
    assert not (home / "survey" / "photos" / "photo.jpg").exists()
    assert list(home.rglob(".*.part")) == []


def test_the_disk_of_these_tests_does_fail(tmp_path):
    """A careless writer is caught at each of its steps."""

    def careless(file: Path):
        file.write_text("half of it")

    with failing(Disk(tmp_path)) as whole:
        careless(tmp_path / "a")
    assert [step.split()[0] for step in whole.steps] == ["open", "write"]
    with failing(Disk(tmp_path, 2)), pytest.raises(OSError, match="No space"):
        careless(tmp_path / "a")
    assert (tmp_path / "a").read_bytes() == b""
