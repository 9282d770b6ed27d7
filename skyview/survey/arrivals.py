"""Where each station's wave comes from: directions at every antenna over the curved earth.

Shapes: A antenna positions, S stations. A marked hill whose edge rises above the direct ray, and
which stands before the station, is that station's horizon: the wave arrives over its edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.mount.sight import top_elevation
from skyview.place import elevation
from skyview.place.bearings import bearing_from, east_north_m
from skyview.survey.models import Station, Survey
from skyview.survey.screens import ViewScreen, nearest_view
from skyview.survey.terrain import Terrain
from skyview.wave.terrain import skyline_from_receiver


@dataclass(frozen=True)
class Arrivals:
    """Directions of every station at every antenna: arrays (A, S), radians and metres."""

    azimuth: Array
    distance_m: Array
    arrival: Array
    """Elevation from which the wave arrives, k = 4/3, or of the last edge."""
    optical: Array
    """Elevation at which an eye would see the transmitter, k = 7/6."""
    beyond: NDArray[np.bool_]
    """Whether the earth or a marked hill hides the transmitter."""
    hills: tuple[str, ...]
    """Ids of the marked hills."""
    edge: NDArray[np.intp]
    """Which of ``hills`` sets the arrival, -1 for none."""

    def set_by(self, name: str) -> NDArray[np.bool_]:
        """Where the obstruction of this id sets the arrival. (A, S)"""
        index = self.hills.index(name) if name in self.hills else len(self.hills)
        return np.asarray(self.edge == index)


def arrivals_of(
    survey: Survey,
    stations: list[Station],
    antenna_m: Array,
    screens: dict[str, list[ViewScreen]],
    terrain: Terrain | None = None,
) -> Arrivals:
    """Directions of stations at antennas (A, 3), east north up.

    Where there is terrain its skyline is the horizon; marked hills are part of it and set none.
    """
    site = survey.site
    place = east_north_m(
        site.latitude_deg,
        site.longitude_deg,
        [s.latitude_deg for s in stations],
        [s.longitude_deg for s in stations],
    )
    azimuth, distance = bearing_from(place[None, :, :], antenna_m[:, None, :2])
    ground = terrain.site_amsl_m if terrain else site.ground_amsl_m or 0.0
    own = ground + antenna_m[:, 2:3]
    top = np.array([s.antenna_amsl_m for s in stations], float)
    haat = np.array([np.nan if s.haat_m is None else s.haat_m for s in stations])
    level = elevation.smooth_level_amsl_m(ground, top, haat)
    direct = elevation.elevation_over_earth(own, top, distance)
    smooth = -elevation.horizon_dip(own - level)
    hills = tuple(
        h for h, views in screens.items() if views[0].obstruction.kind == "hill" and not terrain
    )
    crest, which = _crests([screens[name] for name in hills], antenna_m, azimuth, distance)
    hidden = elevation.beyond_horizon(own, top, distance, level)
    if terrain is not None:
        edge, _ = skyline_from_receiver(terrain.profile, np.broadcast_to(own, azimuth.shape))
        smooth = np.where(terrain.known, edge, smooth)
        hidden = np.where(terrain.known, edge > direct, hidden)
    beyond = hidden | (crest > direct)
    return Arrivals(
        azimuth=azimuth,
        distance_m=distance,
        arrival=np.where(beyond, np.maximum(smooth, crest), direct),
        optical=elevation.optical_elevation(own, top, distance),
        beyond=beyond,
        hills=hills,
        edge=np.where(beyond & (crest > smooth), which, -1),
    )


def _crests(
    hills: list[list[ViewScreen]], antenna_m: Array, azimuth: Array, distance_m: Array
) -> tuple[Array, NDArray[np.intp]]:
    """Elevation of the highest hill before each station, -inf for none, and which it is. (A, S)"""
    best = np.full(azimuth.shape, -np.inf)
    which = np.full(azimuth.shape, -1)
    for index, views in enumerate(hills):
        nearest = nearest_view(views, antenna_m)[:, None]
        for number, seen in enumerate(views):
            for part in seen.screen.parts:
                ring = seen.screen.points(part[0])
                edge = top_elevation(ring, seen.screen.azimuth, antenna_m, azimuth, distance_m)
                edge = np.where(nearest == number, np.nan_to_num(edge, nan=-np.inf), -np.inf)
                which = np.where(edge > best, index, which)
                best = np.maximum(best, edge)
    return best, which
