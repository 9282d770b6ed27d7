"""Causes: each against its definition, by hand or by the survey without it."""

from __future__ import annotations

import numpy as np
import pytest
from cure_case import cure, edited, main_of, outline, roof, rows, survey, thing, weak
from hypothesis import given, settings
from hypothesis import strategies as st

from skyview.link.line import coax_loss_db
from skyview.survey.assess import assess
from skyview.survey.budget.causes import CODES, LISTED_DB

OPEN = {"obstructions": [], "outlines": []}


def losses(data, station="QA", **asked):
    """The causes of one station at the antenna's place, cures left out."""
    return rows(data, cures=False, **asked)[station].losses_db


def lone(station, antenna=None, **more):
    """One station in the open, and the antenna changed."""
    return edited(
        roof(stations=[station], **OPEN, **more), lambda d: main_of(d).update(antenna or {})
    )


def test_distance_is_free_space_less_the_field():
    data = lone(weak("QA", 0.0, 20.0))
    scene = assess(survey(data), spots=["ridge"], heights_m=[1.5]).scene
    expected = scene.field.free_space_dbuv_m - scene.field.wanted_dbuv_m
    assert losses(data)["distance"] == pytest.approx(float(expected[0, 0]), abs=1e-9)
    assert 106.9 - 20.0 * np.log10(60.0) + 10.0 * np.log10(20.0) == pytest.approx(
        float(scene.field.free_space_dbuv_m[0, 0]), abs=0.05
    )


def test_surroundings_count_only_where_no_picture_shows_the_direction():
    data = lone(weak("QA", 0.0, 20.0))
    assert "surroundings" not in losses(data)
    unseen = edited(data, lambda d: d.update(views=[]))
    assert losses(unseen)["surroundings"] > 3.0
    assert losses(unseen)["distance"] == pytest.approx(losses(data)["distance"], abs=1e-6)


@pytest.mark.parametrize(
    ("aim_deg", "cost_db"),
    [(0.0, None), (20.0, -80.0 * np.log10(np.cos(np.radians(20.0)))), (150.0, 14.0)],
)
def test_the_aim_costs_the_pattern(aim_deg, cost_db):
    """OET Bulletin 69: 80 log cos, at most the front-to-back ratio of 14 dB."""
    found = losses(lone(weak("QA", 0.0, 20.0), {"aim_true_deg": aim_deg})).get("aim")
    assert found == (None if cost_db is None else pytest.approx(cost_db, abs=0.02))


def test_an_upright_wave_on_level_rods():
    """Rec. ITU-R BT.419-3: 16 dB."""
    assert losses(lone(weak("QA", 0.0, 20.0, polarization="v")))["polarization"] == 16.0
    upright = lone(weak("QA", 0.0, 20.0, polarization="v"), {"polarization": "v"})
    assert "polarization" not in losses(upright)


def test_missing_elements_cost_what_planning_s_antenna_gains():
    """ISED BPR-10, Appendix 8: 6 dBd at high VHF; without elements -10 dBd are taken."""
    assert losses(lone(weak("QA", 0.0, 20.0, 9)))["band"] == pytest.approx(16.0)
    assert "band" not in losses(lone(weak("QA", 0.0, 20.0, 30)))


def test_the_line_costs_its_loss_where_no_noise_comes_from_outside():
    """Friis at UHF: 9 dB of cable before a 7 dB set is 16 dB, 9 more than the set's own."""
    told = {"downlead": [{"kind": "attenuator", "loss_db": 9.0}]}
    assert losses(lone(weak("QA", 0.0, 20.0), told))["line"] == pytest.approx(9.0, abs=1e-6)


def test_an_amplifier_s_help_is_counted():
    """Friis: 20 dB and 3 dB before 9 dB of loss and a 7 dB set: 4.1 dB, better than the set."""
    amplifier = {"kind": "preamplifier", "gain_db": 20.0, "noise_figure_db": 3.0}
    told = {"downlead": [amplifier, {"kind": "attenuator", "loss_db": 9.0}]}
    assert "line" not in losses(lone(weak("QA", 0.0, 20.0), told))


def test_man_made_noise():
    """Rec. ITU-R P.372 from memory, channel 4: 21.6 dB outside; the chain's own 11 dB."""
    told = {"gain_dbd": {"low_vhf": 4.0}, "downlead": []}
    found = losses(lone(weak("QA", 0.0, 20.0, 4), told))
    whole = 10.0 * np.log10(10.0**2.16 - 1.0 + 10.0**1.1)
    assert found["noise"] == pytest.approx(whole - 11.0, abs=0.05)


def test_who_disturbs():
    """A second transmitter on the channel, behind the antenna; and one on the next."""
    data = roof(stations=[weak("QA", 0.0, 20.0), weak("QX", 180.0, 2000.0)], **OPEN)
    found = assess(survey(data), spots=["ridge"], heights_m=[1.5])
    alone = lone(weak("QA", 0.0, 20.0))
    gained = rows(alone, cures=False)["QA"].margin_db.p50 - found.rows[0].margin_db.p50
    assert found.rows[0].losses_db["interference"] == pytest.approx(gained, abs=1e-6)
    assert gained > 3.0
    assert found.causes.disturber[0, 0] == 1
    assert found.causes.on_channel[0, 0]
    data["stations"][1].update(rf_channel=31, erp_kw=2e6)
    found = assess(survey(data), spots=["ridge"], heights_m=[1.5])
    assert (found.causes.disturber[0, 0], bool(found.causes.on_channel[0, 0])) == (1, False)


def test_an_obstruction_costs_what_the_survey_without_it_gains():
    data = roof(stations=[weak("QA", 0.0, 20.0)])
    gone = edited(data, lambda d: (d["obstructions"].pop(0), d["outlines"].pop(0)))
    gained = rows(gone, cures=False)["QA"].obstruction_loss_db
    row = rows(data, cures=False)["QA"]
    expected = row.obstruction_loss_db - gained
    assert row.losses_db["obstruction:house"] == pytest.approx(expected, abs=0.01)


def test_leaves_cost_the_seasons_difference():
    deep = [thing("oak", "broadleaf", 20.0, depth_m=40.0)]
    data = roof(
        stations=[weak("QA", 90.0, 20.0)],
        obstructions=deep,
        outlines=[outline("oak", 40, 140, -10, 40.0)],
    )
    leafy, bare = (rows(data, cures=False, leaf=leaf)["QA"] for leaf in ("in", "out"))
    lost = leafy.obstruction_loss_db - bare.obstruction_loss_db
    assert lost > LISTED_DB
    assert leafy.losses_db["foliage"] == pytest.approx(lost, abs=0.01)
    assert "foliage" not in bare.losses_db


def test_they_are_listed_costliest_first_and_only_where_they_cost():
    for row in rows(roof(), cures=False).values():
        found = list(row.losses_db.values())
        assert found == sorted(found, reverse=True)
        assert min(found) >= LISTED_DB
        assert {name.partition(":")[0] for name in row.losses_db} <= set(CODES)


def test_without_a_power_only_what_does_not_need_it_is_told():
    found = losses(lone(weak("QA", 90.0, None)))
    assert "distance" not in found
    assert found["aim"] == pytest.approx(14.0)


@given(st.floats(0.0, 80.0), st.floats(0.0, 40.0))
@settings(max_examples=15, deadline=None)
def test_more_cable_never_raises_a_probability(length_m, more_m):
    def with_cable(metres):
        parts = [{"kind": "coax", "type": "rg6", "length_m": metres}]
        return rows(lone(weak("QA", 0.0, 20.0), {"downlead": parts}), cures=False)["QA"]

    short, long = with_cable(length_m), with_cable(length_m + more_m)
    assert long.reception_probability <= short.reception_probability
    expected = float(coax_loss_db("rg6", more_m, 569.0))
    assert short.margin_db.p50 - long.margin_db.p50 == pytest.approx(expected, abs=1e-6)


def test_cable_of_no_length_costs_nothing():
    told = {"downlead": [{"kind": "coax", "type": "rg59", "length_m": 0.0}]}
    assert "line" not in losses(lone(weak("QA", 0.0, 20.0), told))


@given(st.floats(0.0, 30.0), st.floats(0.0, 20.0))
@settings(max_examples=15, deadline=None)
def test_more_loss_never_raises_a_probability(loss_db, more_db):
    def lossy(decibels):
        parts = [{"kind": "attenuator", "loss_db": decibels}]
        found = rows(lone(weak("QA", 0.0, 20.0), {"downlead": parts}), cures=False)["QA"]
        return found.reception_probability

    assert lossy(loss_db + more_db) <= lossy(loss_db)


@given(st.floats(0.5, 8.0), st.floats(0.1, 6.0))
@settings(max_examples=15, deadline=None)
def test_more_height_never_lowers_the_margin_in_the_open(height_m, more_m):
    """In the open only the height term acts, so that the fringe over a level edge is nil."""
    low, high = (
        rows(lone(weak("QA", 0.0, 20.0)), cures=False, heights_m=[h])["QA"].margin_db.p50
        for h in (height_m, height_m + more_m)
    )
    assert high >= low - 1e-6


@pytest.mark.parametrize("height_m", [1.5, 2.5, 3.5, 5.0, 7.0])
def test_more_height_over_an_edge_lowers_the_margin_by_no_more_than_its_fringe(height_m):
    """The field over a straight edge overshoots the free one by at most 1.37 dB (Fresnel's
    integral, textbook); a metre more can fall from there to the next dip, 1.1 dB below."""
    data = roof(stations=[weak("QA", 0.0, 20.0)])
    low, high = (
        rows(data, cures=False, heights_m=[h])["QA"].margin_db.p50 for h in (height_m, height_m + 1)
    )
    assert high >= low - 2.5


def test_the_cure_of_a_cause_gives_back_about_the_cause():
    found = rows(roof())["QEAS"]
    turned = cure(found, "reaim").gain_db
    assert turned == pytest.approx(found.losses_db["aim"], abs=0.5)
