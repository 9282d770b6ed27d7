"""The table of speed: every goal beside what was measured in one run.

    python tests/benchmarks/speed_table.py [options of pytest]

Runs ``bench_speed.py``, prints the table, writes it to shared/speed.csv and into README.md. With
options (as ``-k paths``) it only prints.
"""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from speed_work import FIXED, ROOT, Case, Work, environment

TABLE = ROOT / "shared" / "speed.csv"
README = ROOT / "README.md"
COLUMNS = (
    "what", "goal", "met", "seconds", "beside", "beside_seconds", "ratio", "peak_mb",
    "decoded_times", "cores",
)  # fmt: skip
HEADING = "## How fast it is\n"

Row = Mapping[str, str]


def row_of(case: Case, work: Work, seconds: float, beside_s: float, peak: float) -> dict[str, str]:
    """What was measured of a case, rounded, with its goal."""
    times = peak / work.decoded_mb if work.decoded_mb else None
    held = [
        (case.goal.seconds, seconds),
        (case.goal.ratio, seconds / beside_s),
        (case.goal.peak_mb, peak),
        (case.goal.decoded_times, times),
    ]
    asked = [(most, found) for most, found in held if most is not None]
    met = all(found is not None and found <= most for most, found in asked)
    return {
        "what": case.what,
        "goal": goal_words(case),
        "met": ("yes" if met else "no") if asked else "",
        "seconds": f"{seconds:.3g}",
        "beside": case.beside,
        "beside_seconds": f"{beside_s:.3g}",
        "ratio": f"{seconds / beside_s:.3g}",
        "peak_mb": f"{peak:.0f}",
        "decoded_times": "" if times is None else f"{times:.1f}",
        "cores": str(os.cpu_count()),
    }


def goal_words(case: Case) -> str:
    """A goal in words.

    >>> from speed_work import Goal
    >>> goal_words(Case("help", Goal(seconds=0.3, peak_mb=50), None))
    '0.3 s, 50 MB'
    """
    goal, words = case.goal, []
    if goal.seconds is not None:
        words.append(time_words(goal.seconds))
    if goal.ratio is not None:
        words.append(f"{goal.ratio:g} × {case.beside}")
    if goal.peak_mb is not None:
        words.append(f"{goal.peak_mb:g} MB")
    if goal.decoded_times is not None:
        words.append(f"{goal.decoded_times:g} × decoded")
    return ", ".join(words)


def time_words(seconds: float) -> str:
    """Seconds or what is shorter.

    >>> [time_words(value) for value in (26.1, 0.3, 0.0132, 0.00003)]
    ['26 s', '0.3 s', '13 ms', '0.03 ms']
    """
    if seconds < 0.1:
        return f"{1000.0 * seconds:.2g} ms"
    return f"{seconds:.0f} s" if seconds >= 10 else f"{seconds:.2g} s"


def markdown(rows: Sequence[Row]) -> str:
    """The table as the README shows it."""
    yardstick = [float(row["beside_seconds"]) for row in rows if row["beside"] == FIXED]
    fixed = time_words(yardstick[0]) if yardstick else "a time that no row here needed"
    lines = [
        f"On {rows[0]['cores']} cores, measured in one run. The time is the least of several "
        "rounds, by the clock or the processor, whichever is less; commands include the start of "
        f"Python. Unless another yardstick is named it is a fixed calculation (a product of "
        f"matrices, Fourier transforms, sorting) of {fixed} on the same machine: multiply the "
        "ratio by what that takes on yours. `python tests/benchmarks/speed_table.py` measures "
        "anew; what was promised and is not met is said.",
        "",
        "| what | goal | time | ratio to the yardstick | peak memory |",
        "| --- | --- | --- | --- | --- |",
    ]
    for row in rows:
        goal = row["goal"] + (", **missed**" if row["met"] == "no" else "")
        beside = "" if row["beside"] == FIXED else f" of {row['beside']}"
        times = f", {row['decoded_times']} × decoded" if row["decoded_times"] else ""
        cells = [row["what"], goal, time_words(float(row["seconds"]))]
        cells += [f"{row['ratio']}{beside}", f"{row['peak_mb']} MB{times}"]
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def read_rows() -> list[dict[str, str]]:
    """The table as it was last written."""
    with TABLE.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def write(rows: Sequence[Row]) -> None:
    """The table, and its section of the README."""
    with TABLE.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    text = README.read_text(encoding="utf-8")
    before, after = text.split(HEADING)
    rest = after[after.index("\n## ") :]
    README.write_text(f"{before}{HEADING}\n{markdown(rows)}{rest}", encoding="utf-8")


def measure(options: Sequence[str]) -> tuple[list[dict[str, str]], bool]:
    """Run the benchmarks in a process of their own; whether none failed."""
    with tempfile.TemporaryDirectory() as name:
        answer = Path(name) / "speed.json"
        script = str(Path(__file__).with_name("bench_speed.py"))
        done = subprocess.run(
            [
                *(sys.executable, "-m", "pytest", script, "--benchmark-quiet"),
                *(f"--benchmark-json={answer}", *options),
            ],
            cwd=ROOT,
            env=environment(),
            check=False,
        )
        found = json.loads(answer.read_text())["benchmarks"]
    return [
        one["extra_info"]["row"] for one in found if "row" in one["extra_info"]
    ], done.returncode == 0


def main() -> None:
    options = sys.argv[1:]
    rows, whole = measure(options)
    print(markdown(rows))
    if not whole:
        sys.exit("a row failed, so nothing was written")
    if not options:
        write(rows)


if __name__ == "__main__":
    main()
