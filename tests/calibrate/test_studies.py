"""The measured goals, on few cases here; the whole studies write shared/calibration_*.csv."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import study_cases
import study_rendered

SHARED = Path(__file__).parents[2] / "shared"


def test_exact_marks_and_one_pixel_clicks_give_a_tenth_of_a_degree():
    """Three landmarks of the rendered scene, telephone errors of 12 deg, 1 deg and 3 %."""
    found = study_rendered.goal("exact", 3, 25)
    assert found["azimuth_median_deg"] <= 0.10
    assert found["elevation_median_deg"] <= 0.10


def test_a_swept_panorama_stretched_by_2_percent_gives_a_quarter_of_a_degree():
    found = study_rendered.goal("stretched", 4, 25)
    assert found["azimuth_median_deg"] <= 0.25
    assert found["elevation_median_deg"] <= 0.25


@pytest.mark.parametrize(
    "projection",
    [
        pytest.param(name, marks=[] if name == "rectilinear" else [pytest.mark.slow])
        for name in study_cases.PROJECTIONS
    ],
)
def test_intervals_hold_the_truth_as_often_as_they_say(projection):
    """60 random cases, all kinds of marks, four pixels each: the share of 95 % intervals that
    hold lies above 0.88, three sigmas of 60 independent cases below 0.95, and below 1."""
    found = list(study_cases.outcomes(60, None, projection, seed=11))
    for axis in ("azimuth", "elevation"):
        off = np.concatenate([getattr(o, f"{axis}_off") for o in found])
        sigma = np.concatenate([getattr(o, f"{axis}_sigma") for o in found])
        share = np.mean(np.abs(off) <= study_cases.WITHIN * sigma)
        assert 0.86 < share < 1.0, (axis, share)


def test_the_kept_study_is_honest():
    """shared/calibration_study.csv, written by study_cases.py: 93 to 97 % together."""
    with (SHARED / "calibration_study.csv").open(encoding="utf-8") as file:
        table = list(csv.DictReader(file))
    together = table[0]
    assert (together["marks"], together["projection"]) == ("all", "all")
    assert int(together["cases"]) >= 2000
    for share in ("azimuth_share", "elevation_share"):
        assert 0.93 <= float(together[share]) <= 0.97


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "projection"), study_cases.GROUPS)
def test_two_thousand_cases_of_each_group(kind, projection):
    number = study_cases.GROUPS.index((kind, projection))
    found = study_cases.honesty(list(study_cases.outcomes(2000, kind, projection, 100 + number)))
    assert 0.93 <= found["azimuth_share"] <= 0.97
    assert 0.93 <= found["elevation_share"] <= 0.97
