"""All that the picture of one view needs, gathered from a survey and its assessment."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from skyview.angles import Array, azimuth_elevation_of, unit_from_azimuth_elevation, wrap_180_deg
from skyview.errors import InputError
from skyview.outline.upright import Upright
from skyview.photo.pixels import read_pixels
from skyview.survey.assess import Assessment
from skyview.survey.cameras import ViewCamera
from skyview.survey.kinds import WIRES
from skyview.survey.known import known_item
from skyview.survey.models import Obstruction, Survey, View
from skyview.survey.raster import ground_of
from skyview.survey.results import FresnelMark, PathRow, Plate, Silhouette
from skyview.survey.scene import Leaf
from skyview.survey.screens import ViewScreen, nearest_view
from skyview.survey.storage import photo_path
from skyview.survey.terrain import skyline
from skyview.wave.fresnel import first_zone_radius_m

BOTTOM_DEG, TOP_DEG = -13.0, 38.0
"""A plate shows no more than this, unless an outline rises higher."""

HIGHEST_DEG = 60.0
PIXELS_AT_MOST = 8000
"""Longest side at which a photograph is held for drawing."""


@dataclass(frozen=True)
class _Extent:
    left: float
    right: float
    bottom: float
    top: float


def plate_of(
    survey: Survey,
    folder: str | Path,
    found: Assessment,
    *,
    view: str | None = None,
    spot: str | None = None,
    height_m: float | None = None,
    station: str | None = None,
    leaf: Leaf = "in",
    longest_px: int = PIXELS_AT_MOST,
) -> Plate:
    """The plate of one view with what one antenna position meets.

    Without a view the one that shows most stations is taken, of equal ones the nearest; without
    a spot the first, without a height the spot's highest. The photograph is no larger than
    ``longest_px``. Raises InputError for an unknown id or a survey without a view.
    """
    row = _position(found, spot, height_m)
    place = next(s for s in survey.spots if s.id == row.spot)
    antenna_m = np.array(place.enu_m, float) + np.array([0.0, 0.0, row.antenna_height_m])
    rows = tuple(
        r for r in found.rows if r.spot == row.spot and r.antenna_height_m == row.antenna_height_m
    )
    chosen = best_view(survey, view, found, rows, antenna_m)
    camera = found.cameras[chosen.id]
    silhouettes = tuple(
        _silhouette(nearest_screen(screens, antenna_m), antenna_m)
        for screens in found.screens.values()
    ) + tuple(
        _line(thing, antenna_m)
        for thing in survey.obstructions
        if thing.kind in WIRES and thing.line_enu_m
    )
    extent = _extent(camera, rows, silhouettes)
    sigma = _typical_sigma_deg(camera, extent)
    if station is not None:
        shown = {row.station for row in rows}
        known_item([s for s in survey.stations if s.id in shown], station, "station")
    selected = next((r for r in rows if r.station == station), None)
    photo = read_pixels(photo_path(folder, chosen), longest_px)
    return Plate(
        title=survey.title or "Survey",
        view=chosen.id,
        photo_rgb=photo,
        pixel_of=_Pixels(camera, photo.shape[1] / chosen.size_px[0]),
        left_deg=extent.left,
        right_deg=extent.right,
        bottom_deg=extent.bottom,
        top_deg=extent.top,
        declination_deg=found.declination.declination_deg,
        azimuth_sigma_deg=sigma[0],
        elevation_sigma_deg=sigma[1],
        spot=row.spot,
        antenna_height_m=row.antenna_height_m,
        above_camera_m=float(antenna_m[2] - chosen.camera_enu_m[2]),
        lines_checked=survey.limits.lines_checked,
        leaf=leaf,
        taken=chosen.taken[:10] if chosen.taken else None,
        rows=rows,
        silhouettes=silhouettes,
        selected=station,
        fresnel=_fresnel_mark(selected, found, antenna_m) if selected else None,
        level_band_deg=_level_band_deg(camera, extent),
        terrain_deg=_terrain_deg(survey, antenna_m, extent),
    )


@dataclass(frozen=True)
class _Pixels:
    """Azimuth and elevation [deg] to pixels of the photograph as it was read."""

    camera: ViewCamera
    share: float

    def __call__(self, azimuth_deg: Array, elevation_deg: Array) -> tuple[Array, Array]:
        rays = unit_from_azimuth_elevation(np.radians(azimuth_deg), np.radians(elevation_deg))
        x, y = self.camera.picture.camera.pixels(rays)
        width = self.camera.view.size_px[0]
        if self.camera.full_circle:
            x = np.mod(x, width)
        shown = self.camera.covers(rays)
        return np.where(shown, x, np.nan) * self.share, np.where(shown, y, np.nan) * self.share


def _position(found: Assessment, spot: str | None, height_m: float | None) -> PathRow:
    at_spot = [r for r in found.rows if r.spot == (spot or found.rows[0].spot)]
    if not at_spot:
        raise InputError(f"no spot is called {spot}", field="spots")
    highest = max(r.antenna_height_m for r in at_spot)
    wanted = highest if height_m is None else height_m
    return min(at_spot, key=lambda r: abs(r.antenna_height_m - wanted))


def best_view(
    survey: Survey,
    wanted: str | None,
    found: Assessment,
    rows: tuple[PathRow, ...],
    antenna_m: Array,
) -> View:
    """The view asked for, else the one that shows most stations, taken nearest to the antenna."""
    if not survey.views:
        raise InputError(
            "the survey has no view to draw on",
            field="views",
            mend="add a photograph with: skyview photo FILE --into SURVEY --spot ID",
        )
    if wanted is not None:
        return known_item(survey.views, wanted, "view")
    rays = unit_from_azimuth_elevation(
        np.radians([r.bearing_deg for r in rows]),
        np.radians([r.arrival_elevation_deg for r in rows]),
    )
    return max(
        survey.views,
        key=lambda v: (
            int(found.cameras[v.id].covers(rays).sum()),
            -float(np.linalg.norm(antenna_m - np.array(v.camera_enu_m))),
        ),
    )


def nearest_screen(screens: list[ViewScreen], antenna_m: Array) -> ViewScreen:
    """The screen of one thing from the view whose camera stood nearest to an antenna (3,)."""
    return screens[int(nearest_view(screens, antenna_m[None])[0])]


def _silhouette(seen: ViewScreen, antenna_m: Array) -> Silhouette:
    screen = seen.screen
    rings = []
    for ring in [ring for part in screen.parts for ring in part]:
        azimuth, elevation = azimuth_elevation_of(screen.points(ring) - antenna_m)
        rings.append(np.degrees(np.stack([np.unwrap(azimuth), elevation], axis=1)))
    distance = float(np.hypot(*(screen.foot_m - antenna_m[:2]))) if seen.is_placed else None
    return Silhouette(seen.obstruction.id, seen.obstruction.kind, distance, tuple(rings))


def _line(thing: Obstruction, antenna_m: Array) -> Silhouette:
    """A wire as the antenna sees it: its points there and back."""
    offset = np.array(thing.line_enu_m, float) - antenna_m
    azimuth, elevation = azimuth_elevation_of(offset)
    path = np.degrees(np.stack([np.unwrap(azimuth), elevation], axis=1))
    nearest = float(np.hypot(offset[:, 0], offset[:, 1]).min())
    return Silhouette(thing.id, thing.kind, nearest, (np.concatenate([path, path[-2:0:-1]]),))


def _extent(
    camera: ViewCamera, rows: tuple[PathRow, ...], silhouettes: tuple[Silhouette, ...]
) -> _Extent:
    """What the plate shows: the picture's width, and the height where things happen."""
    width, height = camera.view.size_px
    x, y = np.meshgrid(np.linspace(0.0, width, 61), np.linspace(0.0, height, 41))
    azimuth, elevation = (np.degrees(v) for v in camera.picture.camera.directions(x, y))
    tops = [ring[:, 1].max() for s in silhouettes for ring in s.rings_deg[:1]]
    top = min(max([TOP_DEG, *(t + 4.0 for t in tops)]), HIGHEST_DEG, float(np.nanmax(elevation)))
    bottom = max(BOTTOM_DEG, float(np.nanmin(elevation)))
    if top <= bottom:
        bottom, top = float(np.nanmin(elevation)), float(np.nanmax(elevation))
    if camera.full_circle:
        left = _widest_gap_deg([r.bearing_deg for r in rows])
        return _Extent(left, left + 360.0, bottom, top)
    level = np.where((elevation >= bottom) & (elevation <= top), azimuth, np.nan)
    middle = float(np.degrees(camera.picture.camera.directions(width / 2, height / 2)[0]))
    aside = wrap_180_deg(level - middle)
    left, right = middle + float(np.nanmin(aside)), middle + float(np.nanmax(aside))
    left -= 360.0 * np.floor(right / 360.0 - 1e-9) if right > 360.0 else 0.0
    return _Extent(left, left + float(np.nanmax(aside) - np.nanmin(aside)), bottom, top)


def _widest_gap_deg(bearings_deg: list[float]) -> float:
    """The azimuth, in -180..180, at which a full circle is best cut: amid the widest gap."""
    order = np.sort(np.array(bearings_deg))
    gap = np.diff(np.append(order, order[0] + 360.0))
    widest = int(np.argmax(gap))
    return float(wrap_180_deg(order[widest] + gap[widest] / 2.0))


def _typical_sigma_deg(camera: ViewCamera, extent: _Extent) -> tuple[float, float]:
    azimuth = np.linspace(extent.left, extent.right, 37)
    low, high = max(extent.bottom, 0.0), min(extent.top, 10.0)
    elevation = np.full(azimuth.shape, (low + high) / 2.0)
    rays = unit_from_azimuth_elevation(np.radians(azimuth), np.radians(elevation))
    sigma = camera.picture.direction_sigma(*camera.picture.camera.pixels(rays))
    return float(np.degrees(np.nanmedian(sigma[0]))), float(np.degrees(np.nanmedian(sigma[1])))


def _level_band_deg(camera: ViewCamera, extent: _Extent) -> Array:
    """Azimuths across the plate and the elevation's sigma at level there (K, 2). [deg]"""
    azimuth = np.linspace(extent.left, extent.right, 181)
    rays = unit_from_azimuth_elevation(np.radians(azimuth), np.zeros(azimuth.shape))
    _, sigma = camera.picture.direction_sigma(*camera.picture.camera.pixels(rays))
    band = np.stack([azimuth, np.degrees(sigma)], axis=1)
    result: Array = band[np.isfinite(band[:, 1])]
    return result


def _terrain_deg(survey: Survey, antenna_m: Array, extent: _Extent) -> Array | None:
    """Azimuths across the plate and the terrain's skyline there (K, 2). [deg]"""
    ground = ground_of(survey)
    if ground is None:
        return None
    azimuth = np.linspace(extent.left, extent.right, 361)
    elevation, _ = skyline(survey, ground, antenna_m, np.radians(azimuth))
    return np.stack([azimuth, elevation], axis=1)


def _fresnel_mark(row: PathRow, found: Assessment, antenna_m: Array) -> FresnelMark | None:
    if row.obstruction is None:
        return None
    screen = nearest_screen(found.screens[row.obstruction], antenna_m).screen
    distance = float(screen_distance_m(screen, antenna_m, np.radians(row.bearing_deg)))
    radius = float(
        first_zone_radius_m(
            row.frequency_mhz, distance, max(row.distance_km * 1000.0 - distance, 1.0)
        )
    )
    return FresnelMark(
        azimuth_deg=row.bearing_deg,
        elevation_deg=row.arrival_elevation_deg,
        radius_m=radius,
        radius_deg=float(np.degrees(np.arctan2(radius, distance))),
        obstruction=row.obstruction,
        distance_m=distance,
    )


def screen_distance_m(screen: Upright, antenna_m: Array, azimuth: Array | float) -> Array:
    """How far from antennas (..., 3) a thing's plane stands on bearings (...) [rad].

    Its middle's distance where a bearing runs along the plane or away from it.
    """
    normal = np.array([np.sin(screen.azimuth), np.cos(screen.azimuth)])
    offset = screen.foot_m - antenna_m[..., :2]
    along = np.stack([np.sin(azimuth), np.cos(azimuth)], axis=-1) @ normal
    gap = offset @ normal
    usable = (along > 0.2) & (gap > 0.0)
    result: Array = np.where(
        usable, gap / np.where(usable, along, 1.0), np.linalg.norm(offset, axis=-1)
    )
    return result
