"""An antenna's pattern round the circle, band by band, as the page draws the aim with it."""

from __future__ import annotations

from typing import Any

import numpy as np

from skyview.errors import InputError
from skyview.place.channels import centre_mhz
from skyview.survey.budget.gear import gear_of, pattern_db
from skyview.survey.budget.signals import signals_of
from skyview.survey.models import Survey

STEP_DEG = 2.0


def pattern_message(survey: Survey, name: str | None) -> dict[str, Any]:
    """Relative gain by offset from the aim of one antenna, or of the one that planning assumes.

    One entry for each band in which the survey has stations. InputError for an unknown antenna.
    """
    antenna = None
    if name:
        antenna = next((a for a in survey.antennas if a.id == name), None)
        if antenna is None:
            raise InputError(f"no antenna is called {name}", None, "antenna", "choose another")
    offsets = np.arange(-180.0, 180.0 + STEP_DEG / 2.0, STEP_DEG)
    bands = []
    if survey.stations:
        plan = survey.site.channel_plan
        centre = np.asarray(centre_mhz(plan, [s.rf_channel for s in survey.stations]), float)
        signals = signals_of(plan, survey.stations, centre)
        gear = gear_of(survey, antenna, signals)
        relative = pattern_db(gear, signals, np.radians(offsets)[:, None])
        bands = [
            {
                "band": band,
                "gain_dbd": float(gear.gain_dbd[signals.bands.index(band)]),
                "relative_db": np.round(relative[:, signals.bands.index(band)], 2).tolist(),
            }
            for band in dict.fromkeys(signals.bands)
        ]
    return {
        "format": "skyview.pattern",
        "version": 1,
        "revision": survey.revision,
        "antenna": None if antenna is None else antenna.id,
        "aim_true_deg": None if antenna is None else antenna.aim_true_deg,
        "offsets_deg": offsets.tolist(),
        "bands": bands,
    }
