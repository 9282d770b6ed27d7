"""Co-channel and adjacent channels, and the load on a preamplifier."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.link.chain import margin_db
from skyview.link.interference import (
    as_noise_dbm,
    overload_margin_db,
    protection_ratio_db,
    total_power_dbm,
)


def test_ratios():
    """OET Bulletin 69 (adjacent from memory): 15 dB, -28 below, -26 above; no farther channel."""
    ratios = protection_ratio_db([0.0, -6.0, 6.0, -12.0, 12.0], 6.0, 6.0)
    assert ratios.tolist() == [15.0, -28.0, -26.0, -np.inf, -np.inf]


def test_channels_that_overlap_in_part():
    """Japanese VHF channels 7 and 8 overlap by 2 of 6 MHz (ARIB STD-B21): a third of the power."""
    assert protection_ratio_db(4.0, 6.0, 6.0) == pytest.approx(15.0 + 10 * np.log10(1 / 3))


@pytest.mark.parametrize(("above_threshold", "ratio"), [(1.0, 23.0), (13.0, 15.0)])
def test_ratio_near_the_threshold(above_threshold, ratio):
    """OET Bulletin 69: 23 dB at a C/N of 16 dB, 15 dB from 28 dB on. The unwanted level at which
    the margin just vanishes."""
    noise, required = -99.0, 15.0
    carrier = noise + required + above_threshold
    unwanted = np.linspace(-130.0, -80.0, 5001)
    interference = as_noise_dbm(unwanted[:, None, None], [[15.0]], [required])[:, 0]
    margin = margin_db(carrier, noise, required, interference)
    limit = unwanted[np.flatnonzero(margin >= 0.0)[-1]]
    assert carrier - limit == pytest.approx(ratio, abs=1.2)


def test_adjacent_channel_alone_far_above_noise():
    """An upper adjacent station 26 dB stronger is just borne, 27 dB is not."""
    for excess, sign in ((25.9, 1.0), (26.1, -1.0)):
        noise = as_noise_dbm([[-50.0 + excess]], [[-26.0]], [15.0])
        assert np.sign(margin_db(-50.0, -150.0, 15.0, noise[0])) == sign


def test_a_station_does_not_disturb_itself():
    noise = as_noise_dbm([[-np.inf, -60.0], [-70.0, -np.inf]], np.full((2, 2), 15.0), [15.0, 15.0])
    np.testing.assert_allclose(noise, [-60.0, -70.0])
    assert total_power_dbm([-np.inf, -np.inf]) == -np.inf


powers = st.lists(st.floats(-90.0, 0.0), min_size=1, max_size=20)


@given(powers, st.floats(-90.0, 0.0), st.floats(-30.0, 0.0))
def test_one_more_transmitter_never_lightens_the_load(levels, extra, overload):
    before = overload_margin_db(levels, overload)
    after = overload_margin_db([*levels, extra], overload)
    assert after < before or after == pytest.approx(float(before), abs=1e-6)
    assert total_power_dbm(levels) == pytest.approx(
        10 * np.log10(np.sum(10 ** (np.array(levels) / 10))), abs=1e-9
    )
