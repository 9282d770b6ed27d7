"""Gives every reader spoilt inputs, more than 100,000 in all, and writes ``inputs.csv``.

    python tests/odd_input/study_inputs.py [READER]...

One line for each reader: how many inputs it had, how many it refused in one sentence and how many
it took, how many raised anything else, and the longest time for one of them. With names only
these readers are tried and nothing is written.
"""

from __future__ import annotations

import csv
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent / "helpers")]

from readers import READERS, Reader, inputs, refused  # noqa: E402

FIGURES = HERE / "inputs.csv"
EACH = 12_000
SEED = 7
COLUMNS = ("reader", "inputs", "refused", "taken", "faults", "longest_s")


def tried(reader: Reader, count: int, seed: int, folder: Path) -> dict[str, str | int]:
    """A line of the table; faults are printed with their inputs."""
    told, faults, longest = 0, 0, 0.0
    for content in inputs(reader, count, seed):
        start = time.process_time()
        try:
            told += refused(reader, content, folder)
        except Exception as error:
            faults += 1
            print(reader.name, repr(error)[:200], content[:300])
        longest = max(longest, time.process_time() - start)
    return {
        "reader": reader.name,
        "inputs": count,
        "refused": told,
        "taken": count - told - faults,
        "faults": faults,
        "longest_s": f"{longest:.2f}",
    }


def main() -> None:
    chosen = [reader for reader in READERS if reader.name in sys.argv[1:] or len(sys.argv) == 1]
    with tempfile.TemporaryDirectory() as folder:
        rows = []
        for reader in chosen:
            rows.append(tried(reader, round(EACH * reader.share), SEED, Path(folder)))
            print(rows[-1], flush=True)
    if len(chosen) == len(READERS):
        with open(FIGURES, "w", encoding="utf-8", newline="") as stream:
            writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()
