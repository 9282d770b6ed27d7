"""Which surveys there are, which are still to do, what becomes of each."""

from __future__ import annotations

import pytest
from drawer_case import put, records, request, serially, write_list

from skyview.errors import InputError
from skyview.survey.batch.drawer import (
    Effect,
    Move,
    digest_of_request,
    effect_of,
    missing_photos,
    readings_of,
    surveys_below,
    work_through,
)
from skyview.survey.batch.journal import Journal


@pytest.fixture
def home(tmp_path):
    for name in ("b", "a/2", "a/10", ".hidden/c"):
        put(tmp_path / "home" / name)
    return tmp_path / "home"


def run(home, results, asked, stop_after=None):
    """Names of the surveys that were worked on, and the drawer."""
    worked = []

    def engine(work, tasks):
        for one, outcome in serially(work, tasks):
            worked.append(one.survey)
            yield one, outcome
            if len(worked) == stop_after:
                raise KeyboardInterrupt

    drawer, heard = surveys_below(home), []
    with Journal(results) as journal:
        try:
            work_through(drawer, asked, journal, engine, heard.append)
        except KeyboardInterrupt:
            assert stop_after is not None
    assert heard == list(range(1, len(heard) + 1))
    return worked, drawer


def test_every_survey_below_is_found_in_a_stable_order(home):
    assert list(surveys_below(home).folders) == ["a/10", "a/2", "b"]
    assert list(surveys_below(home / "b").folders) == ["."]
    with pytest.raises(InputError, match=r"no survey\.json"):
        surveys_below(home / "b" / "photos")
    with pytest.raises(InputError, match="no such folder"):
        surveys_below(home / "missing")


def test_an_interrupted_run_goes_on_where_it_stopped(home, tmp_path):
    results, asked = tmp_path / "results.csv", request(records())
    assert run(home, results, asked, stop_after=2)[0] == ["a/10", "a/2"]
    worked, drawer = run(home, results, asked)
    assert worked == ["b"]
    assert drawer.taken_over == 2
    assert run(home, results, asked)[0] == []


def test_what_changed_since_is_done_anew(home, tmp_path):
    results, asked = tmp_path / "results.csv", request(records())
    run(home, results, asked)
    file = home / "b" / "survey.json"
    file.write_text(file.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert run(home, results, asked)[0] == ["b"]
    assert len(run(home, results, request(records(QEAS={"erp_kw": 41.0})))[0]) == 3


def test_a_failed_survey_is_tried_again_and_stops_nobody(home, tmp_path):
    results, asked = tmp_path / "results.csv", request(records())
    (home / "a" / "2" / "survey.json").write_text("{", encoding="utf-8")
    (home / "b" / "survey.json").write_bytes(b"\xff\xfe")
    worked, drawer = run(home, results, asked)
    assert worked == ["a/10", "a/2"]
    assert drawer.problems["a/2"].startswith("a/2/survey.json: it ends too early")
    assert drawer.problems["b"].startswith("b/survey.json: byte 0 is not UTF-8")
    assert run(home, results, asked)[0] == ["a/2"]


def test_a_process_that_died_is_told(home, tmp_path):
    def engine(_, tasks):
        yield from ((one, None) for one in tasks)

    drawer = surveys_below(home)
    with Journal(tmp_path / "results.csv") as journal:
        work_through(drawer, request(records()), journal, engine, lambda _: None)
    assert drawer.problems["b"].startswith("b/survey.json: the process at work on it was ended")


@pytest.mark.parametrize("name", ["version", "within", "bands", "others", "leaf", "list"])
def test_the_digest_follows_everything_that_the_answer_rests_on(name, monkeypatch):
    first = request(records())
    other = {
        "within": request(records(), within_km=50.0),
        "bands": request(records(), bands=frozenset({"uhf"})),
        "others": request(records(), others=True),
        "leaf": request(records(), leaf="out"),
        "list": request(records(QVHF={"erp_kw": 1.5})),
    }.get(name, request(records()))
    before = digest_of_request(first)
    assert digest_of_request(request(records())) == before
    if name == "version":
        monkeypatch.setattr("skyview.survey.batch.drawer.__version__", "99")
    assert digest_of_request(other) != before


def test_a_list_is_read_for_every_channel_plan(tmp_path):
    found = readings_of(write_list(tmp_path / "new.csv", records()), None, False)
    assert found["americas-6mhz"].rows_used == 5
    assert found["europe-8mhz"].rows_used == 4
    with pytest.raises(InputError):
        readings_of(write_list(tmp_path / "none.csv", []), None, False)


def test_missing_photographs_are_noticed(home, tmp_path):
    results = tmp_path / "results.csv"
    run(home, results, request(records()))
    with Journal(results) as journal:
        work_through(surveys_below(home), request(records()), journal, serially, lambda _: None)
        outcome = journal.outcome("b")
    assert missing_photos(outcome, home / "b") == []
    (home / "b" / "photos" / "round.jpg").unlink()
    assert missing_photos(outcome, home / "b") == ["photos/round.jpg"]


def row(station, old, new, change, antenna=None):
    return {"station": station, "old_reception": old, "reception": new, "change": change,
            "antenna": antenna}  # fmt: skip


def test_an_effect_counts_where_the_antenna_stands():
    here = [row("QA", "sure", "no", "worse", "main"), row("QB", "no", "no", "same", "main")]
    elsewhere = [row("QB", "no", "sure", "better"), row("QA", "sure", "no", "worse")]
    assert effect_of(here + elsewhere) == Effect((Move("QA", "sure", "no"),), (), ())
    assert effect_of(elsewhere).better == (Move("QB", "no", "sure"),)


def test_new_and_gone_stations_count_as_having_been_no():
    rows = [
        row("QA", None, "likely", "new"),
        row("QB", None, "no", "new"),
        row("QC", "sure", None, "gone"),
        row("QD", "unknown", None, "gone"),
        row("QE", "sure", "unknown", "unclear"),
    ]
    found = effect_of(rows)
    assert [move.station for move in found.better] == ["QA"]
    assert [move.station for move in found.worse] == ["QC"]
    assert [move.station for move in found.unclear] == ["QE"]
