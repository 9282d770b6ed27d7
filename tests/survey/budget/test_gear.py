"""An antenna with its line: gains, losses, noise figures, from what the survey tells."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from link_case import signals, station, survey_of

from skyview.errors import InputError
from skyview.link.line import coax_loss_db
from skyview.survey.budget.gear import (
    WITHOUT_ELEMENTS_DBD,
    behind,
    diplexed,
    gear_of,
    pattern_db,
    polarization_db,
    unwanted_db,
)

THREE_BANDS = [station("L", 4), station("H", 9), station("U", 30)]


def gear(antenna, **more):
    survey = survey_of(THREE_BANDS, [{"id": "main", "spot": "ridge", **antenna}], **more)
    return gear_of(survey, survey.antennas[0], signals(survey)), signals(survey)


def test_nothing_told_is_what_planning_assumes():
    """ISED BPR-10, Appendix 8: gains 4, 6, 10 dBd, lines 1, 2, 4 dB, noise figures 10, 10, 7."""
    survey = survey_of(THREE_BANDS)
    found = gear_of(survey, None, signals(survey))
    assert found.gain_dbd.tolist() == [4.0, 6.0, 10.0]
    assert found.line_db.tolist() == [1.0, 2.0, 4.0]
    assert found.noise_figure_db.round(6).tolist() == [11.0, 12.0, 11.0]
    assert np.isnan(found.aim).all()


def test_a_band_without_elements():
    found, _ = gear({"gain_dbd": {"uhf": 9.0}})
    assert found.gain_dbd.tolist() == [WITHOUT_ELEMENTS_DBD, WITHOUT_ELEMENTS_DBD, 9.0]


def test_the_receivers_own_noise_figure_stands():
    found, _ = gear({}, receiver={"noise_figure_db": 5.0})
    assert found.noise_figure_db.round(6).tolist() == [6.0, 7.0, 9.0]


def test_preamplifier_at_the_mast_and_after_the_cable():
    """Friis: amplifier 2 dB and 20 dB, then 5 dB of loss and a 7 dB set; worked by hand."""
    lossy = [{"kind": "attenuator", "loss_db": 5.0}]
    amplifier = {"kind": "preamplifier", "gain_db": 20.0, "noise_figure_db": 2.0}
    receiver = {"noise_figure_db": 7.0}
    first, _ = gear({"downlead": [amplifier, *lossy]}, receiver=receiver)
    last, _ = gear({"downlead": [*lossy, amplifier]}, receiver=receiver)
    f = 10.0**0.2 + (10.0**0.5 - 1.0) / 100.0 + (10.0**0.7 - 1.0) / (100.0 / 10.0**0.5)
    assert first.noise_figure_db[0] == pytest.approx(10.0 * np.log10(f))
    behind_cable = 10.0**0.5 * (10.0**0.2 + (10.0**0.7 - 1.0) / 100.0)
    assert last.noise_figure_db[0] == pytest.approx(10.0 * np.log10(behind_cable))
    assert first.load_db.tolist() == [0.0] * 3
    assert last.load_db.tolist() == [-5.0] * 3
    assert first.line_db.tolist() == [5.0] * 3


def test_every_part_of_a_downlead_counts():
    parts = [
        {"kind": "transformer"},
        {"kind": "filter", "pass_mhz": [470.0, 608.0], "loss_db": 1.0},
        {"kind": "splitter", "ways": 2},
        {"kind": "coax", "type": "RG6", "length_m": 30.48},
    ]
    found, known = gear({"downlead": parts}, receiver={"splitter_ways": 4})
    cable = coax_loss_db("rg6", 30.48, known.frequency_mhz)
    through = np.array([20.0, 20.0, 1.0])
    half_and_quarter = 3.0103 + 0.5 + 6.0206 + 1.0
    assert found.line_db == pytest.approx(0.75 + through + cable + half_and_quarter, abs=1e-3)


def test_an_unknown_cable_names_the_antenna():
    with pytest.raises(InputError, match="rope") as caught:
        gear({"downlead": [{"kind": "coax", "type": "rope", "length_m": 3.0}]})
    assert caught.value.field == "antennas.main.downlead"


@given(st.floats(0.0, 60.0))
def test_cable_only_costs(length_m):
    """A cable of no length costs nothing, and more of it never gains."""
    none, _ = gear({"downlead": [{"kind": "coax", "type": "rg6", "length_m": 0.0}]})
    some, _ = gear({"downlead": [{"kind": "coax", "type": "rg6", "length_m": length_m}]})
    assert none.line_db.tolist() == [0.0] * 3
    assert np.all(some.noise_figure_db >= none.noise_figure_db)


def test_pattern_of_a_table_on_one_side_and_on_both():
    offset = np.radians([[-30.0] * 3])
    one, known = gear({"pattern": {"uhf": [[0, 0], [30, -3], [180, -20]]}})
    both, _ = gear({"pattern": {"uhf": [[-30, -7], [0, 0], [30, -3], [180, -20]]}})
    assert pattern_db(one, known, offset)[0, 2] == pytest.approx(-3.0)
    assert pattern_db(both, known, offset)[0, 2] == pytest.approx(-7.0)
    without = 80.0 * np.log10(np.cos(np.radians(30.0)))
    assert pattern_db(one, known, offset)[0, 0] == pytest.approx(without)


def test_unwanted_stations_meet_the_published_discrimination():
    """Rec. ITU-R BT.419-3: 16 dB at 60 degrees in Bands IV and V; 12 dB in Band III and
    3 in Band I, from memory."""
    found, known = gear({"pattern": {"uhf": [[0, 0], [60, -40], [180, -40]]}})
    there = unwanted_db(found, known, np.radians([[60.0] * 3]))
    assert there[0] == pytest.approx([-3.0, -12.0, -16.0])


def test_polarization():
    survey = survey_of(
        [station("H", 30), station("V", 31, polarization="v"), station("N", 32, polarization=None)],
        [{"id": "main", "spot": "ridge", "polarization": "v"}],
    )
    found = gear_of(survey, survey.antennas[0], signals(survey))
    assert polarization_db(found, signals(survey)).tolist() == [-16.0, 0.0, 0.0]


def test_two_antennas_on_a_diplexer():
    """Each band from the antenna that is built for it, less the diplexer's 0.75 dB."""
    survey = survey_of(
        THREE_BANDS,
        [
            {"id": "u", "spot": "ridge", "gain_dbd": {"uhf": 12.0}, "aim_true_deg": 10.0},
            {"id": "v", "spot": "ridge", "gain_dbd": {"high_vhf": 7.0}, "aim_true_deg": 200.0},
        ],
    )
    first, second = (gear_of(survey, a, signals(survey)) for a in survey.antennas)
    pair = diplexed(first, second, signals(survey))
    assert pair.gain_dbd.tolist() == [WITHOUT_ELEMENTS_DBD, 7.0, 12.0]
    assert np.degrees(pair.aim).round(6).tolist() == [10.0, 200.0, 10.0]
    assert pair.line_db == pytest.approx(first.line_db + 0.75)


def test_a_loss_at_the_terminals_adds_to_a_passive_line():
    found, _ = gear({})
    assert behind(found, 3.0).noise_figure_db == pytest.approx(found.noise_figure_db + 3.0)
