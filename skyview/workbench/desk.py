"""The survey on the desk: read, changed one step at a time, undone and redone.

All pages of one server share one desk. A change is based on a revision, is checked as on load,
calibrates the views whose inputs it touched, is noted in the journal, and is then saved: all of
it or nothing.
"""

from __future__ import annotations

import os
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from skyview.errors import InputError, StorageError
from skyview.survey.json_text import plain
from skyview.survey.models import Survey, validate
from skyview.survey.storage import FILE, create, editing, load
from skyview.workbench.events import Hub
from skyview.workbench.folder import NAME, workbench_folder
from skyview.workbench.history import History, Step, digest_of_state
from skyview.workbench.patches import (
    ChangedSinceError,
    Patch,
    Plain,
    applied,
    inverse,
    patch_between,
)
from skyview.workbench.poses import calibrate_stale

_HEAD_BYTES = 256
KNOWN_STATES = 64
"""So many past revisions are remembered, to tell a page what is new since its own."""


class StaleError(Exception):
    """The change is based on an old revision."""

    def __init__(self, base: int) -> None:
        super().__init__(base)
        self.base = base


class NothingError(Exception):
    """There is nothing to undo or redo, or it cannot be done any more."""

    def __init__(self, message: str, code: str) -> None:
        super().__init__(message)
        self.message, self.code = message, code


class NoSurveyError(Exception):
    """No survey is open yet."""


@dataclass(frozen=True)
class Outcome:
    """What a change did."""

    survey: Survey
    patch: Patch
    history: dict[str, Any]
    calibrated: tuple[str, ...] = ()
    """Views that were calibrated in the same step."""
    notes: tuple[str, ...] = ()
    solve_ms: float = 0.0
    label: str = ""


@dataclass
class _Seen:
    signature: tuple[int, int, int, bytes]
    survey: Survey
    state: Plain = field(default_factory=dict)


class Desk:
    """One survey's folder, opened by one server."""

    def __init__(self, folder: Path, hub: Hub) -> None:
        self.folder = folder
        self.hub = hub
        self._lock = threading.RLock()
        self._seen: _Seen | None = None
        self._states: OrderedDict[int, Plain] = OrderedDict()
        self._history = History(folder / NAME)

    @property
    def is_open(self) -> bool:
        """Whether there is a survey in the folder."""
        return (self.folder / FILE).is_file()

    def survey(self) -> Survey:
        """The survey as it is now; nobody changes the object. NoSurveyError if there is none."""
        return self._current().survey

    def state(self) -> Plain:
        """The same as plain data."""
        return self._current().state

    def _current(self) -> _Seen:
        with self._lock:
            signature = self._signature()
            if self._seen is None or self._seen.signature != signature:
                survey = load(self.folder)
                self._seen = _Seen(signature, survey, plain(survey))
                self._remember(self._seen.state)
            return self._seen

    def _signature(self) -> tuple[int, int, int, bytes]:
        """What differs after every save. The first bytes hold the revision: a clock that stands
        or jumps may give two saves one date."""
        try:
            with open(self.folder / FILE, "rb") as stream:
                status, head = os.fstat(stream.fileno()), stream.read(_HEAD_BYTES)
        except OSError:
            raise NoSurveyError from None
        return status.st_mtime_ns, status.st_size, status.st_ino, head

    def _remember(self, state: Plain) -> None:
        self._states[state["revision"]] = state
        self._states.move_to_end(state["revision"])
        while len(self._states) > KNOWN_STATES:
            self._states.popitem(last=False)

    def patch_since(self, revision: int) -> Patch | None:
        """What is new since a revision; None where that is not known any more."""
        with self._lock:
            now, old = self.state(), self._states.get(revision)
            return None if old is None else patch_between(old, now)

    def history(self) -> dict[str, Any]:
        """What undo and redo would do."""
        with self._lock:
            if not self.is_open:
                return {"undo": None, "redo": None}
            state = self.state()
            self._history.read(state["revision"], digest_of_state(state))
            return self._told()

    def steps(self, limit: int) -> list[dict[str, Any]]:
        """The newest steps, those that are undone first."""
        with self._lock:
            self.history()
            undone = [_step(step, done=False) for step in self._history.undone[-limit:]]
            done = [_step(step, done=True) for step in reversed(self._history.done)]
            return [*undone, *done][:limit]

    def _told(self) -> dict[str, Any]:
        done, undone = self._history.done, self._history.undone
        return {
            "undo": {"id": done[-1].id, "label": done[-1].label} if done else None,
            "redo": {"id": undone[-1].id, "label": undone[-1].label} if undone else None,
        }

    def begin(self, survey: Survey) -> Outcome:
        """Put a new survey into the folder. InputError if there is one already."""
        with self._lock:
            create(self.folder, survey)
            state = self.state()
            outcome = Outcome(self.survey(), patch_between({}, state), self.history())
        self._publish(outcome, None, "begin the survey")
        return outcome

    def change(
        self, base: int, label: str, page: str | None, make: Callable[[Plain], Plain]
    ) -> Outcome:
        """Make one step: ``make`` turns plain data into other plain data.

        StaleError if ``base`` is not the revision now; InputError for what the rules refuse;
        StorageError where it cannot be kept.
        """
        return self._step(base, label, page, make)

    def undo(self, base: int, page: str | None) -> Outcome:
        """Take the last step back, whoever made it. NothingError if there is none."""
        return self._back_or_forth("undo", base, page)

    def redo(self, base: int, page: str | None) -> Outcome:
        """Make the step again that was undone last. NothingError if there is none."""
        return self._back_or_forth("redo", base, page)

    def _back_or_forth(self, what: str, base: int, page: str | None) -> Outcome:
        with self._lock:
            self.history()
            steps = self._history.done if what == "undo" else self._history.undone
            if not steps:
                raise NothingError(f"there is nothing to {what}", "nothing")
            step = steps[-1]
            patch = self._history.patch_of(step)
            patch = inverse(patch) if what == "undo" else patch
            try:
                return self._step(base, step.label, page, lambda now: applied(now, patch), what)
            except ChangedSinceError as error:
                raise NothingError(
                    f"{error.place} was changed by another program since: this step stays",
                    "changed_since",
                ) from None

    def _step(
        self,
        base: int,
        label: str,
        page: str | None,
        make: Callable[[Plain], Plain],
        moved: str | None = None,
    ) -> Outcome:
        """A change, or with ``moved`` (undo, redo) a move through the history."""
        with self._lock:
            if not self.is_open:
                raise NoSurveyError
            workbench_folder(self.folder)
            try:
                outcome = self._saved(base, label, make, moved)
            except StorageError:
                self._history.forget()
                raise
            self._current()
        if outcome.patch:
            self._publish(outcome, page, label)
        return outcome

    def _saved(
        self, base: int, label: str, make: Callable[[Plain], Plain], moved: str | None
    ) -> Outcome:
        with editing(self.folder) as edit:
            before = plain(edit.survey)
            if before["revision"] != base:
                raise StaleError(base)
            digest = digest_of_state(before)
            self._history.read(base, digest, locked=True)
            try:
                survey = _checked(make(before))
            except ChangedSinceError:
                self._history.write_move(f"skip {moved}", base, digest)
                raise
            solved = calibrate_stale(survey) if moved is None else None
            after = plain(survey)
            patch = patch_between(before, after)
            if patch or moved is not None:
                digest = digest_of_state(after)
                if moved is None:
                    self._history.write_change(label, patch, base + 1, digest)
                else:
                    self._history.write_move(moved, base + 1, digest)
                edit.survey = survey
        touched = tuple(e["id"] for e in patch if e.get("list") == "views" and e["new"])
        return Outcome(
            edit.survey,
            patch,
            self._told(),
            calibrated=solved.views if solved else touched,
            notes=solved.notes if solved else (),
            solve_ms=solved.took_ms if solved else 0.0,
            label=label,
        )

    def _publish(self, outcome: Outcome, page: str | None, label: str | None) -> None:
        self.hub.publish(
            "revision",
            {
                "revision": outcome.survey.revision,
                "by": page,
                "label": label,
                "history": outcome.history,
            },
        )

    def watch(self) -> None:
        """Look whether another program saved the survey, and tell the pages if it did."""
        with self._lock:
            before = self._seen
            if not self.is_open:
                return
            now = self._current()
            if before is None or now is before or now.survey.revision == before.survey.revision:
                return
            outcome = Outcome(now.survey, [], self.history())
        self._publish(outcome, None, None)


def _checked(state: Plain) -> Survey:
    """The survey of plain data; errors name fields, not files of this machine."""
    try:
        return validate(state)
    except InputError as error:
        raise InputError(error.message, None, error.field, error.mend) from None


def _step(step: Step, done: bool) -> dict[str, Any]:
    return {"id": step.id, "label": step.label, "done": done}
