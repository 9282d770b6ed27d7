"""Made-up terrain files."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio

from skyview.angles import Array


def write_raster(
    path: Path,
    middle_deg: tuple[float, float],
    step_deg: float,
    height_of: Callable[[Array, Array], Array],
    half_deg: float = 0.6,
    nodata: float | None = None,
    units: str | None = None,
) -> None:
    """A GeoTIFF of ground heights about a middle; ``height_of(lat, lon)`` gives metres."""
    (lat0, lon0), count = middle_deg, round(2 * half_deg / step_deg)
    lat = lat0 + half_deg - (np.arange(count) + 0.5) * step_deg
    lon = lon0 - half_deg + (np.arange(count) + 0.5) * step_deg
    band = np.asarray(height_of(lat[:, None], lon[None, :]), np.float32)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=count,
        height=count,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=rasterio.Affine(step_deg, 0.0, lon0 - half_deg, 0.0, -step_deg, lat0 + half_deg),
        nodata=nodata,
    ) as file:
        file.write(band, 1)
        if units:
            file.units = [units]


def write_ridge(folder: Path) -> Path:
    """Gives the survey a plain with a ridge of 400 m, 4 km north of it, that ends in the east."""
    data = json.loads((folder / "survey.json").read_text(encoding="utf-8"))
    lat0, lon0 = data["site"]["latitude_deg"], data["site"]["longitude_deg"]
    data["site"]["terrain"] = "ground.tif"
    (folder / "survey.json").write_text(json.dumps(data), encoding="utf-8")

    def height(lat: Array, lon: Array) -> Array:
        on_ridge = (np.abs(lat - lat0 - 0.036) < 0.006) & (lon < lon0 + 0.05)
        return np.where(on_ridge, 430.0, 30.0)

    write_raster(folder / "ground.tif", (lat0, lon0), 0.002, height, half_deg=0.4)
    return folder / "ground.tif"
