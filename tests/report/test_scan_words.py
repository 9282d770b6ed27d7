"""Words for every cause, each with its next test."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import pytest

from skyview.report import scan_words as words
from skyview.survey.scan.answer import CauseCode, Finding, ScanAnswer, StationScan


@pytest.mark.parametrize("code", get_args(CauseCode))
def test_every_cause_has_its_words(code):
    assert words.cause_text(code)
    test = words.next_test(code)
    assert test.endswith(".")
    assert "safe" not in f"{words.cause_text(code)} {test}".lower().split()


@pytest.mark.parametrize("code", ["line", "band", "aim", "multipath", "overload", "foliage"])
def test_tests_on_the_roof_are_marked(code):
    assert words.on_the_roof(code)


def test_a_finding_says_where_how_much_and_how_likely():
    text = words.finding_text(Finding("aim", 0.93, turn_deg=-40.0))
    assert "40° too far left" in text
    assert "9 chances in 10" in text
    assert words.finding_text(Finding("cannot_tell", 0.4)).startswith("Several causes")


ANSWER = ScanAnswer(
    antenna="main", taken="2026-02-01", at="set", rows=(), finding=Finding("none", 0.9), others=(),
    since=None, offset_db=-9.0, offset_sigma_db=3.0, line_cleared=False, again_on="2026-06-15",
    warnings=(),
)  # fmt: skip


def test_the_offset_asks_for_the_line_s_test_before_it_is_taken():
    asked = " ".join(words.offset_text(ANSWER))
    assert "−9 dB" in asked
    assert "terminals" in asked
    small = replace(ANSWER, offset_db=-2.0)
    assert "terminals" not in " ".join(words.offset_text(small))
    ready = replace(ANSWER, line_cleared=True)
    assert "--use-offset" in " ".join(words.offset_text(ready))
    assert "now the site's own" in " ".join(words.offset_text(ready, taken=True))
    assert len(words.offset_text(replace(ANSWER, offset_db=None))) == 1


def test_the_day_to_look_again():
    assert "15 June 2026" in words.again_text(ANSWER)
    assert words.again_text(replace(ANSWER, again_on=None)) is None


def test_a_row_s_record_keeps_the_contract():
    row = StationScan("QA", 21, True, 0.9, -50.0, -58.0, -8.0, 10.0, "agrees")
    record = words.row_record(row)
    assert {"station", "rf_channel", "received", "predicted_probability", "difference_db", "cause",
            "next_test"} <= set(record)  # fmt: skip
    assert record["next_test"] is None
