"""Thresholds and levels of the television systems against shared/link_checks.csv."""

from __future__ import annotations

import math

import pytest
from check_rows import rows

from skyview.link.systems import (
    MODES,
    USUAL_MODE,
    noise_bandwidth_mhz,
    required_cn_db,
)


def test_dvbt_receivers():
    """NorDig Unified 2.2 receiver requirement."""
    found = rows("DVB_T_receiver_CN_NorDig")
    for row in found:
        assert required_cn_db("dvbt", row.inputs["mode"].replace(" ", "-")) == row.value
    assert len(found) == len(MODES["dvbt"])


def test_dvbt2_receivers():
    """NorDig Unified receiver requirement, 64 800-bit code."""
    found = rows("DVB_T2_receiver_CN_NorDig_64k_LDPC")
    for row in found:
        mode = f"{row.inputs['mode']}-{row.inputs['rate']}"
        assert required_cn_db("dvbt2", mode) == row.value
    assert len(found) == len(MODES["dvbt2"])


@pytest.mark.parametrize(
    ("system", "mode"), [("atsc3", None), (None, None), ("isdbt", "qpsk-1/2"), ("dvbt", "what")]
)
def test_an_unknown_threshold_is_said_to_be_unknown(system, mode):
    assert math.isnan(required_cn_db(system, mode))


def test_the_usual_mode_stands_in_for_none():
    for system, mode in USUAL_MODE.items():
        assert required_cn_db(system) == required_cn_db(system, mode)
    assert required_cn_db("atsc1") == 15.0


@pytest.mark.parametrize(
    ("system", "width", "bandwidth"),
    [("dvbt", 8.0, 7.61), ("dvbt", 7.0, 6.66), ("atsc1", 6.0, 6.0), (None, 6.0, 6.0)],
)
def test_noise_bandwidth(system, width, bandwidth):
    """RRC-06: 7.61 and 6.66 MHz; ISED BPR-10, Appendix 8: 6 MHz."""
    assert noise_bandwidth_mhz(system, width) == bandwidth
