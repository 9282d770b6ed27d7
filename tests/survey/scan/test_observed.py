"""Rows of a scan put to their stations."""

from __future__ import annotations

import numpy as np
import pytest
from scan_case import survey_of

from skyview.survey.models import Scan
from skyview.survey.scan.observed import observed_of
from skyview.survey.scan.seasons import again_on, leaf_on


def observed(rows, channels=(14, 15), level=(-50.0, -60.0)):
    stations = survey_of(list(channels)).stations
    return observed_of(Scan(rows=rows), stations, np.array(level))


def test_columns_hold_what_was_read_and_nan_elsewhere():
    found = observed([{"rf_channel": 15, "received": True, "strength_bars": 4, "steady": False}])
    assert found.scale == "bars"
    assert np.isnan(found.strength[0])
    assert (found.strength[1], found.received[1], found.steady[1]) == (4.0, 1.0, 0.0)
    assert found.row == (-1, 0)


def test_the_commonest_scale_counts():
    found = observed(
        [{"rf_channel": 14, "received": True, "strength_percent": 80.0},
         {"rf_channel": 15, "received": True, "strength_percent": 60.0},
         {"rf_channel": 20, "received": True, "strength_dbm": -60.0}]
    )  # fmt: skip
    assert found.scale == "percent"
    assert found.unlisted == (2,)


def test_of_two_on_a_channel_the_stronger_is_meant():
    found = observed([{"rf_channel": 14, "received": True}], channels=(14, 14))
    assert found.row == (0, -1)
    unknown = observed(
        [{"rf_channel": 14, "received": True}], channels=(14, 14), level=(np.nan, -60.0)
    )
    assert unknown.row == (-1, 0)


@pytest.mark.parametrize(
    ("day", "latitude", "leaf"),
    [("2026-07-01", 50.0, "in"), ("2026-01-10", 50.0, "out"), ("2026-12-10", 50.0, "out"),
     ("2026-04-20", 50.0, None), ("2026-01-10", -40.0, "in"), ("2026-07-01", -40.0, "out"),
     ("2026-07-01", 10.0, None), (None, 50.0, None)],
)  # fmt: skip
def test_leaves_by_the_day(day, latitude, leaf):
    assert leaf_on(day, latitude) == leaf


def test_the_day_to_look_again_lies_ahead():
    assert again_on("2026-11-30", 50.0).isoformat() == "2027-06-15"
    assert again_on("2026-06-15T08:00:00+00:00", 50.0).isoformat() == "2027-06-15"
    assert again_on("2026-06-01", 5.0) is None
