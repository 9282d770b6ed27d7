"""Values that are worked out once, however many ask at the same time; the latest few are kept."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from typing import Generic, TypeVar

Value = TypeVar("Value")


class Once(Generic[Value]):
    """Values by key.

    >>> kept = Once[int](2)
    >>> kept.get("a", lambda: 1), kept.get("a", lambda: 2)
    (1, 1)
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = threading.Lock()
        self._kept: OrderedDict[Hashable, Future[Value]] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], Value]) -> Value:
        """The value of this key; who finds it being made waits. What ``make`` raises is raised to
        all who wait, and is not kept."""
        with self._lock:
            there = self._kept.get(key)
            if there is not None:
                self._kept.move_to_end(key)
            else:
                mine: Future[Value] = Future()
                self._kept[key] = mine
                while len(self._kept) > self._most:
                    self._kept.popitem(last=False)
        if there is not None:
            return there.result()
        try:
            mine.set_result(make())
        except BaseException as error:
            with self._lock:
                if self._kept.get(key) is mine:
                    del self._kept[key]
            mine.set_exception(error)
        return mine.result()
