"""What the link budget lacks, each said once with its mend."""

from __future__ import annotations

import shlex

import pytest
from cure_case import edited, main_of, outline, roof, survey, thing

from skyview.survey.check_budget import budget_findings
from skyview.survey.edit import set_field
from skyview.survey.finding import Command
from skyview.survey.models import new_survey

AMPLIFIER = {"kind": "preamplifier", "gain_db": 20.0}


def said(data):
    """What is said of a survey whose stations' heights above average terrain are known."""
    for station in data["stations"]:
        station["haat_m"] = 200.0
    return {f.field: f for f in budget_findings(survey(data), Command("house"))}


def test_nothing_is_asked_for_before_there_are_stations():
    assert list(budget_findings(new_survey(40.0, -100.0), Command("house"))) == []


def test_a_whole_budget_is_content():
    assert said(roof()) == {}


@pytest.mark.parametrize(
    ("field", "value"),
    [("aim_true_deg", "100"), ("height_m", "2"), ("gain_dbd", '{"uhf": 9}'), ("downlead", "[]")],
)
def test_what_an_antenna_lacks(field, value):
    data = edited(roof(), lambda d: main_of(d).update({field: [] if field == "downlead" else None}))
    (finding,) = said(data).values()
    assert finding.field == f"antennas.main.{field}"
    path = shlex.split(finding.mend)[-1].partition("=")[0]
    assert set_field(survey(data), path, value)


def test_no_antenna_is_one_finding():
    assert list(said(roof(antennas=[]))) == ["antennas"]


def test_powers_and_thresholds():
    data = roof()
    for station in data["stations"]:
        station["erp_kw"] = None
        station["system"] = None
    found = said(data)
    assert list(found) == ["stations.QNOR.erp_kw", "stations.QNOR.required_cn_db"]
    assert "and 2 more" in found["stations.QNOR.erp_kw"].sentence


def test_a_preamplifier_bare_before_a_mobile_phone_mast():
    data = roof()
    data["obstructions"].append(thing("tower", "mast", 300.0, transmits="cellular"))
    data["outlines"].append(outline("tower", 40.0, 40.4, -2, 6))
    assert said(data) == {}
    main_of(data)["downlead"].insert(0, AMPLIFIER)
    assert "filter" in said(data)["antennas.main.downlead"].sentence
    main_of(data)["downlead"].insert(0, {"kind": "filter", "pass_mhz": [54.0, 608.0]})
    assert said(data) == {}
