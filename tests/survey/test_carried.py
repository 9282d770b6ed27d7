"""Outlines of one view against what another view truly shows."""

from __future__ import annotations

import copy

import numpy as np
import pytest

from skyview.errors import InputError
from skyview.survey.cameras import camera_of
from skyview.survey.carried import carried
from skyview.survey.models import validate
from skyview.survey.screens import screens_of

TREES = ("broadleaf", "conifer")


@pytest.fixture(scope="module")
def street(demo_data, truth):
    """The sample survey with the scene's own distances; its cameras and screens."""
    data = copy.deepcopy(demo_data)
    planes = {t["id"]: t["plane_distance_m"] for t in truth["obstructions"] if t["id"]}
    for thing in data["obstructions"]:
        if planes.get(thing["id"]):
            thing["distance_m"] = planes[thing["id"]]
    survey = validate(data)
    cameras = {view.id: camera_of(survey, view) for view in survey.views}
    return survey, cameras, screens_of(survey, cameras)[0]


def test_from_the_ridge_to_the_gable_buildings_fit_and_crowns_nearly(street):
    """4 m along the ridge: buildings and masts within 0.3 deg, crowns within 1.5."""
    found = [c for c in carried(*street, "sweep", "gable") if c.gap_deg is not None]
    built = [c.gap_deg for c in found if c.kind not in TREES]
    crowns = [c.gap_deg for c in found if c.kind in TREES and not c.too_near]
    assert len(built) >= 4
    assert np.sqrt(np.mean(np.square(built))) < 0.3
    assert max(built) < 0.3
    assert len(crowns) >= 5
    assert max(crowns) < 1.5


def test_a_wrong_distance_opens_a_gap(street):
    survey, cameras, _ = street
    data = survey.model_dump(exclude_unset=True)
    for thing in data["obstructions"]:
        if thing["id"] == "oak":
            thing["distance_m"] *= 1.6
    wrong = validate(data)
    gaps = []
    for one in (survey, wrong):
        screens = screens_of(one, cameras)[0]
        found = carried(one, cameras, screens, "sweep", "gable")
        gaps.append(next(c.gap_deg for c in found if c.obstruction == "oak"))
    assert gaps[1] > gaps[0] + 1.0


def test_a_crown_over_ones_head_is_flagged(street):
    survey, cameras, _ = street
    data = survey.model_dump(exclude_unset=True)
    for thing in data["obstructions"]:
        if thing["id"] == "maple_front":
            thing["distance_m"] = 8.0
    near = validate(data)
    found = carried(near, cameras, screens_of(near, cameras)[0], "sweep", "gable")
    assert [c.obstruction for c in found if c.too_near] == ["maple_front"]


def test_views_must_be_two_and_known(street):
    with pytest.raises(InputError, match="no view is called attic"):
        carried(*street, "attic", "gable")
    with pytest.raises(InputError, match="from one view to another"):
        carried(*street, "gable", "gable")
