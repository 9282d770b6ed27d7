"""What the server answers about a view: picture, angles, pose, skyline."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel

from skyview.workbench.replies import Point, Points, Pose, Table


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
    step_deg: float
    columns: int
    rows: int
    x_px: Table
    y_px: Table


class LevelLines(BaseModel):
    """Level, and one sigma above and below it."""

    line_px: Points
    upper_px: Points
    lower_px: Points


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


class GroundReply(BaseModel):
    """The terrain's skyline."""

    format: Literal["skyview.ground"]
    version: Literal[1]
    revision: int
    view: str
    known: bool
    """Whether the site has a terrain file."""
    lines_px: list[Points]


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
    sure: bool
    """Whether the sky's edge as a whole can be trusted."""
    line_px: list[Points]
    unsure_px: list[Point]
    outlines: list[Proposal]
