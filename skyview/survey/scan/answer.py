"""What a scan tells: frozen dataclasses, a sentence and a unit under each field."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

CauseCode = Literal[
    "agrees",
    "line",
    "band",
    "aim",
    "one_low",
    "co_channel",
    "multipath",
    "overload",
    "foliage",
    "not_predicted",
    "other_station",
    "not_listed",
    "cannot_tell",
]


@dataclass(frozen=True)
class Finding:
    """One possible explanation of the whole scan."""

    code: str
    """A cause, or ``none``."""
    probability: float
    """That it is this one, of all that were tried."""
    station: str | None = None
    """Id of the station that is meant."""
    band: str | None = None
    """The band that is meant."""
    size_db: float | None = None
    """Middle of the decibels lost. [dB]"""
    turn_deg: float | None = None
    """By how much the antenna seems to point clockwise of its aim. [deg]"""
    new: bool = False
    """It was not there at the earlier scan."""


@dataclass(frozen=True)
class StationScan:
    """One row of a scan beside its prediction."""

    station: str | None
    """Id of the station; None for a channel that the survey does not list."""
    rf_channel: int
    """RF channel."""
    received: bool | None
    """Whether a programme was shown; None where the scan does not speak of it."""
    predicted_probability: float | None
    """Of reception, before the scan."""
    predicted_dbm: float | None
    """Middle of the strength that was predicted, noise in the channel included. [dBm]"""
    strength_dbm: float | None
    """Strength that was read; None where the set gave bars, per cent or nothing. [dBm]"""
    difference_db: float | None
    """Read less predicted: strength in dBm, else carrier to noise; None without either. [dB]"""
    sigma_db: float | None
    """One sigma of that difference. [dB]"""
    cause: CauseCode
    """Why it differs."""


@dataclass(frozen=True)
class ScanAnswer:
    """One scan beside the prediction."""

    antenna: str | None
    """Id of the antenna."""
    taken: str | None
    """When."""
    at: str
    """Where: set or terminals."""
    rows: tuple[StationScan, ...]
    """A row a station of the scan, then the channels that the survey does not list."""
    finding: Finding
    """What explains it; code ``cannot_tell`` where nothing stands out, ``none`` for agreement."""
    others: tuple[Finding, ...]
    """What else may explain it, the likeliest first."""
    since: str | None
    """When the earlier scan was taken that did not show the finding yet; None without one."""
    offset_db: float | None
    """What all stations have in common over the prediction, as the site's own correction; None
    where no strength was read in dBm. [dB]"""
    offset_sigma_db: float | None
    """One sigma of that. [dB]"""
    line_cleared: bool
    """Whether the line is known to be sound, so that the offset is the field's."""
    again_on: str | None
    """Day to scan again, once the leaves are out; None where no leaves are in the way."""
    warnings: tuple[str, ...]
    """Plain sentences: what was assumed."""
