"""Long work: in threads that report and can be stopped, or apart in a process of its own.

What somebody waits for comes first: work behind it rests at its next report until that is done.
"""

from __future__ import annotations

import itertools
import logging
import multiprocessing
import os
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any, Literal

from skyview.errors import InputError, SkyviewError, StorageError
from skyview.interrupts import interrupts_held
from skyview.workbench.events import Hub

if TYPE_CHECKING:
    # Not every system has the first.
    from multiprocessing.context import ForkServerContext, SpawnContext

THREADS = 8
"""Most of them wait for a process apart, or rest."""

KEPT = 64
"""So many ended jobs are remembered with what they found."""

RETRY_S = 10.0
"""Work that failed is begun again when it is asked for after so long, not at once."""

PREPARED = ("skyview.workbench.skylines", "skyview.workbench.pictures")
"""What work apart needs is loaded once, in a process that every one of its processes comes from."""

_FORKING = "forkserver" in multiprocessing.get_all_start_methods()
_POLL_S = 0.1
_PREPARING = threading.Lock()
_TOLD_STEPS = 50
"""Progress is told in steps of this part of the whole."""


Turn = Literal["asked", "aside", "behind"]
"""asked: somebody waits for it; aside: in a process of its own; behind: ahead of being asked."""

Report = Callable[[float], None]
"""Takes the share done, 0 to 1; raises CancelledError once the work is to stop."""


class CancelledError(Exception):
    """Somebody stopped the work."""


@dataclass
class Job:
    """One piece of long work."""

    id: str
    kind: str
    key: Hashable
    about: dict[str, Any]
    work: Callable[[Report], Any]
    """What does it; a table that it fills can be read meanwhile."""
    basis: str | None = None
    """Digest of what it is worked out from."""
    slot: Hashable = None
    """Where what it finds is kept, if jobs of this kind have several such places."""
    turn: Turn = "asked"
    state: str = "working"
    share: float = 0.0
    error: dict[str, Any] | None = None
    fault: Exception | None = None
    """What ``error`` tells of."""
    ended: float = 0.0
    """When, by the monotonic clock."""
    found: Any = None
    stop: threading.Event = field(default_factory=threading.Event)

    def raise_fault(self) -> None:
        """Raise what made the work fail, if it did."""
        if self.state == "failed" and self.fault is not None:
            raise self.fault

    def told(self) -> dict[str, Any]:
        """The job as pages see it."""
        return {
            "id": self.id,
            "kind": self.kind,
            "about": self.about,
            "state": self.state,
            "share": round(self.share, 3),
            "error": self.error,
        }


class Jobs:
    """All long work of one server."""

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self._lock = threading.Lock()
        self._numbers = itertools.count(1)
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._asked = 0
        self._quiet = threading.Condition()
        self._pool = ThreadPoolExecutor(THREADS, thread_name_prefix="workbench")

    def start(
        self,
        kind: str,
        key: Hashable,
        about: dict[str, Any],
        work: Callable[[Report], Any],
        *,
        basis: str | None = None,
        slot: Hashable = None,
        turn: Turn = "asked",
    ) -> Job:
        """The job that does this work, a new one unless one of this key runs or has just ended.

        With a ``basis`` jobs of this kind and slot that rest on another one are stopped: they
        answer a question that nobody asks any more. One that has ended serves no more either.
        """
        with self._lock:
            there = next((j for j in self._jobs.values() if (j.kind, j.key) == (kind, key)), None)
            if there is not None and _serves(there):
                self._jobs.move_to_end(there.id)
                return there
            for job in self._jobs.values():
                rival = (job.kind, job.slot) == (kind, slot) and job.basis != basis
                if rival and basis is not None:
                    job.stop.set()
            job = Job(f"j{next(self._numbers)}", kind, key, about, work, basis, slot, turn)
            self._jobs[job.id] = job
            self._forget_old()
        self._tell(job)
        self._pool.submit(self._run, job)
        return job

    def _forget_old(self) -> None:
        ended = [j.id for j in self._jobs.values() if j.state != "working"]
        for name in ended[: max(0, len(ended) - KEPT)]:
            del self._jobs[name]

    @contextmanager
    def asked(self) -> Iterator[None]:
        """While this lasts, somebody waits for an answer: work that comes behind rests."""
        with self._quiet:
            self._asked += 1
        try:
            yield
        finally:
            with self._quiet:
                self._asked -= 1
                self._quiet.notify_all()

    def _rest(self, job: Job) -> None:
        with self._quiet:
            while self._asked and not job.stop.is_set():
                self._quiet.wait(_POLL_S)

    def _run(self, job: Job) -> None:
        def report(share: float) -> None:
            if job.turn == "behind":
                self._rest(job)
            if job.stop.is_set():
                raise CancelledError
            told, job.share = job.share, share
            if int(told * _TOLD_STEPS) != int(share * _TOLD_STEPS):
                self._tell(job)

        try:
            report(0.0)
            with self.asked() if job.turn == "asked" else nullcontext():
                job.found = job.work(report)
            job.share, job.state = 1.0, "done"
        except CancelledError:
            job.state = "cancelled"
        except SkyviewError as error:
            job.error = {"message": error.message, "field": error.field, "mend": error.mend}
            job.fault, job.ended, job.state = error, time.monotonic(), "failed"
        except Exception as error:
            if job.stop.is_set():
                # Work that is to stop may find the program going down around it.
                job.state = "cancelled"
                return
            logging.getLogger(__name__).exception("a job of kind %s failed", job.kind)
            job.error = {"message": "the program failed at this", "field": None, "mend": None}
            job.fault, job.ended, job.state = error, time.monotonic(), "failed"
        self._tell(job)

    def _tell(self, job: Job) -> None:
        self._hub.publish("job", job.told())

    def get(self, name: str) -> Job | None:
        """The job of this id."""
        with self._lock:
            return self._jobs.get(name)

    def all(self) -> list[dict[str, Any]]:
        """Every job that is remembered, the newest last."""
        with self._lock:
            return [job.told() for job in self._jobs.values()]

    def cancel(self, job: Job) -> None:
        """Stop a job; one that has ended stays as it is."""
        job.stop.set()

    def close(self) -> None:
        """Stop all work and wait for none of it."""
        with self._lock:
            for job in self._jobs.values():
                job.stop.set()
        self._pool.shutdown(wait=False, cancel_futures=True)


def _serves(job: Job) -> bool:
    """Whether asking again gets this job: not one that was stopped, or that failed a while ago."""
    if job.state == "failed":
        return time.monotonic() - job.ended < RETRY_S
    return job.state != "cancelled" and not job.stop.is_set()


def apart(report: Report, function: Callable[..., Any], *arguments: Any) -> Any:
    """What ``function(report, *arguments)`` gives in a process of its own, which ends with it.

    The memory that it took goes back to the system, and CancelledError ends it at once. Raises
    the SkyviewErrors of the function; StorageError where the process dies.
    """
    prepare()
    context = _context()
    ours, theirs = context.Pipe()
    process = context.Process(target=_child, args=(theirs, function, arguments), daemon=True)
    with interrupts_held():
        process.start()
    theirs.close()
    share = 0.0
    try:
        while True:
            if not ours.poll(_POLL_S):
                report(share)
                continue
            try:
                what, value = ours.recv()
            except EOFError:
                raise StorageError(
                    "the work was ended by the system", mend="close other programs and try again"
                ) from None
            if what == "share":
                share = value
                report(share)
            elif what == "done":
                return value
            else:
                raise InputError(*value) if what == "input" else StorageError(*value)
    finally:
        if process.is_alive():
            process.terminate()
        process.join()
        ours.close()


def prepare() -> None:
    """Begin to load what work apart needs, so that the first one need not wait for it."""
    if not _FORKING:
        return
    from multiprocessing import forkserver

    with _PREPARING, interrupts_held(), _own_modules_only():
        forkserver.set_forkserver_preload(list(PREPARED))
        forkserver.ensure_running()


@contextmanager
def _own_modules_only() -> Iterator[None]:
    """Processes begun in the block take no module from the working folder, which is the user's."""
    before = os.environ.get("PYTHONSAFEPATH")
    os.environ["PYTHONSAFEPATH"] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ["PYTHONSAFEPATH"]
        else:
            os.environ["PYTHONSAFEPATH"] = before


def _context() -> ForkServerContext | SpawnContext:
    """How processes are begun: from one that has loaded what they need, where the system can."""
    if _FORKING:
        return multiprocessing.get_context("forkserver")
    return multiprocessing.get_context("spawn")


def _child(pipe: Connection, function: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
    def report(share: float) -> None:
        pipe.send(("share", share))

    try:
        pipe.send(("done", function(report, *arguments)))
    except SkyviewError as error:
        kind = "input" if isinstance(error, InputError) else "storage"
        pipe.send((kind, (error.message, None, error.field, error.mend)))
    finally:
        pipe.close()
