"""``batch``: every survey of a folder against a new list; nothing is changed, nothing is lost."""

from __future__ import annotations

import csv
import hashlib
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from cure_case import roof
from drawer_case import moved, put, records, serially, write_list

from skyview.cli import batch

RUN = """
import signal, sys
from skyview.cli.main import run
# Whoever runs the tests in the background ignores it, and children inherit that.
signal.signal(signal.SIGINT, signal.default_int_handler)
sys.exit(run(sys.argv[1:]))
"""


@pytest.fixture
def home(tmp_path):
    for name in ("east/1", "west/2", "west/3"):
        put(tmp_path / "home" / name)
    return tmp_path / "home"


@pytest.fixture
def new(tmp_path):
    """A list by which QSOU is gone and QEAS stronger."""
    return write_list(tmp_path / "new.csv", records(QSOU=None, QEAS={"erp_kw": 4000.0}))


@pytest.fixture
def here(monkeypatch):
    """The work is done in this process."""
    monkeypatch.setattr(batch, "_engine", lambda workers, address: serially)


def table(file: Path) -> list[dict[str, str]]:
    with open(file, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def digests(folder: Path) -> dict[str, str]:
    return {
        str(file): hashlib.sha256(file.read_bytes()).hexdigest()
        for file in sorted(folder.rglob("*"))
        if file.is_file()
    }


def test_rows_are_those_of_paths_after_stations(run, home, new, tmp_path):
    before = digests(home)
    out = tmp_path / "results.csv"
    told = run.ok("batch", home, "--stations", new, "-o", out, "--workers", 1)
    assert digests(home) == before
    assert told.out.startswith("3 surveys against")
    assert "3 get worse, 3 get better" in told.out
    assert "worse: east/1: QSOU doubtful → not listed" in told.out
    assert "3 of 3 surveys" in told.err
    copy = tmp_path / "copy"
    shutil.copytree(home / "east" / "1", copy)
    own = run.ok("paths", copy, "--json").rows
    run.ok("stations", copy, new)
    run.ok("set", copy, "--remove", "stations.QSOU")
    wanted = run.ok("paths", copy, "--json").rows
    rows = [row for row in table(out) if row["survey"] == "east/1" and row["change"] != "gone"]
    assert len(rows) == len(wanted) == 8
    for row, path in zip(rows, wanted, strict=True):
        for name in ("spot", "station", "path", "reception"):
            assert row[name] == path[name]
        for name in ("antenna_height_m", "rf_channel", "obstruction_loss_db",
                     "reception_probability"):  # fmt: skip
            assert float(row[name]) == pytest.approx(path[name], rel=1e-12)
        for name in ("p10", "p50", "p90"):
            assert float(row[f"margin_{name}_db"]) == pytest.approx(path["margin_db"][name])
        (old,) = [r for r in own if (r["spot"], r["station"]) == (path["spot"], path["station"])]
        assert row["old_reception"] == old["reception"]
        assert row["changed"] == str(old["reception"] != path["reception"]).lower()
        assert row["antenna"] == (path["antenna"] or "")
        assert row["title"] == "1"


def test_one_bad_survey_stops_nobody(run, here, home, new, tmp_path):
    (home / "west" / "2" / "survey.json").write_text("{", encoding="utf-8")
    (home / "west" / "3" / "photos" / "round.jpg").unlink()
    out = tmp_path / "results.csv"
    told = run.ok("batch", home, "--stations", new, "-o", out)
    assert "1 failed" in told.out
    assert "failed: west/2/survey.json: it ends too early" in told.err
    told_of = {row["survey"]: row["problem"] for row in table(out) if row["problem"]}
    assert told_of["west/2"].startswith("west/2/survey.json: it ends too early")
    assert told_of["west/3"].startswith("west/3: photos/round.jpg is missing")
    assert {row["survey"] for row in table(out) if row["station"]} == {"east/1", "west/3"}


def test_all_bad_is_two(run, here, home, new, tmp_path):
    for file in home.rglob("survey.json"):
        file.write_text("{", encoding="utf-8")
    out = tmp_path / "results.csv"
    told = run("batch", home, "--stations", new, "-o", out)
    assert told.code == 2
    assert "none of its surveys could be evaluated" in told.err
    assert [row["survey"] for row in table(out)] == ["east/1", "west/2", "west/3"]


def test_json_tells_the_same(run, here, home, new, tmp_path):
    (home / "west" / "2" / "survey.json").write_text("{", encoding="utf-8")
    out = tmp_path / "results.csv"
    told = run.ok("batch", home, "--stations", new, "-o", out, "--json").json
    assert (told["format"], told["version"], told["surveys"]) == ("skyview.batch", 1, 3)
    assert [failed["survey"] for failed in told["failed"]] == ["west/2"]
    assert told["worse"] == ["east/1", "west/3"]
    in_file = [row for row in table(out) if not row["problem"]]
    assert len(in_file) == len(told["rows"]) == 20
    for row, flat in zip(told["rows"], in_file, strict=True):
        assert (row["survey"], row["station"]) == (flat["survey"], flat["station"])
        assert (row["reception"] or "") == flat["reception"]
        assert row["margin_db"] is None or row["margin_db"]["p50"] == float(flat["margin_p50_db"])


def test_no_cell_is_a_formula(run, here, tmp_path, new):
    put(tmp_path / "home" / "=1", **{**moved(roof(), "QEAS"), "title": "=HYPERLINK(1)"})
    out = tmp_path / "results.csv"
    run.ok("batch", tmp_path / "home", "--stations", new, "-o", out)
    (first, *_) = table(out)
    assert (first["survey"], first["title"]) == ("'=1", "'=HYPERLINK(1)")


def test_partial_lists_keep_the_others(run, here, home, new, tmp_path):
    told = run.ok("batch", home, "--stations", new, "-o", tmp_path / "r.csv", "--partial")
    assert "get worse" not in told.out
    assert "3 get better" in told.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--stations", "missing.csv"), "missing.csv"),
        (("-o", "results.txt"), ".csv"),
        (("--within", "-3"), "no distance"),
        (("--bands", "uhf,vhf"), "vhf is no band"),
        (("--cluster", "tcp://127.0.0.1:1", "--workers", "2"), "exclude"),
    ],
)
def test_what_cannot_be_done_is_refused_at_once(run, home, new, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    assert said in run.refused("batch", home, "--stations", new, *words)
    assert not (tmp_path / "results.csv").exists()


def test_a_missing_folder_is_trouble_of_storage_as_for_every_verb(
    run, home, new, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    told = run.refused("batch", home, "--stations", new, "-o", "missing/results.csv", code=1)
    assert "folder" in told
    assert not (tmp_path / "missing").exists()


def started(home, new, out) -> subprocess.Popen[str]:
    words = ["batch", str(home), "--stations", str(new), "-o", str(out), "--workers", "2"]
    return subprocess.Popen(
        [sys.executable, "-c", RUN, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def lines(out: Path) -> int:
    journal = out.with_name(f"{out.name}.journal")
    return journal.read_bytes().count(b"\n") if journal.exists() else 0


def drawer_of(home: Path, count: int) -> Path:
    """More surveys, each with more to do."""
    heights = [{"id": "ridge", "enu_m": [0.0, 0.0, 5.0], "heights_m": [1.5, 2, 2.5, 3]},
               {"id": "gable", "enu_m": [5.0, -3.0, 5.0], "heights_m": [1, 2]}]  # fmt: skip
    for number in range(count):
        put(home / f"{number:03d}", spots=heights)
    return home


def test_ctrl_c_keeps_what_is_done_and_the_next_run_goes_on(run, new, tmp_path):
    home, out = drawer_of(tmp_path / "many", 16), tmp_path / "results.csv"
    work = started(home, new, out)
    while lines(out) < 2 and work.poll() is None:
        time.sleep(0.01)
    os.killpg(work.pid, signal.SIGINT)
    _, said = work.communicate(timeout=60)
    assert work.returncode == 130, said
    assert "Traceback" not in said
    assert "done and kept" in said
    assert not out.exists()
    assert 2 <= lines(out) < 16
    assert run.ok("batch", home, "--stations", new, "-o", out, "--workers", 1).code == 0
    whole = tmp_path / "whole.csv"
    run.ok("batch", home, "--stations", new, "-o", whole, "--workers", 1)
    assert out.read_bytes() == whole.read_bytes()
    assert lines(out) == 16


@pytest.mark.slow
def test_killed_at_any_moment_it_goes_on(run, new, tmp_path):
    home, out = drawer_of(tmp_path / "many", 40), tmp_path / "results.csv"
    whole = tmp_path / "whole.csv"
    run.ok("batch", home, "--stations", new, "-o", whole, "--workers", 2)
    kills = 0
    for moment in range(200):
        work = started(home, new, out)
        time.sleep(1.0 + 0.05 * (moment * 7 % 40))
        os.kill(work.pid, signal.SIGKILL)
        work.communicate()
        kills += work.returncode == -signal.SIGKILL
        if out.exists():
            assert out.read_bytes() == whole.read_bytes()
            out.unlink()
            Path(f"{out}.journal").unlink(missing_ok=True)
    assert kills > 100
    run.ok("batch", home, "--stations", new, "-o", out, "--workers", 2)
    assert out.read_bytes() == whole.read_bytes()


CLUSTER = """
import sys
from distributed import LocalCluster
from skyview.cli.main import run
if __name__ == "__main__":
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None,
                      silence_logs=50) as cluster:
        code = 0
        try:
            run([*sys.argv[1:], "--cluster", cluster.scheduler_address])
        except SystemExit as leaving:
            code = leaving.code
    sys.exit(code)
"""


def test_a_cluster_gives_the_same(run, here, home, new, tmp_path):
    (home / "west" / "2" / "survey.json").write_text("{", encoding="utf-8")
    script, out, own = tmp_path / "cluster.py", tmp_path / "cluster.csv", tmp_path / "own.csv"
    script.write_text(CLUSTER, encoding="utf-8")
    words = ["batch", home, "--stations", new]
    done = subprocess.run(
        [sys.executable, script, *words, "-o", out], capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    assert "1 failed" in done.stdout
    run.ok(*words, "-o", own)
    assert out.read_bytes() == own.read_bytes()


def test_a_cluster_that_is_not_there_is_told(run, home, new, tmp_path, monkeypatch):
    from skyview.survey.batch import cluster

    monkeypatch.setattr(cluster, "ANSWER_S", 0.3)
    said = run.refused("batch", home, "--stations", new, "-o", tmp_path / "r.csv",
                       "--cluster", "tcp://127.0.0.1:1")  # fmt: skip
    assert "no cluster answers" in said
