"""Cures: each gains what the changed survey gains when it is worked out from the start."""

from __future__ import annotations

import copy

import numpy as np
import pytest
from cure_case import cure, edited, main_of, outline, roof, rows, survey, thing, weak

from skyview.survey.assess import assess
from skyview.survey.budget.cures import HARM, LEAST_DB
from skyview.survey.budget.edits import BEST_CABLE, amplified
from skyview.survey.budget.judged import judged
from skyview.survey.budget.options import EFFORT, LARGER_DBD
from skyview.survey.budget.places import by_place, moves_of
from skyview.survey.budget.trees import TRIM_M
from skyview.survey.models import Antenna
from skyview.survey.scene import scene_of


def again(data, station, spot="ridge", height_m=1.5):
    """The row of one station of a changed survey, worked out from the start."""
    found = assess(survey(data), spots=[spot], heights_m=[height_m], stations=[station])
    return found.rows[0]


@pytest.fixture(scope="module")
def before():
    return rows(roof())


def held(before, after, cured, within_db=0.01):
    """The cure's gain and probability are those of the survey with it done."""
    assert cured.gain_db == pytest.approx(after.margin_db.p50 - before.margin_db.p50, abs=within_db)
    assert cured.probability == pytest.approx(after.reception_probability, abs=0.005)


def test_only_open_cases_get_cures(before):
    assert {r.reception for r in before.values()} >= {"doubtful", "no", "likely"}
    for row in before.values():
        assert bool(row.cures) == (row.reception not in ("sure", "unknown"))
    strong = roof(stations=[weak("QBIG", 180.0, 1e6), weak("QNIL", 0.0, 20.0, system="atsc3")])
    assert [row.cures for row in rows(strong).values()] == [(), ()]


def test_a_raise_is_the_higher_mast(before):
    cured = cure(before["QNOR"], "raise")
    data = edited(roof(), lambda d: main_of(d).update(height_m=1.5 + cured.amount))
    held(before["QNOR"], again(data, "QNOR", height_m=1.5 + cured.amount), cured, 0.3)


def test_another_spot_is_the_antenna_put_there(before):
    cured = cure(before["QVHF"], "another_spot")
    assert cured.thing == "gable"
    data = edited(roof(), lambda d: main_of(d).update(spot="gable", height_m=cured.amount))
    held(before["QVHF"], again(data, "QVHF", "gable", cured.amount), cured, 0.3)


def test_turning_the_antenna(before):
    cured = cure(before["QEAS"], "reaim")
    assert cured.amount == pytest.approx(90.0, abs=0.1)
    data = edited(roof(), lambda d: main_of(d).update(aim_true_deg=cured.amount))
    held(before["QEAS"], again(data, "QEAS"), cured)
    for cost in cured.costs:
        lost = before[cost.station].margin_db.p50 - again(data, cost.station).margin_db.p50
        assert cost.db == pytest.approx(lost, abs=0.01)
        assert cost.reception == again(data, cost.station).reception
    assert {cost.station for cost in cured.costs} == {"QNOR", "QNEA"}


def test_the_best_single_aim_serves_the_roof_better_than_the_old_one():
    data = roof(stations=[weak("QONE", 120.0, 150.0), weak("QTWO", 170.0, 150.0, 33)])
    found = rows(data)
    cured = cure(found["QONE"], "best_aim")
    assert 120.0 < cured.amount < 170.0
    turned = edited(data, lambda d: main_of(d).update(aim_true_deg=cured.amount))
    held(found["QONE"], again(turned, "QONE"), cured)
    chances = [
        sum(row.reception_probability for row in rows(changed).values())
        for changed in (turned, edited(data, lambda d: main_of(d).update(aim_true_deg=120.0)))
    ]
    assert chances[0] > chances[1]


def test_better_cable(before):
    def edit(data):
        main_of(data)["downlead"][1]["type"] = BEST_CABLE

    held(before["QNOR"], again(edited(roof(), edit), "QNOR"), cure(before["QNOR"], "cable"))


def test_a_preamplifier_at_the_mast(before):
    def edit(data):
        with_it = amplified(Antenna(**main_of(data)), None)
        main_of(data)["downlead"] = [part.model_dump() for part in with_it.downlead]

    changed = edited(roof(), edit)
    assert main_of(changed)["downlead"][1]["kind"] == "preamplifier"
    held(before["QNOR"], again(changed, "QNOR"), cure(before["QNOR"], "preamplifier"))


def test_a_larger_antenna_and_missing_elements(before):
    larger = edited(roof(), lambda d: main_of(d)["gain_dbd"].update(uhf=LARGER_DBD["uhf"]))
    held(before["QNOR"], again(larger, "QNOR"), cure(before["QNOR"], "larger_antenna"))
    vhf = edited(roof(), lambda d: main_of(d)["gain_dbd"].update(high_vhf=6.0, low_vhf=4.0))
    held(before["QVHF"], again(vhf, "QVHF"), cure(before["QVHF"], "vhf_elements"))
    assert "larger_antenna" not in {c.code for c in before["QVHF"].cures}


@pytest.mark.parametrize(("station", "kind"), [("QEAS", "separate"), ("QVHF", "diplexer")])
def test_two_antennas(before, station, kind):
    cured = cure(before[station], "two_antennas")
    assert cured.thing == kind
    second = {**copy.deepcopy(main_of(roof())), "id": "second"}
    second["aim_true_deg"] = before[station].bearing_deg
    data = roof()
    if kind == "diplexer":
        second["gain_dbd"] = {"high_vhf": 6.0}
        main_of(data).update(combined_with="second", combined_by="diplexer")
    data["antennas"].append(second)
    held(before[station], again(data, station), cured, 0.05)


def test_a_felled_tree_is_out_of_the_survey(before):
    def edit(data):
        data["obstructions"].pop(1)
        data["outlines"].pop(1)

    cured = cure(before["QEAS"], "fell")
    assert cured.thing == "oak"
    held(before["QEAS"], again(edited(roof(), edit), "QEAS"), cured, 0.3)


def low_tree():
    """The tree's top just above the ray, so that trimming frees it."""
    return roof(outlines=[outline("house", -25, 20, -10, 3.0), outline("oak", 70, 110, -10, 4.0)])


def test_a_trimmed_crown_is_a_lower_outline():
    data = low_tree()
    found = rows(data)["QEAS"]
    cured = cure(found, "trim")
    top = 6.5 + 20.0 * np.tan(np.radians(4.0)) / np.cos(np.radians(20.0))
    less = np.degrees(np.arctan((top - TRIM_M - 6.5) * np.cos(np.radians(20.0)) / 20.0))

    def edit(changed):
        changed["outlines"][1] = outline("oak", 70, 110, -10, float(less))

    lower = again(edited(data, edit), "QEAS")
    assert cured.gain_db == pytest.approx(lower.margin_db.p50 - found.margin_db.p50, abs=0.5)
    assert cured.gain_db <= cure(found, "fell").gain_db + 0.5


@pytest.mark.parametrize(
    ("owner", "code"),
    [("customer", None), ("neighbour", "neighbour"), ("public", "public"), (None, "whose_tree")],
)
def test_whose_tree_it_is(owner, code):
    data = roof()
    data["obstructions"][1]["owner"] = owner
    cautions = cure(rows(data)["QEAS"], "fell").cautions
    assert cautions == (("tree_work",) if code is None else ("tree_work", code))


def test_houses_are_not_felled(before):
    assert {c.code for c in before["QNOR"].cures}.isdisjoint({"fell", "trim"})


def test_a_tall_mast_carries_its_caution():
    for limit, guyed in ((20.0, False), (1.5, True)):
        data = roof(limits={"lines_checked": True, "unguyed_mast_m": limit})
        assert ("guys" in cure(rows(data)["QNOR"], "raise").cautions) == guyed


def test_a_preamplifier_only_where_the_line_limits():
    short = roof()
    main_of(short)["downlead"] = [{"kind": "coax", "type": "rg6", "length_m": 3.0}]
    assert "preamplifier" not in {c.code for c in rows(short)["QNOR"].cures}
    loud = roof()
    loud["stations"].append({**weak("QTOW", 2.0, 5000.0, 20), **near_by(2.0, 1.5)})
    assert "preamplifier" not in {c.code for c in rows(loud)["QNOR"].cures}


def near_by(azimuth_deg, distance_km):
    """The place of a station that is close enough to overload an amplifier."""
    from survey_scene import station

    there = station("Q", azimuth_deg, distance_km)
    return {key: there[key] for key in ("latitude_deg", "longitude_deg", "antenna_amsl_m")}


def test_an_overloaded_preamplifier_comes_out_or_gets_a_filter():
    data = roof()
    amplifier = {"kind": "preamplifier", "gain_db": 20.0, "noise_figure_db": 3.0}
    main_of(data)["downlead"].insert(0, {**amplifier, "overload_dbm": -30.0})
    main_of(data)["gain_dbd"]["high_vhf"] = 6.0
    data["stations"].append({**weak("QTOW", 2.0, 5000.0, 10), **near_by(2.0, 1.5)})
    found = rows(data)["QNOR"]
    assert found.losses_db["overload"] > 3.0
    out = cure(found, "no_preamplifier")
    without = edited(data, lambda d: main_of(d)["downlead"].pop(0))
    held(found, again(without, "QNOR"), out)
    guard = {"kind": "filter", "pass_mhz": [470.0, 608.0]}
    guarded = edited(data, lambda d: main_of(d)["downlead"].insert(0, guard))
    held(found, again(guarded, "QNOR"), cure(found, "filter"))


def test_a_filter_that_keeps_the_other_band_out_does_nothing_against_the_same_band():
    data = roof()
    amplifier = {"kind": "preamplifier", "gain_db": 20.0, "noise_figure_db": 3.0}
    main_of(data)["downlead"].insert(0, {**amplifier, "overload_dbm": -30.0})
    data["stations"] = data["stations"][:1]
    near = {**weak("QTOW", 2.0, 5000.0, 24), **near_by(2.0, 1.5)}
    data["stations"].append({**near, "role": "interferer"})
    found = rows(data)["QNOR"]
    assert found.losses_db["overload"] > 3.0
    assert "filter" not in {c.code for c in found.cures}


def test_a_marked_mobile_phone_mast_asks_for_a_filter_first():
    data = roof()
    data["obstructions"].append(thing("tower", "mast", 300.0, transmits="cellular"))
    data["outlines"].append(outline("tower", 40.0, 40.4, -2, 6))
    plain, guarded = (
        cure(rows(roof())["QNOR"], "preamplifier"),
        cure(rows(data)["QNOR"], "preamplifier"),
    )
    assert "cellular" in guarded.cautions
    assert "cellular" not in plain.cautions
    assert guarded.gain_db < plain.gain_db


def test_the_filter_against_telephones_keeps_no_television_out():
    data = roof()
    data["obstructions"].append(thing("tower", "mast", 300.0, transmits="cellular"))
    data["outlines"].append(outline("tower", 40.0, 40.4, -2, 6))
    data["stations"] = [weak("QNOR", 0.0, 200.0, 30)]
    assert cure(rows(data)["QNOR"], "preamplifier")
    near = {**weak("QTOW", 2.0, 5000.0, 24), **near_by(2.0, 1.5)}
    data["stations"].append({**near, "role": "interferer"})
    assert "preamplifier" not in {c.code for c in rows(data)["QNOR"].cures}


def test_they_stand_in_the_order_of_gain_over_effort(before):
    kept = [c for c in before["QEAS"].cures if c.code in EFFORT and not c.costs]
    efforts = {"two_antennas": 6.0}
    worth = [c.gain_db / efforts.get(c.code, EFFORT[c.code]) for c in kept]
    assert worth == sorted(worth, reverse=True)
    turned = cure(before["QEAS"], "reaim")
    assert len(turned.costs) == 2
    place = [c.code for c in before["QEAS"].cures].index("reaim")
    after = before["QEAS"].cures[place + 1]
    assert turned.gain_db / (1.0 + 2.0 * HARM) >= after.gain_db / EFFORT[after.code]
    for row in before.values():
        assert all(c.gain_db >= LEAST_DB for c in row.cures if c.code != "none_on_this_roof")
        assert all(c.probability >= row.reception_probability for c in row.cures)


def test_nothing_on_this_roof():
    data = roof(stations=[weak("QFAR", 0.0, 0.0002), weak("QSOM", 0.0, 1.0)])
    far, some = rows(data).values()
    assert far.cures[-1].code == "none_on_this_roof"
    assert far.cures[-1].probability < 0.6
    assert some.cures[-1].code == "together"
    assert some.cures[-1].probability >= 0.6
    assert max(c.probability for c in some.cures[:-1]) < 0.6
    assert some.cures[-1].gain_db > max(c.gain_db for c in some.cures[:-1])


def test_everything_together_is_the_survey_with_everything_done():
    found = rows(roof(stations=[weak("QSOM", 0.0, 1.0)]))["QSOM"]
    both = cure(found, "together")
    assert set(both.parts) == {"raise", "larger_antenna", "cable", "preamplifier"}

    def edit(data):
        with_it = amplified(Antenna(**main_of(data)), None)
        main_of(data)["downlead"] = [part.model_dump() for part in with_it.downlead]
        main_of(data)["downlead"][-1]["type"] = BEST_CABLE
        main_of(data)["gain_dbd"]["uhf"] = LARGER_DBD["uhf"]
        main_of(data)["height_m"] = 1.5 + both.amount

    data = edited(roof(stations=[weak("QSOM", 0.0, 1.0)]), edit)
    held(found, again(data, "QSOM", height_m=1.5 + both.amount), both, 0.3)


def test_a_survey_without_an_antenna_still_gets_cures():
    found = rows(roof(antennas=[]))
    weak_ones = [row for row in found.values() if row.reception in ("likely", "doubtful", "no")]
    assert weak_ones
    for row in weak_ones:
        assert row.cures
        assert {c.code for c in row.cures}.isdisjoint({"cable", "preamplifier", "reaim"})


def test_no_raise_out_of_every_picture():
    """From more than 2 m higher this near transmitter lies below the picture's lower edge."""
    near = {**weak("QLOW", 0.0, 1e-7), **near_by(0.0, 0.3), "antenna_amsl_m": 56.5}
    data = roof(stations=[near], obstructions=[], outlines=[])
    shallow = {"kind": "equirectangular", "left_deg": -180, "right_deg": 180}
    for bottom_deg, highest in ((-30.0, 4.0), (-0.4, 2.0)):
        projection = {**shallow, "top_deg": 60, "bottom_deg": bottom_deg}
        size = [3600, round(10 * (60 - bottom_deg))]
        data["views"][0] = {**data["views"][0], "size_px": size, "projection": projection}
        told = judged(scene_of(survey(data), spots=["ridge"], heights_m=[1.5]))
        pairs = np.array([[0, 0]])
        moves = moves_of(told, np.array([0]))
        raised = [t for t in by_place(told, pairs, moves) if t.code == "raise"]
        assert max(raised[0].amount) == highest
