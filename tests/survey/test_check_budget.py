"""What the link budget lacks, each said once with its mend."""

from __future__ import annotations

import shlex

import pytest
from cure_case import edited, main_of, outline, roof, survey, thing

from skyview.survey.assess import assess
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


def test_surroundings_and_cables_that_no_answer_knows():
    data = roof()
    data["site"]["surroundings"] = "forest"
    main_of(data)["downlead"] = [{"kind": "coax", "type": "rg999", "length_m": 9.0}]
    found = said(data)
    assert [f.severity for f in found.values()] == ["missing", "missing"]
    assert "rural" in found["site.surroundings"].sentence
    assert "rg6" in found["antennas.main.downlead.0.type"].sentence
    for finding, value in zip(found.values(), ("urban", "rg11"), strict=True):
        path = shlex.split(finding.mend)[-1].partition("=")[0]
        assert set_field(survey(data), path, value)


def test_a_mode_that_is_supposed_is_said():
    data = roof()
    data["stations"][0].update(system="dvbt2")
    data["stations"][1].update(system="dvbt", mode="16qam-2/3")
    found = said(data)
    assert list(found) == ["stations.QNOR.mode"]
    assert "256qam-2/3" in found["stations.QNOR.mode"].sentence
    notes = assess(survey(data)).warnings
    assert "the mode of QNOR is not known: 256qam-2/3 is supposed" in notes
