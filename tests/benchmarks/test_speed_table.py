"""The table of speed in README.md is the one that was measured, and has every goal."""

from __future__ import annotations

from speed_cases import CASES
from speed_table import HEADING, README, goal_words, markdown, read_rows, row_of
from speed_work import Case, Goal, Work


def test_the_readme_shows_the_table_that_was_measured():
    text = README.read_text(encoding="utf-8")
    assert f"{HEADING}\n{markdown(read_rows())}\n" in text


def test_every_goal_stands_in_the_table():
    assert [(r["what"], r["goal"]) for r in read_rows()] == [
        (case.what, goal_words(case)) for case in CASES
    ]


def test_one_missed_part_of_a_goal_is_a_miss():
    goal = Goal(seconds=2.0, ratio=0.5, peak_mb=300.0, decoded_times=6.0)
    case = Case("reading", goal, lambda folder: work)
    work = Work(lambda: None, decoded_mb=50.0)
    assert row_of(case, work, 1.0, 4.0, 290.0)["met"] == "yes"
    for seconds, beside, peak in ((3.0, 9.0, 290.0), (1.0, 1.5, 290.0), (1.0, 4.0, 310.0)):
        assert row_of(case, work, seconds, beside, peak)["met"] == "no"
    small = Work(lambda: None, decoded_mb=40.0)
    assert row_of(case, small, 1.0, 4.0, 290.0)["met"] == "no"
    told = row_of(Case("plain", Goal(), lambda folder: work), work, 1.0, 4.0, 290.0)
    assert (told["met"], told["ratio"]) == ("", "0.25")
    row = row_of(case, work, 3.0, 9.0, 290.0)
    assert "**missed**" in markdown([{**row, "beside": "the fixed calculation"}])
