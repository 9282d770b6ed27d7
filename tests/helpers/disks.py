"""A disk that fails at one step: each call that changes it counts, and one of them is refused.

It stands in for full, read-only and broken disks wherever the tests run, as root too: the calls
by which Python opens files to write, writes, syncs, renames, makes folders and sets permissions.
"""

from __future__ import annotations

import builtins
import contextlib
import errno
import io
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

STEPS = ("fsync", "replace", "rename", "mkdir", "chmod", "link", "symlink")


class Disk:
    """Counts what changes files below ``home`` and refuses the step ``fails`` (from 1)."""

    def __init__(self, home: Path, fails: int = 0, number: int = errno.ENOSPC) -> None:
        self.steps: list[str] = []
        self._home, self._fails, self._number = str(home), fails, number

    def holds(self, place: object) -> bool:
        """Whether a path, which may be relative, leads below home."""
        return not isinstance(place, int) and os.path.abspath(str(place)).startswith(self._home)

    def step(self, what: str, place: object = None) -> None:
        """Count it; OSError if this is the one that fails."""
        if place is not None and not self.holds(place):
            return
        self.steps.append(what)
        if len(self.steps) == self._fails:
            raise OSError(self._number, os.strerror(self._number), str(place or what))


class _Written:
    """A file open for writing whose every write is a step."""

    def __init__(self, file: Any, disk: Disk) -> None:
        self._file, self._disk = file, disk

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def write(self, *content: Any) -> Any:
        self._disk.step("write")
        return self._file.write(*content)

    def __enter__(self) -> _Written:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()


@contextlib.contextmanager
def failing(disk: Disk) -> Iterator[Disk]:
    """The disk in place of the real one, for this process and the block."""
    with pytest.MonkeyPatch.context() as patch:
        real_open, low_open = io.open, os.open

        def opened(file: Any, mode: str = "r", *more: Any, **named: Any) -> Any:
            if not (set(mode) & set("wax+") and disk.holds(file)):
                return real_open(file, mode, *more, **named)
            disk.step(f"open {mode}", file)
            return _Written(real_open(file, mode, *more, **named), disk)

        def low_opened(path: Any, flags: int, *more: Any, **named: Any) -> int:
            if flags & (os.O_WRONLY | os.O_RDWR):
                disk.step("os.open", path)
            return low_open(path, flags, *more, **named)

        patch.setattr(io, "open", opened)
        patch.setattr(builtins, "open", opened)
        patch.setattr(os, "open", low_opened)
        for name in STEPS:
            patch.setattr(os, name, _counted(disk, name, getattr(os, name)))
        yield disk


def _counted(disk: Disk, name: str, real: Any) -> Any:
    def call(*words: Any, **named: Any) -> Any:
        disk.step(name, None if name == "fsync" else words[0])
        return real(*words, **named)

    return call
