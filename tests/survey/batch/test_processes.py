"""Tasks in processes: all are answered, whoever dies."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from drawer_case import (
    killed_once,
    one_then_asleep,
    squared,
    squared_or_killed,
    threads_of_arithmetic,
)

from skyview.survey.batch.processes import AHEAD, in_processes

HELPERS = Path(__file__).parents[2] / "helpers"
SLEEPER = """
import sys
from drawer_case import asleep
from skyview.survey.batch.processes import in_processes
if __name__ == "__main__":
    list(in_processes(asleep, [sys.argv[1]] * 2, 2))
"""


def test_every_task_is_answered_and_few_are_handed_out_at_a_time():
    handed = []

    def tasks():
        for number in range(12):
            handed.append(number)
            yield number

    found = {}
    for task, answer in in_processes(squared, tasks(), 1):
        found[task] = answer
        assert len(handed) <= len(found) + AHEAD
    assert found == {n: n * n for n in range(12)}


def test_a_task_that_takes_its_process_down_is_lost_alone():
    found = dict(in_processes(squared_or_killed, range(9), 2))
    assert found == {n: None if n == 5 else n * n for n in range(9)}


def test_a_process_ended_from_outside_costs_nothing(tmp_path):
    marker = str(tmp_path / "marker")
    assert dict(in_processes(killed_once, [marker], 1)) == {marker: marker}


def test_each_process_has_one_thread_for_its_arithmetic(monkeypatch):
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "4")
    ((_, (more, opencv)),) = in_processes(threads_of_arithmetic, [0], 1)
    assert more == 0
    assert opencv == 1


def gone(process: int) -> bool:
    """Whether a process has ended, given ten seconds."""
    for _ in range(200):
        try:
            state = Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2]
        except OSError:
            return True
        if state.split()[0] == "Z":
            return True
        time.sleep(0.05)
    return False


def sleepers(folder: Path) -> list[int]:
    for _ in range(600):
        if len(list(folder.iterdir())) == 2:
            break
        time.sleep(0.05)
    return [int(file.name) for file in folder.iterdir()]


def test_no_process_outlives_a_killed_parent(tmp_path):
    script, marks = tmp_path / "sleeper.py", tmp_path / "marks"
    script.write_text(SLEEPER, encoding="utf-8")
    marks.mkdir()
    path = os.pathsep.join([str(HELPERS), os.environ.get("PYTHONPATH", "")])
    parent = subprocess.Popen(
        [sys.executable, str(script), str(marks)], env={**os.environ, "PYTHONPATH": path}
    )
    found = sleepers(marks)
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    assert len(found) == 2
    assert all(gone(process) for process in found)


def test_leaving_early_ends_the_processes(tmp_path):
    marker = tmp_path / "marker"
    marker.touch()
    marks = tmp_path / "marks"
    marks.mkdir()
    answers = in_processes(one_then_asleep, [str(marker), *[str(marks)] * 2], 2)
    assert next(answers) == (str(marker), "done")
    assert sleepers_at_least_one(marks)
    answers.close()
    assert all(gone(int(file.name)) for file in marks.iterdir())


def sleepers_at_least_one(folder: Path) -> bool:
    for _ in range(600):
        if any(folder.iterdir()):
            return True
        time.sleep(0.05)
    return False
