"""Ground heights from a file of the user's: GeoTIFF or .hgt, through the extra ``terrain``.

Places come in as degrees, heights go out as metres above sea level, which is what files of both
kinds usually hold. Only the window that is needed is read.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import Transformer
from pyproj.exceptions import ProjError

from skyview.angles import Array
from skyview.errors import InputError
from skyview.survey.models import Survey
from skyview.survey.storage import FILE, inside

DRIVERS = ("GTiff", "SRTMHGT", "COG")

LARGEST_PIXELS = 30_000_000
"""A window of more pixels than this is read coarser, to hold it in 120 MB."""

LOWEST_AMSL_M, HIGHEST_AMSL_M = -500.0, 9000.0
"""No ground lies outside these: what does is a mark for nothing known, declared or not."""

FOOT_M = 0.3048


@dataclass(frozen=True)
class Ground:
    """The terrain file of a survey."""

    file: Path

    def heights_m(self, latitude_deg: Array, longitude_deg: Array) -> Array:
        """Ground above sea level at places, NaN outside the file and where it holds nothing.

        Straight between the middles of its pixels; feet are converted where the file says that it
        is in feet. Raises InputError for a file that cannot be read.
        """
        rasterio = _rasterio(self.file)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
                opened = rasterio.open(self.file)
            with opened as raster:
                self._refuse(raster)
                column, row = _pixels(raster, latitude_deg, longitude_deg)
                return _sampled(raster, column, row)
        except (rasterio.errors.RasterioError, ProjError, OSError) as error:
            why = next(iter(str(error).splitlines()), "")[:120].replace(str(self.file), "it")
            raise InputError(
                f"the terrain file cannot be read ({why})",
                self.file,
                "site.terrain",
                "give a GeoTIFF or an .hgt file of ground heights",
            ) from error

    def _refuse(self, raster: Any) -> None:
        if raster.driver not in DRIVERS:
            raise InputError(
                f"the terrain file is a {raster.driver}",
                self.file,
                "site.terrain",
                "give a GeoTIFF or an .hgt file of ground heights",
            )
        if raster.crs is None:
            raise InputError(
                "the terrain file does not say what its coordinates are",
                self.file,
                "site.terrain",
                "save it as a GeoTIFF with its coordinate system",
            )


def ground_of(survey: Survey) -> Ground | None:
    """The survey's terrain file; None where it names none. InputError where it is not there."""
    if survey.site.terrain is None:
        return None
    if survey.folder is None:
        raise InputError(
            "the terrain file cannot be found: this survey has no folder", field="site.terrain"
        )
    file = inside(survey.folder, survey.site.terrain, "site.terrain")
    if not file.is_file():
        raise InputError(
            f"there is no terrain file {survey.site.terrain}",
            survey.folder / FILE,
            "site.terrain",
            "copy it into the survey's folder, or take the field away",
        )
    return Ground(file)


def _pixels(raster: Any, latitude_deg: Array, longitude_deg: Array) -> tuple[Array, Array]:
    """Column and row of places, whole numbers at the middles of pixels."""
    to_raster = Transformer.from_crs("EPSG:4326", raster.crs.to_wkt(), always_xy=True)
    x, y = (np.asarray(a, float) for a in to_raster.transform(longitude_deg, latitude_deg))
    if raster.crs.is_geographic:
        middle = (raster.bounds.left + raster.bounds.right) / 2.0
        x = middle + np.mod(x - middle + 180.0, 360.0) - 180.0
    known = np.isfinite(x) & np.isfinite(y)
    x, y = np.where(known, x, np.nan), np.where(known, y, np.nan)
    back = ~raster.transform
    # A damaged file may hold a grid of any size; what overflows lies outside it.
    with np.errstate(over="ignore", invalid="ignore"):
        column = back.a * x + back.b * y + back.c
        row = back.d * x + back.e * y + back.f
    return column - 0.5, row - 0.5


def _sampled(raster: Any, column: Array, row: Array) -> Array:
    """The first band at pixel positions, bilinear, NaN outside; only the window that is needed."""
    good = (column >= -0.5) & (column <= raster.width - 0.5)
    good &= (row >= -0.5) & (row <= raster.height - 0.5)
    found = np.full(column.shape, np.nan)
    if not np.any(good):
        return found
    column = np.clip(column[good], 0.0, raster.width - 1.0)
    row = np.clip(row[good], 0.0, raster.height - 1.0)
    left, top = int(column.min()), int(row.min())
    right, bottom = int(np.ceil(column.max())) + 1, int(np.ceil(row.max())) + 1
    step = max(1, int(np.ceil(np.sqrt((right - left) * (bottom - top) / LARGEST_PIXELS))))
    size = (-(-(bottom - top) // step), -(-(right - left) // step))
    read = raster.read(1, window=((top, bottom), (left, right)), out_shape=size, masked=True)
    band = np.ma.filled(read.astype(np.float32), np.nan)
    del read
    x = (column - left + 0.5) * size[1] / (right - left) - 0.5
    y = (row - top + 0.5) * size[0] / (bottom - top) - 0.5
    x, y = np.clip(x, 0.0, size[1] - 1.0), np.clip(y, 0.0, size[0] - 1.0)
    height = _bilinear(band, x, y) * raster.scales[0] + raster.offsets[0]
    height *= FOOT_M if _in_feet(raster.units[0]) else 1.0
    height[(height < LOWEST_AMSL_M) | (height > HIGHEST_AMSL_M)] = np.nan
    found[good] = height
    return found


def _in_feet(unit: str | None) -> bool:
    """Whether the name of a unit is that of a foot.

    >>> _in_feet("US survey foot"), _in_feet("ft"), _in_feet("metre"), _in_feet(None)
    (True, True, False, False)
    """
    words = (unit or "").lower().replace("_", " ").split()
    return bool({"ft", "foot", "feet", "ftus", "us-ft"} & set(words))


def _bilinear(band: NDArray[np.float32], x: Array, y: Array) -> Array:
    x0, y0 = np.floor(x).astype(int), np.floor(y).astype(int)
    x1, y1 = np.minimum(x0 + 1, band.shape[1] - 1), np.minimum(y0 + 1, band.shape[0] - 1)
    u, v = x - x0, y - y0
    above = band[y0, x0] * (1.0 - u) + band[y0, x1] * u
    below = band[y1, x0] * (1.0 - u) + band[y1, x1] * u
    return np.asarray(above * (1.0 - v) + below * v, float)


def _rasterio(file: Path) -> Any:
    try:
        import rasterio
        import rasterio.errors
    except ImportError:
        raise InputError(
            "reading terrain needs rasterio, which is not installed",
            file,
            "site.terrain",
            "install it with: pip install 'skyview[terrain]'",
        ) from None
    return rasterio
