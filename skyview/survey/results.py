"""What the chain answers: frozen dataclasses, one sentence and a unit under each field.

Angles in degrees at this edge. ``None`` means unknown.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from skyview.angles import Array

PathWord = Literal["clear", "grazing", "through_trees", "blocked", "not_seen"]
ReceptionWord = Literal["sure", "likely", "doubtful", "no", "unknown"]


@dataclass(frozen=True)
class Margin:
    """By how much carrier to noise exceeds what the station needs, within its spread."""

    p10: float
    """One draw in ten falls below this. [dB]"""
    p50: float
    """The middle of the draws. [dB]"""
    p90: float
    """Nine draws in ten fall below this. [dB]"""


@dataclass(frozen=True)
class Cause:
    """One thing that weakens a station."""

    code: str
    """What it is, as in ``distance`` or ``obstruction``."""
    db: float
    """What the middle of the margin would gain without it. [dB]"""
    obstruction: str | None = None
    """Id of the obstruction."""
    kind: str | None = None
    """Its kind in the survey file."""
    station: str | None = None
    """Id of the station that disturbs most."""
    on_channel: bool | None = None
    """Whether that one is on the same channel, else on the next."""


@dataclass(frozen=True)
class Cost:
    """What a cure takes from another station."""

    station: str
    """Id of the station."""
    db: float
    """Decibels of its margin lost. [dB]"""
    reception: ReceptionWord = "unknown"
    """Whether it then still comes in."""


@dataclass(frozen=True)
class Cure:
    """Something that would help, worked out again with it done. Its sentence is made elsewhere."""

    code: str
    """What it is, as in ``raise``."""
    gain_db: float
    """What the middle of the margin gains. [dB]"""
    probability: float
    """Probability of reception with it."""
    costs: tuple[Cost, ...] = ()
    """What other wanted stations that come in lose by it, where it is 1 dB or more."""
    amount: float | None = None
    """Metres of mast more, or metres off a crown [m]; the new aim from true north [deg]; height
    above the other spot [m]."""
    thing: str | None = None
    """Id of the obstruction or of the other spot; how two antennas are joined."""
    parts: tuple[str, ...] = ()
    """Codes of what is done together."""
    cautions: tuple[str, ...] = ()
    """Codes of what to mind."""


@dataclass(frozen=True)
class PathRow:
    """One station as one antenna position meets it."""

    spot: str
    """Id of the spot."""
    antenna_height_m: float
    """Height of the antenna above the spot. [m]"""
    antenna: str | None
    """Id of the survey's antenna that stands there, if any."""
    station: str
    """Id of the station."""
    rf_channel: int
    """RF channel in the site's channel plan, not the virtual one."""
    frequency_mhz: float
    """Centre frequency. [MHz]"""
    bearing_deg: float
    """Azimuth of the station from the antenna, clockwise from true north. [deg]"""
    magnetic_bearing_deg: float
    """The same from magnetic north. [deg]"""
    bearing_sigma_deg: float
    """One sigma of the station's place in azimuth against what the pictures show. [deg]"""
    distance_km: float
    """Length of the geodesic. [km]"""
    arrival_elevation_deg: float
    """Elevation from which the wave arrives, k = 4/3. [deg]"""
    optical_elevation_deg: float
    """Elevation at which an eye would see the transmitter's antenna, k = 7/6. [deg]"""
    elevation_sigma_deg: float | None
    """One sigma of the station's place in elevation against the pictures. [deg]"""
    beyond_horizon: bool
    """The earth hides the transmitter; the wave arrives over the last edge on its bearing."""
    path: PathWord
    """What stands in the last few hundred metres."""
    unseen_behind: bool
    """An outline hid this direction from the camera: what lies behind it was never seen."""
    obstruction: str | None
    """Id of the obstruction with the largest share, if any stands near the path."""
    shares_db: dict[str, float]
    """What each obstruction near the path would give back if it alone were gone. [dB]"""
    clearance_deg: float | None
    """From the ray to that outline's nearest edge, negative inside. [deg]"""
    clearance_m: float | None
    """The same at the obstruction's distance. [m]"""
    clearance_fresnel_radii: float | None
    """The same in radii of the first Fresnel zone there. [unitless]"""
    obstruction_loss_db: float
    """Loss of everything that was outlined near the path, together. [dB]"""
    loss_error_db: float = 0.0
    """Estimated error of that figure for the shapes given. [dB]"""
    loss_at_least: bool = False
    """The loss is so deep that only 'at least 28 dB' is sure."""
    field_dbuv_m: float | None = None
    """Field exceeded nine tenths of the time at half of such places, F(50,90), before anything
    outlined stands in its way; None where the power is not known. [dB(uV/m)]"""
    margin_db: Margin | None = None
    """None where power or threshold is not known, and for interferers."""
    reception: ReceptionWord = "unknown"
    """Whether the station comes in, as a word."""
    reception_probability: float | None = None
    """Share of the draws in which it does."""
    losses_db: dict[str, float] = field(default_factory=dict)
    """What each cause costs the margin. [dB]"""
    cures: tuple[Cure, ...] = ()
    """What would help, best for its effort first."""


@dataclass(frozen=True)
class Why:
    """One station at one antenna position explained."""

    row: PathRow
    """The answer; its cures are in the order of gain over effort."""
    name: str
    """What people call the station."""
    causes: tuple[Cause, ...]
    """What weakens it, the costliest first."""
    leaf: Literal["in", "out"]
    """Trees taken in or out of leaf."""
    other_leaf: ReceptionWord
    """The word in the other season."""
    other_leaf_probability: float | None
    """Probability of reception in the other season."""
    missing: tuple[str, ...]
    """Codes of what is not known: power, threshold, role, view."""
    kinds: dict[str, str]
    """Kind of every obstruction by id."""


@dataclass(frozen=True)
class Silhouette:
    """One obstruction's outline as the antenna sees it."""

    obstruction: str
    """Id of the obstruction."""
    kind: str
    """Obstruction kind of the survey file."""
    distance_m: float | None
    """Horizontal distance from the antenna to the upright screen; None where unknown. [m]"""
    rings_deg: tuple[Array, ...]
    """Each ring (N, 2) of azimuth and elevation [deg], not closed: the edge of each
    part, then its holes; the first is the edge of the first part. Azimuth is continuous and may
    leave 0..360."""


@dataclass(frozen=True)
class FresnelMark:
    """The first Fresnel zone of the chosen station, where its costliest outline stands."""

    azimuth_deg: float
    """Centre of the zone: the arrival's azimuth. [deg]"""
    elevation_deg: float
    """Centre of the zone: the arrival's elevation. [deg]"""
    radius_m: float
    """Radius of the first zone. [m]"""
    radius_deg: float
    """The angle which that radius fills as seen from the antenna. [deg]"""
    obstruction: str
    """Id of the obstruction at whose distance it is drawn."""
    distance_m: float
    """That distance. [m]"""


@dataclass(frozen=True)
class Plate:
    """All that the picture of one view needs: the photograph, its angles, the answers."""

    title: str
    """The survey's title."""
    view: str
    """Id of the view."""
    photo_rgb: np.ndarray
    """The photograph upright, (height, width, 3) uint8."""
    pixel_of: Callable[[Array, Array], tuple[Array, Array]]
    """Azimuth and elevation [deg], arrays of one shape, to pixel x and y (continuous, pixel i
    spans [i, i+1)); NaN where the photograph does not reach."""
    left_deg: float
    """Azimuth of the plate's left edge; may be negative. [deg]"""
    right_deg: float
    """Azimuth of its right edge, more than ``left_deg`` by at most 360. [deg]"""
    bottom_deg: float
    """Elevation of its lower edge. [deg]"""
    top_deg: float
    """Elevation of its upper edge. [deg]"""
    declination_deg: float
    """Magnetic declination, east positive: true = magnetic + declination. [deg]"""
    azimuth_sigma_deg: float
    """Typical one sigma of azimuth over the plate. [deg]"""
    elevation_sigma_deg: float
    """Typical one sigma of elevation over the plate. [deg]"""
    spot: str
    """Id of the antenna's spot."""
    antenna_height_m: float
    """Height of the antenna above the spot. [m]"""
    above_camera_m: float
    """How much higher than the camera the antenna stands. [m]"""
    lines_checked: bool
    """Somebody looked for power lines on the spot."""
    leaf: Literal["in", "out"]
    """Trees taken in or out of leaf."""
    taken: str | None
    """Day of the photograph, ISO 8601, where known."""
    rows: tuple[PathRow, ...]
    """One row a station, all of this antenna position."""
    silhouettes: tuple[Silhouette, ...]
    """Outlines as the antenna sees them."""
    selected: str | None
    """Id of the chosen station."""
    fresnel: FresnelMark | None
    """First Fresnel zone of the chosen station, where an outline stands near its path."""
    level_band_deg: Array | None = None
    """Azimuths of the plate from left to right and one sigma of elevation at level there (K, 2)
    [deg]; None where it is everywhere ``elevation_sigma_deg``."""
    terrain_deg: Array | None = None
    """The terrain's skyline as an eye at the antenna sees it: azimuths of the plate from left to
    right and elevations (K, 2), NaN where not known [deg]; None without terrain."""
