"""Clocks that jump or stand still: revisions count, not times."""

from __future__ import annotations

import os
import time

import pytest
from bench_client import HOST, put

from skyview.cli.main import run
from skyview.survey.edit import set_field
from skyview.survey.storage import editing, load, save
from skyview.workbench.app import application
from skyview.workbench.bench import Bench
from skyview.workbench.events import Hub
from skyview.workbench.jobs import Jobs

MOMENTS = {"1970": 0, "2100": 4_102_444_800, "long after": 10**12, "before 1970": -(10**9)}
"""Seconds since 1970 that a file's date may tell."""


@pytest.fixture
def backwards(monkeypatch):
    """Every look at the clock, and every renamed file, is an hour earlier than the one before."""
    now = [time.time()]
    real = os.replace

    def earlier() -> float:
        now[0] -= 3600.0
        return now[0]

    def replaced(source, target):
        real(source, target)
        os.utime(target, (earlier(), earlier()))

    monkeypatch.setattr(time, "time", earlier)
    monkeypatch.setattr(time, "time_ns", lambda: int(earlier() * 1e9))
    monkeypatch.setattr(os, "replace", replaced)


@pytest.fixture
def still(monkeypatch):
    """Every file that is renamed has the same date: a clock that stands, or a coarse one."""
    real = os.replace

    def replaced(source, target):
        real(source, target)
        os.utime(target, (10**9, 10**9))

    monkeypatch.setattr(os, "replace", replaced)


def page(folder):
    from starlette.testclient import TestClient

    return TestClient(application(Bench(folder)), base_url=f"http://{HOST}")


def changed(client, base, name):
    item = {"latitude_deg": -38.6, "longitude_deg": -117.4}
    body = {"base": base, "label": name, "changes": [put("landmarks", id=name, **item)]}
    told = client.post("/api/changes", json=body)
    assert told.status_code == 200, told.text
    return told.json()["revision"]


@pytest.mark.parametrize("clock", ["backwards", "still"])
def test_saves_and_history_go_on(request, home, clock):
    request.getfixturevalue(clock)
    folder = home / "survey"
    client, base = page(folder), load(folder).revision
    for number in range(4):
        base = changed(client, base, f"n{number}")
    saved = save(folder, load(folder))
    assert saved.revision == base + 1
    rows = page(folder).get("/api/history").json()["rows"]
    assert [row["label"] for row in rows if row["done"]] == ["n3", "n2", "n1", "n0"]
    for revision in range(4):
        undone = client.post("/api/undo", json={"base": saved.revision + revision})
        assert undone.status_code == 200, undone.text
    assert not {"n0", "n3"} & {landmark.id for landmark in load(folder).landmarks}


@pytest.mark.parametrize("clock", ["backwards", "still"])
def test_the_page_sees_what_others_save(request, home, clock):
    """Same size, same date and, since the place on the disk is used again, the same number."""
    request.getfixturevalue(clock)
    folder = home / "survey"
    client = page(folder)
    for number in range(10, 18):
        with editing(folder) as edit:
            edit.survey = set_field(edit.survey, "title", f"n{number}")
        if number % 2:
            assert client.get("/api/state").json()["title"] == f"n{number}"


@pytest.mark.parametrize("moment", MOMENTS.values(), ids=MOMENTS)
def test_a_scan_and_a_survey_of_any_date(home, capsys, moment):
    table = home / "scan.csv"
    table.write_text("channel,received,strength_dbm\n21,yes,-58\n14,no,\n", encoding="utf-8")
    for file in (table, home / "survey" / "survey.json", home / "photo.jpg", home / "list.csv"):
        os.utime(file, (moment, moment))
    for words in (
        ("scan", home / "survey", table),
        ("photo", home / "photo.jpg", "--into", home / "survey", "--spot", "ridge"),
        ("stations", home / "survey", home / "list.csv"),
    ):
        with pytest.raises(SystemExit) as ended:
            run([str(word) for word in words])
        said = capsys.readouterr().err
        assert ended.value.code in (0, 2), said
        assert "Traceback" not in said
        assert ended.value.code == 0 or len(said.splitlines()) == 1
    assert page(home / "survey").get("/api/state").status_code == 200


def test_work_goes_on_while_the_clock_runs_back(backwards):
    jobs = Jobs(Hub())
    job = jobs.start("tiles", "k", {}, lambda report: 7)
    jobs.close()
    while job.state == "working":
        pass
    assert (job.state, job.found) == ("done", 7)
