"""Likelihoods of readings against the normal distribution and against one another."""

from __future__ import annotations

import numpy as np
import pytest
from scan_case import levels, seen

from skyview.survey.scan.readings import (
    CO_CHANNEL,
    ECHOES,
    LEVELS_DB,
    OVERLOAD,
    PLAIN,
    readings_of,
)


def best(table):
    return LEVELS_DB[np.argmax(table)]


def test_a_meter_s_reading_is_likeliest_at_its_level():
    found = readings_of(levels(-60.0), seen(strength=-48.0)).likelihood
    assert best(found[PLAIN].mean(axis=0)[0]) == pytest.approx(12.0, abs=0.8)


def test_bars_are_a_range_and_their_scale_is_open():
    found = readings_of(levels(-60.0), seen(scale="bars", strength=3.0))
    one = found.likelihood[PLAIN, 0, 0]
    assert np.sum(one > 0.5 * one.max()) >= 3
    assert found.scales == 20
    tops = {best(found.likelihood[PLAIN, k, 0]) for k in range(found.scales)}
    assert len(tops) > 5


def test_all_bars_and_a_hundred_per_cent_have_no_upper_end():
    for scale, top in (("bars", 5.0), ("percent", 100.0)):
        found = readings_of(levels(-60.0), seen(scale=scale, strength=top)).likelihood[PLAIN, 0, 0]
        assert found[-1] == pytest.approx(found.max(), rel=1e-3)


def test_nothing_read_says_nothing():
    found = readings_of(levels(-60.0), seen()).likelihood
    assert np.allclose(found, found[..., :1])


def test_poor_quality_at_full_strength_speaks_for_echoes_and_overload():
    poor = seen(strength=-50.0, cn_db=18.0, received=1.0, steady=0.0)
    found = readings_of(levels(-50.0), poor).likelihood.max(axis=(1, 2, 3))
    assert min(found[ECHOES], found[CO_CHANNEL], found[OVERLOAD:].max()) > 10.0 * found[PLAIN]
    good = seen(strength=-50.0, cn_db=33.0, received=1.0, steady=1.0)
    found = readings_of(levels(-50.0), good).likelihood.max(axis=(1, 2, 3))
    assert found[PLAIN] > 1.3 * found[ECHOES]
    assert found[PLAIN] > 10.0 * found[CO_CHANNEL]


def test_reception_tells_which_side_of_the_threshold():
    came = readings_of(levels(-84.0), seen(received=1.0)).likelihood[PLAIN, 0, 0]
    lost = readings_of(levels(-84.0), seen(received=0.0)).likelihood[PLAIN, 0, 0]
    assert np.allclose(came + lost, 1.0)
    middle = LEVELS_DB[np.argmin(np.abs(came - 0.5))]
    assert -84.0 + middle - -99.0 == pytest.approx(15.0, abs=0.8)


def test_an_unknown_power_says_nothing():
    found = readings_of(levels(np.nan), seen(strength=-50.0, received=1.0)).likelihood
    assert np.all(found == 1.0)
