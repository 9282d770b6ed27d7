"""Co-channel and adjacent channels, and the load on a preamplifier."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.link.chain import margin_db
from skyview.link.interference import protection_ratio_db


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
    margin = margin_db(carrier, noise, required, unwanted + 15.0 - required)
    limit = unwanted[np.flatnonzero(margin >= 0.0)[-1]]
    assert carrier - limit == pytest.approx(ratio, abs=1.2)


def test_adjacent_channel_alone_far_above_noise():
    """An upper adjacent station 26 dB stronger is just borne, 27 dB is not."""
    for excess, sign in ((25.9, 1.0), (26.1, -1.0)):
        as_noise_dbm = -50.0 + excess + protection_ratio_db(6.0, 6.0, 6.0) - 15.0
        assert np.sign(margin_db(-50.0, -150.0, 15.0, as_noise_dbm)) == sign
