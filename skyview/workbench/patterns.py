"""An antenna's pattern round the circle, band by band, as the page draws the aim with it."""

from __future__ import annotations

from typing import Any

import numpy as np

from skyview.angles import Array
from skyview.errors import InputError
from skyview.link.antenna import (
    PLANNING_FRONT_TO_BACK_DB,
    PLANNING_GAIN_DBD,
    cos4_pattern_db,
    symmetric_pattern_db,
    table_pattern_db,
)
from skyview.survey.models import Antenna, Survey
from skyview.survey.radio import Band

STEP_DEG = 2.0
BANDS: tuple[Band, ...] = ("low_vhf", "high_vhf", "uhf")


def pattern_message(survey: Survey, name: str | None) -> dict[str, Any]:
    """Relative gain by offset from the aim of one antenna, or of the one that planning assumes.

    InputError for an unknown antenna.
    """
    antenna = None
    if name:
        antenna = next((a for a in survey.antennas if a.id == name), None)
        if antenna is None:
            raise InputError(f"no antenna is called {name}", None, "antenna", "choose another")
    offsets = np.arange(-180.0, 180.0 + STEP_DEG / 2.0, STEP_DEG)
    own = antenna.gain_dbd if antenna is not None else None
    gains: dict[Band, float] = own or {band: PLANNING_GAIN_DBD[band] for band in BANDS}
    return {
        "format": "skyview.pattern",
        "version": 1,
        "revision": survey.revision,
        "antenna": None if antenna is None else antenna.id,
        "aim_true_deg": None if antenna is None else antenna.aim_true_deg,
        "offsets_deg": offsets.tolist(),
        "bands": [
            {
                "band": band,
                "gain_dbd": gains[band],
                "relative_db": np.round(
                    _relative_db(antenna, band, np.radians(offsets)), 2
                ).tolist(),
            }
            for band in BANDS
            if band in gains
        ],
    }


def _relative_db(antenna: Antenna | None, band: Band, offset: Array) -> Array:
    pattern = None if antenna is None else antenna.pattern
    if isinstance(pattern, dict) and band in pattern:
        table = np.array(pattern[band], float)
        order = np.argsort(table[:, 0])
        angle, gain = np.radians(table[order, 0]), table[order, 1]
        one_sided = angle.min() >= 0.0 and angle.max() <= np.pi
        pattern_db = symmetric_pattern_db if one_sided else table_pattern_db
        return pattern_db(offset, angle, gain)
    told = None if antenna is None else antenna.front_to_back_db
    front_db = (told or {}).get(band, PLANNING_FRONT_TO_BACK_DB[band])
    return np.asarray(cos4_pattern_db(offset, front_db))
