"""One survey by its own stations and by a new list's, row beside row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Literal

from skyview.errors import InputError, SkyviewError
from skyview.survey.assess import assess
from skyview.survey.batch.relisted import relisted
from skyview.survey.json_text import load_text
from skyview.survey.lists.choose import select
from skyview.survey.lists.reading import Record
from skyview.survey.models import Survey
from skyview.survey.results import Margin, PathRow, PathWord, ReceptionWord
from skyview.survey.scene import Leaf
from skyview.survey.storage import FILE, inside

Change = Literal["same", "better", "worse", "new", "gone", "unclear"]

RANK: dict[ReceptionWord, int] = {"no": 0, "doubtful": 1, "likely": 2, "sure": 3}
"""Words of reception in order; unknown has no place among them."""


@dataclass(frozen=True)
class Request:
    """What every survey is held against."""

    lists: Mapping[str, Sequence[Record] | InputError]
    """The list's records by channel plan, or why it cannot be read for that plan."""
    within_km: float | None = None
    """Stations that a survey has not yet are taken up to here. [km]"""
    bands: frozenset[str] | None = None
    """Of stations that a survey has not yet, only those in these bands."""
    others: bool = False
    """Stations that the list does not name stay as they are; else they are gone."""
    leaf: Leaf = "in"


@dataclass(frozen=True)
class Task:
    """One survey to evaluate."""

    survey: str
    """Its folder below the one that was named."""
    folder: Path
    """Its folder, absolute."""
    text: str
    """What its survey.json holds."""
    key: str
    """Digest of everything that the answer rests on, but the terrain file."""


@dataclass(frozen=True)
class BatchRow:
    """One station at one antenna position by the new list, beside the old word."""

    title: str
    """The survey's title."""
    spot: str
    """Id of the spot."""
    antenna_height_m: float
    """Height of the antenna above the spot. [m]"""
    antenna: str | None
    """Id of the survey's antenna that stands there, if any."""
    station: str
    """Id of the station."""
    rf_channel: int
    """RF channel by the new list; the old one of a station that is gone."""
    path: PathWord | None
    """What stands in the last few hundred metres; None, as all below, where it is gone."""
    obstruction_loss_db: float | None
    """Loss of everything that was outlined near the path, together. [dB]"""
    margin_db: Margin | None
    """Margin by the new list; None where power or threshold is not known."""
    reception: ReceptionWord | None
    """Whether the station comes in by the new list."""
    reception_probability: float | None
    """Share of the draws in which it does."""
    old_reception: ReceptionWord | None
    """The word by the survey's own stations; None for a station that is new."""
    old_reception_probability: float | None
    """Share of the draws in which it came in by them."""
    changed: bool
    """Whether the word is another one."""
    change: Change
    """How: unclear where one of the words is unknown."""


@dataclass(frozen=True)
class Outcome:
    """What one survey gave, as plain data that JSON can hold."""

    rows: tuple[dict[str, Any], ...] = ()
    """A ``BatchRow`` each."""
    plan: str | None = None
    """The channel plan for which the list was read."""
    photos: tuple[str, ...] = ()
    """Path of each view's photograph in the survey's folder."""
    terrain: tuple[str, int, int] | None = None
    """Path, size and time [ns] of the terrain file."""
    notes: tuple[str, ...] = ()
    """What the new answer assumes that the old one did not."""
    problem: str | None = None
    """Why there is no answer, one sentence."""


def evaluate(request: Request, task: Task) -> Outcome:
    """The survey by its own stations and by the list's; whatever goes wrong is told, not raised."""
    try:
        return _evaluate(request, task)
    except SkyviewError as error:
        return Outcome(problem=sentence_of(error, task))
    except MemoryError:
        return Outcome(problem=f"{_place(task)}: it needs more memory than there is.")
    except Exception as error:
        told = " ".join(str(error).split())[:160]
        fault = f"{type(error).__name__}: {told}" if told else type(error).__name__
        return Outcome(problem=f"{_place(task)}: the program failed at it ({fault}).")


def sentence_of(error: SkyviewError, task: Task) -> str:
    """The error's sentence, its file named as seen from the folder of all surveys."""
    file = Path(error.file) if error.file else task.folder / FILE
    with suppress(ValueError):
        file = Path(task.survey) / file.relative_to(task.folder)
    return str(type(error)(error.message, file, error.field, error.mend))


def _place(task: Task) -> Path:
    return Path(task.survey) / FILE


def _evaluate(request: Request, task: Task) -> Outcome:
    survey = load_text(task.text, task.folder / FILE).kept_in(task.folder)
    plan = survey.site.channel_plan
    new = relisted(survey, records_for(survey, request), request.others)
    stamp = terrain_stamp(task.folder, survey.site.terrain)
    found = assess(new, leaf=request.leaf)
    same = new.stations == survey.stations
    old = found if same or not survey.stations else assess(survey, leaf=request.leaf)
    before = {_key(row): row for row in old.rows} if survey.stations else {}
    rows = [_row(survey.title, row, before.pop(_key(row), None)) for row in found.rows]
    rows += [_gone(survey.title, row) for row in before.values()]
    return Outcome(
        rows=tuple(asdict(row) for row in _by_position(rows)),
        plan=plan,
        photos=tuple(view.photo for view in survey.views),
        terrain=stamp,
        notes=tuple(n for n in found.warnings if n not in old.warnings or not survey.stations),
    )


def records_for(survey: Survey, request: Request) -> list[Record]:
    """The records of the list that matter for this survey.

    Every one whose id the survey has; of the others those within reach and in the bands, with
    what may disturb them. Raises InputError where none is left.
    """
    site, all_of = survey.site, request.lists[survey.site.channel_plan]
    if isinstance(all_of, InputError):
        raise all_of
    chosen = select(
        all_of,
        site.channel_plan,
        site.latitude_deg,
        site.longitude_deg,
        km=request.within_km,
        bands=request.bands,
    )
    own = {station.id for station in survey.stations}
    near = {record["id"]: record for record in chosen.stations}
    left = [
        record if record["id"] in own else near[record["id"]]
        for record in all_of
        if record["id"] in own or record["id"] in near
    ]
    if not left:
        raise InputError(
            "no station of the list is left for it",
            field="stations",
            mend=chosen.hint or "widen --within, or look whether the list has the same ids",
        )
    return left


def terrain_stamp(folder: Path, name: str | None) -> tuple[str, int, int] | None:
    """Path, size and time of a survey's terrain file; None where it has none or it is missing."""
    if name is None:
        return None
    try:
        stat = inside(folder, name, "site.terrain").stat()
    except OSError:
        return None
    return name, stat.st_size, stat.st_mtime_ns


def _key(row: PathRow | BatchRow) -> tuple[str, float, str]:
    return row.spot, row.antenna_height_m, row.station


def _row(title: str, row: PathRow, before: PathRow | None) -> BatchRow:
    old = None if before is None else before.reception
    change = change_of(old, row.reception)
    return BatchRow(
        title=title,
        spot=row.spot,
        antenna_height_m=row.antenna_height_m,
        antenna=row.antenna,
        station=row.station,
        rf_channel=row.rf_channel,
        path=row.path,
        obstruction_loss_db=row.obstruction_loss_db,
        margin_db=row.margin_db,
        reception=row.reception,
        reception_probability=row.reception_probability,
        old_reception=old,
        old_reception_probability=None if before is None else before.reception_probability,
        changed=change != "same",
        change=change,
    )


def _gone(title: str, before: PathRow) -> BatchRow:
    """A station of the survey that the list has no more."""
    return replace(
        _row(title, before, before),
        path=None,
        obstruction_loss_db=None,
        margin_db=None,
        reception=None,
        reception_probability=None,
        changed=True,
        change="gone",
    )


def change_of(old: ReceptionWord | None, new: ReceptionWord) -> Change:
    """What became of a station's reception.

    >>> change_of("likely", "no"), change_of("no", "no"), change_of(None, "sure")
    ('worse', 'same', 'new')
    """
    if old is None:
        return "new"
    if old == new:
        return "same"
    if old not in RANK or new not in RANK:
        return "unclear"
    return "better" if RANK[new] > RANK[old] else "worse"


def _by_position(rows: Sequence[BatchRow]) -> list[BatchRow]:
    """Rows grouped by spot and height in the order of the survey, those gone last in each."""
    places = list(dict.fromkeys((row.spot, row.antenna_height_m) for row in rows))
    rank = {place: index for index, place in enumerate(places)}
    return sorted(rows, key=lambda row: rank[row.spot, row.antenna_height_m])
