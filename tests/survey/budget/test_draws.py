"""Draws of the loss: reproducible, each thing's its own, exact where nothing is unsure."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from random_surveys import Met, meet, random_survey
from survey_scene import box_ring, station

from skyview.survey.budget import unsure
from skyview.survey.budget.draws import loss_draws
from skyview.survey.budget.parts import LossDraws
from skyview.survey.models import Survey, validate

STUDY = Path(__file__).parents[3] / "shared" / "draw_study.csv"
WALL = {"kind": "building", "distance_m": 40.0, "distance_sigma_m": 0.0, "reaches_ground": True}
OAK = {"kind": "broadleaf", "distance_m": 25.0, "distance_sigma_m": 2.0, "depth_m": 8.0}


def draws(scene: Met, **more) -> LossDraws:
    shape = scene.arrivals.azimuth.shape
    given = {"joint_db": scene.exact_db(), "unseen_behind": np.zeros(shape, bool), **more}
    return loss_draws(
        scene.survey,
        scene.met,
        scene.arrivals,
        scene.antenna_m,
        scene.cameras,
        scene.screens,
        scene.frequency_mhz,
        "in",
        **given,
    )


@pytest.fixture
def two(scene):
    """A wall that blocks half of the ray, and an oak before it."""

    def build(**more) -> Survey:
        things = {
            "wall": {**WALL, "ring": box_ring(-20.0, 20.0, -6.0, 0.5)},
            "oak": {**OAK, "ring": box_ring(-3.0, 5.0, -2.0, 6.0)},
        }
        return scene(things, [station("QA", 0.0, 40.0), station("QB", 12.0, 40.0)], **more)

    return build


@pytest.fixture
def sure(monkeypatch):
    """Nothing that stands in no file is unsure."""
    monkeypatch.setattr(unsure, "OUTLINE_PX", {"hand": 0.0})
    monkeypatch.setattr(unsure, "CROWN_M", 0.0)


def with_sigmas(survey: Survey, degrees: float, camera_m: float = 0.0) -> Survey:
    data = survey.model_dump(mode="json", exclude_unset=True)
    view = data["views"][0]
    view["camera_sigma_m"] = camera_m
    for name in ("yaw", "pitch", "roll"):
        view["prior"][f"{name}_sigma_deg"] = degrees
    view["prior"]["scale_sigma"] = 0.0
    return validate(data)


def test_the_same_seed_gives_the_same_draws(two):
    scene = meet(two())
    first, again = draws(scene), draws(scene)
    assert np.array_equal(first.loss_db, again.loss_db)
    assert not np.array_equal(first.loss_db, draws(scene, seed=7).loss_db)
    assert first.loss_db.shape == (500, 1, 2)
    assert first.loss_db.dtype == np.float32


def test_what_else_is_in_the_survey_changes_no_draw(two):
    """A station's draws stay when another thing elsewhere and another height come in."""
    survey = two()
    data = survey.model_dump(mode="json", exclude_unset=True)
    data["obstructions"].insert(0, {"id": "barn", "kind": "building", "distance_m": 30.0})
    data["outlines"].insert(
        0,
        {
            "id": "barn-1",
            "obstruction": "barn",
            "view": "round",
            "rings_px": [box_ring(100.0, 110.0, -5.0, 4.0)],
        },
    )
    data["spots"][0]["heights_m"] = [1.5, 4.0]
    before, after = draws(meet(survey)), draws(meet(validate(data)))
    assert after.loss_db[:, 0] == pytest.approx(before.loss_db[:, 0], abs=1e-3)


def test_a_felled_tree_leaves_the_others_draws(two):
    """Without the oak the wall's draws are those of a survey that never had it."""
    with_both = draws(meet(two()), joint_db=None, shares=True)
    data = two().model_dump(mode="json", exclude_unset=True)
    data["obstructions"] = [o for o in data["obstructions"] if o["id"] != "oak"]
    data["outlines"] = [o for o in data["outlines"] if o["obstruction"] != "oak"]
    felled = draws(meet(validate(data)), joint_db=None)
    oak = with_both.names.index("oak")
    left = with_both.loss_db - with_both.shares_db[oak]
    assert np.abs(with_both.shares_db[oak, :, 0, 0]).max() > 1.0
    assert left == pytest.approx(felled.loss_db, abs=1e-3)


def test_where_nothing_is_unsure_every_draw_is_the_exact_loss(two, sure):
    survey = with_sigmas(two(), 0.0)
    data = survey.model_dump(mode="json", exclude_unset=True)
    data["obstructions"][1] |= {"kind": "building", "distance_sigma_m": 0.0}
    scene = meet(validate(data))
    exact = scene.exact_db()
    assert exact.max() > 5.0
    assert draws(scene).loss_db == pytest.approx(np.broadcast_to(exact, (500, 1, 2)), abs=1e-4)


def test_a_wider_sigma_widens_the_draws(two, sure):
    spread = []
    for degrees in (0.05, 0.2, 0.8):
        data = with_sigmas(two(), degrees).model_dump(mode="json", exclude_unset=True)
        data["obstructions"] = data["obstructions"][:1]
        data["outlines"] = data["outlines"][:1]
        low, high = np.quantile(draws(meet(validate(data))).loss_db[:, 0, 0], [0.1, 0.9])
        spread.append(high - low)
    assert 0.0 < spread[0] < spread[1] < spread[2]


@pytest.mark.parametrize("seed", range(3))
def test_the_middle_draw_is_near_the_middle_while_little_is_unsure(seed, sure):
    """0.05 degrees and no more: half of the draws on either side within half a decibel."""
    survey = with_sigmas(random_survey(seed, 10, 6, 40.0), 0.05)
    data = survey.model_dump(mode="json", exclude_unset=True)
    for thing in data["obstructions"]:
        thing |= {"kind": "building", "distance_sigma_m": 0.0}
    scene = meet(validate(data))
    exact = scene.exact_db()
    below = exact < 20.0
    middle = np.median(draws(scene).loss_db, axis=0)
    assert below.sum() >= 5
    assert np.abs(middle - exact)[below].max() < 0.7


def test_a_yaw_that_is_off_moves_what_the_picture_shows(two, sure, monkeypatch):
    """Each set of the calibration against a survey whose picture is turned by as much."""
    survey = with_sigmas(two(), 0.0)
    scene = meet(survey)
    off = np.radians([-2.0, 0.0, 1.0, 3.0])
    nothing = np.zeros((4, 2))
    monkeypatch.setattr(
        "skyview.survey.budget.sets.view_offsets",
        lambda camera, azimuth, elevation, count, seed: (
            off[:, None] * np.ones(azimuth.size),
            np.zeros((count, azimuth.size)),
        ),
    )
    monkeypatch.setattr("skyview.survey.budget.sets.outline_offsets", lambda *given: nothing)
    monkeypatch.setattr("skyview.survey.budget.sets.distance_factors", lambda *given: np.ones(4))
    monkeypatch.setattr(
        "skyview.survey.budget.sets.foliage_factors", lambda *given: np.ones((4, 2))
    )
    drawn = draws(scene, sets=4, count=4, joint_db=None).loss_db
    for number, yaw in enumerate(np.degrees(off)):
        data = survey.model_dump(mode="json", exclude_unset=True)
        data["views"][0]["prior"]["yaw_deg"] = float(yaw)
        turned = meet(validate(data)).exact_db()
        assert drawn[number] == pytest.approx(turned, abs=0.5)


def test_another_distance_is_that_of_a_survey_that_says_so(two, sure, monkeypatch):
    """From an antenna 3 m above the camera and 2 m beside it; a decibel where 19 are lost."""
    data = with_sigmas(two(), 0.0).model_dump(mode="json", exclude_unset=True)
    data["spots"] = [{"id": "ridge", "enu_m": [2.0, 0.0, 5.0], "heights_m": [4.5]}]
    data["obstructions"] = data["obstructions"][:1]
    data["outlines"] = data["outlines"][:1]
    data["outlines"][0]["rings_px"] = [box_ring(-20.0, 20.0, -6.0, 6.0)]
    data["obstructions"][0]["distance_sigma_m"] = 10.0
    factors = np.array([0.7, 0.9, 1.0, 1.4])
    monkeypatch.setattr("skyview.survey.budget.sets.distance_factors", lambda *given: factors)
    drawn = draws(meet(validate(data)), sets=4, count=4, joint_db=None).loss_db
    losses = []
    for number, factor in enumerate(factors):
        data["obstructions"][0]["distance_m"] = 40.0 * float(factor)
        losses.append(meet(validate(data)).exact_db())
        assert drawn[number] == pytest.approx(losses[-1], rel=0.05, abs=0.6)
    assert np.ptp(losses, axis=0).max() > 3.0


def test_foliage_spreads_the_loss_of_crowns_both_ways(two):
    data = two().model_dump(mode="json", exclude_unset=True)
    data["obstructions"] = data["obstructions"][1:]
    data["outlines"] = data["outlines"][1:]
    data["outlines"][0]["rings_px"] = [box_ring(-25.0, 25.0, -10.0, 25.0)]
    scene = meet(validate(data))
    exact = scene.exact_db()[0, 0]
    low, high = np.quantile(draws(scene).loss_db[:, 0, 0], [0.1, 0.9])
    assert low < exact - 0.5
    assert high > exact + 0.5


def test_what_may_stand_unseen_behind_only_adds(two):
    scene = meet(two())
    behind = np.array([[True, False]])
    plain, more = draws(scene), draws(scene, unseen_behind=behind)
    added = more.loss_db - plain.loss_db
    assert added[:, 0, 1] == pytest.approx(0.0)
    assert added[:, 0, 0].min() >= 0.0
    assert np.mean(added[:, 0, 0] > 0.0) == pytest.approx(0.5, abs=0.06)
    assert np.quantile(added[:, 0, 0], 0.9) == pytest.approx(1.28 * 6.0, abs=1.2)


def test_the_error_of_the_joint_loss_widens_and_where_it_is_deep_only_adds(two):
    scene = meet(two())
    exact = scene.exact_db()
    plain = draws(scene)
    off = draws(scene, joint_error_db=np.full(exact.shape, 2.0)).loss_db - plain.loss_db
    assert np.mean(np.abs(off) <= 2.0) == pytest.approx(0.9, abs=0.03)
    deep = np.full(exact.shape, 30.0)
    added = (
        draws(scene, joint_db=deep, joint_error_db=np.full(exact.shape, 2.0)).loss_db
        - draws(scene, joint_db=deep).loss_db
    )
    assert added.min() >= 0.0


def test_a_survey_without_anything_in_the_way(scene):
    open_view = meet(scene({}, [station("QA", 0.0, 40.0)]))
    found = draws(open_view, shares=True)
    assert found.loss_db.shape == (500, 1, 1)
    assert not found.loss_db.any()
    assert found.shares_db.shape == (0, 500, 1, 1)


def test_the_study_keeps_its_figures():
    """shared/draw_study.csv, written by study_draws.py."""
    with STUDY.open(encoding="utf-8", newline="") as stream:
        rows = {(r["what"], r["things"], r["crowns"]): r for r in csv.DictReader(stream)}
    for what in ("middle", "set", "distance"):
        assert int(rows[what, "2 and more", "all"]["count"]) > 1000
    for what in ("middle", "set"):
        assert float(rows[what, "2 and more", "all"]["rms_db"]) <= 0.5
    assert float(rows["distance", "2 and more", "all"]["rms_db"]) <= 0.8


@pytest.mark.slow
def test_the_study_is_what_the_program_gives():
    """A tenth of it anew."""
    from study_draws import differences

    found = [row for seed in range(6) for row in differences(seed)]
    for what in ("middle", "set"):
        error = np.array([r[4] for r in found if r[0] == what and r[3] < 28.0])
        assert error.size > 100
        assert np.sqrt(np.mean(error**2)) <= 0.5
