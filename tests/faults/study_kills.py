"""Kills 200 times at random moments during every kind of work and writes ``kills.csv``.

    python tests/faults/study_kills.py

One line for each kind of work: how often it was killed, when, how many steps had been
acknowledged until then, how often the step under way was kept, and how many things were found
that must not be: acknowledged work lost, half-written files, locks left, surveys that do not open.
"""

from __future__ import annotations

import csv
import shutil
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent / "helpers")]

from forge import Forge  # noqa: E402
from kills import ROWS, killed  # noqa: E402

KILLS = 200
FIGURES = HERE / "kills.csv"
COLUMNS = (
    "work", "kills", "first_s", "last_s", "acknowledged", "step_kept", "step_not_kept", "troubles",
)  # fmt: skip


def study(forge: Forge, home: Path) -> list[dict[str, str | int]]:
    """The lines of the table; what must not be is printed."""
    rows = []
    for place, row in enumerate(ROWS):
        count = KILLS // len(ROWS) + (place < KILLS % len(ROWS))
        found = []
        for seed in range(count):
            folder = home / f"{place}-{seed}"
            found.append(killed(row, forge, folder, seed))
            shutil.rmtree(folder)
        for kill in found:
            for trouble in kill.troubles:
                print(f"{kill.work}, killed after {kill.moment_s:.3f} s: {trouble}")
        rows.append(
            {
                "work": row.work,
                "kills": count,
                "first_s": f"{min(kill.moment_s for kill in found):.3f}",
                "last_s": f"{max(kill.moment_s for kill in found):.3f}",
                "acknowledged": sum(kill.acknowledged for kill in found),
                "step_kept": sum(kill.kept > kill.acknowledged for kill in found),
                "step_not_kept": sum(kill.kept == kill.acknowledged for kill in found),
                "troubles": sum(len(kill.troubles) for kill in found),
            }
        )
    return rows


def main() -> None:
    forge = Forge()
    try:
        with tempfile.TemporaryDirectory() as home:
            rows = study(forge, Path(home))
    finally:
        forge.close()
    with open(FIGURES, "w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
