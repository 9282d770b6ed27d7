"""Tasks on a cluster of this computer's: all are answered, whoever dies."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

HELPERS = Path(__file__).parents[2] / "helpers"
SCRIPT = """
import json
import dask
import skyview
from distributed import LocalCluster
from drawer_case import squared, squared_or_killed
from skyview.errors import SkyviewError
from skyview.survey.batch import cluster

def told(tasks):
    try:
        return dict(cluster.on_cluster(squared, tasks, address))
    except SkyviewError as error:
        return str(error)

def local():
    return LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None,
                        silence_logs=50)

if __name__ == "__main__":
    dask.config.set({"distributed.scheduler.allowed-failures": 0})
    with local() as there:
        address = there.scheduler_address
        print(json.dumps(sorted(cluster.on_cluster(squared_or_killed, range(9), address))))
    with local() as there:
        address = there.scheduler_address
        cluster.__version__ = "99"
        print(told([1]))
        cluster.__version__ = skyview.__version__
        going = cluster.on_cluster(squared, range(50), address)
        next(going)
        cluster.ANSWER_S = 1.0
        there.close()
        try:
            list(going)
        except SkyviewError as error:
            print(error)
"""


@pytest.mark.slow
def test_a_cluster_answers_every_task_and_says_what_is_wrong(tmp_path):
    script = tmp_path / "script.py"
    script.write_text(SCRIPT, encoding="utf-8")
    path = os.pathsep.join([str(HELPERS), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, script],
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True,
        text=True,
        timeout=180,
    )
    assert done.returncode == 0, done.stderr
    answers, other, gone = done.stdout.splitlines()
    found = dict(json.loads(answers))
    assert found == {n: None if n == 5 else n * n for n in range(9)}
    assert "do not have skyview 99" in other
    assert "cluster" in gone
    assert "what is done is kept" in gone
