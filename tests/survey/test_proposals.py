"""Where a view looks below the level."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.survey.models import validate
from skyview.survey.proposals import LEVEL_MARGIN_DEG, LEVEL_SIGMAS, below_level

SITE = {"latitude_deg": -38.6, "longitude_deg": -117.4}
HEAD = {"format": "skyview-survey", "version": 1, "revision": 0}


@pytest.mark.parametrize("sigma_deg", [0.2, 1.0])
def test_only_what_lies_surely_below_the_level_is_told(sigma_deg: float) -> None:
    """A full circle from 60 to -30 degrees, upright within a sigma: rows are elevations."""
    edges = {"left_deg": -180.0, "right_deg": 180.0, "top_deg": 60.0, "bottom_deg": -30.0}
    view = {
        "id": "v1",
        "photo": "photos/v.png",
        "size_px": [720, 180],
        "camera_enu_m": [0, 0, 6],
        "projection": {"kind": "equirectangular", **edges},
        "prior": {
            "yaw_deg": 0.0,
            "yaw_sigma_deg": 1.0,
            "pitch_deg": 0.0,
            "pitch_sigma_deg": sigma_deg,
            "roll_deg": 0.0,
            "roll_sigma_deg": sigma_deg,
        },
    }
    survey = validate({**HEAD, "site": SITE, "views": [view]})
    below = below_level(survey, survey.views[0])
    first = 60.0 - 90.0 * below.argmax(0) / len(below)
    expected = -(LEVEL_MARGIN_DEG + LEVEL_SIGMAS * sigma_deg)
    assert below.any(0).all()
    assert np.abs(first - expected).max() < 1.5
