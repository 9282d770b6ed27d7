"""How much a change moved the answers: the sample survey before and after a commit.

    python tests/benchmarks/change_effects.py COMMIT [COMMIT ...]

Both versions get the sample survey as it was before the commit, at all its positions, so that
only the program differs. Printed are the root mean square and the largest difference of the loss
near the path and of the middle of the margin, and how many words are others.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tarfile
import tempfile
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[2]
ASSESS = """
import json, sys
from dataclasses import asdict
from pathlib import Path
from skyview.survey.assess import assess
from skyview.survey.models import validate
data = json.loads(Path(sys.argv[1]).read_text(encoding="utf-8"))
rows = [asdict(row) for row in assess(validate(data)).rows]
json.dump(rows, sys.stdout, default=str)
"""


def tree(commit: str, place: Path) -> Path:
    """The files of a commit."""
    packed = subprocess.run(
        ["git", "archive", commit, "skyview", "sample_images/demo_survey.json"],
        cwd=ROOT, check=True, capture_output=True,
    ).stdout  # fmt: skip
    with tarfile.open(fileobj=BytesIO(packed)) as archive:
        archive.extractall(place, filter="data")
    return place


def rows_of(code: Path, survey: Path) -> dict[tuple[str, float, str], dict[str, Any]] | str:
    """The answers of a version, or the last line of what it said instead."""
    done = subprocess.run(
        [sys.executable, "-c", ASSESS, str(survey)],
        env={**os.environ, "PYTHONPATH": str(code), "OPENBLAS_NUM_THREADS": "1"},
        cwd=code, capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode:
        return done.stderr.strip().splitlines()[-1][:120]
    return {(r["spot"], r["antenna_height_m"], r["station"]): r for r in json.loads(done.stdout)}


def effect(commit: str) -> str:
    """What one commit changed, in a line."""
    with tempfile.TemporaryDirectory() as place:
        before = tree(f"{commit}^", Path(place) / "before")
        after = tree(commit, Path(place) / "after")
        survey = before / "sample_images" / "demo_survey.json"
        old, new = rows_of(before, survey), rows_of(after, survey)
    if isinstance(old, str) or isinstance(new, str):
        return f"cannot be compared: {old if isinstance(old, str) else new}"
    both = [(old[key], new[key]) for key in old if key in new]
    told = [f"{len(both)} paths"]
    for name, of in (("loss", _loss), ("margin", _middle)):
        pairs = [(of(a), of(b)) for a, b in both]
        off = np.array([b - a for a, b in pairs if a is not None and b is not None])
        if off.size:
            told.append(
                f"{name} {np.sqrt(np.mean(off**2)):.2f} dB RMS, {np.abs(off).max():.2f} at most"
            )
    for word in ("path", "reception"):
        other = sum(a.get(word) != b.get(word) for a, b in both)
        told.append(f"{other} {word} words")
    return "; ".join(told)


def _loss(row: dict[str, Any]) -> float | None:
    return row.get("obstruction_loss_db")


def _middle(row: dict[str, Any]) -> float | None:
    margin = row.get("margin_db")
    return margin["p50"] if margin else None


if __name__ == "__main__":
    for commit in sys.argv[1:]:
        words = ["git", "log", "-1", "--format=%h %s", commit]
        title = subprocess.run(words, cwd=ROOT, check=True, capture_output=True, text=True).stdout
        print(f"{title.strip()}\n    {effect(commit)}", flush=True)
