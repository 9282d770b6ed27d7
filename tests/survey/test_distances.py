"""Distances by views and measurements, on the rendered sample street and on exact scenes."""

from __future__ import annotations

import copy

import numpy as np
import pytest

from skyview.errors import InputError
from skyview.survey.cameras import camera_of
from skyview.survey.distances import is_keepable, kept, ranging_of, rangings
from skyview.survey.measurements import by_size, with_measurement
from skyview.survey.models import Measured, validate
from skyview.survey.sightings import ROUND


def cameras_of(survey):
    return {view.id: camera_of(survey, view) for view in survey.views}


@pytest.fixture(scope="module")
def street(demo_data):
    """The sample survey without any measured distance, so that only views tell; its cameras."""
    data = copy.deepcopy(demo_data)
    for thing in data["obstructions"]:
        for field in ("distance_m", "distance_sigma_m", "distance_by"):
            thing.pop(field, None)
    survey = validate(data)
    return survey, cameras_of(survey)


@pytest.fixture(scope="module")
def demo(demo_data):
    survey = validate(demo_data)
    return survey, cameras_of(survey)


@pytest.fixture(scope="module")
def planes(truth):
    return {
        t["id"]: t["plane_distance_m"]
        for t in truth["obstructions"]
        if t["id"] and t["plane_distance_m"]
    }


def test_views_place_the_things_of_the_street_within_their_intervals(street, planes):
    """Truth: the scene's depth along each silhouette. 4 m along the ridge, 2 m up."""
    found = {r.obstruction: r for r in rangings(*street)}
    told = {name: r.sources[0] for name, r in found.items() if r.sources and name in planes}
    assert len(told) >= 12
    outside = [n for n, s in told.items() if not s.low_m <= planes[n] <= s.high_m]
    assert outside == []
    alike = {t.id for t in street[0].obstructions if t.kind in ROUND}
    near = {n: s for n, s in told.items() if planes[n] < 30.0 and n in alike}
    off = [abs(s.distance_m / planes[n] - 1.0) for n, s in near.items()]
    assert len(near) >= 6
    assert np.median(off) < 0.07


def test_a_far_thing_is_said_to_be_out_of_reach(street):
    survey, cameras = street
    lattice = next(t for t in survey.obstructions if t.id == "lattice")
    found = ranging_of(survey, cameras, lattice)
    assert np.isinf(found.sources[0].high_m)
    assert found.advice is not None
    assert found.advice.sigma_share is None
    assert found.advice.spot is None


def test_another_spot_is_named_where_it_would_tell(street):
    """Seen from the ridge at two heights only: the gable lies across the line of sight."""
    survey, cameras = street
    data = survey.model_dump(exclude_unset=True)
    data["outlines"] = [
        o
        for o in data["outlines"]
        if not (o["obstruction"] == "spruce_east" and "gable" in o["id"])
    ]
    less = validate(data)
    thing = next(t for t in less.obstructions if t.id == "spruce_east")
    advice = ranging_of(less, cameras, thing).advice
    assert advice is not None
    assert advice.sigma_share == pytest.approx(0.19, abs=0.03)
    assert advice.spot == "gable"
    with_it = next(t for t in survey.obstructions if t.id == "spruce_east")
    both = ranging_of(survey, cameras, with_it).sources[0]
    # What was promised of a second view is what it then brought.
    assert advice.spot_sigma_share == pytest.approx(both.sigma_m / both.distance_m, rel=0.2)


def test_sources_combine_by_their_weights(demo):
    survey, cameras = demo
    pole = next(t for t in survey.obstructions if t.id == "pole")
    found = ranging_of(survey, cameras, pole)
    assert [s.by for s in found.sources] == ["laser", "views sweep + gable + mast"]
    inverse = np.array([1.0 / s.distance_m for s in found.sources])
    sigma = np.array([s.sigma_m / s.distance_m**2 for s in found.sources])
    mean = np.average(inverse, weights=sigma**-2.0)
    assert found.combined.distance_m == pytest.approx(1.0 / mean)
    assert found.combined.sigma_m < min(s.sigma_m for s in found.sources)
    assert found.conflicts == ()


def test_contradicting_sources_are_named_and_not_kept(demo):
    survey, cameras = demo
    wrong = with_measurement(
        survey, "pole", Measured(view="gable", distance_m=40.0, sigma_m=0.5, by="laser")
    )
    pole = next(t for t in wrong.obstructions if t.id == "pole")
    found = ranging_of(wrong, cameras, pole)
    assert ("laser from sweep", "laser from gable") in found.conflicts
    assert not is_keepable(found)
    assert kept(wrong, [found]) == wrong


def test_keeping_writes_place_and_sigma_and_loses_no_measurement(demo):
    survey, cameras = demo
    found = rangings(survey, cameras, ("oak", "pole"))
    new = validate(kept(survey, found).model_dump(exclude_unset=True))
    oak = next(t for t in new.obstructions if t.id == "oak")
    assert oak.distance_by.startswith("combined: laser and views")
    assert [(m.by, m.distance_m) for m in oak.measured] == [("laser", 23.6)]
    assert oak.distance_m == pytest.approx(found[0].combined.distance_m, abs=0.01)
    assert oak.distance_sigma_m < 1.0
    camera = np.array(survey.views[0].camera_enu_m)
    assert np.hypot(*(np.array(oak.enu_m) - camera)[:2]) == pytest.approx(oak.distance_m, rel=0.01)
    # Asking again combines the same sources, not the kept figure with itself.
    again = rangings(new, cameras, ("oak",))[0]
    assert again.combined.distance_m == pytest.approx(found[0].combined.distance_m)
    assert again.combined.sigma_m == pytest.approx(found[0].combined.sigma_m)


def test_the_rule_of_size(demo):
    """A pole of 9.55 m at 18.5 m, seen from its foot to its top in the gable's picture."""
    _, cameras = demo
    camera = cameras["gable"]
    azimuth, distance = np.radians(120.0), 18.5
    ends = []
    for up in (-6.5, 3.05):
        ray = np.array([np.sin(azimuth) * distance, np.cos(azimuth) * distance, up])
        x, y = camera.picture.camera.pixels(ray / np.linalg.norm(ray))
        ends.append((float(x), float(y)))
    found, sigma = by_size(camera, tuple(ends), 9.55, 0.5)
    assert found == pytest.approx(distance, rel=1e-6)
    assert sigma == pytest.approx(distance * 0.5 / 9.55, rel=0.05)
    with pytest.raises(InputError, match="the same"):
        by_size(camera, (ends[0], ends[0]), 9.55, 0.5)


def test_unknown_names_are_refused(demo):
    survey, cameras = demo
    with pytest.raises(InputError, match="no obstruction is called elm"):
        rangings(survey, cameras, ("elm",))
    with pytest.raises(InputError, match="no obstruction is called elm"):
        with_measurement(survey, "elm", Measured(view="gable", distance_m=4.0, by="tape"))
    data = survey.model_dump(exclude_unset=True)
    data["obstructions"][0]["measured"] = [{"view": "attic", "distance_m": 4.0, "by": "tape"}]
    with pytest.raises(InputError, match="'attic' is not the id of any of the views"):
        validate(data)
