"""A drawer of small surveys, a new list for them, and tasks that go wrong."""

from __future__ import annotations

import copy
import csv
import json
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

from cure_case import roof

from skyview.survey.batch.evaluate import Outcome, Request, Task
from skyview.survey.storage import FILE

FIELDS = ("id", "latitude_deg", "longitude_deg", "antenna_amsl_m", "rf_channel", "erp_kw")


def records(**changes: dict[str, Any] | None) -> list[dict[str, Any]]:
    """The stations of the roof as a list has them, some changed by id, or gone where None."""
    kept = [s for s in roof()["stations"] if changes.get(s["id"], s) is not None]
    return [{f: {**s, **(changes.get(s["id"]) or {})}[f] for f in FIELDS} for s in kept]


def write_list(file: Path, rows: Iterable[dict[str, Any]]) -> Path:
    """The records as a CSV file."""
    with open(file, "w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, FIELDS)
        writer.writeheader()
        writer.writerows(rows)
    return file


def put(folder: Path, **more: Any) -> Path:
    """A survey of the roof in a folder, with its photograph."""
    (folder / "photos").mkdir(parents=True)
    (folder / "photos" / "round.jpg").write_bytes(b"a picture")
    data = {"title": folder.name, **roof(), **more}
    (folder / FILE).write_text(json.dumps(data), encoding="utf-8")
    return folder


def task(folder: Path, key: str = "k") -> Task:
    """The survey of a folder as a task."""
    return Task(folder.name, folder, (folder / FILE).read_text(encoding="utf-8"), key)


def request(rows: list[dict[str, Any]], **more: Any) -> Request:
    """The same list for the one plan that the roof has."""
    return Request({"americas-6mhz": rows}, **more)


def serially(
    work: Callable[[Task], Outcome], tasks: Iterable[Task]
) -> Iterator[tuple[Task, Outcome | None]]:
    """Each task in this process."""
    for one in tasks:
        yield one, work(one)


def moved(data: dict[str, Any], name: str, **fields: Any) -> dict[str, Any]:
    """A survey's data with one station changed."""
    changed = copy.deepcopy(data)
    next(s for s in changed["stations"] if s["id"] == name).update(fields)
    return changed


def squared(number: int) -> int:
    """A task that goes well."""
    return number * number


def squared_or_killed(number: int) -> int:
    """Tasks of which the fifth takes its process down, each time."""
    if number == 5:
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def killed_once(marker: str) -> str:
    """A task whose process is ended from outside, once."""
    if not os.path.exists(marker):
        Path(marker).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return marker


def threads_of_arithmetic(_: int) -> tuple[int, int]:
    """Threads that NumPy adds when it multiplies, and those that OpenCV would take."""
    before = len(os.listdir("/proc/self/task"))
    import cv2
    import numpy as np

    large = np.ones((700, 700))
    assert (large @ large)[0, 0] == 700.0
    return len(os.listdir("/proc/self/task")) - before, cv2.getNumThreads()


def one_then_asleep(name: str) -> str:
    """Done at once for a file, asleep for a folder."""
    if Path(name).is_dir():
        asleep(name)
    return "done"


def asleep(folder: str) -> None:
    """A task that tells its process and then takes for ever."""
    Path(folder, str(os.getpid())).touch()
    threading.Event().wait()
