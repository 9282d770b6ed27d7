"""Work on many paths at once, in as many threads as help."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from multiprocessing import parent_process
from typing import TypeVar

Item = TypeVar("Item")

AT_ONCE = 8


def in_threads(
    work: Callable[[list[Item]], None], items: Sequence[Item], at_once: int = AT_ONCE
) -> None:
    """Hand all items to ``work``, ``at_once`` a time, in two threads where there are two
    processors; in a process started by another one in a single thread, since that one has
    filled the processors already.

    >>> done = []
    >>> in_threads(done.extend, range(20))
    >>> sorted(done) == list(range(20))
    True
    """
    parts = [list(items[i : i + at_once]) for i in range(0, len(items), at_once)]
    threads = 1 if parent_process() else min(2, os.cpu_count() or 1)
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(work, parts))
