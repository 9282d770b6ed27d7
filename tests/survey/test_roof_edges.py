"""Distances from roof edges against a rectangle done by hand."""

from __future__ import annotations

import pytest
from paper_cases import sample
from paper_reading import survey_of

from skyview.survey.roof_edges import from_edges

FACES = [
    [[-5, -8, 3], [0, -8, 5], [0, 6, 5], [-5, 6, 3]],
    [[0, -8, 5], [5, -8, 3], [5, 6, 3], [0, 6, 5]],
]


def roof(foot: list[float], rings: object = FACES):  # type: ignore[no-untyped-def]
    data = sample()
    data["spots"][0]["enu_m"] = foot
    data["limits"]["roof_enu_m"] = rings
    return from_edges(survey_of(data), data["spots"][0]["id"])


def test_ridge_is_no_edge() -> None:
    found = roof([-1.0, 2.0, 5.0])
    told = [(e.azimuth_deg, e.distance_m, e.length_m) for e in found.edges]
    expected = [(270, 4, 14), (0, 4, 10), (90, 6, 14), (180, 10, 10)]
    assert sorted(told) == [pytest.approx(row, abs=0.02) for row in sorted(expected)]
    assert found.outside_m == 0.0


def test_spot_beyond_the_roof_is_told() -> None:
    assert roof([8.0, 0.0, 5.0]).outside_m == pytest.approx(3.0, abs=0.02)


def test_no_roof_gives_nothing() -> None:
    assert roof([0.0, 0.0, 5.0], []) is None
