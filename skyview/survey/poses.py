"""Models of what the calibration writes into a view."""

from __future__ import annotations

from pydantic import Field

from skyview.survey.parts import Id, NotNegative, Number, Part, Positive, Share, Word


class Residual(Part):
    """How far one mark lies from where the calibration puts it."""

    mark: Id = Field(description="Id of the mark.")
    azimuth_residual_deg: Number | None = Field(
        default=None, description="Measured less computed azimuth, clockwise; null: none. [deg]"
    )
    elevation_residual_deg: Number | None = Field(
        default=None, description="Measured less computed elevation, up; null: none. [deg]"
    )
    line_residual_deg: Number | None = Field(
        default=None, description="Lean of a plumb line, or a shadow's azimuth off. [deg]"
    )
    azimuth_without_deg: Number | None = Field(
        default=None, description="Azimuth residual against the answer of all other marks. [deg]"
    )
    elevation_without_deg: Number | None = Field(
        default=None, description="Elevation residual against all other marks. [deg]"
    )
    line_without_deg: Number | None = Field(
        default=None, description="Line residual against all other marks. [deg]"
    )
    doubt_sigmas: NotNegative | None = Field(
        default=None, description="How improbable that is, in sigmas of a normal variable."
    )
    trust: Share | None = Field(
        default=None, description="Share of its weight that the mark kept, 0 to 1. [unitless]"
    )


class PoseFinding(Part):
    """Something that the calibration noticed, as a code with its figures."""

    code: Word = Field(description="What was noticed, as in elevation_rough.")
    marks: list[Id] = Field(default=[], description="Ids of the marks that it is about.")
    values: dict[str, Number] = Field(
        default={}, description="Its figures, each under a name that carries the unit."
    )


class Calibration(Part):
    """Pose and scale of a view, solved from its marks; written by the tool."""

    yaw_deg: Number = Field(description="Azimuth of the optical axis from true north. [deg]")
    pitch_deg: Number = Field(description="Elevation of the optical axis. [deg]")
    roll_deg: Number = Field(description="Positive: camera turned clockwise. [deg]")
    scale: Positive = Field(
        default=1.0, description="Multiplies the projection's pixels per radian. [unitless]"
    )
    level_row_px: Number | None = Field(
        default=None, description="Row of the level plane; cylindrical only. [px]"
    )
    k1: Number | None = Field(
        default=None, description="Radial distortion; rectilinear only. [unitless]"
    )
    k2: Number | None = Field(
        default=None, description="Radial distortion; rectilinear only. [unitless]"
    )
    log_aspect: Number | None = Field(
        default=None, description="Natural log of the columns' angle over the rows' scale."
    )
    stretch: list[Number] = Field(
        default=[], description="Stretch of a hand-held sweep, a figure a shape. [rad]"
    )
    azimuth_sigma_deg: NotNegative | None = Field(
        default=None, description="Sigma of an azimuth near the horizon, over the picture. [deg]"
    )
    elevation_sigma_deg: NotNegative | None = Field(
        default=None, description="Sigma of an elevation near the horizon, likewise. [deg]"
    )
    findings: list[PoseFinding] = Field(default=[], description="What was noticed on the way.")
    parameters: list[Word] = Field(default=[], description="Names, in the covariance's order.")
    covariance: list[list[Number]] = Field(
        default=[],
        description="Of the parameters: radians for angles, natural log of scale, pixels.",
    )
    solved: list[Word] = Field(default=[], description="Parameters that the marks determined.")
    held: list[Word] = Field(default=[], description="Parameters left at what was known before.")
    residuals: list[Residual] = Field(default=[], description="One entry a mark.")
    digest: str = Field(
        "", strict=True, description="Digest of the inputs: another one now means it is stale."
    )
