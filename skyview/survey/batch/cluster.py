"""Tasks on a Dask cluster that runs already, through the extra ``cluster``."""

from __future__ import annotations

import logging
import pickle
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import CancelledError
from itertools import islice
from typing import Any, TypeVar

from skyview import __version__
from skyview.errors import InputError, StorageError
from skyview.survey.batch.processes import AHEAD

T = TypeVar("T")
R = TypeVar("R")

ANSWER_S = 15.0
"""A scheduler that has not answered by then is not there. [s]"""


def on_cluster(
    work: Callable[[T], R], tasks: Iterable[T], address: str
) -> Iterator[tuple[T, R | None]]:
    """Each task with what ``work`` gives for it, in the order in which they end.

    None stands for a task whose workers were ended each time that the scheduler tried it, and
    again when it was tried alone: others that waited at the same worker are not lost with it.
    ``work`` must not raise. Raises InputError where there is no such cluster, or its workers have
    another skyview; StorageError where it goes away.
    """
    distributed = _distributed()
    client = _client(distributed, address)
    try:
        # Given by a task: scattered data are lost for good with the worker that holds them.
        shared = client.submit(pickle.loads, pickle.dumps(work), pure=False)
        lost = []
        for task, future in _ended(distributed, client, shared, tasks, AHEAD * _threads(client)):
            answer = _answer(distributed, client, future, address)
            if answer is None:
                lost.append(task)
            else:
                yield task, answer[0]
        for task, future in _ended(distributed, client, shared, lost, 1):
            answer = _answer(distributed, client, future, address)
            yield task, None if answer is None else answer[0]
    finally:
        client.close()


def _ended(
    distributed: Any, client: Any, shared: Any, tasks: Iterable[T], room: int
) -> Iterator[tuple[T, Any]]:
    """Tasks with their futures as they end, ``room`` of them under way at a time."""
    rest = iter(tasks)
    under_way: dict[Any, T] = {}

    def hand_out(count: int) -> None:
        for task in islice(rest, count):
            under_way[client.submit(_apply, shared, task, pure=False)] = task

    hand_out(room)
    while under_way:
        for future in _some_done(distributed, client, list(under_way)):
            yield under_way.pop(future), future
            hand_out(1)


def _some_done(distributed: Any, client: Any, futures: list[Any]) -> Iterable[Any]:
    """Those that have ended, once one has. StorageError where nobody is left to work on them."""
    while True:
        try:
            with client.as_current():
                ended: Iterable[Any] = distributed.wait(futures, ANSWER_S, "FIRST_COMPLETED").done
        except (OSError, CancelledError):
            ended = {future for future in futures if future.done()}
        if ended:
            return ended
        if client.status != "running" or not client.nthreads():
            raise StorageError(
                "the cluster has no workers any more",
                mend="run it again once it is well; what is done is kept",
            )


def _distributed() -> Any:
    try:
        import distributed
    except ImportError:
        raise InputError(
            "the library for clusters is not installed",
            field="--cluster",
            mend="install it with: pip install 'skyview[cluster]'",
        ) from None
    # What it logs when a cluster goes away is told in one sentence instead.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    return distributed


def _client(distributed: Any, address: str) -> Any:
    """The cluster's client, once its workers have been asked for their skyview."""
    try:
        client = distributed.Client(address, timeout=ANSWER_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise InputError(
            f"no cluster answers at {address[:80]!r}",
            field="--cluster",
            mend="give its scheduler's address as in tcp://192.0.2.7:8786",
        ) from error
    try:
        _wait_for_workers(client)
        versions = client.run(version, on_error="return")
    except BaseException:
        client.close()
        raise
    other = {str(told) for told in versions.values() if told != __version__}
    if not other:
        return client
    client.close()
    raise InputError(
        f"its workers do not have skyview {__version__}: {', '.join(sorted(other))[:160]}",
        field="--cluster",
        mend="install the same skyview on all of them",
    )


def _wait_for_workers(client: Any) -> None:
    try:
        client.wait_for_workers(1, timeout=ANSWER_S)
    except OSError:
        raise InputError(
            "the cluster has no workers", field="--cluster", mend="start some"
        ) from None


def version() -> str:
    """The skyview that a worker has."""
    return __version__


def _threads(client: Any) -> int:
    return int(max(1, sum(client.nthreads().values())))


def _apply(work: Callable[[T], R], task: T) -> R:
    return work(task)


def _answer(distributed: Any, client: Any, future: Any, address: str) -> tuple[Any] | None:
    """What a task gave; None where its worker was ended, at work on it or before it told.

    StorageError where the cluster itself is at fault.
    """
    try:
        return (future.result(),)
    except (distributed.KilledWorker, CancelledError) as error:
        if client.status == "running":
            return None
        what, fault = "went away", error
    except Exception as error:
        what, fault = f"failed ({type(error).__name__}: {str(error)[:120]})", error
    raise StorageError(
        f"the cluster at {address[:80]} {what}",
        mend="run it again once it is well; what is done is kept",
    ) from fault
