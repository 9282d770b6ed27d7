"""Published angles for the tests, from the repository's shared table; how property tests run."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from typing import NamedTuple

import pytest
from check_rows import lines
from hypothesis import settings

TABLE = "angles_checks.csv"

# As the command line does: said here before any test loads numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# A deadline would measure how busy the machine is.
settings.register_profile("skyview", deadline=None)
settings.load_profile("skyview")


class AngleRow(NamedTuple):
    """One published value: the inputs' text in parts, ``value`` and absolute ``tolerance``.

    ``second_tolerance`` stands where the table gives one for an approximation as well.
    """

    parts: tuple[str, ...]
    value: float
    tolerance: float
    second_tolerance: float | None
    source: str

    def text(self, name: str) -> str:
        """Text of the part ``name=...``."""
        return next(p.split("=", 1)[1] for p in self.parts if p.startswith(f"{name}="))

    def number(self, name: str) -> float:
        """Number of a part: plain, a fraction as "7/6", or degrees, minutes and seconds."""
        text = self.text(name)
        if "/" in text:
            over, under = text.split("/")
            return float(over) / float(under)
        degrees, *rest = text.split()
        size = abs(float(degrees)) + sum(float(r) / 60.0 ** (i + 1) for i, r in enumerate(rest))
        return -size if degrees.startswith("-") else size


def _row(line: dict[str, str]) -> AngleRow:
    tolerances = [float(t) for t in re.findall(r"\d+(?:\.\d+)?(?:e-?\d+)?", line["tolerance"])]
    second = tolerances[1] if len(tolerances) > 1 else None
    parts = tuple(line["inputs"].split(";"))
    return AngleRow(parts, float(line["value"]), tolerances[0], second, line["source"])


@pytest.fixture(scope="session")
def angle_rows() -> Callable[[str], list[AngleRow]]:
    """Rows of one quantity; fails when there is none, so that no check is empty."""

    def rows(quantity: str) -> list[AngleRow]:
        return [_row(line) for line in lines(quantity, TABLE)]

    return rows
