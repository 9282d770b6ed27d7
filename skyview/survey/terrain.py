"""Ground heights from a raster of the user's: profiles to the stations, the terrain's skyline.

Reads GeoTIFF and .hgt through the extra ``terrain`` (rasterio). Heights are taken as metres above
sea level, as the files of both kinds usually hold them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from pyproj import Geod, Transformer
from pyproj.exceptions import ProjError

from skyview.angles import Array
from skyview.errors import InputError
from skyview.survey.budget.parts import Bools
from skyview.survey.models import Station, Survey
from skyview.survey.storage import FILE, inside
from skyview.wave.terrain import Profile, skyline_from_receiver

DRIVERS = ("GTiff", "SRTMHGT")

POINTS = 601
"""Points of a profile: 100 m apart over 60 km. Rec. ITU-R P.1812-6 asks for 100 m or so."""

LARGEST_PIXELS = 30_000_000
"""A window of more pixels than this is read coarser."""

MISSING = 0.02
"""A profile of which more than this share is not in the file is not used."""

SKYLINE_REACH_M = 60e3
"""How far the terrain's skyline is looked for. An eye at 10 m sees a 280 m hill from there."""

OPTICAL_RADIUS_M = 6371e3 * 7.0 / 6.0
"""Earth radius that makes light rays straight: k = 7/6, surveying practice."""

_WGS84 = Geod(ellps="WGS84")


@dataclass(frozen=True)
class Ground:
    """The terrain file of a survey."""

    file: Path

    def heights_m(self, latitude_deg: Array, longitude_deg: Array) -> Array:
        """Ground above sea level at places, NaN outside the file and where it holds nothing.

        Straight between the middles of its pixels. Raises InputError for a file that cannot be
        read.
        """
        rasterio = _rasterio(self.file)
        try:
            with rasterio.open(self.file, driver=list(DRIVERS)) as raster:
                if raster.crs is None:
                    raise InputError(
                        "the terrain file does not say what its coordinates are",
                        self.file,
                        "site.terrain",
                        "save it as a GeoTIFF with its coordinate system",
                    )
                to_raster = Transformer.from_crs("EPSG:4326", raster.crs.to_wkt(), always_xy=True)
                x, y = to_raster.transform(longitude_deg, latitude_deg)
                column, row = ~raster.transform * (np.asarray(x), np.asarray(y))
                return _sampled(raster, column - 0.5, row - 0.5)
        except (rasterio.errors.RasterioError, ProjError, OSError) as error:
            raise InputError(
                f"the terrain file cannot be read ({str(error).splitlines()[0][:120]})",
                self.file,
                "site.terrain",
                "give a GeoTIFF or an .hgt file of ground heights",
            ) from error


@dataclass(frozen=True)
class Terrain:
    """Profiles from every station to the site."""

    profile: Profile
    """(S, N); flat at the site's ground where the file does not know the path."""
    known: Bools
    """Whether the file covers the path. (S,)"""
    site_amsl_m: float
    """Ground at the site: the survey's, else the file's. [m]"""


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


def terrain_of(survey: Survey, stations: Sequence[Station]) -> Terrain | None:
    """Profiles of the ground from stations to the site; None where the survey has no terrain."""
    ground = ground_of(survey)
    if ground is None:
        return None
    site = survey.site
    lat = np.array([s.latitude_deg for s in stations])
    lon = np.array([s.longitude_deg for s in stations])
    forward, _, length = _WGS84.inv(
        lon, lat, np.full(lon.shape, site.longitude_deg), np.full(lat.shape, site.latitude_deg)
    )
    distance = np.linspace(0.0, 1.0, POINTS) * np.maximum(np.asarray(length), 30.0)[:, None]
    found = ground.heights_m(*_along(lat, lon, np.asarray(forward), distance))
    missing = np.isnan(found)
    known = np.mean(missing, axis=1) <= MISSING
    here = site.ground_amsl_m
    if here is None:
        own = found[:, -1][~missing[:, -1]]
        here = float(own[0]) if own.size else 0.0
    filled = np.where(known[:, None], _filled(found), here)
    return Terrain(Profile(distance, filled), known, here)


def skyline_deg(survey: Survey, ground: Ground, eye_m: Array, azimuth: Array) -> Array:
    """Elevation of the terrain's skyline as an eye at the site sees it. (K,) [deg]

    ``eye_m`` east, north, up of the eye; ``azimuth`` (K,) [rad]. NaN where the file does not reach
    `SKYLINE_REACH_M` or has gaps.
    """
    site = survey.site
    lat, lon = site.latitude_deg, site.longitude_deg
    under = site.ground_amsl_m
    if under is None:
        under = float(np.nan_to_num(ground.heights_m(np.array([lat]), np.array([lon])))[0])
    near = np.geomspace(30.0, SKYLINE_REACH_M, POINTS - 1)
    distance = np.broadcast_to(np.concatenate([[0.0], near]), (len(azimuth), POINTS))
    start = np.full(len(azimuth), lat), np.full(len(azimuth), lon)
    found = ground.heights_m(*_along(*start, np.degrees(azimuth), distance))
    known = np.mean(np.isnan(found), axis=1) <= MISSING
    toward = distance[:, -1:] - distance[:, ::-1]
    profile = Profile(toward, np.nan_to_num(_filled(found))[:, ::-1])
    elevation, _ = skyline_from_receiver(
        profile, np.full(len(azimuth), under + eye_m[2]), radius_m=OPTICAL_RADIUS_M
    )
    return np.where(known, np.degrees(elevation), np.nan)


def _along(lat: Array, lon: Array, azimuth_deg: Array, distance_m: Array) -> tuple[Array, Array]:
    """Latitude and longitude (S, N) at distances along geodesics from (S,) points."""
    shape = distance_m.shape
    lon, lat, azimuth_deg = (
        np.broadcast_to(a[:, None], shape).ravel() for a in (lon, lat, azimuth_deg)
    )
    to_lon, to_lat, _ = _WGS84.fwd(lon, lat, azimuth_deg, distance_m.ravel())
    return np.asarray(to_lat).reshape(shape), np.asarray(to_lon).reshape(shape)


def _filled(heights_m: Array) -> Array:
    """Gaps of each row closed straight between their ends."""
    count = heights_m.shape[1]
    index = np.arange(count)
    good = ~np.isnan(heights_m)
    before = np.maximum.accumulate(np.where(good, index, -1), axis=1)
    after = np.minimum.accumulate(np.where(good, index, count)[:, ::-1], axis=1)[:, ::-1]
    before, after = (np.where(before < 0, after, before), np.where(after == count, before, after))
    low, high = np.clip(before, 0, count - 1), np.clip(after, 0, count - 1)
    left = np.take_along_axis(heights_m, low, axis=1)
    right = np.take_along_axis(heights_m, high, axis=1)
    share = np.where(high > low, (index - low) / np.maximum(high - low, 1), 0.0)
    return left + share * (right - left)


def _sampled(raster: Any, column: Array, row: Array) -> Array:
    """The first band at pixel positions, bilinear, NaN outside; only the window that is needed."""
    inside_x = (column >= -0.5) & (column <= raster.width - 0.5)
    good = inside_x & (row >= -0.5) & (row <= raster.height - 0.5)
    found = np.full(column.shape, np.nan)
    if not np.any(good):
        return found
    column = np.clip(column[good], 0.0, raster.width - 1.0)
    row = np.clip(row[good], 0.0, raster.height - 1.0)
    left, top = int(column.min()), int(row.min())
    right, bottom = int(np.ceil(column.max())) + 1, int(np.ceil(row.max())) + 1
    step = max(1, int(np.ceil(np.sqrt((right - left) * (bottom - top) / LARGEST_PIXELS))))
    size = (-(-(bottom - top) // step), -(-(right - left) // step))
    window = ((top, bottom), (left, right))
    band = raster.read(1, window=window, out_shape=size, masked=True).astype(float).filled(np.nan)
    scale_x, scale_y = size[1] / (right - left), size[0] / (bottom - top)
    x = np.clip((column - left + 0.5) * scale_x - 0.5, 0.0, size[1] - 1.0)
    y = np.clip((row - top + 0.5) * scale_y - 0.5, 0.0, size[0] - 1.0)
    found[good] = _bilinear(band, x, y)
    return found


def _bilinear(band: Array, x: Array, y: Array) -> Array:
    x0, y0 = np.floor(x).astype(int), np.floor(y).astype(int)
    x1, y1 = np.minimum(x0 + 1, band.shape[1] - 1), np.minimum(y0 + 1, band.shape[0] - 1)
    u, v = x - x0, y - y0
    above = band[y0, x0] * (1.0 - u) + band[y0, x1] * u
    below = band[y1, x0] * (1.0 - u) + band[y1, x1] * u
    return np.asarray(above * (1.0 - v) + below * v)


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
