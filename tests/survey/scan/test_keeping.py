"""Scans kept with their dates, and the site's correction taken from one."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scan_case import survey_of

from skyview.errors import InputError
from skyview.survey.scan.answer import Finding, ScanAnswer
from skyview.survey.scan.keeping import rf_of_virtual, with_missing, with_offset, with_scan

ANSWER = ScanAnswer(
    antenna="main", taken=None, at="set", rows=(), finding=Finding("none", 0.9), others=(),
    since=None, offset_db=-4.26, offset_sigma_db=2.0, line_cleared=True, again_on=None, warnings=(),
)  # fmt: skip


def test_scans_of_other_days_are_added_and_of_the_same_moment_replaced():
    survey = survey_of([14])
    one = {"taken": "2026-01-01", "antenna": "main", "rows": [{"rf_channel": 14, "received": True}]}
    survey, number, replaced = with_scan(survey, one)
    assert (number, replaced) == (0, False)
    survey, number, replaced = with_scan(survey, one | {"taken": "2026-07-01"})
    assert (number, replaced) == (1, False)
    survey, number, replaced = with_scan(survey, one | {"at": "terminals"})
    assert (number, replaced) == (2, False)
    survey, number, replaced = with_scan(survey, one | {"rows": []})
    assert (number, replaced, len(survey.scans)) == (0, True, 3)
    assert survey.scans[0].rows == []


def test_an_unknown_antenna_is_refused():
    with pytest.raises(InputError, match="attic"):
        with_scan(survey_of([14]), {"antenna": "attic", "rows": []})


def test_channels_left_out_become_rows():
    rows = with_missing([{"rf_channel": 14, "received": True}], survey_of([14, 15]))
    assert rows[1] == {"rf_channel": 15, "received": False}


def test_virtual_channels_by_their_major_part():
    survey = survey_of([14, 15])
    survey.stations[1].virtual_channel = "6.1"
    assert rf_of_virtual(survey) == {"6": 15}


def test_the_offset_needs_a_cleared_line_and_a_reading_in_decibels():
    survey = survey_of([14])
    assert with_offset(survey, ANSWER).site.field_offset_db == -4.3
    with pytest.raises(InputError, match="line is not cleared"):
        with_offset(survey, replace(ANSWER, line_cleared=False))
    with pytest.raises(InputError, match="no offset"):
        with_offset(survey, replace(ANSWER, offset_db=None))
