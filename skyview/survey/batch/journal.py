"""What is done already, survey by survey, so that an interrupted batch goes on where it stopped.

A line a survey, written and synced as soon as the survey is done. Only offsets are held in
memory. A line whose key is another one than asked for is stale, and its survey is done anew.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

from filelock import FileLock, Timeout

from skyview.errors import StorageError
from skyview.files import storage_error, writing
from skyview.survey.batch.evaluate import Outcome, Task, terrain_stamp

_LINE = {"survey", "key", "outcome"}


class Journal:
    """The journal beside a results file; a context, in which no other batch may write to it."""

    def __init__(self, results: Path) -> None:
        self.file = results.with_name(f"{results.name}.journal")
        """Where it is kept."""
        self._lock = FileLock(results.with_name(f".{results.name}.lock"), timeout=0)
        self._at: dict[str, tuple[str, int]] = {}
        self._stream: BinaryIO

    def __enter__(self) -> Self:
        try:
            self._lock.acquire()
        except Timeout:
            raise StorageError(
                "another batch is writing these results",
                self.file,
                mend="let it end, or give another file with -o",
            ) from None
        except OSError as error:
            raise storage_error(error, self.file, "it cannot be opened") from error
        try:
            self._open()
        except OSError as error:
            self._lock.release()
            raise storage_error(error, self.file, "it cannot be opened") from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stream.close()
        self._lock.release()

    def _open(self) -> None:
        """Find the lines that are there; what a killed writer left of one is cut off."""
        self._stream = open(self.file, "a+b")  # noqa: SIM115
        self._stream.seek(0)
        end = 0
        for raw in self._stream:
            line = _line(raw)
            if line is None:
                break
            self._at[line["survey"]] = line["key"], end
            end += len(raw)
        self._stream.truncate(end)

    def has(self, task: Task) -> bool:
        """Whether the survey is done, as it is now."""
        key, offset = self._at.get(task.survey, ("", 0))
        if key != task.key:
            return False
        stamp = self._read(offset).terrain
        return stamp is None or terrain_stamp(task.folder, stamp[0]) == stamp

    def add(self, task: Task, outcome: Outcome) -> None:
        """Keep what a survey gave; it is on the disk when this returns."""
        line = {"survey": task.survey, "key": task.key, "outcome": asdict(outcome)}
        raw = json.dumps(line, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        try:
            offset = self._stream.seek(0, os.SEEK_END)
            self._stream.write(raw.encode("utf-8") + b"\n")
            self._stream.flush()
            os.fsync(self._stream.fileno())
        except OSError as error:
            with suppress(OSError):
                self._stream.truncate(offset)
            raise storage_error(error, self.file, "it cannot be written") from error
        self._at[task.survey] = task.key, offset

    def outcome(self, survey: str) -> Outcome:
        """What a survey gave that is done."""
        return self._read(self._at[survey][1])

    def _read(self, offset: int) -> Outcome:
        self._stream.seek(offset)
        told = json.loads(self._stream.readline())["outcome"]
        terrain = told["terrain"]
        return Outcome(
            rows=tuple(told["rows"]),
            plan=told["plan"],
            photos=tuple(told["photos"]),
            terrain=None if terrain is None else (terrain[0], terrain[1], terrain[2]),
            notes=tuple(told["notes"]),
        )

    def tidy(self, surveys: Iterable[str]) -> None:
        """Leave only the newest line of each of these surveys."""
        with writing(self.file) as stream:
            for raw in self._lines(surveys):
                stream.write(raw)

    def _lines(self, surveys: Iterable[str]) -> Iterator[bytes]:
        for survey in surveys:
            self._stream.seek(self._at[survey][1])
            yield self._stream.readline()


def _line(raw: bytes) -> dict[str, Any] | None:
    """A whole line of a journal, else None."""
    if not raw.endswith(b"\n"):
        return None
    try:
        line = json.loads(raw)
    except (ValueError, RecursionError):
        return None
    return line if _is_line(line) else None


def _is_line(line: Any) -> bool:
    """Whether this is a line as `Journal` writes it; anything may happen to a file."""
    match line:
        case {"survey": str(), "key": str(), "outcome": {"terrain": terrain, "plan": _, **told}}:
            whole = all(isinstance(told.get(name), list) for name in ("rows", "photos", "notes"))
            return whole and _is_stamp(terrain) and line.keys() == _LINE
    return False


def _is_stamp(terrain: Any) -> bool:
    match terrain:
        case None:
            return True
        case [str(name), int(), int()]:
            return name.isprintable()
    return False
