"""What the server answers about the survey itself: the description of the interface."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field

Point = Annotated[list[float], Field(min_length=2, max_length=2, description="x, y. [px]")]
Points = list[Point]
Table = list[list[Any]]
State = Literal["working", "done", "failed", "cancelled"]
LeafWord = Literal["in", "out"]


class Problem(BaseModel):
    """What is wrong, where, and what would mend it."""

    message: str = Field(description="One plain sentence.")
    field: str | None = Field(default=None, description="The place that it is about.")
    mend: str | None = Field(default=None, description="What would be right.")


class StepName(BaseModel):
    """One step of work."""

    id: int
    label: str


class HistoryReply(BaseModel):
    """What undo and redo would do."""

    undo: StepName | None
    redo: StepName | None


class ChangedThing(BaseModel):
    """One thing as it is now: an item of a list (null: gone), or a part of the survey."""

    list: str | None = None
    id: str | None = None
    item: dict[str, Any] | None = None
    part: str | None = None
    value: Any = None


class Residual(BaseModel):
    """How far a mark lies from where the calibration puts it."""

    mark: str
    azimuth_residual_deg: float | None
    elevation_residual_deg: float | None
    line_residual_deg: float | None
    doubt_sigmas: float | None
    trust: float | None
    from_px: Point | None
    to_px: Point | None


class Placed(BaseModel):
    """Where a mark made in a frame lies in its view's own picture."""

    mark: str
    points_px: list[Point]


class Pose(BaseModel):
    """Where a view looks."""

    view: str
    calibrated: bool
    yaw_deg: float
    pitch_deg: float
    roll_deg: float
    azimuth_sigma_deg: float | None
    elevation_sigma_deg: float | None
    solved: list[str]
    sentences: list[str]
    suggestion: dict[str, Any] | None
    in_picture: list[Placed]
    residuals: list[Residual]


class News(BaseModel):
    """What is new since a revision."""

    revision: int
    history: HistoryReply
    changed: list[ChangedThing]
    order: dict[str, list[str]] = Field(description="Ids in order, of lists that changed.")


class ChangeReply(News):
    """A change that is stored."""

    format: Literal["skyview.change"]
    version: Literal[1]
    label: str
    poses: list[Pose]
    notes: list[str]
    solve_ms: float


class PhotoReply(ChangeReply):
    """A photograph that became a view."""

    view: str
    missing: list[str]


class RejectedRow(BaseModel):
    """A row of a list that could not be used."""

    line: int
    field: str
    reason: str


class ReadList(BaseModel):
    """What a list held."""

    rows: int
    used: int
    kept: int
    interferers: int
    rejected: list[RejectedRow]


class ListReply(ChangeReply):
    """A list that was read into the survey."""

    read: ReadList


class Conflict(Problem):
    """Not done: the survey moved on, or there is nothing to do."""

    code: Literal["stale", "nothing", "changed_since", "not_shared", "there_is_one"]
    revision: int | None = None
    history: HistoryReply | None = None
    changed: list[ChangedThing] = []
    order: dict[str, list[str]] = {}
    survey: dict[str, Any] | None = None


class StateReply(BaseModel):
    """What the page needs first."""

    format: Literal["skyview.state"]
    version: Literal[1]
    program: str
    open: bool
    revision: int | None
    title: str | None
    shared: bool
    history: HistoryReply


class SurveyReply(BaseModel):
    """The whole survey."""

    format: Literal["skyview.survey"]
    version: Literal[1]
    revision: int
    history: HistoryReply
    survey: dict[str, Any]


class NextRow(BaseModel):
    """One thing that is missing, doubtful or worth knowing."""

    severity: Literal["missing", "warning", "note"]
    field: str
    sentence: str


class NextReply(BaseModel):
    """What to do next."""

    format: Literal["skyview.next"]
    version: Literal[1]
    revision: int
    rows: list[NextRow]


class KindWords(BaseModel):
    """A kind of obstruction."""

    kind: str
    word: str
    family: Literal["solid", "tree", "line"]
    reaches_ground: bool


class PathWords(BaseModel):
    """A word of a path."""

    path: str
    word: str
    meaning: str


class ReceptionWords(BaseModel):
    """A word of reception."""

    reception: str
    word: str
    meaning: str


class WordsReply(BaseModel):
    """Words of the program that the page shows."""

    format: Literal["skyview.words"]
    version: Literal[1]
    kinds: list[KindWords]
    paths: list[PathWords]
    receptions: list[ReceptionWords]
    sentences: dict[str, str]
    cautions: list[str]


class HistoryRow(BaseModel):
    """One step of the history."""

    id: int
    label: str
    done: bool


class HistoryListReply(BaseModel):
    """The newest steps, newest first."""

    format: Literal["skyview.history"]
    version: Literal[1]
    rows: list[HistoryRow]


class JobReply(BaseModel):
    """One piece of long work."""

    id: str
    kind: str
    about: dict[str, Any]
    state: State
    share: float
    error: Problem | None


class JobsReply(BaseModel):
    """All long work that is remembered."""

    format: Literal["skyview.jobs"]
    version: Literal[1]
    rows: list[JobReply]


class ShareReply(BaseModel):
    """An address that lets one device in."""

    format: Literal["skyview.share"]
    version: Literal[1]
    address: str
    qr_svg: str
    minutes: int
