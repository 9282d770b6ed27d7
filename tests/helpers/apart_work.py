"""Work for a process of its own, in a module that such a process can import."""

from __future__ import annotations

import os
import time
from collections.abc import Callable

from skyview.errors import InputError

Report = Callable[[float], None]


def add(report: Report, one: int, two: int) -> int:
    """The sum, told halfway."""
    report(0.5)
    return one + two


def refuse(report: Report) -> None:
    """Says that the input is wrong."""
    raise InputError("no", None, "place", "yes")


def sleep_long(report: Report) -> None:
    """Begins and does not end."""
    report(0.1)
    time.sleep(120)


def die(report: Report) -> None:
    """Ends the process as the system would."""
    os._exit(9)
