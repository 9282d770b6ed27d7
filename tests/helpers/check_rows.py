"""Rows of the published tables, by quantity."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from typing import NamedTuple

SHARED = Path(__file__).parents[2] / "shared"


class CheckRow(NamedTuple):
    """One published value: ``inputs`` as text by name, ``value`` and absolute ``tolerance``."""

    inputs: dict[str, str]
    value: float
    tolerance: float
    source: str

    def number(self, name: str) -> float:
        return float(self.inputs[name])


def rows(quantity: str, table: str = "link_checks.csv") -> list[CheckRow]:
    """All rows of one quantity; fails when there is none, so that no check is empty."""
    return [_row(line) for line in lines(quantity, table)]


def lines(quantity: str, table: str) -> list[dict[str, str]]:
    """The same as they are written, of any of the shared tables."""
    found = [line for line in _lines(table) if line["quantity"] == quantity]
    assert found, f"no row {quantity} in {table}"
    return found


@cache
def _lines(table: str) -> tuple[dict[str, str], ...]:
    with (SHARED / table).open(encoding="utf-8", newline="") as stream:
        return tuple(csv.DictReader(stream))


def _row(line: dict[str, str]) -> CheckRow:
    inputs = dict(part.split("=", 1) for part in line["inputs"].split(";"))
    return CheckRow(inputs, float(line["value"]), float(line["tolerance"]), line["source"])
