"""The goals of finding the sky, held against the measured table."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from skyview.outline.skyline import SURE_CONFIDENCE

TABLE = Path(__file__).parents[2] / "shared" / "skyline_study.csv"


@pytest.fixture(scope="module")
def rows() -> list[dict[str, str]]:
    """Written by ``tests/benchmarks/skyline_figures.py``."""
    with TABLE.open() as stream:
        return list(csv.DictReader(stream))


def column(rows: list[dict[str, str]], name: str) -> np.ndarray:
    return np.array([float(row[name]) for row in rows])


@pytest.mark.parametrize(("group", "least"), [("open", 0.99), ("roof", 0.985)])
def test_the_usual_picture_is_right(rows: list[dict[str, str]], group: str, least: float) -> None:
    share = column([row for row in rows if row["group"] == group], "intersection_over_union")
    assert share.size >= 40
    assert np.median(share) >= least


def test_columns_are_right_to_a_degree(rows: list[dict[str, str]]) -> None:
    assert np.median(column(rows, "column_error_median_deg")) <= 0.1
    assert np.median(column(rows, "column_error_95_deg")) <= 1.0


def test_words_are_those_of_the_limit_that_stands(rows: list[dict[str, str]]) -> None:
    sure = column(rows, "confidence") >= SURE_CONFIDENCE
    assert (sure == (column(rows, "sure") > 0)).all()
