"""Published radio values for the tests of this folder, from the repository's shared table."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from check_rows import lines

sys.path.insert(0, str(Path(__file__).parent / "reference"))

TABLE = "radio_checks.csv"


class Row(NamedTuple):
    """One published value: ``inputs`` as text by name, ``value`` and absolute ``tolerance``."""

    inputs: dict[str, str]
    value: float
    tolerance: float

    def number(self, name: str) -> float:
        return float(self.inputs[name])

    def interval(self, name: str) -> tuple[float, float]:
        low, high = self.inputs[name].split("..")
        return float(low), float(high)


def _row(line: dict[str, str]) -> Row:
    inputs = dict(part.split("=", 1) for part in line["inputs"].split(";"))
    value, tolerance = float(line["value"]), line["tolerance"]
    if tolerance.endswith("%"):
        return Row(inputs, value, value * float(tolerance[:-1]) / 100.0)
    return Row(inputs, value, float(tolerance))


@pytest.fixture(scope="session")
def published() -> Callable[[str], list[Row]]:
    """Rows of one quantity; fails when there is none, so that no check is empty."""

    def rows(quantity: str) -> list[Row]:
        return [_row(line) for line in lines(quantity, TABLE)]

    return rows
