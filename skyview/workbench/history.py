"""Every change as a line of a journal beside the survey, so that undo outlives the server.

A line is written and synced before the survey is saved. A line whose revision the survey never
reached is what a killed server left behind: it is cut off at the next reading. Only offsets are
held in memory; patches are read when they are wanted.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from skyview.files import storage_error
from skyview.survey.rules import LISTS_WITH_IDS
from skyview.workbench.patches import Patch

FILE = "history.jsonl"


@dataclass(frozen=True)
class Step:
    """One change as the history lists it."""

    id: int
    label: str
    revision: int
    offset: int


def digest_of_state(state: dict[str, Any]) -> str:
    """A digest of a survey's plain data without its revision."""
    rest = {name: value for name, value in state.items() if name != "revision"}
    text = json.dumps(rest, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


class History:
    """The journal of one survey; the caller holds the survey's lock while it writes."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / FILE
        self._end = -1
        self.done: list[Step] = []
        """Steps that can be undone, oldest first."""
        self.undone: list[Step] = []
        """Steps that can be redone, the next one last."""
        self._next = 1

    def read(self, revision: int, digest: str, locked: bool = False) -> None:
        """Bring the history up to date with the file, if anybody wrote to it.

        A last line that belongs to a save which has not happened does not count. Whoever holds
        the survey's lock (``locked``) knows that it never will, and cuts it off; without the lock
        another server may just be about to save. StorageError where the file cannot be read.
        """
        try:
            self._read(revision, digest, locked)
        except OSError as error:
            self.forget()
            raise storage_error(error, FILE, "the history cannot be read") from error

    def _read(self, revision: int, digest: str, locked: bool) -> None:
        size = self._file.stat().st_size if self._file.exists() else 0
        if size == self._end:
            return
        self.done, self.undone, self._next = [], [], 1
        lines = list(self._lines())
        if lines and _was_never_saved(lines[-1][1], revision, digest):
            lines.pop()
        for offset, line, _ in lines:
            self._take(offset, line)
        end = lines[-1][0] + lines[-1][2] if lines else 0
        if end < size and locked:
            with open(self._file, "r+b") as stream:
                stream.truncate(end)
        self._end = end if end == size or locked else -1

    def _lines(self) -> Iterator[tuple[int, dict[str, Any], int]]:
        """Offset, content and length of every line up to the first that is not whole."""
        if not self._file.exists():
            return
        with open(self._file, "rb") as stream:
            offset = 0
            for raw in stream:
                try:
                    line = json.loads(raw)
                except (ValueError, RecursionError):
                    return
                if not (raw.endswith(b"\n") and _is_line(line)):
                    return
                yield offset, line, len(raw)
                offset += len(raw)

    def _take(self, offset: int, line: dict[str, Any]) -> None:
        match line["do"]:
            case "change":
                step = Step(line["id"], line["label"], line["revision"], offset)
                self.done.append(step)
                self.undone = []
                self._next = line["id"] + 1
            case "undo" if self.done:
                self.undone.append(self.done.pop())
            case "redo" if self.undone:
                self.done.append(self.undone.pop())
            case "skip undo" if self.done:
                self.done.pop()
            case "skip redo" if self.undone:
                self.undone.pop()

    def patch_of(self, step: Step) -> Patch:
        """What a step changed."""
        with open(self._file, "rb") as stream:
            stream.seek(step.offset)
            patch: Patch = json.loads(stream.readline())["patch"]
        return patch

    def write_change(self, label: str, patch: Patch, revision: int, digest: str) -> None:
        """Note a change that the next save, of this revision, will make."""
        line = {"id": self._next, "do": "change", "label": label, "revision": revision}
        self._append({**line, "digest": digest, "patch": patch})

    def write_move(self, what: str, revision: int, digest: str) -> None:
        """Note that the last step is undone or redone, or skipped for good."""
        self._append({"do": what, "revision": revision, "digest": digest})

    def _append(self, line: dict[str, Any]) -> None:
        raw = (json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n").encode()
        try:
            with open(self._file, "ab") as stream:
                offset = stream.seek(0, os.SEEK_END)
                stream.write(raw)
                stream.flush()
                os.fsync(stream.fileno())
        except OSError as error:
            self.forget()
            raise storage_error(error, FILE, "the history cannot be written") from error
        self._take(offset, line)
        self._end = offset + len(raw)

    def forget(self) -> None:
        """Read the file again next time: the save that a line foretold did not happen."""
        self._end = -1


def _is_line(line: Any) -> bool:
    """Whether this is a line as `History` writes it; anything may happen to a file."""
    match line:
        case {"do": "change", "id": int(), "label": str(label), "patch": list(patch)}:
            fits = _can_be_sent(label) and all(_is_entry(entry) for entry in patch)
        case {"do": "undo" | "redo" | "skip undo" | "skip redo"}:
            fits = True
        case _:
            return False
    return fits and isinstance(line.get("revision"), int) and isinstance(line.get("digest"), str)


def _can_be_sent(label: str) -> bool:
    return not any("\ud800" <= letter <= "\udfff" for letter in label)


def _is_entry(entry: Any) -> bool:
    match entry:
        case {"order": name, "old": list(old), "new": list(new)}:
            return name in LISTS_WITH_IDS and all(isinstance(key, str) for key in [*old, *new])
        case {"list": name, "id": str(key), "old": old, "new": new}:
            return name in LISTS_WITH_IDS and all(
                item is None or (isinstance(item, dict) and item.get("id") == key)
                for item in (old, new)
            )
        case {"part": str(), "old": _, "new": _}:
            return True
    return False


def _was_never_saved(line: dict[str, Any], revision: int, digest: str) -> bool:
    told = int(line["revision"])
    return told > revision or (told == revision and line["digest"] != digest)
