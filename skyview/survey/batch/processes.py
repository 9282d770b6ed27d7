"""Tasks on the cores of this computer, each process with one thread for its arithmetic.

This module imports nothing heavy: the number of threads must be set before NumPy is loaded.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import wait as wait_for
from typing import Any, TypeVar

from skyview.interrupts import interrupts_held

T = TypeVar("T")
R = TypeVar("R")

AHEAD = 2
"""Tasks handed out for each process: one at work, one waiting, so that memory stays bounded."""

_ONE_THREAD = (
    "OPENBLAS_NUM_THREADS",
    "OMP_NUM_THREADS",
    "MKL_NUM_THREADS",
    "BLIS_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
    "OPENCV_FOR_THREADS_NUM",
)

_work: Callable[[Any], Any]


def cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def in_processes(
    work: Callable[[T], R], tasks: Iterable[T], workers: int
) -> Iterator[tuple[T, R | None]]:
    """Each task with what ``work`` gives for it, in the order in which they end.

    None stands for a task whose process was ended from outside, or took itself down, twice. The
    tasks that were under way when a process ended are tried again alone, one by one, so that only
    the one at fault is lost. ``work`` must not raise. Leaving the iterator ends the processes.
    """
    rest = iter(tasks)
    crew = _Crew(work, workers)
    try:
        under_way: dict[Future[R], T] = {}
        more = True
        while True:
            while more and len(under_way) < AHEAD * workers:
                task = next(rest, None)
                more = task is not None
                if task is not None:
                    under_way[crew.submit(task)] = task
            if not under_way:
                return
            ended, _ = wait(under_way, return_when=FIRST_COMPLETED)
            interrupted = []
            for future in ended:
                task = under_way.pop(future)
                if isinstance(future.exception(), BrokenProcessPool):
                    interrupted.append(task)
                else:
                    yield task, future.result()
            if interrupted:
                interrupted += under_way.values()
                under_way.clear()
                crew.end()
                yield from _one_by_one(work, interrupted)
    finally:
        crew.end()


def _one_by_one(work: Callable[[T], R], tasks: Iterable[T]) -> Iterator[tuple[T, R | None]]:
    crew = _Crew(work, 1)
    try:
        for task in tasks:
            future = crew.submit(task)
            if isinstance(future.exception(), BrokenProcessPool):
                crew.end()
                yield task, None
            else:
                yield task, future.result()
    finally:
        crew.end()


class _Crew:
    """A pool of processes, begun when it is first needed and again after its end."""

    def __init__(self, work: Callable[[Any], Any], workers: int) -> None:
        self._packed = pickle.dumps(work)
        self._workers = workers
        self._pool: ProcessPoolExecutor | None = None
        self._others: set[int | None] = set()

    def submit(self, task: Any) -> Future[Any]:
        """Hand out a task; a pool that has broken since is answered as one that breaks now."""
        with interrupts_held():
            if self._pool is None:
                self._others = {process.pid for process in multiprocessing.active_children()}
                self._pool = ProcessPoolExecutor(
                    self._workers,
                    multiprocessing.get_context("spawn"),
                    initializer=_begin,
                    initargs=(self._packed,),
                )
            try:
                return self._pool.submit(_run, task)
            except BrokenProcessPool as error:
                broken: Future[Any] = Future()
                broken.set_exception(error)
                return broken

    def end(self) -> None:
        """End the processes at once."""
        if self._pool is None:
            return
        self._pool.shutdown(wait=False, cancel_futures=True)
        for process in multiprocessing.active_children():
            if process.pid not in self._others:
                process.terminate()
        self._pool.shutdown(wait=True)
        self._pool = None


def _begin(packed: bytes) -> None:
    """Make a new process ready."""
    global _work
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _work = pickle.loads(packed)


def _end_with_parent() -> None:
    """A process whose parent was killed has nobody left to work for."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait_for([parent.sentinel])
        os._exit(1)


def _run(task: Any) -> Any:
    return _work(task)
