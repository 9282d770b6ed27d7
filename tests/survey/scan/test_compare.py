"""A survey's scans beside its prediction: rows, partners, seasons, the line's own test."""

from __future__ import annotations

import numpy as np
import pytest
from scan_case import survey_of

from skyview.errors import InputError
from skyview.survey.json_text import plain
from skyview.survey.models import validate
from skyview.survey.scan.compare import antenna_of, compare
from skyview.survey.scan.expected import expected_of, turned_db

CHANNELS = [14, 16, 18, 20, 22, 24, 8, 10, 12]
COAX = {"kind": "coax", "type": "rg6", "length_m": 30.48}


def survey(*scans, **antenna):
    data = plain(survey_of(CHANNELS, downlead=[COAX], **antenna))
    return validate(data | {"scans": list(scans)})


def scan(change=0.0, taken="2026-07-01", at="set", **more):
    """The predicted levels, moved, as a meter reads them."""
    bare = survey()
    level = expected_of(bare, bare.antennas[0], at, "in").level_dbm
    rows = [
        {"rf_channel": c, "received": True, "strength_dbm": float(x)}
        for c, x in zip(CHANNELS, level + change, strict=True)
    ]
    return {"taken": taken, "antenna": "main", "at": at, "rows": rows} | more


def test_what_is_read_as_predicted_agrees():
    answer = compare(survey(scan()))
    assert answer.finding.code == "none"
    assert [row.difference_db for row in answer.rows] == pytest.approx([0.0] * 9, abs=0.01)
    assert {row.cause for row in answer.rows} == {"agrees"}
    assert abs(answer.offset_db) < 0.5


def test_the_level_is_the_sum_of_the_chain():
    """Field to power -20 log f - 75.07 (matched half-wave dipole), 9 dBd, and 100 ft of the
    product's own table for the cable: against the field of the same prediction."""
    from skyview.link.line import coax_loss_db
    from skyview.survey.scene import scene_of

    bare = survey()
    told = expected_of(bare, bare.antennas[0], "set", "in")
    terminals = expected_of(bare, bare.antennas[0], "terminals", "in")
    field = scene_of(bare, heights_m=[2.0]).field
    median = 0.5 * (field.wanted_dbuv_m + field.unwanted_dbuv_m)[0]
    f = told.signals.frequency_mhz
    gain = np.where(f > 300.0, 9.0, 6.0)
    assert terminals.level_dbm == pytest.approx(median - 20 * np.log10(f) - 75.07 + gain, abs=0.05)
    lost = terminals.level_dbm - told.level_dbm
    assert lost == pytest.approx(coax_loss_db("rg6", 30.48, f))


def test_a_preamplifier_raises_the_level_at_the_set_alone():
    amplifier = {"kind": "preamplifier", "gain_db": 20.0}
    bare = validate(plain(survey_of(CHANNELS, downlead=[amplifier, COAX])))
    plainly = survey()
    with_it, without = (expected_of(s, s.antennas[0], "set", "in") for s in (bare, plainly))
    assert with_it.level_dbm - without.level_dbm == pytest.approx(20.0)
    terminals = expected_of(bare, bare.antennas[0], "terminals", "in")
    assert terminals.amplifier_db == 0.0


def test_a_turn_takes_from_one_side_and_gives_to_the_other():
    bare = survey(aim_true_deg=30.0)
    told = expected_of(bare, bare.antennas[0], "set", "in")
    turned = turned_db(told, np.radians([-30.0, 0.0, 30.0]))
    assert np.all(turned[0] > 3.0)
    assert turned[1] == pytest.approx(0.0)
    assert np.all(turned[2] < -3.0)


def test_low_levels_at_the_set_and_good_ones_at_the_terminals_are_the_line():
    low = scan(-18.0)
    alone = compare(survey(low))
    assert not alone.line_cleared
    answer = compare(survey(low, scan(0.0, at="terminals", taken="2026-07-01T12:00")), 0)
    assert answer.finding.code == "line"
    assert answer.finding.size_db == pytest.approx(18.0, abs=3.0)
    assert {row.cause for row in answer.rows} == {"line"}
    assert not answer.line_cleared


def test_levels_as_low_at_the_terminals_clear_the_line():
    both = survey(scan(-8.0), scan(-8.0, at="terminals", taken="2026-07-01T12:00"))
    answer = compare(both, 0)
    assert answer.finding.code != "line"
    assert answer.line_cleared
    assert answer.offset_db < -4.0
    assert compare(both, 1).line_cleared


def test_the_offset_is_told_from_the_bare_prediction_whatever_the_survey_holds():
    one = survey(scan(-8.0))
    two = one.model_copy(deep=True)
    two.site.field_offset_db = -7.0
    first, second = compare(one), compare(two)
    assert second.offset_db == pytest.approx(first.offset_db, abs=0.7)
    assert second.offset_sigma_db == pytest.approx(first.offset_sigma_db, abs=1.0)
    assert [row.difference_db for row in second.rows] == pytest.approx([-1.0] * 9, abs=0.01)


def test_a_change_since_the_last_scan_is_dated():
    answer = compare(survey(scan(0.0, taken="2025-07-01"), scan(-20.0)))
    assert (answer.finding.code, answer.since) == ("line", "2025-07-01")


def test_scans_of_bars_and_of_decibels_can_stand_together():
    bars = scan(0.0, taken="2025-07-01")
    bars["rows"] = [{"rf_channel": c, "received": True, "strength_bars": 4} for c in CHANNELS]
    answer = compare(survey(bars, scan()))
    assert answer.finding.code == "none"
    only = compare(survey(bars))
    assert only.offset_db is None
    assert all(row.difference_db is None for row in only.rows)


def test_another_number_and_an_unlisted_channel_are_told():
    data = plain(survey(scan()))
    data["stations"][0]["virtual_channel"] = "6.1"
    data["scans"][0]["rows"][0]["virtual_channel"] = "44.1"
    data["scans"][0]["rows"].append({"rf_channel": 36, "received": True})
    answer = compare(validate(data))
    assert answer.rows[0].cause == "other_station"
    assert (answer.rows[-1].station, answer.rows[-1].cause) == (None, "not_listed")


def test_of_two_stations_on_a_channel_the_shown_number_tells():
    data = plain(survey(scan()))
    twin = dict(data["stations"][0], id="QTWIN", virtual_channel="9.1", erp_kw=1.0)
    data["stations"].append(twin)
    assert "QTWIN" not in {row.station for row in compare(validate(data)).rows}
    data["scans"][0]["rows"][0]["virtual_channel"] = "9.2"
    assert "QTWIN" in {row.station for row in compare(validate(data)).rows}


def test_what_cannot_be_compared_is_said():
    with pytest.raises(InputError, match="no scan"):
        compare(survey())
    with pytest.raises(InputError, match="no row"):
        compare(survey({"taken": "2026-07-01"}))
    data = plain(survey(scan()))
    del data["stations"][0]["erp_kw"]
    answer = compare(validate(data))
    assert any("QA" in note for note in answer.warnings)
    assert answer.rows[0].difference_db is None


def test_the_first_leading_antenna_is_meant():
    bare = survey()
    assert antenna_of(bare, None).id == "main"
    bare.antennas = []
    assert antenna_of(bare, None) is None
