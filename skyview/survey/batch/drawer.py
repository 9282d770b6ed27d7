"""A folder of surveys: which there are, which of them are still to do, what they gave together."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple, get_args

from skyview import __version__
from skyview.errors import InputError, SkyviewError
from skyview.files import storage_error
from skyview.survey.batch.evaluate import RANK, Outcome, Request, Task, evaluate, sentence_of
from skyview.survey.batch.journal import Journal
from skyview.survey.lists.reader import read_station_list
from skyview.survey.lists.reading import StationReading
from skyview.survey.models import ChannelPlan
from skyview.survey.results import ReceptionWord
from skyview.survey.storage import FILE, inside, read_text

Work = Callable[[Task], Outcome]
Engine = Callable[[Work, Iterable[Task]], Iterator[tuple[Task, Outcome | None]]]
"""Gives each task with its outcome, in any order; None where the process at work was ended."""

ENDED = "the process at work on it was ended by the system, twice; its memory may have run out."


@dataclass
class Drawer:
    """The surveys below a folder and what is known of each so far."""

    folders: dict[str, Path]
    """Each survey's folder, absolute, by its path below the folder of all, in order."""
    problems: dict[str, str] = field(default_factory=dict)
    """Why a survey has no answer, one sentence."""
    taken_over: int = 0
    """How many were done by an earlier run."""
    unread: tuple[str, ...] = ()
    """Folders that cannot be looked into, a sentence each."""


class Move(NamedTuple):
    """A station whose word is another one; None where it was not listed, or is no more."""

    station: str
    old: ReceptionWord | None
    new: ReceptionWord | None


@dataclass(frozen=True)
class Effect:
    """What the list does to one survey, each station once."""

    worse: tuple[Move, ...]
    better: tuple[Move, ...]
    unclear: tuple[Move, ...]
    """One of the words is unknown."""


def surveys_below(folder: Path) -> Drawer:
    """Every folder with a survey.json, the named one too; hidden folders are left aside.

    Raises InputError where there is no such folder or no survey in it.
    """
    if not folder.is_dir():
        raise InputError("there is no such folder", folder, mend="name the folder of your surveys")
    home = folder.resolve()
    found: list[Path] = []
    refused: list[OSError] = []
    for here, below, files in os.walk(home, onerror=refused.append):
        below[:] = [name for name in below if not name.startswith(".")]
        if FILE in files:
            found.append(Path(here))
    if not found:
        raise InputError(f"no {FILE} lies in it or below it", folder, mend="name another folder")
    found.sort(key=lambda place: place.relative_to(home).parts)
    unread = [storage_error(e, Path(e.filename), "it cannot be looked into") for e in refused]
    folders = {_name(place.relative_to(home)): place for place in found}
    return Drawer(folders, unread=tuple(map(str, unread)))


def _name(below: Path) -> str:
    """A path as text that any file can hold."""
    return os.fsencode(below.as_posix()).decode("utf-8", errors="backslashreplace")


def readings_of(
    file: Path, columns: str | None, strict: bool
) -> dict[str, StationReading | InputError]:
    """The list read for every channel plan, since each survey has its own.

    Raises InputError where it can be read for none.
    """
    found: dict[str, StationReading | InputError] = {}
    errors = []
    for plan in get_args(ChannelPlan):
        try:
            found[plan] = read_station_list(file, plan=plan, columns=columns, strict=strict)
        except InputError as error:
            errors.append(error)
            found[plan] = error
    if len(errors) == len(found):
        raise errors[0]
    return found


def digest_of_request(request: Request) -> str:
    """A digest of the list as it was read, of the choices, and of this program's version."""
    told = hashlib.sha256(repr((__version__, request.within_km, request.others)).encode())
    told.update(repr((sorted(request.bands or ()), request.leaf)).encode())
    for plan, records in request.lists.items():
        told.update(f"{plan}{records!s}".encode())
    return told.hexdigest()


def work_through(
    drawer: Drawer,
    request: Request,
    journal: Journal,
    engine: Engine,
    told: Callable[[int], None],
) -> None:
    """Evaluate what is not in the journal yet, and keep each outcome as soon as it is there.

    ``told`` hears how many surveys are done, whenever that grows.
    """
    done = 0

    def one_more() -> None:
        nonlocal done
        done += 1
        told(done)

    def to_do() -> Iterator[Task]:
        digest = digest_of_request(request)
        for survey, folder in drawer.folders.items():
            task = _task(drawer, survey, folder, digest)
            if task is None:
                one_more()
            elif journal.has(task):
                drawer.taken_over += 1
                one_more()
            else:
                yield task

    for task, outcome in engine(partial(evaluate, request), to_do()):
        if outcome is None:
            drawer.problems[task.survey] = f"{Path(task.survey) / FILE}: {ENDED}"
        elif outcome.problem is not None:
            drawer.problems[task.survey] = outcome.problem
        else:
            journal.add(task, outcome)
        one_more()


def _task(drawer: Drawer, survey: str, folder: Path, digest: str) -> Task | None:
    """What is to do for a survey; None, and its problem noted, where its file cannot be read."""
    try:
        text = read_text(folder / FILE)
    except SkyviewError as error:
        drawer.problems[survey] = sentence_of(error, Task(survey, folder, "", ""))
        return None
    key = hashlib.sha256(digest.encode() + text.encode("utf-8")).hexdigest()
    return Task(survey, folder, text, key)


def missing_photos(outcome: Outcome, folder: Path) -> list[str]:
    """Paths of photographs that are not in the survey's folder."""
    return [name for name in outcome.photos if not _is_there(folder, name)]


def _is_there(folder: Path, name: str) -> bool:
    try:
        return inside(folder, name, "photo").is_file()
    except (InputError, OSError):
        return False


def effect_of(rows: Iterable[dict[str, Any]]) -> Effect:
    """What becomes of a survey's stations where its antenna stands, else at every position.

    A station that is gone counts as no, a new one as having been no.
    """
    rows = list(rows)
    standing = [row for row in rows if row["antenna"] is not None] or rows
    moves: dict[str, dict[str, Move]] = {"worse": {}, "better": {}, "unclear": {}}
    for row in standing:
        move = Move(row["station"], row["old_reception"], row["reception"])
        kind = row["change"]
        if kind in ("new", "gone"):
            step = RANK.get(move.new or "no", 0) - RANK.get(move.old or "no", 0)
            kind = "worse" if step < 0 else "better" if step > 0 else "same"
        if kind in moves:
            moves[kind].setdefault(move.station, move)
    return Effect(**{kind: tuple(found.values()) for kind, found in moves.items()})
