"""Ctrl-C reaches every process of a terminal: who begins processes keeps it from them."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import resource_tracker


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Processes begun in the block never get Ctrl-C; here it waits until the block has ended.

    It waits unless another thread, that does not hold it back, takes it first.

    >>> with interrupts_held():
    ...     signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ())
    True
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    # Its start lets interrupts through again, so it comes first.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
