"""Predictions and scans of a few stations, made by hand."""

from __future__ import annotations

from typing import Any

import numpy as np

from skyview.place.channels import centre_mhz
from skyview.survey.budget.gear import gear_of
from skyview.survey.budget.signals import signals_of
from skyview.survey.models import Survey, validate
from skyview.survey.scan.expected import Expected
from skyview.survey.scan.observed import Observed

PLAN = "americas-6mhz"


def survey_of(channels: list[int], **antenna: Any) -> Survey:
    """Stations QA, QB, ... on these channels, far to the north, and one antenna on a spot."""
    return validate(
        {
            "format": "skyview-survey", "version": 1, "revision": 1,
            "site": {"latitude_deg": 40.0, "longitude_deg": -100.0, "surroundings": "suburban"},
            "spots": [{"id": "ridge", "enu_m": [0, 0, 6], "heights_m": [2]}],
            "stations": [
                {"id": f"Q{chr(65 + i)}", "latitude_deg": 40.3, "longitude_deg": -100.0,
                 "antenna_amsl_m": 400, "rf_channel": channel, "erp_kw": 100.0,
                 "system": "atsc1", "polarization": "h"}
                for i, channel in enumerate(channels)
            ],
            "antennas": [
                {"id": "main", "spot": "ridge", "height_m": 2, "aim_true_deg": 0.0,
                 "front_to_back_db": {"uhf": 15, "high_vhf": 12},
                 "gain_dbd": {"uhf": 9, "high_vhf": 6},
                 **antenna}
            ],
        }
    )  # fmt: skip


def levels(*level_dbm: float, channels: list[int] | None = None, **more: Any) -> Expected:
    """A prediction: these levels, noise at -99 dBm, 8 dB of own error and 6 dB in common."""
    level = np.array(level_dbm, float)
    count = len(level)
    survey = survey_of(channels or [14 + i for i in range(count)])
    frequency = np.asarray(centre_mhz(PLAN, [s.rf_channel for s in survey.stations]), float)
    signals = signals_of(PLAN, survey.stations, frequency)
    told: dict[str, Any] = {
        "signals": signals, "level_dbm": level, "own_sigma_db": np.full(count, 8.0),
        "again_sigma_db": np.full(count, 2.0), "shares_offset": np.ones(count, bool),
        "offset_db": 0.0, "offset_sigma_db": 6.0, "prior_sigma_db": 6.0,
        "highest_dbm": level + 40.0, "noise_dbm": np.full(count, -99.0),
        "disturbance_dbm": np.full(count, -np.inf),
        "probability": np.full(count, 0.9), "azimuth": np.radians(np.linspace(-30.0, 200.0, count)),
        "gear": gear_of(survey, survey.antennas[0], signals),
        "co_channel": np.zeros(count, bool), "crowns_db": np.zeros(count), "amplifier_db": 0.0,
        "at_terminals": False,
    }  # fmt: skip
    return Expected(**(told | more))


def seen(scale: Any = "dbm", bars: int = 5, **columns: Any) -> Observed:
    """A scan of as many stations as its columns have, NaN where nothing is given."""
    count = max((np.size(value) for value in columns.values()), default=1)
    read = {name: np.broadcast_to(np.asarray(columns.get(name, np.nan), float), (count,)).copy()
            for name in ("strength", "cn_db", "received", "steady")}  # fmt: skip
    return Observed(
        scale=scale, bars=bars, other_station=(False,) * count, row=tuple(range(count)),
        unlisted=(), **read,
    )  # fmt: skip
