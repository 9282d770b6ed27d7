"""The goals of proposed outlines, held against the measured table."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

TABLE = Path(__file__).parents[2] / "shared" / "proposal_study.csv"


@pytest.fixture(scope="module")
def rows() -> list[dict[str, str]]:
    with TABLE.open() as stream:
        return list(csv.DictReader(stream))


@pytest.mark.parametrize("variant", ["proposed", "one distance an outline", "true mask"])
def test_losses_are_near_those_of_true_outlines(rows: list[dict[str, str]], variant: str) -> None:
    """Written by ``tests/benchmarks/proposal_losses.py``."""
    found = [r for r in rows if (r["picture"], r["variant"], r["rays"]) == ("all", variant, "all")]
    assert len(found) == 1
    assert int(found[0]["paths"]) > 1000
    assert float(found[0]["median_db"]) <= 1.0
    assert float(found[0]["p95_db"]) <= 3.0


def test_nothing_over_a_degree_is_missed_under_the_true_sky(rows: list[dict[str, str]]) -> None:
    found = [r for r in rows if r["variant"] == "true mask" and r["picture"] != "all"]
    assert len(found) >= 8
    assert sum(int(r["large_things"]) for r in found) > 100
    assert sum(int(r["missed"]) for r in found) == 0
