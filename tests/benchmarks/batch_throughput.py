"""How much faster two processes hold a drawer against a list than one does.

    python tests/benchmarks/batch_throughput.py [ROUNDS]

24 copies of the sample survey at varied positions, against its list at a third of the power. On a
machine that others keep busy, wall time says little, so each round runs three things one after
the other: one process on all, two processes on all, and two batches of one process each, side by
side, on half of them: what the machine gives to two processes that share nothing at all.
"""

from __future__ import annotations

import copy
import csv
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from skyview.survey.samples import samples_folder

SURVEYS = 24
RUN = [sys.executable, "-c", "import sys; from skyview.cli.main import run; run(sys.argv[1:])"]


def lay_out(home: Path, surveys: int = SURVEYS) -> Path:
    """The drawer in two halves, and the list."""
    data = json.loads((samples_folder() / "demo_survey.json").read_text(encoding="utf-8"))
    draw = np.random.default_rng(5)
    for number in range(surveys):
        one = copy.deepcopy(data)
        north, east = draw.uniform(-0.05, 0.05, 2)
        for thing in (one["site"], *one["landmarks"]):
            thing["latitude_deg"] += north
            thing["longitude_deg"] += east
        folder = home / f"half{number % 2}" / f"house{number:02d}"
        folder.mkdir(parents=True)
        (folder / "survey.json").write_text(json.dumps(one), encoding="utf-8")
    with open(samples_folder() / "stations.csv", encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    new = home / "new.csv"
    with open(new, "w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0])
        writer.writeheader()
        writer.writerows({**row, "erp_kw": float(row["erp_kw"]) / 3.0} for row in rows)
    return new


def timed(new: Path, folders: list[Path], workers: int) -> tuple[float, float]:
    """Wall and processor time of batches side by side, one for each folder. [s]"""
    before, start = os.times(), time.perf_counter()
    with tempfile.TemporaryDirectory() as out:
        running = [
            subprocess.Popen(
                [
                    *RUN,
                    "batch",
                    str(folder),
                    "--stations",
                    str(new),
                    "--workers",
                    str(workers),
                    "-o",
                    str(Path(out) / f"{number}.csv"),
                ],
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            for number, folder in enumerate(folders)
        ]
        assert [process.wait() for process in running] == [0] * len(folders)
    after = os.times()
    spent = after.children_user + after.children_system
    return time.perf_counter() - start, spent - before.children_user - before.children_system


def main(rounds: int) -> None:
    """Print a row for each round, then the medians."""
    found = []
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        new = lay_out(home)
        for _ in range(rounds):
            one = timed(new, [home], 1)
            two = timed(new, [home], 2)
            apart = timed(new, [home / "half0", home / "half1"], 1)
            found.append((one[0] / two[0], one[0] / apart[0], apart[0] / two[0], two[1] / one[1]))
            print(
                f"one {one[0]:.1f} s (processor {one[1]:.1f}), two {two[0]:.1f} ({two[1]:.1f}), "
                f"two apart {apart[0]:.1f} ({apart[1]:.1f}); load {os.getloadavg()[0]:.1f}",
                flush=True,
            )
    gain, ceiling, share, cost = np.median(found, axis=0)
    print(
        f"median of {rounds}: two processes {gain:.2f} times as fast as one, two that share "
        f"nothing {ceiling:.2f} times ({share:.2f} of that is reached); processor time of two "
        f"over one {cost:.2f}"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
