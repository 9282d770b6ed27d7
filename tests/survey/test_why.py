"""One station explained: which place is meant, what weakens it, the other season."""

from __future__ import annotations

import pytest
from cure_case import edited, main_of, outline, roof, rows, survey, thing, weak

from skyview.errors import InputError
from skyview.survey.why import position_of, why


def test_the_antenna_s_own_place_is_meant():
    data = roof()
    assert position_of(survey(data), None, None) == ("ridge", 1.5)
    assert position_of(survey(data), "gable", None) == ("gable", 2.0)
    assert position_of(survey(data), None, 4.0) == ("ridge", 4.0)
    bare = roof(antennas=[])
    bare["spots"][0]["heights_m"] = [1.5, 3.0]
    assert position_of(survey(bare), None, None) == ("ridge", 3.0)
    assert position_of(survey(bare), None, 2.0) == ("ridge", 2.0)


def test_it_says_what_paths_say():
    found = why(survey(roof()), "QEAS").why
    row = rows(roof())["QEAS"]
    assert found.row == row
    assert [cause.db for cause in found.causes] == list(row.losses_db.values())
    (oak,) = [cause for cause in found.causes if cause.obstruction == "oak"]
    assert (oak.code, oak.kind) == ("obstruction", "broadleaf")
    assert found.missing == ()


def test_the_disturbing_station_is_named():
    data = roof(stations=[weak("QA", 0.0, 20.0), weak("QX", 180.0, 2000.0)])
    (cause,) = [c for c in why(survey(data), "QA").why.causes if c.code == "interference"]
    assert (cause.station, cause.on_channel) == ("QX", True)


def test_the_other_season():
    data = roof(
        stations=[weak("QA", 90.0, 200.0)],
        obstructions=[thing("oak", "broadleaf", 20.0, depth_m=40.0)],
        outlines=[outline("oak", 40, 140, -10, 40.0)],
    )
    leafy, bare = (why(survey(data), "QA", leaf=leaf).why for leaf in ("in", "out"))
    assert leafy.other_leaf_probability == bare.row.reception_probability
    assert bare.other_leaf_probability == leafy.row.reception_probability
    assert leafy.other_leaf_probability > leafy.row.reception_probability
    assert (leafy.other_leaf, leafy.leaf) == (bare.row.reception, "in")


@pytest.mark.parametrize(
    ("station", "missing"),
    [
        ({"erp_kw": None}, ("power",)),
        ({"system": "atsc3"}, ("threshold",)),
        ({"role": "interferer"}, ("role",)),
    ],
)
def test_what_is_missing(station, missing):
    found = why(survey(roof(stations=[weak("QA", 0.0, 20.0) | station])), "QA").why
    assert found.missing == missing
    assert (found.row.reception, found.row.cures) == ("unknown", ())


def test_a_direction_that_no_picture_shows():
    found = why(survey(roof(views=[], obstructions=[], outlines=[])), "QNOR").why
    assert found.missing == ("view",)


def test_unknown_names_are_refused():
    with pytest.raises(InputError, match="no station is called QZZZ"):
        why(survey(roof()), "QZZZ")
    with pytest.raises(InputError, match="no spot is called attic"):
        why(survey(roof()), "QNOR", "attic")


def test_an_antenna_without_a_height_does_not_tell_the_place():
    data = edited(roof(), lambda d: main_of(d).update(height_m=None))
    assert position_of(survey(data), None, None) == ("ridge", 1.5)
