"""Marks of a view as sights: pixels against the directions of what was marked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from skyview.calibrate.estimate import Sights
from skyview.constants import OPTICAL_K
from skyview.place.bearings import bearing_from, east_north_m
from skyview.place.declination import Declination
from skyview.place.elevation import horizon_dip, optical_elevation
from skyview.survey.models import Mark, Survey, View

BEARING_SIGMA = np.radians(0.2)
"""One sigma of a true bearing taken from a map: common practice, no source."""

COMPASS_SIGMA = np.radians(2.0)
"""One sigma of a bearing taken with a sighting compass: common practice, no source."""

BEARING_ELEVATION_SIGMA = np.radians(0.2)
"""One sigma of an elevation stated beside a bearing: common practice, no source."""

LEVEL_SIGMA = {"sea": np.radians(0.05), "spirit": np.radians(0.3)}
"""One sigma of a sea horizon and of a spirit level's sight line: common practice, no source."""

USED_KINDS = ("landmark", "bearing", "station", "level")
"""Kinds of marks that the estimator uses."""


@dataclass(frozen=True)
class _Sight:
    mark: Mark
    azimuth: float
    elevation: float
    azimuth_sigma: float
    elevation_sigma: float
    distance_m: float

    @property
    def sigmas(self) -> tuple[float, float]:
        return self.azimuth_sigma, self.elevation_sigma


def sights_of(
    survey: Survey, view: View, magnetic: Declination
) -> tuple[Sights, list[str], list[str]]:
    """Sights of a view, the mark id of each, and a sentence for each mark left out."""
    found: list[_Sight] = []
    notes: list[str] = []
    for mark in survey.marks:
        if mark.view != view.id:
            continue
        if mark.frame or mark.kind not in USED_KINDS:
            what = "a mark in a frame" if mark.frame else f"a mark of kind {mark.kind}"
            notes.append(f"mark {mark.id} was left out: {what} is not used by the calibration")
            continue
        found.append(_sight(survey, view, mark, magnetic))
    pixels = [(sight, x, y) for sight in found for x, y in _points(sight.mark)]
    columns = np.array(
        [
            (x, y, s.mark.sigma_px, s.azimuth, s.elevation, *s.sigmas, s.distance_m)
            for s, x, y in pixels
        ],
        dtype=float,
    ).reshape(-1, 8)
    return Sights(*columns.T), [s.mark.id for s, _, _ in pixels], notes


def _points(mark: Mark) -> list[tuple[float, float]]:
    return list(mark.points_px) if mark.kind == "level" else list(mark.points_px[:1])


def _sight(survey: Survey, view: View, mark: Mark, magnetic: Declination) -> _Sight:
    if mark.kind == "bearing":
        return _bearing(mark, magnetic)
    if mark.kind == "level":
        dip = 0.0
        if mark.level_by == "sea":
            height = (survey.site.ground_amsl_m or 0.0) + view.camera_enu_m[2]
            dip = float(horizon_dip(height, OPTICAL_K))
        sigma = LEVEL_SIGMA[mark.level_by or "spirit"]
        return _Sight(mark, np.nan, -dip, 1.0, float(sigma), np.inf)
    if mark.kind == "station":
        thing = next(s for s in survey.stations if s.id == mark.station)
        return _known_place(
            survey, view, mark, thing.latitude_deg, thing.longitude_deg, thing.antenna_amsl_m, 5.0
        )
    tower = next(t for t in survey.landmarks if t.id == mark.landmark)
    return _known_place(
        survey, view, mark, tower.latitude_deg, tower.longitude_deg, tower.top_amsl_m, tower.sigma_m
    )


def _bearing(mark: Mark, magnetic: Declination) -> _Sight:
    azimuth, sigma = np.radians(mark.azimuth_deg or 0.0), float(BEARING_SIGMA)
    if mark.north == "magnetic":
        azimuth += np.radians(magnetic.declination_deg)
        sigma = float(np.hypot(COMPASS_SIGMA, np.radians(magnetic.sigma_deg)))
    elevation = np.nan if mark.elevation_deg is None else np.radians(mark.elevation_deg)
    elevation_sigma = float(BEARING_ELEVATION_SIGMA)
    return _Sight(mark, float(azimuth), float(elevation), sigma, elevation_sigma, np.inf)


def _known_place(
    survey: Survey,
    view: View,
    mark: Mark,
    latitude_deg: float,
    longitude_deg: float,
    top_amsl_m: float | None,
    sigma_m: float,
) -> _Sight:
    """A thing on the map as the camera sees it."""
    site, camera = survey.site, np.array(view.camera_enu_m)
    place = east_north_m(site.latitude_deg, site.longitude_deg, latitude_deg, longitude_deg)
    azimuth, distance = bearing_from(place, camera[:2])
    elevation = np.nan
    if top_amsl_m is not None and site.ground_amsl_m is not None:
        eye = site.ground_amsl_m + camera[2]
        elevation = float(optical_elevation(eye, top_amsl_m, distance))
    sigma = float(np.hypot(sigma_m, view.camera_sigma_m) / max(float(distance), 1.0))
    return _Sight(mark, float(azimuth), elevation, sigma, sigma, float(distance))
