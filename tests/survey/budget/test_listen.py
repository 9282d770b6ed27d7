"""Margins: planning sums, disturbance, overload, two antennas on one line."""

from __future__ import annotations

import numpy as np
import pytest
from check_rows import rows
from hypothesis import given
from hypothesis import strategies as st
from link_case import air, signals, station, survey_of

from skyview.survey.budget.kit import kit_of
from skyview.survey.budget.listen import best_of, listen

PLACE = [("ridge", 3.0)]


def hear(survey, field, azimuth, draws=1):
    kit = kit_of(survey, PLACE, signals(survey))
    heard = [listen(air(survey, field, azimuth, draws), row) for row in kit.rows]
    return best_of(heard)[0]


def test_the_planning_field_just_serves():
    """ISED BPR-10, Appendix 8: 40.6 dB(uV/m) at 615 MHz, scaled to the channel by 20 log f."""
    row = next(r for r in rows("ATSC1_planning_field_sum") if r.inputs["band"] == "UHF")
    survey = survey_of([station("QA", 36)])
    field = row.value + 20.0 * np.log10(605.0 / 615.0)
    assert hear(survey, field, 40.0).margin_db.item() == pytest.approx(0.0, abs=0.1)


def test_man_made_noise_where_planning_forgets_it():
    """Rec. ITU-R P.372 residential median, from memory: on a 10 dB receiver behind 1 and 2 dB of
    line the noise rises by about 11 and 1.9 dB at 69 and 195 MHz."""
    survey = survey_of([station("L", 4), station("H", 10)])
    field = [27.6 + 20.0 * np.log10(69.0 / 69.0), 35.6 + 20.0 * np.log10(195.0 / 194.0)]
    assert hear(survey, field, [0.0, 0.0]).margin_db[0, 0] == pytest.approx([-11.0, -1.8], abs=0.3)


def test_a_station_whose_threshold_is_not_known():
    heard = hear(survey_of([station("QA", 30, system="atsc3")]), 90.0, 0.0)
    assert np.isnan(heard.margin_db).all()
    assert np.isnan(heard.probability).all()
    told = hear(survey_of([station("QA", 30, system="atsc3", required_cn_db=20.0)]), 90.0, 0.0)
    assert told.probability.item() == 1.0


@pytest.mark.parametrize(("ratio", "served"), [(15.2, True), (14.8, False)])
def test_two_stations_on_one_channel(ratio, served):
    """OET Bulletin 69: 15 dB far above the noise. The other is 10 degrees off, where BT.419 allows
    no discrimination."""
    survey = survey_of([station("W", 30), station("U", 30, role="interferer")])
    heard = hear(survey, [100.0, 100.0 - ratio], [0.0, 10.0])
    assert (heard.margin_db[0, 0, 0] >= 0.0) == served


@pytest.mark.parametrize(("channel", "ratio"), [(29, -28.0), (31, -26.0)])
def test_a_neighbour_channel(channel, ratio):
    """OET Bulletin 69, from memory: 28 dB above is borne on the lower side, 26 on the upper."""
    survey = survey_of([station("W", 30), station("U", channel, role="interferer")])
    fields = [[80.0, 80.0 - ratio + step] for step in (-0.3, 0.3)]
    assert [hear(survey, f, [0.0, 0.0]).margin_db[0, 0, 0] > 0.0 for f in fields] == [True, False]


def test_an_aimed_antenna_turns_its_back():
    main = {"id": "main", "spot": "ridge", "height_m": 3.0, "aim_true_deg": 90.0}
    survey = survey_of([station("W", 30), station("U", 30, role="interferer")], [main])
    ahead = hear(survey, [80.0, 80.0], [90.0, 95.0]).disturbance_dbm
    astern = hear(survey, [80.0, 80.0], [90.0, 270.0]).disturbance_dbm
    assert (ahead - astern)[0, 0, 0] == pytest.approx(16.0)


def test_overload_costs_two_for_one():
    amplifier = {"kind": "preamplifier", "gain_db": 20.0, "noise_figure_db": 2.0}
    antenna = {"id": "main", "spot": "ridge", "height_m": 3.0, "aim_true_deg": 0.0}

    def margin(overload_dbm):
        part = {**amplifier, "overload_dbm": overload_dbm}
        survey = survey_of([station("W", 30)], [{**antenna, "downlead": [part]}])
        return hear(survey, 110.0, 0.0).margin_db.item()

    power = 110.0 - 20.0 * np.log10(569.0) - 75.07 + 10.0
    assert margin(power + 3.0) == pytest.approx(margin(200.0))
    assert margin(200.0) - margin(power - 4.0) == pytest.approx(8.0, abs=0.02)


def test_two_antennas_of_one_band_on_a_hybrid():
    """Ideal four-port: equal waves in step gain 3.01 dB, opposed cancel; 0.5 dB on top."""
    pair = [
        {"id": "a", "spot": "ridge", "height_m": 3.0, "aim_true_deg": 0.0},
        {"id": "b", "spot": "ridge", "height_m": 3.0, "aim_true_deg": 0.0},
    ]
    single = survey_of([station("W", 30)], pair[:1])
    joined = survey_of(
        [station("W", 30)], [{**pair[0], "combined_with": "b", "combined_by": "hybrid"}, pair[1]]
    )
    alone = hear(single, 60.0, 0.0, 8).carrier_dbm[:, 0, 0]
    both = hear(joined, 60.0, 0.0, 8).carrier_dbm[:, 0, 0]
    assert both[0] - alone[0] == pytest.approx(3.0103 - 0.5, abs=1e-6)
    assert both[4] < alone[4] - 100.0


def test_separate_downleads_serve_the_better_of_two():
    antennas = [
        {"id": "east", "spot": "ridge", "height_m": 3.0, "aim_true_deg": 90.0},
        {"id": "west", "spot": "ridge", "height_m": 3.0, "aim_true_deg": 270.0},
    ]
    survey = survey_of([station("E", 30), station("W", 33)], antennas)
    kit = kit_of(survey, PLACE, signals(survey))
    waves = air(survey, 60.0, [90.0, 270.0])
    heard, which = best_of([listen(waves, row) for row in kit.rows])
    assert [kit.stands[i][0] for i in which[0]] == ["east", "west"]
    assert heard.margin_db[0, 0, 0] == pytest.approx(heard.margin_db[0, 0, 1], abs=1.0)


@given(st.floats(0.0, 40.0), st.floats(0.0, 40.0))
def test_more_loss_never_raises_a_margin(loss, more):
    survey = survey_of([station("W", 30), station("U", 31, role="interferer")])
    fields = [[70.0 - loss, 70.0], [70.0 - loss - more, 70.0]]
    less, worse = (hear(survey, f, [0.0, 40.0]).margin_db[0, 0, 0] for f in fields)
    assert worse <= less + 1e-9


def test_an_override_of_the_aim():
    main = {"id": "main", "spot": "ridge", "height_m": 3.0, "aim_true_deg": 90.0}
    survey = survey_of([station("W", 30)], [main])
    row = kit_of(survey, PLACE, signals(survey)).rows[0]
    waves = air(survey, 60.0, 0.0)
    turned = listen(waves, row, np.radians([0.0])).margin_db
    assert (turned - listen(waves, row).margin_db).item() == pytest.approx(14.0)
