"""The aim: against one heading at a time through the whole chain; ranges, pairs, pointers."""

from __future__ import annotations

import numpy as np
import pytest
from cure_case import edited, main_of, roof, survey, weak

from skyview.errors import InputError
from skyview.survey.aim_extras import extras
from skyview.survey.aiming import aims_of
from skyview.survey.aims import (
    STEP_DEG,
    Sweep,
    around,
    best_heading,
    best_index,
    counted_stations,
    sweep,
)
from skyview.survey.assess import assess
from skyview.survey.budget.judged import judged
from skyview.survey.scene import scene_of

THREE = [
    weak("QA", 20.0, 60.0, 30),
    weak("QB", 75.0, 40.0, 24),
    weak("QC", 200.0, 30.0, 33, must_have=True),
    weak("QX", 180.0, 900.0, 30, role="interferer"),
]


def open_roof(**more):
    return roof(obstructions=[], outlines=[], stations=THREE, **more)


def told(data):
    return judged(scene_of(survey(data), spots=["ridge"], heights_m=[1.5]))


def at_heading(data, heading):
    """Rows by station with the antenna set to a heading, by the plain assessment."""
    turned = survey(edited(data, lambda d: main_of(d).update(aim_true_deg=heading)))
    return {r.station: r for r in assess(turned, spots=["ridge"], heights_m=[1.5]).rows}


def test_the_sweep_is_the_whole_chain_at_every_heading():
    data = open_roof()
    found = sweep(told(data), 0)
    for heading in (0.0, 48.0, 133.0, 200.0, 319.0):
        rows = at_heading(data, heading)
        at = int(heading / STEP_DEG)
        for s, name in enumerate(("QA", "QB", "QC")):
            assert found.margin_db[at, s] == pytest.approx(rows[name].margin_db.p50, abs=1e-6)
            chance = rows[name].reception_probability
            assert found.probability[at, s] == pytest.approx(chance, abs=1e-9)


def test_the_best_heading_against_trying_every_tenth_degree():
    """No heading brings more stations by the plain assessment than the one that was chosen."""
    data = open_roof()
    scene = told(data)
    found = sweep(scene, 0)
    counted = counted_stations(scene, 0, only_must_have=False)
    best = best_heading(scene, 0, found, counted)
    brute = [
        sum(r.reception_probability or 0.0 for r in at_heading(data, heading).values())
        for heading in np.arange(0.0, 360.0, 10.0)
    ]
    mine = sum(r.reception_probability or 0.0 for r in at_heading(data, best.aim_deg).values())
    assert mine == pytest.approx(float(np.nansum(best.probability)), abs=1e-9)
    assert mine >= max(brute) - 0.1
    must = counted_stations(scene, 0, only_must_have=True)
    only = best_heading(scene, 0, found, must)
    assert abs(only.aim_deg - 200.0) < 30.0


def test_interference_is_part_of_the_aim():
    """A station on QA's channel 30 deg to the right: the best aim for QA turns away from it, since
    BT.419 gives more discrimination with every degree up to 60."""
    clean = open_roof()
    clean["stations"] = [weak("QA", 20.0, 60.0, 30)]
    loud = open_roof()
    loud["stations"] = [
        weak("QA", 20.0, 60.0, 30), weak("QX", 50.0, 60.0, 30, role="interferer")
    ]  # fmt: skip
    aims = []
    for data in (clean, loud):
        scene = told(data)
        found = sweep(scene, 0)
        aims.append(best_heading(scene, 0, found, counted_stations(scene, 0, False)).aim_deg)
    off = [(aim - 20.0 + 180.0) % 360.0 - 180.0 for aim in aims]
    assert abs(off[0]) <= 1.0
    assert -40.0 < off[1] < -5.0


def test_the_range_costs_no_received_station_more_than_a_decibel():
    data = open_roof()
    scene = told(data)
    found = sweep(scene, 0)
    counted = counted_stations(scene, 0, only_must_have=True)
    best = best_heading(scene, 0, found, counted)
    s = 2
    start = int(best.aim_deg)
    inside = np.arange(best.low_deg, best.low_deg + (best.high_deg - best.low_deg) % 360.0 + 1.0)
    margin = found.margin_db[(inside % 360).astype(int), s]
    assert margin.min() >= found.margin_db[start, s] - 1.0
    for beyond in (best.low_deg - 1.0, best.high_deg + 1.0):
        assert found.margin_db[int(beyond) % 360, s] < found.margin_db[start, s] - 1.0
    # cos^4 of the offset is 1 dB down (of the amplitude squared) at about 19 deg.
    assert 10.0 < (best.high_deg - best.low_deg) % 360.0 < 60.0


def test_a_range_may_run_across_north_and_all_the_way_round():
    heading = np.arange(0.0, 360.0)
    margin = 5.0 - 0.2 * np.abs((heading - 358.0 + 180.0) % 360.0 - 180.0)
    found = Sweep(heading, np.ones((360, 1)), margin[:, None])
    assert around(found, 358.0, np.array([True])) == (353.0, 3.0, False)
    flat = Sweep(heading, np.ones((360, 1)), np.zeros((360, 1)))
    assert around(flat, 12.0, np.array([True])) == (0.0, 360.0, True)


def test_of_headings_worth_alike_the_weakest_station_decides():
    chance = np.ones((4, 2))
    margin = np.array([[9.0, 1.0], [6.0, 4.0], [5.0, 6.0], [1.0, 12.0]])
    assert best_index(Sweep(np.arange(4.0), chance, margin), np.array([True, True])) == 2


def test_what_more_antennas_bring_is_bounded_by_a_rotator():
    data = open_roof()
    scene = told(data)
    found = sweep(scene, 0)
    every = counted_stations(scene, 0, only_must_have=False)
    single = best_heading(scene, 0, found, every)
    made = {extra.code: extra for extra in extras(scene, 0, found, single)}
    assert set(made) == {"second_separate", "second_combined", "rotator"}
    assert made["rotator"].aims_deg == ()
    turned = [at_heading(data, s.bearing_deg)[name] for name, s in at_heading(data, 0.0).items()
              if s.reception != "unknown"]  # fmt: skip
    assert made["rotator"].sure <= 3
    assert len(turned) == 3
    assert made["second_separate"].expected_more >= -0.02
    assert made["second_separate"].expected_more <= made["rotator"].expected_more + 0.3
    assert made["second_combined"].expected_more <= made["second_separate"].expected_more + 0.1


def test_two_separate_antennas_against_every_pair():
    data = open_roof()
    scene = told(data)
    found = sweep(scene, 0)
    every = counted_stations(scene, 0, only_must_have=False)
    single = best_heading(scene, 0, found, every)
    made = next(e for e in extras(scene, 0, found, single) if e.code == "second_separate")
    chance = np.nan_to_num(np.where(every, found.probability, 0.0))
    best = max(
        np.maximum(chance[i], chance[j]).sum() for i in range(0, 360, 5) for j in range(i, 360, 5)
    )
    one, two = (chance[int(aim)] for aim in made.aims_deg)
    assert np.maximum(one, two).sum() >= best - 1e-9


def test_elements_for_vhf_are_tried_where_they_are_missing():
    data = roof()
    (vhf,) = [s for s in data["stations"] if s["id"] == "QVHF"]
    vhf["erp_kw"] = 100.0
    found = aims_of(survey(data))
    made = {extra.code: extra for extra in found.extras}
    assert made["vhf_elements"].expected_more > 0.5
    assert "QVHF" in made["vhf_elements"].gained


def test_rows_and_what_to_point_at():
    found = aims_of(survey(roof()))
    assert [row.purpose for row in found.rows] == ["must_have", "count", "as_set"]
    must, count, now = found.rows
    assert must.must_have_missed == ()
    assert now.aim_true_deg == 0.0
    assert len(count.received) >= max(len(must.received), len(now.received))
    assert (count.aim_true_deg - count.aim_magnetic_deg) % 360.0 == pytest.approx(
        (must.aim_true_deg - must.aim_magnetic_deg) % 360.0
    )
    # The house spans 25 deg to the left and 20 to the right of north.
    assert now.point_at.thing == "house"
    assert now.point_at.part in ("left_edge", "right_edge")


def test_what_cannot_be_aimed():
    with pytest.raises(InputError, match="no antenna other"):
        aims_of(survey(roof()), antenna="other")
    nowhere = roof(views=[], obstructions=[], outlines=[])
    with pytest.raises(InputError, match="of no station"):
        aims_of(survey(nowhere))
