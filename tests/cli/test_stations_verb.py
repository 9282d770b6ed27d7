"""``stations``: lists of stations with named columns go into a survey."""

from __future__ import annotations

import json

import pytest

HEAD = "id,name,latitude_deg,longitude_deg,antenna_amsl_m,rf_channel,erp_kw"
GOOD = [
    "QONE,One,12.3,-39.8,900,21,100",
    "QTWO,Two,12.1,-40.2,700,9,20",
    "QTHREE,Three,12.2,-39.9,500,4,5",
]


@pytest.fixture
def survey(run, tmp_path):
    folder = tmp_path / "s"
    run.ok("new", folder, "--latitude", 12, "--longitude", -40, "--ground", 100)
    return folder


@pytest.fixture
def write(tmp_path):
    def put(*lines: str, name: str = "list.csv"):
        file = tmp_path / name
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return file

    return put


def stored(folder) -> dict:
    data = json.loads((folder / "survey.json").read_text(encoding="utf-8"))
    return {station["id"]: station for station in data.get("stations", [])}


def test_a_list_with_named_columns(run, survey, write) -> None:
    answer = run.ok("stations", survey, write(HEAD, *GOOD), "--json")
    assert answer.json["format"] == "skyview.stations"
    assert answer.json["version"] == 1
    assert answer.json["revision"] == 2
    assert [row["id"] for row in answer.rows] == ["QONE", "QTWO", "QTHREE"]
    one = stored(survey)["QONE"]
    assert (one["latitude_deg"], one["longitude_deg"]) == (12.3, -39.8)
    assert (one["antenna_amsl_m"], one["rf_channel"], one["erp_kw"]) == (900, 21, 100)


def test_columns_may_come_in_any_order(run, survey, write) -> None:
    run.ok("stations", survey, write(
        "rf_channel,longitude_deg,id,antenna_amsl_m,latitude_deg", "21,-39.8,QONE,900,12.3"
    ))  # fmt: skip
    assert stored(survey)["QONE"]["longitude_deg"] == -39.8


def test_columns_may_be_told(run, survey, write) -> None:
    run.ok("stations", survey, write(
        "QONE,left out,12.3,-39.8,900,21"
    ), "--columns", "id,-,latitude_deg,longitude_deg,antenna_amsl_m,rf_channel")  # fmt: skip
    assert stored(survey)["QONE"]["rf_channel"] == 21


def test_the_sample_list_is_the_sample_survey_s(run, survey, samples) -> None:
    run.ok("stations", survey, samples / "stations.csv")
    sample = json.loads((samples / "demo_survey.json").read_text(encoding="utf-8"))["stations"]
    found = stored(survey)
    assert set(found) == {station["id"] for station in sample}
    for station in sample:
        for field in ("latitude_deg", "longitude_deg", "antenna_amsl_m", "rf_channel", "erp_kw"):
            assert found[station["id"]][field] == station[field]


def test_only_the_near_ones(run, survey, write) -> None:
    far = "QFAR,Far,14.0,-38.0,900,30,100"
    run.ok("stations", survey, write(HEAD, *GOOD, far), "--within", 100)
    assert "QFAR" not in {
        name for name, s in stored(survey).items() if s.get("role", "wanted") == "wanted"
    }
    assert {"QONE", "QTWO", "QTHREE"} <= set(stored(survey))


def test_only_some_bands(run, survey, write) -> None:
    run.ok("stations", survey, write(HEAD, *GOOD), "--bands", "uhf")
    assert set(stored(survey)) == {"QONE"}


def test_without_a_list_it_shows_what_is_there(run, survey, write) -> None:
    run.ok("stations", survey, write(HEAD, *GOOD))
    before = (survey / "survey.json").read_bytes()
    assert "QTWO" in run.ok("stations", survey).out
    assert (survey / "survey.json").read_bytes() == before


def test_a_second_list_updates_and_adds(run, survey, write) -> None:
    run.ok("stations", survey, write(HEAD, *GOOD))
    run.ok("stations", survey, write(HEAD, "QONE,One,12.3,-39.8,950,22,100"))
    assert set(stored(survey)) == {"QONE", "QTWO", "QTHREE"}
    assert stored(survey)["QONE"]["antenna_amsl_m"] == 950


def test_a_virtual_channel_is_kept_apart(run, survey, write) -> None:
    run.ok("stations", survey, write(
        HEAD + ",virtual_channel", "QONE,One,12.3,-39.8,900,21,100,6.1"
    ))  # fmt: skip
    assert stored(survey)["QONE"]["virtual_channel"] == "6.1"
    assert stored(survey)["QONE"]["rf_channel"] == 21


def test_a_channel_above_36_draws_the_warning(run, survey, write) -> None:
    answer = run.ok("stations", survey, write(HEAD, "QONE,One,12.3,-39.8,900,44,100"))
    assert "virtual" in answer.err
    assert "QONE" in answer.err or "row: 2" in answer.err


BAD = [
    ("QBAD,Bad,95,-39.8,900,21,100", "latitude"),
    ("QBAD,Bad,12.3,,900,21,100", "longitude"),
    ("QBAD,Bad,12.3,-39.8,900,99,100", "channel"),
    ("QBAD,Bad,twelve,-39.8,900,21,100", "latitude"),
    ("QBAD,Bad,12.3,-39.8,nan,21,100", "antenna_amsl_m"),
]


@pytest.mark.parametrize(("line", "named"), BAD)
def test_strict_refuses_the_list_for_one_bad_row(run, survey, write, line, named) -> None:
    before = (survey / "survey.json").read_bytes()
    sentence = run.refused("stations", survey, write(HEAD, GOOD[0], line), "--strict")
    assert "list.csv" in sentence
    assert named in sentence
    assert "3" in sentence
    assert (survey / "survey.json").read_bytes() == before


@pytest.mark.parametrize(("line", "named"), BAD)
def test_otherwise_a_bad_row_is_left_out_aloud(run, survey, write, line, named) -> None:
    answer = run.ok("stations", survey, write(HEAD, GOOD[0], line))
    assert set(stored(survey)) == {"QONE"}
    assert named in answer.err


@pytest.mark.parametrize(
    ("lines", "named"),
    [
        ([HEAD], "list.csv"),
        (["id,name", "QONE,One"], "latitude"),
        ([""], "list.csv"),
        (["just some words", "and more"], "list.csv"),
    ],
)
def test_a_list_that_is_none(run, survey, write, lines, named) -> None:
    before = (survey / "survey.json").read_bytes()
    assert named in run.refused("stations", survey, write(*lines))
    assert (survey / "survey.json").read_bytes() == before


def test_a_missing_list(run, survey, tmp_path) -> None:
    assert "nosuch.csv" in run.refused("stations", survey, tmp_path / "nosuch.csv")


def test_an_id_twice_in_one_list_is_not_lost_in_silence(run, survey, write) -> None:
    answer = run("stations", survey, write(HEAD, GOOD[0], "QONE,Other,12.5,-39.5,800,30,10"))
    assert answer.code == 2 or "QONE" in answer.err


def test_interchanged_latitude_and_longitude_draw_a_hint(run, survey, write) -> None:
    answer = run("stations", survey, write(HEAD, GOOD[0], "QBAD,Bad,-39.8,12.3,900,21,100"))
    assert "swapped" in answer.err
    assert "QBAD" in answer.err or "row: 3" in answer.err
