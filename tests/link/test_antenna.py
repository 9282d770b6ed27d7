"""Pattern, polarization and power of the receiving antenna against shared/link_checks.csv."""

from __future__ import annotations

import numpy as np
import pytest
from check_rows import rows
from hypothesis import given
from hypothesis import strategies as st

from skyview.link.antenna import (
    PLANNING_FRONT_TO_BACK_DB,
    cos4_pattern_db,
    dipole_factor_db,
    polarization_db,
    symmetric_pattern_db,
    table_pattern_db,
    unwanted_pattern_db,
)

BAND_MHZ = {"I": 69.0, "III": 194.0, "IV/V": 615.0}


def test_wanted_pattern():
    """OET Bulletin 69, from memory: 80 log cos with the front-to-back floor."""
    for row in rows("OET69_rx_discrimination_cos4_voltage"):
        offset = np.radians(row.number("off_axis_deg"))
        gain = cos4_pattern_db(offset, row.number("F_B_dB"))
        assert gain == pytest.approx(row.value, abs=row.tolerance)


def test_unwanted_pattern():
    """Rec. ITU-R BT.419-3, Figure 1: Bands IV and V secondary, I and III from memory."""
    found = rows("BT419_discrimination")
    assert len(found) == 27
    for row in found:
        offset = np.radians(row.number("off_axis_deg"))
        for sign in (1.0, -1.0):
            gain = unwanted_pattern_db(sign * offset, BAND_MHZ[row.inputs["band"]])
            assert gain == pytest.approx(row.value, abs=row.tolerance)


def test_orthogonal_polarization_replaces_the_angle():
    gain = unwanted_pattern_db(np.radians([0.0, 45.0, 180.0]), 600.0, orthogonal=True)
    assert gain.tolist() == [-16.0, -16.0, -16.0]


def test_front_to_back_of_planning():
    """OET Bulletin 69, Table 6."""
    for row in rows("DTV_rx_antenna_front_to_back"):
        band = {"low_VHF": "low_vhf", "high_VHF": "high_vhf", "UHF": "uhf"}[row.inputs["band"]]
        assert PLANNING_FRONT_TO_BACK_DB[band] == row.value


def test_dipole_factor():
    """ISED BPR-10, Appendix 8, tabulates -111.8, -120.8, -130.8."""
    for row in rows("half_wave_dipole_factor"):
        assert dipole_factor_db(row.number("f_MHz")) == pytest.approx(row.value, abs=row.tolerance)


def test_power_of_a_dipole():
    for row in rows("P_rx_dipole_ref"):
        power = row.number("E_dBuVm") + dipole_factor_db(row.number("f_MHz")) + row.number("G_dBd")
        assert power == pytest.approx(row.value, abs=row.tolerance)


def test_a_table_is_periodic_and_a_one_sided_table_symmetric():
    azimuth, gain = np.radians([350.0, 10.0, 180.0]), [-2.0, 0.0, -20.0]
    across_north = table_pattern_db(np.radians([-10.0, 0.0, 360.0, 10.0]), azimuth, gain)
    np.testing.assert_allclose(across_north, [-2.0, -1.0, -1.0, 0.0], atol=1e-9)
    one_sided = np.radians([0.0, 30.0, 90.0])
    left = symmetric_pattern_db(np.radians([-15.0, 345.0, 15.0, 170.0]), one_sided, [0, -3, -12])
    np.testing.assert_allclose(left, [-1.5, -1.5, -1.5, -12.0], atol=1e-9)


@given(st.floats(0.0, np.pi), st.floats(0.0, 30.0))
def test_patterns_are_symmetric_and_within_their_floor(offset, front_to_back):
    gain = cos4_pattern_db([offset, -offset, offset + 2 * np.pi], front_to_back)
    np.testing.assert_allclose(gain, gain[0], atol=1e-9)
    assert -front_to_back <= gain[0] <= 0.0
    assert -16.0 <= unwanted_pattern_db(offset, 600.0) <= 0.0


def test_polarization():
    """Half of a circular wave; 16 dB for the other linear one (Rec. ITU-R BT.419, from memory)."""
    upright = polarization_db(["h", "v", "c", "m"], "v")
    np.testing.assert_allclose(upright, [-16.0, 0.0, -10 * np.log10(2), 0.0])
