"""Which antenna is taken where."""

from __future__ import annotations

from link_case import signals, station, survey_of

from skyview.survey.budget.kit import kit_of

STATIONS = [station("QA", 30)]
MAIN = {
    "id": "main",
    "spot": "ridge",
    "height_m": 3.0,
    "aim_true_deg": 90.0,
    "gain_dbd": {"uhf": 9},
}


def stands(antennas, places):
    survey = survey_of(STATIONS, antennas)
    return kit_of(survey, places, signals(survey))


def test_none_yet():
    kit = stands([], [("ridge", 3.0)])
    assert kit.stands == ((None,),)
    assert "no antenna" in kit.warnings[0]


def test_own_and_moved():
    kit = stands([MAIN], [("ridge", 3.0), ("ridge", 4.0)])
    assert kit.stands == (("main", None),)
    assert kit.rows[0].at.tolist() == [0, 0]
    assert "antenna main is taken as moved to ridge 4 m" in kit.warnings


def test_what_is_assumed_is_said():
    kit = stands([{"id": "bare", "spot": "ridge", "height_m": 3.0}], [("ridge", 3.0)])
    said = " / ".join(kit.warnings)
    assert "no aim" in said
    assert "no gain" in said
    assert "no downlead" in said


def test_the_second_of_a_pair_stands_for_nothing_of_its_own():
    pair = [{**MAIN, "combined_with": "vhf", "combined_by": "diplexer"}, {**MAIN, "id": "vhf"}]
    kit = stands(pair, [("ridge", 3.0)])
    assert kit.stands == (("main",),)


def test_of_two_alike_on_a_diplexer_it_is_said_which_is_taken():
    pair = [{**MAIN, "combined_with": "two", "combined_by": "diplexer"}, {**MAIN, "id": "two"}]
    (said,) = [w for w in stands(pair, [("ridge", 3.0)]).warnings if "alike" in w]
    assert "antennas main and two gain alike in uhf: main is taken" in said
    pair[1]["gain_dbd"] = {"high_vhf": 6.0}
    assert not any("alike" in w for w in stands(pair, [("ridge", 3.0)]).warnings)


def test_hybrids_name_their_other():
    pair = [{**MAIN, "combined_with": "b", "combined_by": "hybrid"}, {**MAIN, "id": "b"}]
    row = stands(pair, [("ridge", 3.0)]).rows[0]
    assert (row.at.tolist(), row.other.tolist()) == ([0], [1])
