"""``demo``: the whole job on the sample survey, from any folder, keeping what is there."""

from __future__ import annotations

import csv
import json
import os

import pytest
from sample_house import lay_out, trimmed


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """One run of the demo from an empty folder elsewhere: the folder, exit code and text."""
    import contextlib
    import io

    from skyview.cli.main import run as run_skyview

    home = tmp_path_factory.mktemp("elsewhere")
    came_from = os.getcwd()
    out, err = io.StringIO(), io.StringIO()
    os.chdir(home)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                code = run_skyview(["demo"])
            except SystemExit as leaving:
                code = leaving.code
    finally:
        os.chdir(came_from)
    return home / "skyview-demo", code, out.getvalue(), err.getvalue()


def test_it_runs_from_anywhere_into_the_default_folder(shown) -> None:
    folder, code, out, err = shown
    assert code in (None, 0), err
    assert "Traceback" not in err
    assert (folder / "survey" / "survey.json").is_file()
    assert list((folder / "survey" / "photos").iterdir())
    assert out.strip()


def test_the_output_holds_pictures_and_a_table(shown) -> None:
    out = shown[0] / "out"
    pictures = list(out.glob("*.png"))
    assert pictures
    assert all(p.read_bytes().startswith(b"\x89PNG") and p.stat().st_size > 50_000
               for p in pictures)  # fmt: skip
    (table,) = out.glob("*.csv")
    with table.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == 12 * 6
    assert {"station", "spot", "bearing_deg", "path"} <= set(rows[0])


def test_every_word_and_the_horizon_flag_appear(shown) -> None:
    with (shown[0] / "out" / "paths.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert {row["path"] for row in rows} == {
        "clear", "grazing", "through_trees", "blocked", "not_seen"
    }  # fmt: skip
    assert any(row["beyond_horizon"] == "true" for row in rows)
    channels = {int(row["rf_channel"]) for row in rows}
    assert channels & set(range(2, 7))
    assert channels & set(range(7, 14))
    assert channels & set(range(14, 37))
    assert len({row["station"] for row in rows}) >= 10
    assert all(row["station"].startswith("Q") for row in rows)


def test_the_summary_speaks_to_an_installer(shown) -> None:
    text = shown[2]
    for word in ("clear", "grazing", "through trees", "blocked", "power lines", "ridge"):
        assert word in text
    assert "licensed" in text
    assert "few hundred metres" in text


def test_the_sample_survey_is_complete(run, shown) -> None:
    rows = run.ok("check", shown[0] / "survey", "--json").rows
    assert [row for row in rows if row["severity"] == "missing"] == []


def test_the_views_point_where_the_scene_s_truth_says(shown, samples) -> None:
    truth = json.loads((samples / "truth.json").read_text(encoding="utf-8"))
    yaw = {p["picture"]: p["yaw_deg"] for p in truth["pictures"]}
    data = json.loads((shown[0] / "survey" / "survey.json").read_text(encoding="utf-8"))
    for view in data["views"]:
        off = view["calibration"]["yaw_deg"] - yaw[view["photo"].removeprefix("photos/")]
        assert abs((off + 180.0) % 360.0 - 180.0) < 1.0


def test_a_run_keeps_the_survey_that_is_there(run, tmp_path) -> None:
    folder = tmp_path / "demo"
    trimmed(lay_out(folder / "survey"))
    run.ok("set", folder / "survey", "title=My own roof")
    told = run.ok("demo", folder)
    data = json.loads((folder / "survey" / "survey.json").read_text(encoding="utf-8"))
    assert data["title"] == "My own roof"
    assert "My own roof" in told.out
    assert list((folder / "out").glob("*.png"))
