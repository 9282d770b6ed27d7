"""A made-up terrain file for a survey's folder."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import rasterio

STEP_DEG = 0.002


def write_ridge(folder: Path) -> Path:
    """Gives the survey a plain with a ridge of 400 m, 4 km north of it, that ends in the east."""
    data = json.loads((folder / "survey.json").read_text(encoding="utf-8"))
    lat0, lon0 = data["site"]["latitude_deg"], data["site"]["longitude_deg"]
    data["site"]["terrain"] = "ground.tif"
    (folder / "survey.json").write_text(json.dumps(data), encoding="utf-8")
    half = 0.4
    count = round(2 * half / STEP_DEG)
    lat = lat0 + half - (np.arange(count)[:, None] + 0.5) * STEP_DEG
    lon = lon0 - half + (np.arange(count)[None, :] + 0.5) * STEP_DEG
    on_ridge = (np.abs(lat - lat0 - 0.036) < 0.006) & (lon < lon0 + 0.05)
    with rasterio.open(
        folder / "ground.tif",
        "w",
        driver="GTiff",
        width=count,
        height=count,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=rasterio.Affine(STEP_DEG, 0.0, lon0 - half, 0.0, -STEP_DEG, lat0 + half),
    ) as file:
        file.write(np.where(on_ridge, 430.0, 30.0).astype(np.float32), 1)
    return folder / "ground.tif"
