"""A survey with another list's stations: what is told is taken, what is not stays or goes."""

from __future__ import annotations

import numpy as np
import pytest
from cure_case import roof
from drawer_case import records

from skyview.errors import InputError
from skyview.survey.batch.relisted import relisted
from skyview.survey.cameras import camera_of
from skyview.survey.models import Survey, validate

MAST = {
    "id": "mast",
    "view": "round",
    "kind": "station",
    "station": "QEAS",
    "points_px": [[2703.0, 596.0]],
}


def ids(survey: Survey) -> list[str]:
    return [station.id for station in survey.stations]


def test_a_listed_station_takes_what_is_told_and_keeps_the_rest():
    survey = validate(roof())
    new = relisted(survey, records(QSOU={"erp_kw": 3.0, "rf_channel": 34}), others=False)
    south = next(s for s in new.stations if s.id == "QSOU")
    assert (south.erp_kw, south.rf_channel) == (3.0, 34)
    assert south.must_have
    assert south.system == "atsc1"
    assert new.model_dump(exclude={"stations"}) == survey.model_dump(exclude={"stations"})


def test_a_station_that_is_not_listed_is_gone_unless_others_are_kept():
    survey = validate(roof(promises=[{"station": "QSOU", "word": "sure"}]))
    gone = relisted(survey, records(QSOU=None), others=False)
    assert ids(gone) == ["QNOR", "QEAS", "QVHF", "QNEA"]
    assert gone.promises == []
    kept = relisted(survey, records(QSOU=None), others=True)
    assert ids(kept) == ids(survey)
    assert [promise.station for promise in kept.promises] == ["QSOU"]


def test_a_new_station_is_added():
    new = {**records()[0], "id": "QNEW", "rf_channel": 15}
    assert ids(relisted(validate(roof()), [*records(), new], others=False))[-1] == "QNEW"


@pytest.mark.parametrize("tied", [False, True])
def test_a_view_keeps_its_pose_when_the_mast_marked_in_it_is_gone(tied):
    views = roof()["views"]
    views[0]["prior"]["yaw_sigma_deg"] = 4.0
    second = {**views[0], "id": "again", "photo": "photos/again.jpg"}
    ties = [{"id": "t1", "view": "again", "kind": "tie", "other": "mast",
             "points_px": [[2700.0, 590.0]]}]  # fmt: skip
    marks = [MAST, *(ties if tied else [])]
    survey = validate(roof(views=[*views, *([second] if tied else [])], marks=marks))
    new = relisted(survey, records(QEAS=None), others=False)
    assert new.marks == []
    before, after = (camera_of(s, s.views[0]).picture for s in (survey, new))
    assert np.array_equal(before.vector, after.vector)
    assert np.array_equal(before.covariance, after.covariance)
    without = validate(roof(views=views))
    assert not np.allclose(camera_of(without, without.views[0]).picture.vector, after.vector)


def test_a_list_that_breaks_the_survey_s_rules_is_refused():
    site = {"latitude_deg": -38.6417, "longitude_deg": -117.3925}
    with pytest.raises(InputError, match="at the site itself"):
        relisted(validate(roof()), records(QNOR=site), others=False)
