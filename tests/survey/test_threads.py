"""Work handed to threads: all of it, once, in as many threads as are allowed."""

from __future__ import annotations

import threading
from contextlib import suppress

import pytest

from skyview.survey import threads


def seen(monkeypatch, in_child: bool, cores: int) -> tuple[list[int], set[int], list[int]]:
    """What was done, by which threads, in parts of which size; each waits for another in vain."""
    monkeypatch.setattr(threads, "parent_process", lambda: object() if in_child else None)
    monkeypatch.setattr(threads.os, "cpu_count", lambda: cores)
    done, who, sizes = [], set(), []
    together = threading.Barrier(2, timeout=0.5)

    def work(items: list[int]) -> None:
        with suppress(threading.BrokenBarrierError):
            together.wait()
        who.add(threading.get_ident())
        sizes.append(len(items))
        done.extend(items)

    threads.in_threads(work, range(6), at_once=4)
    return sorted(done), who, sorted(sizes)


@pytest.mark.parametrize(
    ("in_child", "cores", "expected"), [(False, 8, 2), (False, 1, 1), (True, 8, 1)]
)
def test_everything_is_done_once_by_so_many_threads(monkeypatch, in_child, cores, expected):
    done, who, sizes = seen(monkeypatch, in_child, cores)
    assert done == list(range(6))
    assert len(who) == expected
    assert sizes == [2, 4]


def test_what_goes_wrong_in_a_thread_is_told():
    def work(items: list[int]) -> None:
        raise ValueError(items[0])

    with pytest.raises(ValueError, match="0"):
        threads.in_threads(work, range(3))
