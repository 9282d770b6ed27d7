"""What the server answers about stations: paths, heights, reasons, spots, losses, patterns."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, Field

from skyview.workbench.replies import LeafWord, Point, Points, State, Table


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
    """An outline at every height, [height][ring][vertex]; it counts from first to last."""

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
    refused: list[str | None] = Field(description="Why no antenna may stand at each height.")
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


class SpotRow(BaseModel):
    """One spot at one height; nothing is told of one that is refused, nor before it is found."""

    spot: str
    antenna_height_m: float
    words: dict[str, int]
    sure: int | None
    likely: int | None
    worst_must_have: str | None
    worst_probability: float | None
    refused: str | None
    standing: Literal["best", "alike"] | None
    stations: list[SpotStation]


class SpotsReply(BaseModel):
    """Spots side by side."""

    format: Literal["skyview.spots"]
    version: Literal[1]
    revision: int
    leaf: LeafWord
    state: State
    job: str
    refused: list[str] = Field(description="Sentences, those with the same reason in one.")
    best: str | None
    more: list[str] = Field(description="From which height on.")
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


class AimsReply(BaseModel):
    """What every heading of an antenna brings: tables are [heading][station]."""

    format: Literal["skyview.aims"]
    version: Literal[1]
    revision: int
    spot: str
    height_m: float
    leaf: LeafWord
    antenna: str | None
    headings_deg: list[float] = Field(description="True; none for two antennas on one downlead.")
    stations: list[str]
    reception: Table
    reception_probability: Table
    margin_p10_db: Table
    margin_p50_db: Table
    margin_p90_db: Table


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
