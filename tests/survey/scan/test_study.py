"""The naming of faults on simulated scans: few here, all of them in shared/scan_study.csv."""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import study_scans

SHARED = Path(__file__).parents[3] / "shared"


def read():
    with (SHARED / "scan_study.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_simulated_scans_are_named_better_than_by_chance():
    """Four roofs: the figures of so few scans scatter, so the bounds are wide."""
    found = list(study_scans.outcomes(seed=7, roofs=4, cases=8))
    told = study_scans.figures(found)
    assert told["causes_right"] >= 0.6
    assert told["cannot_tell"] <= 0.7


def test_the_kept_table_counts_every_scan_once():
    for row in read():
        answers = [int(value) for key, value in row.items() if key not in ("truth", "scans")]
        assert sum(answers) == int(row["scans"])


def test_the_kept_table_holds_what_is_said_of_it():
    """Of the causes named nine in ten are right; cannot tell stays under four in ten."""
    rows = read()
    named = right = silent = total = 0
    for row in rows:
        total += int(row["scans"])
        silent += int(row["cannot_tell"])
        named += sum(int(row[c]) for c in (*study_scans.FAULTS, "wrong_subject"))
        right += int(row[row["truth"]]) if row["truth"] != "none" else 0
    assert right / named >= 0.88
    assert silent / total <= 0.42


@pytest.mark.slow
def test_the_whole_study_again():
    found = list(study_scans.outcomes(study_scans.TOLD_ON, study_scans.ROOFS))
    assert study_scans.table(found) == [
        {k: v if k == "truth" else int(v) for k, v in row.items()} for row in read()
    ]
