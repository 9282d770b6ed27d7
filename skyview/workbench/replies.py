"""What the server answers, for the description of the interface and for its checks."""

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


class LevelReply(BaseModel):
    """One scale of a picture."""

    level: int
    scale: int
    width_px: int
    height_px: int
    columns: int
    rows: int


class PictureReply(BaseModel):
    """A view's picture."""

    format: Literal["skyview.picture"]
    version: Literal[1]
    view: str
    width_px: int
    height_px: int
    full_circle: bool
    key: str
    state: Literal["ready", "making"]
    job: str | None
    tile_px: int
    levels: list[LevelReply]
    overview: str
    overview_width_px: int
    overview_height_px: int


class Grid(BaseModel):
    """Directions at nodes over the picture: [row][column]."""

    x0_px: float
    y0_px: float
    dx_px: float
    dy_px: float
    columns: int
    rows: int
    azimuth_deg: Table
    elevation_deg: Table
    azimuth_sigma_deg: Table
    elevation_sigma_deg: Table


class InverseGrid(BaseModel):
    """Pixels at nodes over directions: [row by elevation][column by azimuth]."""

    azimuth0_deg: float
    elevation0_deg: float
    azimuth_step_deg: float
    elevation_step_deg: float
    columns: int
    rows: int
    x_px: Table
    y_px: Table


class LevelLines(BaseModel):
    """Level, and one sigma above and below it."""

    line_px: list[Points]
    upper_px: list[Points]
    lower_px: list[Points]


class Cross(BaseModel):
    """A cross of the graticule."""

    azimuth_deg: float
    elevation_deg: float
    x_px: float
    y_px: float


class Tick(BaseModel):
    """A tick of the border, where its azimuth meets level."""

    azimuth_deg: float
    x_px: float | None
    y_px: float | None
    major: bool


class NorthLine(BaseModel):
    """The line of azimuth 0."""

    points_px: Points


class AnglesReply(BaseModel):
    """A view's directions as tables."""

    format: Literal["skyview.angles"]
    version: Literal[1]
    view: str
    revision: int
    full_circle: bool
    declination_deg: float
    error_deg: float
    grid: Grid
    inverse: InverseGrid
    level: LevelLines
    crosses: list[Cross]
    ticks: dict[Literal["true", "magnetic"], list[Tick]]
    north: NorthLine | None


class Located(BaseModel):
    """One pixel's direction."""

    x_px: float
    y_px: float
    azimuth_deg: float | None
    elevation_deg: float | None
    azimuth_sigma_deg: float | None
    elevation_sigma_deg: float | None
    magnetic_azimuth_deg: float | None


class LocateReply(BaseModel):
    """Directions of pixels."""

    format: Literal["skyview.locate"]
    version: Literal[1]
    revision: int
    view: str
    rows: list[Located]


class TryReply(BaseModel):
    """A pose that was tried and not kept."""

    format: Literal["skyview.try"]
    version: Literal[1]
    revision: int
    pose: Pose
    notes: list[str]
    solve_ms: float


class Place(BaseModel):
    """Where a station lies in the picture."""

    x_px: float | None
    y_px: float | None
    inside: bool
    side: Literal["left", "right"] | None
    sigma_x_px: float | None
    sigma_y_px: float | None


class Zone(BaseModel):
    """The first Fresnel zone where the costliest obstruction stands."""

    x_px: float | None
    y_px: float | None
    rx_px: float | None
    ry_px: float | None
    radius_m: float | None
    obstruction: str
    distance_m: float | None


class PathReply(BaseModel):
    """One station from one antenna position; all other fields as in ``paths --json``."""

    station: str
    path: str
    word: str
    loss_text: str
    name: str | None
    virtual_channel: str | None
    must_have: bool
    role: str
    place: Place | None
    fresnel: Zone | None
    obstruction_loss_db: float
    field_dbuv_m: float | None
    reception: str
    reception_word: str
    reception_probability: float | None
    chances: str | None = Field(description="The probability in words.")
    margin_db: dict[str, float] | None
    margin_text: str
    losses_db: dict[str, float]


class Silhouette(BaseModel):
    """An outline as the antenna sees it; null points are out of the view."""

    obstruction: str
    kind: str
    family: Literal["solid", "tree", "line"]
    label: str
    distance_m: float | None
    rings_px: list[list[Point | None]]


class PathsReply(BaseModel):
    """Every station from one antenna position."""

    format: Literal["skyview.paths"]
    version: Literal[1]
    revision: int
    spot: str
    height_m: float
    leaf: LeafWord
    view: str | None
    warnings: list[str]
    rows: list[PathReply]
    silhouettes: list[Silhouette]


class HeightSilhouette(BaseModel):
    """An outline at the heights from first to last: [height - first][ring][vertex]."""

    obstruction: str
    kind: str
    family: Literal["solid", "tree", "line"]
    distance_m: float | None
    first: int = Field(description="Index into heights_m.")
    last: int = Field(description="Index into heights_m.")
    rings: int
    x_px: list[Table]
    y_px: list[Table]


class WordChange(BaseModel):
    """A height at which a station's word changes on the way up."""

    height_m: float
    station: str
    from_: str = Field(alias="from")
    to: str


class ZoneTables(BaseModel):
    """First Fresnel zones: [height][station]."""

    rx_px: Table
    ry_px: Table
    radius_m: Table


class HeightsReply(BaseModel):
    """Everything by height: tables are [height][station], null until ready."""

    format: Literal["skyview.heights"]
    version: Literal[1]
    revision: int
    spot: str
    leaf: LeafWord
    view: str | None
    state: State
    job: str
    share: float
    heights_m: list[float]
    ready: list[bool]
    unguyed_mast_m: float
    stations: list[str]
    obstructions: list[str]
    path: Table
    obstruction_loss_db: Table
    loss_at_least: Table
    clearance_deg: Table
    clearance_m: Table
    clearance_fresnel_radii: Table
    obstruction: Table
    unseen_behind: Table
    beyond_horizon: Table
    arrival_elevation_deg: Table
    margin_p10_db: Table
    margin_p50_db: Table
    margin_p90_db: Table
    reception: Table
    reception_probability: Table
    x_px: Table
    y_px: Table
    fresnel: ZoneTables
    silhouettes: list[HeightSilhouette]
    changes: list[WordChange]


class Cause(BaseModel):
    """One thing that costs."""

    code: str
    db: float
    obstruction: str | None
    text: str


class CureCost(BaseModel):
    """What a cure costs another station."""

    station: str
    db: float


class Cure(BaseModel):
    """One thing that would help."""

    code: str
    text: str
    gain_db: float
    probability: float
    costs: list[CureCost]


class WhyReply(BaseModel):
    """Why a station comes in or not."""

    format: Literal["skyview.why"]
    version: Literal[1]
    revision: int
    spot: str
    height_m: float
    antenna: str | None
    leaf: LeafWord
    station: str
    sentence: str
    state: State = Field(description="Of the search for cures.")
    job: str
    standing: list[str] = Field(description="More sentences for the installer.")
    caution: str
    reception: str
    reception_probability: float | None
    margin_db: dict[str, float] | None
    other_leaf_reception: str
    other_leaf_probability: float | None
    missing: list[str]
    causes: list[Cause]
    cures: list[Cure]
    warnings: list[str]


class SpotStation(BaseModel):
    """One station from one spot."""

    station: str
    path: str
    word: str
    obstruction_loss_db: float
    reception: str
    reception_probability: float | None
    margin_p50_db: float | None


class SpotRow(BaseModel):
    """One spot at one height."""

    spot: str
    antenna_height_m: float
    words: dict[str, int]
    sure: int
    likely: int
    worst_must_have: str | None
    worst_probability: float | None
    refused: str | None
    stations: list[SpotStation]


class SpotsReply(BaseModel):
    """Spots side by side."""

    format: Literal["skyview.spots"]
    version: Literal[1]
    revision: int
    leaf: LeafWord
    warnings: list[str]
    rows: list[SpotRow]


class LossStep(BaseModel):
    """One step of the loss layer."""

    level_db: float
    opacity: float
    text: str
    areas_px: list[list[Points]]
    lines_px: list[Points]
    labels_px: Points


class LossReply(BaseModel):
    """The loss in every direction."""

    format: Literal["skyview.loss"]
    version: Literal[1]
    revision: int
    view: str
    spot: str
    height_m: float
    leaf: LeafWord
    channel: int | None
    frequency_mhz: float
    text: str
    steps: list[LossStep]
    state: State
    job: str


class Waiting(BaseModel):
    """The work goes on; ask again at the job's event."""

    state: State
    job: str
    share: float


class Band(BaseModel):
    """An antenna's pattern in one band."""

    band: str
    gain_dbd: float
    relative_db: list[float]


class PatternReply(BaseModel):
    """An antenna's pattern round the circle."""

    format: Literal["skyview.pattern"]
    version: Literal[1]
    revision: int
    antenna: str | None
    aim_true_deg: float | None
    offsets_deg: list[float]
    bands: list[Band]


class Proposal(BaseModel):
    """An outline that waits to be taken."""

    id: str
    kind: str
    family: Literal["solid", "tree", "line"]
    rings_px: list[Points]
    reaches_ground: bool | None
    sky_share: float | None
    unsure: bool
    taken: bool


class ProposalsReply(BaseModel):
    """What was found in a view."""

    format: Literal["skyview.proposals"]
    version: Literal[1]
    revision: int
    view: str
    found: bool
    line_px: list[Points]
    unsure_px: list[Point]
    outlines: list[Proposal]


class ShareReply(BaseModel):
    """An address that lets one device in."""

    format: Literal["skyview.share"]
    version: Literal[1]
    address: str
    qr_svg: str
    minutes: int
