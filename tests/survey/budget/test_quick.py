"""Joint losses of many positions against the exact ones, and what they cost."""

from __future__ import annotations

import time

import numpy as np
import pytest
from random_surveys import meet, random_survey

from skyview.survey.budget.draws import loss_draws
from skyview.survey.budget.quick import quick_losses
from skyview.survey.joint import matters_db


def matter(scene):
    """What counts before each path. (O, A, S)"""
    alone = np.nan_to_num(scene.met.loss_db)
    return np.abs(alone) >= matters_db(alone)


@pytest.mark.parametrize("seed", range(3))
def test_the_quick_loss_is_near_the_exact_one(seed):
    scene = meet(random_survey(seed, 10, 8, 40.0, 2))
    exact = scene.exact_db()
    quick = quick_losses(scene.met, scene.arrivals, scene.frequency_mhz)
    error = (quick - exact)[exact < 28.0]
    several = matter(scene).sum(axis=0) > 1
    assert several.sum() > 5
    assert np.sqrt(np.mean(error**2)) < 0.4
    assert quick[~several] == pytest.approx(exact[~several], abs=1e-9)


def test_leaves_down_cost_less_at_once():
    """The other season: the same survey met out of leaf."""
    survey = random_survey(1, 20, 8, 40.0)
    full, bare = meet(survey), meet(survey, "out")
    trees = np.array(full.met.trees)
    crowned = (matter(full) | matter(bare))[trees].any(axis=0)
    change = quick_losses(full.met, full.arrivals, full.frequency_mhz) - quick_losses(
        bare.met, bare.arrivals, bare.frequency_mhz
    )
    assert np.abs(change[crowned]).max() > 0.05
    assert not change[~crowned].any()


@pytest.mark.slow
def test_a_hundred_stations_and_twenty_things():
    """500 draws all round the roof: 1.2 s of processor time measured, the rest for slow days."""
    scene = meet(random_survey(0, 100, 20))
    exact = scene.exact_db()
    start = time.process_time()
    draws = loss_draws(
        scene.survey,
        scene.met,
        scene.arrivals,
        scene.antenna_m,
        scene.cameras,
        scene.screens,
        scene.frequency_mhz,
        "in",
        np.zeros((1, 100), bool),
        exact,
    )
    assert time.process_time() - start < 3.0
    assert draws.loss_db.shape == (500, 1, 100)


@pytest.mark.slow
def test_cost_is_linear_in_positions():
    costs = []
    for spots in (3, 12):
        scene = meet(random_survey(0, 40, 15, spots=spots))
        start = time.process_time()
        quick_losses(scene.met, scene.arrivals, scene.frequency_mhz)
        costs.append(time.process_time() - start)
    assert costs[1] < 6.0 * costs[0]
