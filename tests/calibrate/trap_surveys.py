"""Small exact surveys for the traps: a view with a known camera, marks put where they belong."""

from __future__ import annotations

from typing import Any

import numpy as np
from whole_circle import WHOLE_CIRCLE

from skyview.camera.pose import Camera
from skyview.camera.projections import Equirectangular, Rectilinear
from skyview.place.bearings import destination_deg
from skyview.survey.models import Survey, validate
from skyview.survey.solving import solve

SITE = (46.5, 11.0)
GROUND_M = 300.0
EYE_M = 10.0
FAR = {
    "a": (100.0, 3.0, 4e3),
    "b": (125.0, 2.0, 6e3),
    "c": (140.0, 1.0, 3e3),
    "d": (112.0, 4.0, 5e3),
}
"""Landmarks: azimuth [deg], elevation [deg], distance [m]."""

PHONE_SIZE = (4032, 3024)
PHONE = Camera(
    Rectilinear(2900.0, (2016.0, 1512.0)), *(float(np.radians(v)) for v in (121.0, 3.0, 1.0))
)
PHONE_VIEW = {
    "projection": {"kind": "rectilinear", "focal_px": 2900.0, "centre_px": [2016, 1512]},
    "prior": {"yaw_deg": 128, "pitch_deg": 2.5},
}
CIRCLE_SIZE = (8192, 2048)


def circle(span_deg: float = 360.0) -> Camera:
    """A panorama that really spans this much; what it says is up to the survey."""
    half = float(np.radians(span_deg / 2))
    projection = Equirectangular(
        tuple(map(float, CIRCLE_SIZE)), -half, half, float(np.radians(60)), float(np.radians(-30))
    )
    return Camera(projection, float(np.radians(200.0)), 0.01, -0.008)


CIRCLE_VIEW = {
    "projection": WHOLE_CIRCLE,
    "prior": {"yaw_deg": 195},
}


def pixel(camera: Camera, azimuth_deg: float, elevation_deg: float) -> list[float]:
    """Where a direction shows."""
    azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
    level = np.cos(elevation)
    ray = np.array([np.sin(azimuth) * level, np.cos(azimuth) * level, np.sin(elevation)])
    return [float(v) for v in camera.pixels(ray)]


def landmark(name: str, azimuth_deg: float, elevation_deg: float, distance_m: float) -> dict:
    """A landmark that shows in that direction; curvature of 4 km is 0.01 deg, put in."""
    latitude, longitude = destination_deg(*SITE, np.radians(azimuth_deg), distance_m)
    drop = distance_m**2 / (2 * 7 / 6 * 6371e3)
    top = GROUND_M + EYE_M + distance_m * np.tan(np.radians(elevation_deg)) + drop
    return {
        "id": name,
        "latitude_deg": float(latitude),
        "longitude_deg": float(longitude),
        "top_amsl_m": float(top),
        "sigma_m": 3.0,
    }


def survey_of(
    view: dict, size: tuple[int, int], marks: list[dict], things: dict | None = None, **more: Any
) -> Survey:
    """A survey of one view."""
    places = FAR if things is None else things
    return validate(
        {
            "format": "skyview-survey",
            "version": 1,
            "revision": 1,
            "site": {
                "latitude_deg": SITE[0],
                "longitude_deg": SITE[1],
                "position_sigma_m": 3.0,
                "ground_amsl_m": GROUND_M,
            },
            "views": [
                {
                    "id": "v",
                    "photo": "photos/v.jpg",
                    "size_px": list(size),
                    "camera_enu_m": [0.0, 0.0, EYE_M],
                    **view,
                    **more,
                }
            ],
            "landmarks": [landmark(name, *place) for name, place in places.items()],
            "marks": [
                {"view": "v", "sigma_px": 2.0, **mark, "id": mark.get("id", f"m{number}")}
                for number, mark in enumerate(marks)
            ],
        }
    )


def landmark_marks(camera: Camera, names: str, things: dict | None = None) -> list[dict]:
    """Exact marks of landmarks, their ids those of the landmarks with m before."""
    places = FAR if things is None else things
    return [
        {
            "id": f"m{name}",
            "kind": "landmark",
            "landmark": name,
            "points_px": [pixel(camera, *places[name][:2])],
        }
        for name in names
    ]


def findings(survey: Survey) -> dict[str, Any]:
    """What the calibration of the one view noticed, by code."""
    view = survey.views[0]
    view.calibration, _ = solve(survey, view)
    return {finding.code: finding for finding in view.calibration.findings}
