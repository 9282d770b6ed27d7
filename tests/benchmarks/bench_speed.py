"""Every row of the table of speed with pytest-benchmark.

Not part of the plain tests, which time nothing; run by ``speed_table.py``, or by
``pytest tests/benchmarks/bench_speed.py -k locate``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from speed_cases import CASES
from speed_table import row_of
from speed_work import Case, beside_s, fixed_calculation, peak_mb, processor_s, spent_s


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where pictures and surveys lie, made once for all."""
    return tmp_path_factory.mktemp("speed")


@pytest.fixture(scope="module")
def fixed_s() -> float:
    """Time of the fixed calculation in this run."""
    return min(spent_s(fixed_calculation) for _ in range(5))


@pytest.mark.parametrize("case", CASES, ids=[case.what for case in CASES])
def test_speed(case: Case, folder: Path, fixed_s: float, benchmark: Any) -> None:
    work = case.ready(folder)
    processor: list[float] = []

    def timed() -> None:
        start = processor_s()
        work.run()
        processor.append(processor_s() - start)

    benchmark.pedantic(timed, rounds=case.rounds, warmup_rounds=case.warm)
    spent = min(benchmark.stats.stats.min, *processor) / work.per_run
    beside = fixed_s if work.beside is None else beside_s(work.beside)
    benchmark.extra_info["row"] = row_of(case, work, spent, beside, peak_mb(case, work, folder))
