"""A small exact scene: one full-circle picture from one camera, facing north."""

from __future__ import annotations

from typing import Any

import numpy as np

from skyview.place.bearings import destination_deg

CAMERA = (0.0, 0.0, 6.5)
SITE = {"latitude_deg": -38.6417, "longitude_deg": -117.3925, "ground_amsl_m": 50.0}
SIZE = (3600, 900)


def pixel(azimuth_deg: float, elevation_deg: float) -> list[float]:
    """Pixel of the full circle below: 10 px per degree, north at the middle."""
    x = (azimuth_deg + 180.0) % 360.0 * 10.0
    return [x, (60.0 - elevation_deg) * 10.0]


def box_ring(left: float, right: float, bottom: float, top: float) -> list[list[float]]:
    """A ring of pixels round a rectangle of azimuth and elevation [deg]; x may pass the width."""
    start = pixel(left, 0.0)[0]
    corners = [(left, bottom), (left, top), (right, top), (right, bottom)]
    return [[start + (az - left) * 10.0, (60.0 - el) * 10.0] for az, el in corners]


def station(name: str, azimuth_deg: float, distance_km: float, **more: Any) -> dict[str, Any]:
    latitude, longitude = destination_deg(
        SITE["latitude_deg"], SITE["longitude_deg"], np.radians(azimuth_deg), distance_km * 1e3
    )
    return {
        "id": name,
        "latitude_deg": float(latitude),
        "longitude_deg": float(longitude),
        "antenna_amsl_m": 400.0,
        "rf_channel": 21,
        **more,
    }
