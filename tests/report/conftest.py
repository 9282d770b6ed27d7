"""A small invented view for the tests of the report: a painted panorama and a few stations."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from skyview.survey.results import FresnelMark, PathRow, Plate, Silhouette

WIDTH, HEIGHT = 720, 180
TOP_DEG, DEG_PER_PX = 60.0, 0.5


def _row(
    station: str = "QALD",
    bearing_deg: float = 40.0,
    *,
    path: str = "clear",
    elevation_deg: float = 3.0,
    obstruction: str | None = None,
    beyond: bool = False,
    unseen: bool = False,
    sigma_deg: float = 0.5,
    clearance_deg: float | None = None,
    spot: str = "ridge",
    height_m: float = 3.0,
) -> PathRow:
    return PathRow(
        spot=spot,
        antenna_height_m=height_m,
        antenna="main",
        station=station,
        rf_channel=21,
        frequency_mhz=515.0,
        bearing_deg=bearing_deg,
        magnetic_bearing_deg=(bearing_deg - 7.0) % 360.0,
        bearing_sigma_deg=sigma_deg,
        distance_km=43.2,
        arrival_elevation_deg=elevation_deg,
        optical_elevation_deg=elevation_deg - 0.05,
        elevation_sigma_deg=0.3,
        beyond_horizon=beyond,
        path=path,
        unseen_behind=unseen,
        obstruction=obstruction,
        shares_db={obstruction: 9.0} if obstruction else {},
        clearance_deg=clearance_deg,
        clearance_m=None if clearance_deg is None else 2.0 * clearance_deg,
        clearance_fresnel_radii=None if clearance_deg is None else 0.5 * clearance_deg,
        obstruction_loss_db=9.0 if obstruction else 0.0,
    )


@pytest.fixture
def make_row() -> Callable[..., PathRow]:
    """Builds one row; what is not said is ordinary."""
    return _row


@pytest.fixture
def full_circle_photo() -> np.ndarray:
    """Red grows with azimuth (0 at north), green is the row, blue 80."""
    photo = np.full((HEIGHT, WIDTH, 3), 80, np.uint8)
    photo[..., 0] = (np.arange(WIDTH) * 200 // WIDTH)[None, :]
    photo[..., 1] = np.arange(HEIGHT)[:, None]
    return photo


@pytest.fixture
def make_plate(full_circle_photo: np.ndarray) -> Callable[..., Plate]:
    """Builds a plate on the painted circle; named fields replace the ordinary ones."""

    def pixel_of(azimuth_deg: np.ndarray, elevation_deg: np.ndarray) -> tuple:
        x = np.asarray(azimuth_deg, float) / DEG_PER_PX
        y = (TOP_DEG - np.asarray(elevation_deg, float)) / DEG_PER_PX
        return x, np.where((y >= 0) & (y <= HEIGHT), y, np.nan)

    def build(**fields: object) -> Plate:
        block = np.array([[352.0, -3.0], [352.0, 10.0], [366.0, 10.0], [366.0, -3.0]])
        oak = np.array([[30.0, -10.0], [35.0, 22.0], [45.0, 22.0], [50.0, -10.0]])
        hole = np.array([[38.0, 5.0], [40.0, 9.0], [42.0, 5.0]])
        ordinary: dict[str, object] = {
            "title": "12 Invented Row",
            "view": "v1",
            "photo_rgb": full_circle_photo,
            "pixel_of": pixel_of,
            "left_deg": -60.0,
            "right_deg": 140.0,
            "bottom_deg": -13.0,
            "top_deg": 38.0,
            "declination_deg": 7.0,
            "azimuth_sigma_deg": 0.6,
            "elevation_sigma_deg": 0.3,
            "spot": "ridge",
            "antenna_height_m": 3.0,
            "above_camera_m": 1.4,
            "leaf": "in",
            "lines_checked": True,
            "taken": "2026-06-01T14:05:00+00:00",
            "rows": (
                _row("QALD", 358.0, path="blocked", obstruction="block", clearance_deg=-5.0),
                _row("QBEN", 12.0, beyond=True),
                _row("QDUN", 40.0, path="through_trees", obstruction="oak", unseen=True),
                _row("QFEN", 90.0, path="grazing", sigma_deg=4.0),
                _row("QKIN", 183.0, path="not_seen"),
            ),
            "silhouettes": (
                Silhouette("block", "building", 119.0, (block,)),
                Silhouette("oak", "broadleaf", 22.0, (oak, hole)),
            ),
            "selected": "QALD",
            "fresnel": FresnelMark(358.0, 3.0, 8.4, 3.95, "block", 119.0),
        }
        return Plate(**(ordinary | fields))

    return build
