"""How speed is measured: goals, work made ready, the fixed calculation beside it, peak memory.

A busy machine stretches the time on the clock, several cores at once stretch that of the
processor; neither shortens it. So the lesser of both is taken, of several rounds the least.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
FIXED = "the fixed calculation"
MEGABYTE = 1e6

RUN = """
try:
    from skyview.cli.main import run
    run()
finally:
    import sys
    for line in open("/proc/self/status"):
        if line.startswith("VmHWM"):
            sys.stderr.write("\\n" + line.split()[1])
"""
"""Runs a command and tells its greatest memory last. [KiB]

``ru_maxrss`` would not do: a new process inherits that of the one that started it.
"""


@dataclass(frozen=True)
class Goal:
    """What may be spent at most; None where nothing was promised."""

    seconds: float | None = None
    ratio: float | None = None
    """Of the time of what stands beside."""
    peak_mb: float | None = None
    decoded_times: float | None = None
    """Peak memory as a multiple of the decoded picture's size."""


@dataclass(frozen=True)
class Work:
    """Something made ready to be timed."""

    run: Callable[[], object]
    per_run: int = 1
    """So many of it are done in one run."""
    beside: Callable[[], object] | None = None
    """What it is held against; the fixed calculation if None."""
    decoded_mb: float | None = None


@dataclass(frozen=True)
class Case:
    """One row of the table."""

    what: str
    goal: Goal
    ready: Callable[[Path], Work]
    """Makes it ready in a folder that all cases share; files that are there are kept."""
    beside: str = FIXED
    rounds: int = 3
    warm: int = 0
    """Rounds before those that count."""


def environment() -> dict[str, str]:
    """Of child processes: this checkout's code, one thread for linear algebra."""
    places = [ROOT, *(ROOT / "tests" / name for name in ("helpers", "benchmarks"))]
    return {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(str(place) for place in places),
        "OPENBLAS_NUM_THREADS": "1",
    }


@dataclass
class Command:
    """``skyview`` with these words, in a new process."""

    words: tuple[str, ...]
    folder: Path
    peak_mb: float = 0.0
    """Greatest memory of the runs so far."""

    def __call__(self) -> None:
        done = subprocess.run(
            [sys.executable, "-c", RUN, *self.words],
            cwd=self.folder, env=environment(), capture_output=True, text=True,
        )  # fmt: skip
        if done.returncode != 0:
            raise RuntimeError(f"skyview {' '.join(self.words)}: {done.stderr}")
        peak = float(done.stderr.split()[-1]) * 1024 / MEGABYTE
        self.peak_mb = max(self.peak_mb, peak)


def own_peak_mb() -> float:
    """The greatest memory of this process so far."""
    status = Path("/proc/self/status").read_text()
    return float(status.split("VmHWM:")[1].split()[0]) * 1024 / MEGABYTE


def peak_mb(case: Case, work: Work, folder: Path) -> float:
    """Greatest memory of the work in a new process; a command has had one already."""
    if isinstance(work.run, Command):
        return work.run.peak_mb
    script = ROOT / "tests" / "benchmarks" / "speed_cases.py"
    done = subprocess.run(
        [sys.executable, str(script), case.what, str(folder)],
        env=environment(), capture_output=True, text=True, check=True,
    )  # fmt: skip
    return float(done.stdout)


def processor_s() -> float:
    """Processor time of this process and of the children that ended."""
    used = [resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(u.ru_utime + u.ru_stime for u in used)


def spent_s(run: Callable[[], object]) -> float:
    """Time of one run: of clock and processor the lesser."""
    clock, processor = time.perf_counter(), processor_s()
    run()
    return min(time.perf_counter() - clock, processor_s() - processor)


def beside_s(run: Callable[[], object]) -> float:
    """The same of what is held against it; of two runs the least, unless one takes long."""
    first = spent_s(run)
    return first if first > 5.0 else min(first, spent_s(run))


def fixed_calculation() -> None:
    """The same work on every machine: a product of matrices, Fourier transforms, sorting."""
    draw = np.random.default_rng(0)
    square = draw.standard_normal((600, 600))
    for _ in range(4):
        square = square @ square
        square /= np.abs(square).max()
    for _ in range(4):
        np.fft.fft2(draw.standard_normal((512, 512)))
    np.sort(draw.standard_normal(2_000_000))
