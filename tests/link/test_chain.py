"""Noise, cascade and planning sums against shared/link_checks.csv."""

from __future__ import annotations

import re

import numpy as np
import pytest
from check_rows import rows
from hypothesis import given
from hypothesis import strategies as st

from skyview.link.antenna import PLANNING_GAIN_DBD, dipole_factor_db
from skyview.link.chain import (
    DBUV_OVER_DBM_75_OHM,
    RECEIVER_NOISE_FIGURE_DB,
    cascade,
    man_made_noise_db,
    margin_db,
    noise_power_dbm,
    system_noise_figure_db,
)

BANDS = {"low_VHF": ("low_vhf", 69.0), "high_VHF": ("high_vhf", 194.0), "UHF": ("uhf", 615.0)}


def minimum_field_dbuv_m(required_db, frequency_mhz, bandwidth_mhz, gain_dbd, figure_db):
    """Field at which the margin is 0 without interference: the sum of ISED BPR-10, Appendix 8."""
    needed = noise_power_dbm(bandwidth_mhz, figure_db) + required_db
    return needed - dipole_factor_db(frequency_mhz) - gain_dbd


def stages(text):
    """Gains and noise figures of a row's chain, as in "preamp NF2 G20|coax5|split7|tv7"."""
    gains, figures = [], []
    for stage in text.split("|"):
        name, *numbers = re.findall(r"[a-zA-Z]+|\d+(?:\.\d+)?", stage)
        if name == "preamp":
            figure, gain = float(numbers[1]), float(numbers[3])
        else:
            figure = float(numbers[0])
            gain = 0.0 if name == "tv" else -figure
        gains.append(gain)
        figures.append(figure)
    return gains, figures


def test_cascade():
    """Friis: passive line, preamplifier at the mast, preamplifier after the cable."""
    found = rows("cascade_noise_figure")
    assert len(found) == 4
    for row in found:
        line = cascade(*stages(row.inputs["chain"]))
        assert line.noise_figure_db == pytest.approx(row.value, abs=row.tolerance)


def test_planning_sums():
    """ISED BPR-10, Appendix 8: 27.6, 35.6, 40.6 dB(uV/m). Its dipole factor and thermal noise are
    rounded to 0.1 dB each, so that the exact sum may differ by 0.1 dB."""
    found = rows("ATSC1_planning_field_sum")
    assert len(found) == 3
    for row in found:
        band, frequency = BANDS[row.inputs["band"]]
        assert PLANNING_GAIN_DBD[band] == row.number("G_dBd")
        assert RECEIVER_NOISE_FIGURE_DB[band] == row.number("Ns_dB")
        figure = row.number("Ns_dB") + row.number("L_dB")
        field = minimum_field_dbuv_m(
            row.number("CN_dB"), frequency, 6.0, row.number("G_dBd"), figure
        )
        assert field == pytest.approx(row.value, abs=0.1)


def test_reference_configuration_of_dvbt():
    """RRC-06 / Rec. ITU-R BT.1368 minimum field; GE06 RPC 1: 56 and 50 dB(uV/m), from memory."""
    for row in rows("DVB_planning_Emin"):
        field = minimum_field_dbuv_m(
            row.number("CN_dB"),
            row.number("f_MHz"),
            row.number("B_MHz"),
            row.number("G_dBd"),
            row.number("NF_dB") + row.number("feeder_dB"),
        )
        assert field == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize("percent", [70, 95])
def test_median_field_of_the_reference_configuration(percent):
    (mu,) = (r.value for r in rows("location_factor_mu") if r.number("location_pct") == percent)
    for row in rows(f"DVB_planning_Emed_{percent}pct"):
        figure = row.number("NF_dB") + row.number("feeder_dB")
        least = minimum_field_dbuv_m(
            row.number("CN_dB"),
            row.number("f_MHz"),
            row.number("B_MHz"),
            row.number("G_dBd"),
            figure,
        )
        median = least + row.number("Pmmn_dB") + 5.5 * mu
        assert median == pytest.approx(row.value, abs=row.tolerance)


def test_thermal_noise():
    for row in rows("kTB"):
        noise = noise_power_dbm(row.number("B_MHz"), 0.0)
        assert noise == pytest.approx(row.value, abs=row.tolerance)
    for row in rows("DVB_planning_receiver_noise_power"):
        noise = noise_power_dbm(row.number("B_MHz"), row.number("NF_dB")) - 30.0
        assert noise == pytest.approx(row.value, abs=row.tolerance)


def test_level_in_75_ohm():
    for row in rows("dBm_to_dBuV_75ohm"):
        level = row.number("P_dBm") + DBUV_OVER_DBM_75_OHM
        assert level == pytest.approx(row.value, abs=row.tolerance)


@pytest.mark.parametrize(
    ("frequency", "external", "rise"), [(69.0, 21.6, (11.5, 12.5)), (194.0, 9.1, (2.0, 3.0))]
)
def test_man_made_noise(frequency, external, rise):
    """Rec. ITU-R P.372, residential, from memory; over a receiver of 10 dB."""
    median = man_made_noise_db(frequency)
    assert median == pytest.approx(external, abs=0.05)
    assert rise[0] < system_noise_figure_db(10.0, median) - 10.0 < rise[1]


def test_a_quiet_band_and_a_quiet_place():
    assert system_noise_figure_db(7.0, man_made_noise_db(600.0)) == pytest.approx(7.0)
    city, home, rural = (man_made_noise_db(69.0, e) for e in ("city", "residential", "rural"))
    assert city > home > rural


decibels = st.floats(0.0, 30.0)


@given(st.lists(decibels, min_size=1, max_size=5), decibels, st.floats(0.0, 10.0))
def test_a_passive_line_adds_its_loss_and_more_loss_never_helps(losses, receiver, more):
    gains, figures = [-x for x in losses] + [0.0], [*losses, receiver]
    line = cascade(gains, figures)
    assert line.noise_figure_db == pytest.approx(sum(losses) + receiver)
    assert line.gain_db == pytest.approx(-sum(losses))
    worse = cascade([*gains[:-1], -more, 0.0], [*figures[:-1], more, receiver])
    assert worse.noise_figure_db >= line.noise_figure_db - 1e-9


@given(decibels, decibels, st.floats(0.0, 30.0))
def test_a_loss_before_the_preamplifier_costs_all_of_it(before, after, gain):
    bare = cascade([gain, -after, 0.0], [2.0, after, 7.0]).noise_figure_db
    line = cascade([-before, gain, -after, 0.0], [before, 2.0, after, 7.0]).noise_figure_db
    assert line == pytest.approx(bare + before)


def test_cascade_by_frequency():
    gain = np.array([[20.0, 20.0], [-3.0, -8.0], [0.0, 0.0]])
    line = cascade(gain, np.array([[2.0, 2.0], [3.0, 8.0], [7.0, 7.0]]))
    assert line.gain_db.tolist() == [17.0, 12.0]
    assert line.noise_figure_db[0] < line.noise_figure_db[1]


@given(st.floats(-120.0, -30.0), st.floats(-110.0, -90.0), st.floats(-150.0, -60.0), decibels)
def test_more_loss_or_interference_never_raises_the_margin(carrier, noise, interference, loss):
    alone = margin_db(carrier, noise, 15.0)
    assert margin_db(carrier - loss, noise, 15.0) <= alone
    assert margin_db(carrier, noise, 15.0, interference) <= alone
    assert margin_db(carrier, noise, 15.0, interference + loss) <= margin_db(
        carrier, noise, 15.0, interference
    )


def test_margin_is_0_at_the_minimum_field_and_unknown_without_a_threshold():
    assert margin_db(-84.0, -99.0, 15.0) == 0.0
    assert np.isnan(margin_db(-84.0, -99.0, np.nan))
    assert margin_db(-80.0, -100.0, 15.0, -100.0) == pytest.approx(5.0 - 3.0103, abs=1e-4)
