"""Inputs made to take memory or time: both stay bounded, and the end is an answer or a sentence."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from hostile import HOSTILE

SECONDS, MEGABYTES = 30.0, 600
"""Of processor time and of memory beyond what the program has anyway, for any one of them."""

LONG = {
    "png text of 200 MB", "png profile of 200 MB", "png of 15000 x 15000 in 30 kB",
    "json title of 30 MB", "json key of 30 MB", "json of 1000000 keys", "json of 300000 spots",
    "polygon of 1000000 corners", "csv of 400000 rows", "csv of 9 million empty lines",
    "geojson of 150000 points", "scan of 500000 rows", "journal of 200000 lines", "json 70 MB",
    "json of 300000 keys, the last twice",
}  # fmt: skip
"""Those whose making or reading takes half a second or more."""

TAKEN = {
    "png of 15000 x 15000 in 30 kB", "png 1 x 60000", "png 60000 x 1", "jpeg 1 x 60000",
    "polygon of 1000000 corners", "json of 300000 spots", "csv of 400000 rows",
    "geojson of 150000 points", "scan of 500000 rows",
}  # fmt: skip
"""Those that are sound, however large."""


def check(names):
    script = Path(__file__).parents[1] / "helpers" / "hostile.py"
    done = subprocess.run(
        [sys.executable, str(script), *names], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    rows = [json.loads(line) for line in done.stdout.splitlines()]
    assert [row["name"] for row in rows] == names
    for row in rows:
        assert row["end"] in ("taken", "refused"), row
        assert row["cpu_s"] < SECONDS, row
        assert row["more_mb"] < MEGABYTES, row
        if row["name"] in TAKEN:
            assert row["end"] == "taken", row
        elif row["name"].startswith(("json", "csv", "bmp", "gif", "png claims", "field", "item")):
            assert row["end"] == "refused", row


def test_hostile_inputs_are_bounded():
    names = [name for name in HOSTILE if name not in LONG]
    assert len(names) >= 20
    check(names)


@pytest.mark.slow
def test_large_hostile_inputs_are_bounded():
    check(sorted(LONG))
