"""Models of what was photographed: views, their projections and calibrations, marks, outlines."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field

from skyview.survey.parts import (
    Altitude,
    Azimuth,
    Elevation,
    Enu,
    Id,
    Latitude,
    Longitude,
    Moment,
    NotNegative,
    Number,
    Part,
    Pixel,
    Positive,
    PositiveWhole,
    Share,
    Variant,
    Word,
)
from skyview.survey.poses import Calibration

MarkKind = Literal["landmark", "bearing", "sun", "shadow", "level", "plumb", "station", "tie"]
ObstructionKind = Literal[
    "conifer",
    "broadleaf",
    "dead_tree",
    "tree",
    "building",
    "mast",
    "wire",
    "hill",
    "own_roof",
    "power_line",
]


class Equirectangular(Variant):
    """Columns linear in azimuth, rows linear in elevation."""

    kind: Literal["equirectangular"]
    left_deg: Number | None = Field(
        default=None, description="Angle of the left edge from the view's yaw, clockwise. [deg]"
    )
    right_deg: Number | None = Field(
        default=None, description="Angle of the right edge from the view's yaw, clockwise. [deg]"
    )
    top_deg: Elevation | None = Field(
        default=None, description="Elevation of the upper edge. [deg]"
    )
    bottom_deg: Elevation | None = Field(
        default=None, description="Elevation of the lower edge. [deg]"
    )


class Cylindrical(Variant):
    """Columns linear in azimuth, rows in the tangent of elevation: a hand-held sweep."""

    kind: Literal["cylindrical"]
    px_per_rad: Positive | None = Field(
        default=None, description="Pixels per radian of azimuth. [px/rad]"
    )
    centre_px: Pixel | None = Field(
        default=None, description="Column of the yaw, and row of the level plane where known. [px]"
    )


class Rectilinear(Variant):
    """An ordinary lens: straight lines stay straight, but for the distortion k1, k2."""

    kind: Literal["rectilinear"]
    focal_px: Positive | None = Field(default=None, description="Focal length. [px]")
    centre_px: Pixel | None = Field(
        default=None, description="Where the optical axis meets it. [px]"
    )
    k1: Number | None = Field(default=None, description="Radial distortion, r squared. [unitless]")
    k2: Number | None = Field(
        default=None, description="Radial distortion, r to the fourth. [unitless]"
    )


class Fisheye(Variant):
    """Equidistant: distance from the centre is linear in the angle off the axis."""

    kind: Literal["fisheye"]
    px_per_rad: Positive | None = Field(
        default=None, description="Pixels per radian off the axis. [px/rad]"
    )
    centre_px: Pixel | None = Field(
        default=None, description="Where the optical axis meets it. [px]"
    )


Projection = Annotated[
    Equirectangular | Cylindrical | Rectilinear | Fisheye, Field(discriminator="kind")
]


class Prior(Part):
    """What is known of the pose before any mark is used; a sigma of 0 holds the value."""

    yaw_deg: Azimuth | None = Field(
        default=None, description="Azimuth of the optical axis, clockwise from true north. [deg]"
    )
    yaw_sigma_deg: NotNegative = Field(default=10.0, description="One sigma of the yaw. [deg]")
    pitch_deg: Elevation = Field(default=0.0, description="Elevation of the optical axis. [deg]")
    pitch_sigma_deg: NotNegative = Field(default=2.0, description="One sigma of the pitch. [deg]")
    roll_deg: Azimuth = Field(
        default=0.0,
        description="Positive when the camera turns clockwise for the photographer. [deg]",
    )
    roll_sigma_deg: NotNegative = Field(default=2.0, description="One sigma of the roll. [deg]")
    beside_metal: bool | None = Field(
        default=None,
        strict=True,
        description="Taken beside metal: a compass without a stated sigma is then off by more.",
    )
    scale_sigma: NotNegative = Field(
        default=0.04, description="One sigma of the scale, as a share of it. [unitless]"
    )


class Frame(Part):
    """One photograph of a joined panorama, as the joining left it."""

    file: Word = Field(description="Name of the photograph's file.")
    yaw_deg: Azimuth | None = Field(default=None, description="Azimuth of its optical axis. [deg]")
    pitch_deg: Elevation | None = Field(default=None, description="Elevation of its axis. [deg]")
    roll_deg: Azimuth | None = Field(default=None, description="Roll of the frame. [deg]")
    focal_px: Positive | None = Field(default=None, description="Focal length. [px]")
    k1: Number | None = Field(default=None, description="Radial distortion, r squared. [unitless]")
    size_px: tuple[PositiveWhole, PositiveWhole] | None = Field(
        default=None, description="Width and height after EXIF rotation. [px]"
    )
    sigmas: dict[str, NotNegative] | None = Field(
        default=None, description="One sigma of each, under the field's own name and in its unit."
    )
    used: bool | None = Field(
        default=None, strict=True, description="Whether it went into the panorama."
    )
    reason: str | None = Field(default=None, strict=True, description="Why it was left out.")


class View(Part):
    """One photograph or panorama, where it was taken and how it looks at the world."""

    id: Id
    photo: Word = Field(description="Path of the picture inside the survey's folder, with /.")
    size_px: tuple[PositiveWhole, PositiveWhole] = Field(
        description="Width and height after EXIF rotation. [px]"
    )
    camera_enu_m: Enu = Field(description="Place of the camera: east, north, up. [m]")
    spot: Id | None = Field(default=None, description="Id of the spot that it was taken at.")
    camera_sigma_m: NotNegative = Field(
        default=0.2, description="One sigma of the camera's place. [m]"
    )
    taken: Moment | None = Field(default=None, description="When, ISO 8601.")
    leaf: Literal["in", "out"] | None = Field(default=None, description="Trees in or out of leaf.")
    projection: Projection | None = Field(default=None, description="How pixels map to directions.")
    prior: Prior = Field(default=Prior(), description="The pose before any mark.")
    frames: list[Frame] = Field(default=[], description="Photographs of a joined panorama.")
    frames_yaw_deg: Azimuth | None = Field(
        default=None,
        description="Yaw of the panorama when it was joined, from which the frames' count. [deg]",
    )
    frames_sigma_deg: NotNegative | None = Field(
        default=None,
        description="One sigma of azimuth that differs from frame to frame, where the camera moved "
        "between them. [deg]",
    )
    calibration: Calibration | None = Field(default=None, description="Written by the tool.")

    @property
    def own_azimuth_sigma(self) -> float:
        """One sigma of azimuth that no pose mends. [rad]"""
        return math.radians(self.frames_sigma_deg or 0.0)


class Landmark(Part):
    """Something whose place on the map is known."""

    id: Id
    latitude_deg: Latitude = Field(description="Degrees north of the equator. [deg]")
    longitude_deg: Longitude = Field(description="Degrees east of Greenwich. [deg]")
    top_amsl_m: Altitude | None = Field(default=None, description="Its top above sea level. [m]")
    sigma_m: NotNegative = Field(default=5.0, description="One sigma of its place. [m]")
    height_sigma_m: NotNegative | None = Field(
        default=None, description="One sigma of its height, where another than of its place. [m]"
    )


class Mark(Part):
    """Pixels of one view whose direction is known in some way."""

    id: Id
    view: Id = Field(description="Id of the view.")
    kind: MarkKind = Field(description="What makes its direction known.")
    points_px: list[Pixel] = Field(min_length=1, description="The pixels: [[x, y], ...]. [px]")
    landmark: Id | None = Field(default=None, description="Id of the landmark (kind landmark).")
    station: Id | None = Field(default=None, description="Id of the station (kind station).")
    other: Id | None = Field(
        default=None, description="Id of the mark in the other view (kind tie)."
    )
    azimuth_deg: Azimuth | None = Field(
        default=None, description="Bearing sighted (kind bearing). [deg]"
    )
    north: Literal["true", "magnetic"] | None = Field(
        default=None, description="The north that the bearing counts from (kind bearing)."
    )
    elevation_deg: Elevation | None = Field(
        default=None, description="Elevation sighted (kind bearing), where known. [deg]"
    )
    sigma_deg: NotNegative | None = Field(
        default=None, description="One sigma of the direction itself, where better known. [deg]"
    )
    level_by: Literal["sea", "spirit"] | None = Field(
        default=None, description="The sea's horizon, or a spirit level at eye height (kind level)."
    )
    frame: Word | None = Field(
        default=None, description="File of the frame that the pixels belong to."
    )
    sigma_px: Positive = Field(default=2.0, description="One sigma of the pixels. [px]")


class Measured(Part):
    """One measurement of how far away a thing is, kept as it was made."""

    view: Id = Field(description="Id of the view from whose camera it counts.")
    distance_m: Positive = Field(description="Horizontal, from the camera to the thing. [m]")
    sigma_m: NotNegative | None = Field(default=None, description="One sigma of it. [m]")
    by: Word = Field(description="How it was made, as in paced, tape, laser, map or size.")


class Obstruction(Part):
    """The thing that stands in the way; its shape in a view is an outline."""

    id: Id
    kind: ObstructionKind = Field(description="What it is; a power line is a hazard.")
    kind_by: Literal["hand", "guess"] | None = Field(
        default=None, description="Who named the kind."
    )
    distance_m: Positive | None = Field(
        default=None, description="Horizontal, from the camera of distance_from to its screen. [m]"
    )
    distance_sigma_m: NotNegative | None = Field(default=None, description="One sigma of it. [m]")
    distance_by: Word | None = Field(default=None, description="How it was measured, as in paced.")
    distance_from: Id | None = Field(default=None, description="Id of the view it counts from.")
    measured: list[Measured] = Field(
        default=[], description="Every single measurement of its distance, as it was made."
    )
    enu_m: Enu | None = Field(
        default=None, description="Its place: east, north, and up of its top where known. [m]"
    )
    depth_m: Positive | None = Field(default=None, description="Depth along the line of sight. [m]")
    line_enu_m: list[Enu] | None = Field(
        default=None, min_length=2, description="A line's points: [[east, north, up], ...]. [m]"
    )
    line_sigma_m: NotNegative | None = Field(
        default=None, description="One sigma of a line's place, each way. [m]"
    )
    voltage_kv: Positive | None = Field(default=None, description="Voltage of a power line. [kV]")
    transmits: Literal["cellular"] | None = Field(
        default=None, description="What a mast sends out."
    )
    owner: Literal["customer", "neighbour", "public"] | None = Field(
        default=None, description="Whose it is; asked before a tree is cut."
    )


class Outline(Part):
    """The shape of an obstruction in one view."""

    id: Id
    obstruction: Id = Field(description="Id of the obstruction.")
    view: Id = Field(description="Id of the view.")
    by: Word | None = Field(default=None, description="Who drew it, as in hand.")
    rings_px: list[list[Pixel]] = Field(
        min_length=1, description="The edge first, then holes: [[[x, y], ...], ...]. [px]"
    )
    reaches_ground: bool | None = Field(
        default=None, strict=True, description="The shape goes on down to the ground, unseen."
    )
    sky_share: Share | None = Field(
        default=None, description="Share of sky between the leaves, 0 to 1. [unitless]"
    )
