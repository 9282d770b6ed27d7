"""A small exact scene, and the sample survey with its truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from survey_scene import CAMERA, SITE, SIZE
from whole_circle import WHOLE_CIRCLE

from skyview.survey.models import Survey, validate

SAMPLES = Path(__file__).parents[2] / "sample_images"


@pytest.fixture
def scene() -> Callable[..., Survey]:
    """Builds a survey: a full-circle picture facing north from ``CAMERA``, one spot below it."""

    def build(
        outlines: dict[str, dict[str, Any]], stations: list[dict[str, Any]], **more: Any
    ) -> Survey:
        things, shapes = [], []
        for name, given in outlines.items():
            fields = dict(given)
            shape = {
                "id": f"{name}-1",
                "obstruction": name,
                "view": "round",
                "rings_px": [fields.pop("ring")],
            }
            for key in ("reaches_ground", "sky_share"):
                if key in fields:
                    shape[key] = fields.pop(key)
            shapes.append(shape)
            things.append({"id": name, "distance_from": "round", **fields})
        data = {
            "format": "skyview-survey",
            "version": 1,
            "revision": 1,
            "site": {**SITE, "position_sigma_m": 0.1},
            "spots": [{"id": "ridge", "enu_m": [0.0, 0.0, 5.0], "heights_m": [1.5]}],
            "views": [
                {
                    "id": "round",
                    "photo": "photos/round.jpg",
                    "size_px": list(SIZE),
                    "spot": "ridge",
                    "camera_enu_m": list(CAMERA),
                    "projection": WHOLE_CIRCLE,
                    "prior": {
                        "yaw_deg": 0,
                        "yaw_sigma_deg": 0.1,
                        "pitch_sigma_deg": 0.1,
                        "roll_sigma_deg": 0.1,
                    },
                }
            ],
            "obstructions": things,
            "outlines": shapes,
            "stations": stations,
        }
        data.update(more)
        return validate(data)

    return build


@pytest.fixture(scope="session")
def truth() -> dict[str, Any]:
    """Exact geometry of the sample pictures."""
    return json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def demo_data() -> dict[str, Any]:
    """The sample survey as plain data; copy before changing."""
    return json.loads((SAMPLES / "demo_survey.json").read_text(encoding="utf-8"))
