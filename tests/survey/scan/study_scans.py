"""How often the cause of a scan's differences is named, and named right.

A third of the scans have no fault, the rest are spread evenly over the nine faults; a fault that
the roof cannot have is drawn anew. Leaves need two dated scans; of the others a quarter come with
an earlier scan from before the fault. Roofs, fields, faults and receivers: `scan_chain`.

    PYTHONPATH=tests/helpers python tests/survey/scan/study_scans.py

writes shared/scan_study.csv.
"""

from __future__ import annotations

import csv
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from scan_chain import FAULTS, Air, Fault, Roof, air_of, display_of, on_the_day, roof_of, rows_of

from skyview.survey.models import validate
from skyview.survey.scan import compare as comparing
from skyview.survey.scan.answer import ScanAnswer
from skyview.survey.scan.expected import Expected, expected_of

SHARED = Path(__file__).parents[3] / "shared"
SET_ON, TOLD_ON = 1, 2
"""Seed of the roofs and scans on which thresholds were set, and of those that are reported."""

DAYS = {"out": "2026-02-01T12:00:00+00:00", "in": "2026-07-01T12:00:00+00:00"}
ROOFS, CASES_A_ROOF = 60, 12
LEAST_EFFECT_DB = 6.0
"""A fault that moves no station's level or ratio by more is drawn anew."""


@dataclass(frozen=True)
class Outcome:
    """One scan's truth and answer."""

    fault: Fault
    scale: str
    two: bool
    answer: ScanAnswer

    @property
    def named(self) -> bool:
        return self.answer.finding.code != "cannot_tell"

    @property
    def right(self) -> bool:
        found = self.answer.finding
        subject = found.station or found.band
        return (found.code, subject) == (self.fault.code, self.fault.subject)


def outcomes(seed: int, roofs: int, cases: int = CASES_A_ROOF) -> Iterator[Outcome]:
    """Scans of so many invented roofs, so many on each."""
    for number in range(roofs):
        rng = np.random.default_rng([seed, number])
        roof = roof_of(f"{seed}-{number}", rng)
        with _kept(roof):
            for _ in range(cases):
                yield _outcome(roof, rng)


@contextmanager
def _kept(roof: Roof) -> Iterator[None]:
    """Within it the prediction of a roof, the same for all its scans, is worked out once."""

    @lru_cache
    def once(at: str, leaf: str) -> Expected:
        return expected_of(roof.survey, roof.survey.antennas[0], at, leaf)

    comparing.expected_of = lambda survey, antenna, at, leaf: once(at, leaf)
    try:
        yield
    finally:
        comparing.expected_of = expected_of


def _outcome(roof: Roof, rng: np.random.Generator) -> Outcome:
    while True:
        code = "none" if rng.random() < 1.0 / 3.0 else str(rng.choice(FAULTS))
        air = air_of(roof, code, rng)
        if air is None:
            continue
        if code == "not_predicted":
            chance = comparing.expected_of(roof.survey, None, "set", "in").probability
            weak = [i for i in np.flatnonzero(roof.wanted) if chance[i] < 0.1]
            if not weak:
                continue
            air.fault = Fault(code, roof.survey.stations[int(rng.choice(weak))].id)
        if code == "none" or code == "foliage" or _effect(air) >= LEAST_EFFECT_DB:
            return _scanned(air)


def _effect(air: Air) -> float:
    """Most that the fault moves any station, fading aside. [dB]"""
    state = air.rng.bit_generator.state
    bad = on_the_day(air, "in", True)
    air.rng.bit_generator.state = state
    good = on_the_day(air, "in", False)
    air.rng.bit_generator.state = state
    wanted = air.roof.wanted
    moved = np.maximum(np.abs(bad.level_dbm - good.level_dbm), np.abs(bad.cn_db - good.cn_db))
    return float(np.max(moved[wanted]))


def _scanned(air: Air) -> Outcome:
    rng, roof, code = air.rng, air.roof, air.fault.code
    display = display_of(rng)
    two = code == "foliage" or rng.random() < 0.25
    leaf = "in" if code == "foliage" else str(rng.choice(["in", "out"]))
    scans = []
    if two:
        first = "out" if code == "foliage" else str(rng.choice(["in", "out"]))
        if code != "foliage" and first != leaf:
            leaf = first
        rows = rows_of(roof, on_the_day(air, first, False), display, rng)
        scans.append(
            {"taken": DAYS[first].replace("2026", "2025"), "antenna": "main", "rows": rows}
        )
    rows = rows_of(roof, on_the_day(air, leaf, code not in ("none", "foliage")), display, rng)
    scans.append({"taken": DAYS[leaf], "antenna": "main", "rows": rows})
    data = roof.survey.model_dump(exclude_unset=True) | {"scans": scans}
    return Outcome(air.fault, display.kind, two, comparing.compare(validate(data)))


def figures(found: list[Outcome]) -> dict[str, float]:
    """The shares that matter."""
    named = [o for o in found if o.named]
    causes = [o for o in named if o.answer.finding.code != "none"]
    return {
        "scans": len(found),
        "cannot_tell": 1.0 - len(named) / len(found),
        "named_right": np.mean([o.right for o in named]) if named else np.nan,
        "causes_named": len(causes) / len(found),
        "causes_right": np.mean([o.right for o in causes]) if causes else np.nan,
    }


def table(found: list[Outcome]) -> list[dict[str, object]]:
    """Confusion: a row a truth, a column an answer; the right code on the wrong thing apart."""
    codes = ["none", *FAULTS]
    rows = []
    for code in codes:
        mine = [o for o in found if o.fault.code == code]
        told = Counter(
            "wrong_subject"
            if o.answer.finding.code == code and not o.right
            else o.answer.finding.code
            for o in mine
        )
        rows.append(
            {"truth": code, "scans": len(mine)}
            | {answer: told[answer] for answer in [*codes, "wrong_subject", "cannot_tell"]}
        )
    return rows


def main(seed: int, roofs: int) -> None:
    found = list(outcomes(seed, roofs))
    rows = table(found)
    for row in rows:
        print(*(f"{v!s:>13}" for v in row.values()))
    print(list(rows[0]))
    for name, part in [
        ("all", found),
        *((k, [o for o in found if o.scale == k]) for k in ("bars", "dbm", "percent")),
        ("two scans", [o for o in found if o.two]),
        ("one scan", [o for o in found if not o.two]),
    ]:
        print(name, {k: round(float(v), 3) for k, v in figures(part).items()})
    if seed == TOLD_ON:
        with (SHARED / "scan_study.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main(*(map(int, sys.argv[1:3]) if len(sys.argv) > 2 else (TOLD_ON, ROOFS)))
