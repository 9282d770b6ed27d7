"""What the stations need, and how they count in one another's channel."""

from __future__ import annotations

import numpy as np
import pytest
from link_case import signals, station, survey_of


def test_thresholds():
    """ISED BPR-10 for ATSC 1.0; the receiver specification's table for DVB-T (secondary text)."""
    stations = [
        station("A", 30),
        station("B", 31, system="dvbt", mode="16qam-1/2"),
        station("C", 32, system="atsc3"),
        station("D", 33, system=None),
        station("E", 34, system=None, required_cn_db=12.5),
    ]
    found = signals(survey_of(stations)).required_cn_db
    assert found[[0, 1, 4]].tolist() == [15.0, 10.8, 12.5]
    assert np.isnan(found[2:4]).all()


def test_a_station_does_not_disturb_itself_and_far_channels_do_not_matter():
    weight = signals(survey_of([station("A", 20), station("B", 30)])).disturbance
    assert weight.tolist() == [[0.0, 0.0], [0.0, 0.0]]


def test_rows_disturb_columns():
    """Station B, one channel above A, counts in A by -26 - 15 dB; A in B by -28 - 15 dB."""
    weight = signals(survey_of([station("A", 30), station("B", 31)])).disturbance
    assert 10.0 * np.log10(weight[1, 0]) == pytest.approx(-41.0)
    assert 10.0 * np.log10(weight[0, 1]) == pytest.approx(-43.0)
