"""Tasks on a Dask cluster that runs already, through the extra ``cluster``."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
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

    None stands for a task whose workers were ended each time that the scheduler tried it.
    ``work`` must not raise. Raises InputError where there is no such cluster, or its workers have
    another skyview; StorageError where it goes away.
    """
    distributed = _distributed()
    rest = iter(tasks)
    client = _client(distributed, address)
    try:
        room = AHEAD * _threads(client)
        shared = client.scatter(work, broadcast=True, hash=False)
        under_way: dict[Any, T] = {}
        ended = distributed.as_completed(loop=client.loop)
        more = True
        while True:
            while more and len(under_way) < room:
                task = next(rest, None)
                more = task is not None
                if task is not None:
                    future = client.submit(_apply, shared, task, pure=False)
                    under_way[future] = task
                    ended.add(future)
            if not under_way:
                return
            future = next(ended)
            task = under_way.pop(future)
            yield task, _given(distributed, future, address)
            future.release()
    finally:
        client.close()


def _distributed() -> Any:
    try:
        import distributed
    except ImportError:
        raise InputError(
            "the library for clusters is not installed",
            field="--cluster",
            mend="install it with: pip install 'skyview[cluster]'",
        ) from None
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
        versions = client.run(version, on_error="return")
    except BaseException:
        client.close()
        raise
    other = {str(told) for told in versions.values() if told != __version__}
    if versions and not other:
        return client
    client.close()
    if not versions:
        raise InputError("the cluster has no workers", field="--cluster", mend="start some")
    raise InputError(
        f"its workers do not have skyview {__version__}: {', '.join(sorted(other))[:160]}",
        field="--cluster",
        mend="install the same skyview on all of them",
    )


def version() -> str:
    """The skyview that a worker has."""
    return __version__


def _threads(client: Any) -> int:
    return max(1, sum(client.nthreads().values()))


def _apply(work: Callable[[T], R], task: T) -> R:
    return work(task)


def _given(distributed: Any, future: Any, address: str) -> Any:
    """What a task gave; None where it ended its workers."""
    lost = future.status in ("cancelled", "lost")
    error = None if lost else future.exception()
    if isinstance(error, distributed.KilledWorker):
        return None
    if lost or error is not None:
        what = "went away" if lost else f"failed ({type(error).__name__}: {str(error)[:120]})"
        raise StorageError(
            f"the cluster at {address[:80]} {what}",
            mend="run it again once it is well; what is done is kept",
        ) from error
    return future.result()
