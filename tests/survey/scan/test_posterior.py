"""Bayes' rule on grids against closed forms, and the pattern of each fault."""

from __future__ import annotations

import numpy as np
import pytest
from scan_case import levels, seen

from skyview.survey.scan.faults import between, faults_of, prior_of
from skyview.survey.scan.posterior import posterior_of
from skyview.survey.scan.readings import METER_COMMON_DB, METER_DB, readings_of

TEN = [14, 16, 18, 20, 22, 24, 26, 8, 10, 12]
LEVELS = np.linspace(-40.0, -58.0, 10)


def told(expected, read, before=None, greened=False):
    """Probability by the code of each cause."""
    rows = np.ones(len(expected.level_dbm), bool)
    faults = faults_of(expected, rows, greened=False)
    base = None
    if before is not None:
        faults = between(faults, faults_of(expected, rows, greened=greened), False)
        base = readings_of(expected, before)
    found = posterior_of(expected, readings_of(expected, read), faults, base)
    assert sum(found.probability) == pytest.approx(1.0)
    chances = {}
    for fault, chance in zip(faults, found.probability, strict=True):
        chances[fault.code] = chances.get(fault.code, 0.0) + chance
    return chances, found


def test_the_common_offset_is_that_of_the_normal_distribution():
    """Twenty stations 5 dB up: own error and meter against the prior, by hand.

    The stations' mean has a variance of (8^2 + 2^2)/20, what the meter has in common of 3^2, the
    prior 6^2; the share that counts for nothing widens and shrinks it a little.
    """
    expected = levels(*np.linspace(-40.0, -60.0, 20), channels=list(range(14, 34)))
    _, found = told(expected, seen(strength=expected.level_dbm + 5.0))
    noise = (64.0 + METER_DB**2) / 20.0 + METER_COMMON_DB**2
    weight = 36.0 / (36.0 + noise)
    assert found.common_db == pytest.approx(5.0 * weight, abs=0.6)
    assert found.common_sigma_db == pytest.approx(np.sqrt(36.0 * noise / (36.0 + noise)), abs=0.5)


def test_one_wild_station_hardly_moves_the_offset():
    expected = levels(*LEVELS, channels=TEN)
    read = expected.level_dbm + 4.0
    _, quiet = told(expected, seen(strength=read))
    read[3] -= 45.0
    _, wild = told(expected, seen(strength=read))
    assert wild.common_db == pytest.approx(quiet.common_db, abs=1.0)


def test_priors_share_what_is_left():
    faults = faults_of(levels(*LEVELS, channels=TEN), np.ones(10, bool), greened=False)
    prior = prior_of(faults)
    assert prior.sum() == pytest.approx(1.0)
    assert prior[0] == pytest.approx(1.0 / 3.0)
    assert all(fault.weight.sum() == pytest.approx(1.0) for fault in faults)


def test_agreement_is_no_fault():
    chances, _ = told(
        levels(*LEVELS, channels=TEN),
        seen(strength=LEVELS, cn_db=np.full(10, 33.0), received=np.ones(10), steady=np.ones(10)),
    )
    assert max(chances, key=chances.get) == "none"
    assert chances["none"] > 0.6


@pytest.mark.parametrize(
    ("code", "change"),
    [
        ("line", {"strength": LEVELS - 30.0}),
        ("band", {"strength": LEVELS - np.where(np.array(TEN) < 14, 28.0, 0.0)}),
        ("one_low", {"strength": LEVELS - np.where(np.arange(10) == 2, 40.0, 0.0)}),
        ("multipath", {"strength": LEVELS, "received": np.ones(10),
                       "cn_db": np.where(np.arange(10) < 3, 17.0, 33.0)}),
        ("overload", {"strength": LEVELS, "received": np.ones(10), "cn_db": np.full(10, 20.0),
                      "steady": np.zeros(10)}),
    ],
)  # fmt: skip
def test_each_pattern_is_named(code, change):
    chances, _ = told(levels(*LEVELS, channels=TEN), seen(**change))
    assert max(chances, key=chances.get) == code
    assert chances[code] > 0.6


def test_one_side_low_is_the_aim():
    azimuth = np.radians(np.where(np.arange(10) < 5, -35.0, 35.0))
    expected = levels(*LEVELS, channels=TEN, azimuth=azimuth)
    rows = np.ones(10, bool)
    faults = faults_of(expected, rows, greened=False)
    (aim,) = [fault for fault in faults if fault.code == "aim"]
    turned = aim.shift_db[np.argmin(np.abs(aim.size - np.radians(35.0)))]
    assert np.all(turned[:5] < -4.0)
    assert np.all(turned[5:] > 4.0)
    chances, found = told(expected, seen(strength=LEVELS + 2.0 * turned))
    assert max(chances, key=chances.get) == "aim"
    best = aim.size[np.argmax(found.cases[[f.code for f in faults].index("aim")])]
    assert np.degrees(best) > 20.0


def test_six_decibels_less_everywhere_may_be_the_field():
    chances, _ = told(levels(*LEVELS, channels=TEN), seen(strength=LEVELS - 6.0))
    assert max(chances.values()) < 0.8 or max(chances, key=chances.get) == "none"


def test_leaves_need_two_scans():
    crowns = np.where(np.arange(10) < 4, 6.0, 0.0)
    expected = levels(*LEVELS, channels=TEN, crowns_db=crowns)
    summer = LEVELS - 1.8 * crowns
    alone, _ = told(expected, seen(strength=summer))
    assert "foliage" not in alone
    both, _ = told(expected, seen(strength=summer), before=seen(strength=LEVELS), greened=True)
    assert max(both, key=both.get) == "foliage"
    assert both["foliage"] > 0.8


def test_an_earlier_scan_tells_new_from_old():
    """25 dB less than last time is the line; the same low levels twice may be the field."""
    expected = levels(*LEVELS, channels=TEN)
    low = seen(strength=LEVELS - 14.0)
    fresh, _ = told(expected, low, before=seen(strength=LEVELS))
    stale, _ = told(expected, low, before=low)
    assert fresh["line"] > 0.9
    assert stale["line"] < fresh["line"] - 0.2


def test_what_no_prediction_allows_is_named():
    expected = levels(*LEVELS[:9], -110.0, channels=TEN, probability=np.array([0.9] * 9 + [0.01]))
    read = np.append(LEVELS[:9], -60.0)
    chances, _ = told(expected, seen(strength=read, received=np.ones(10)))
    assert max(chances, key=chances.get) == "not_predicted"
