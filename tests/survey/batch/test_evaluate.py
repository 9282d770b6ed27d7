"""One survey by its own stations and by a new list's."""

from __future__ import annotations

from dataclasses import asdict

import pytest
from cure_case import roof
from drawer_case import moved, put, records, request, task
from survey_scene import station

from skyview.errors import InputError
from skyview.survey.assess import assess
from skyview.survey.batch import evaluate as module
from skyview.survey.batch.evaluate import change_of, evaluate, records_for, terrain_stamp
from skyview.survey.models import validate

TOLD = ("spot", "antenna_height_m", "antenna", "station", "rf_channel", "path",
        "obstruction_loss_db", "reception", "reception_probability")  # fmt: skip


@pytest.fixture
def house(tmp_path):
    return put(tmp_path / "house")


def test_both_words_are_those_of_the_whole_chain(house):
    change = {"erp_kw": 400.0, "rf_channel": 31}
    found = evaluate(request(records(QEAS=change)), task(house))
    assert found.problem is None
    new = assess(validate(moved(roof(), "QEAS", **change))).rows
    old = assess(validate(roof())).rows
    assert len(found.rows) == len(new) == 10
    for row, now, before in zip(found.rows, new, old, strict=True):
        assert {name: row[name] for name in TOLD} == {n: getattr(now, n) for n in TOLD}
        assert row["margin_db"] == asdict(now.margin_db)
        assert row["old_reception"] == before.reception
        assert row["old_reception_probability"] == before.reception_probability
        assert row["changed"] == (now.reception != before.reception)
    assert {r["station"] for r in found.rows if r["change"] == "better"} >= {"QEAS"}


def test_gone_and_new_stations_stand_at_their_positions(house):
    new = {**station("QNEW", 175.0, 50.0), "rf_channel": 15, "erp_kw": 900.0, "system": "atsc1"}
    found = evaluate(request([*records(QSOU=None), new]), task(house))
    ridge = [row for row in found.rows if row["spot"] == "ridge"]
    assert found.rows[: len(ridge)] == tuple(ridge)
    gone, added = ridge[-1], next(row for row in ridge if row["station"] == "QNEW")
    assert (gone["station"], gone["change"], gone["changed"]) == ("QSOU", "gone", True)
    assert (gone["path"], gone["margin_db"], gone["reception"]) == (None, None, None)
    assert gone["old_reception"] == "doubtful"
    assert (added["change"], added["old_reception"]) == ("new", None)
    assert added["reception"] != "unknown"


def test_others_stay_as_they_are_in_a_partial_list(house):
    found = evaluate(request(records()[:1], others=True), task(house))
    assert {row["change"] for row in found.rows} == {"same"}
    assert len(found.rows) == 10


def test_a_survey_without_stations_gets_new_ones(tmp_path):
    found = evaluate(request(records()), task(put(tmp_path / "bare", stations=[])))
    assert {row["change"] for row in found.rows} == {"new"}


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ("sure", "likely", "worse"),
        ("no", "doubtful", "better"),
        ("likely", "likely", "same"),
        ("unknown", "unknown", "same"),
        ("sure", "unknown", "unclear"),
        ("unknown", "no", "unclear"),
        (None, "no", "new"),
    ],
)
def test_what_became_of_a_word(old, new, word):
    assert change_of(old, new) == word


def test_only_new_stations_are_chosen_by_distance_and_band():
    far = {**station("QFAR", 40.0, 200.0), "rf_channel": 27, "erp_kw": 10.0}
    near = {**station("QUHF", 40.0, 30.0), "rf_channel": 20, "erp_kw": 10.0}
    low = {**station("QLOW", 40.0, 30.0), "rf_channel": 4, "erp_kw": 10.0}
    asked = request([*records(), far, near, low], within_km=50.0, bands=frozenset({"uhf"}))
    chosen = [record["id"] for record in records_for(validate(roof()), asked)]
    assert chosen == ["QNOR", "QEAS", "QVHF", "QSOU", "QNEA", "QUHF"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "house/survey.json: it is empty; bring back a good copy."),
        ('{"format": "skyview-survey"', "house/survey.json: it ends too early"),
        ('{"format": "skyview-survey", "version": 1, "revision": 1, "site": {"latitude_deg": 95, '
         '"longitude_deg": 0}}', "house/survey.json, site.latitude_deg: "),
        ('{"format": "skyview-survey", "version": 1, "revision": 1, "site": {"latitude_deg": -38, '
         '"longitude_deg": -117}}', "house/survey.json, spots: the survey has no spot"),
    ],
)  # fmt: skip
def test_a_bad_survey_is_one_sentence(house, text, words):
    (house / "survey.json").write_text(text, encoding="utf-8")
    found = evaluate(request(records()), task(house))
    assert found.rows == ()
    assert found.problem.startswith(words)
    assert found.problem[-1] in ".?"
    assert "\n" not in found.problem


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (ZeroDivisionError("by\nnought"), "failed at it (ZeroDivisionError: by nought)"),
        (KeyError(), "failed at it (KeyError)"),
        (MemoryError(), "needs more memory"),
        (RecursionError("too deep"), "RecursionError"),
    ],
)
def test_a_fault_of_the_program_is_one_sentence(house, monkeypatch, error, words):
    def fails(*_, **__):
        raise error

    monkeypatch.setattr(module, "assess", fails)
    assert words in evaluate(request(records()), task(house)).problem


def test_what_the_list_cannot_do_for_a_survey_is_told(house):
    other = {**records()[0], "id": "QFAR", "latitude_deg": 38.0}
    assert (
        "no station of the list is left"
        in evaluate(request([other], within_km=100.0), task(house)).problem
    )
    refused = module.Request({"americas-6mhz": InputError("no row fits", "new.csv")})
    assert evaluate(refused, task(house)).problem == "new.csv: no row fits."


def test_the_terrain_file_s_stamp_follows_the_file(tmp_path):
    ground = tmp_path / "ground.tif"
    assert terrain_stamp(tmp_path, "ground.tif") is None
    ground.write_bytes(b"12345")
    first = terrain_stamp(tmp_path, "ground.tif")
    assert first[:2] == ("ground.tif", 5)
    ground.write_bytes(b"123456")
    assert terrain_stamp(tmp_path, "ground.tif") != first
    assert terrain_stamp(tmp_path, None) is None
