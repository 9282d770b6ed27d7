"""Values worked out once, however many ask."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from skyview.workbench.once import Once


def test_those_who_ask_meanwhile_wait_for_the_same_value():
    kept, runs, begun = Once(4), [], threading.Event()

    def make():
        runs.append(1)
        begun.set()
        time.sleep(0.2)
        return object()

    with ThreadPoolExecutor(3) as pool:
        asked = [pool.submit(kept.get, "a", make) for _ in range(3)]
        values = {one.result() for one in asked}
    assert (len(values), len(runs)) == (1, 1)


def test_what_went_wrong_is_told_to_all_and_tried_again():
    kept, runs = Once(4), []

    def fail():
        runs.append(1)
        raise ValueError("no")

    for _ in range(2):
        with pytest.raises(ValueError, match="no"):
            kept.get("a", fail)
    assert len(runs) == 2
    assert kept.get("a", lambda: 3) == 3


def test_only_the_latest_few_are_kept():
    kept = Once(2)
    kept.get("a", lambda: 1)
    kept.get("b", lambda: 2)
    kept.get("a", lambda: 0)
    kept.get("c", lambda: 3)
    assert (kept.get("a", lambda: 9), kept.get("b", lambda: 8)) == (1, 8)
