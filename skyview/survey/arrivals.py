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
    shielding: Array
    """How far that hill stands above both the direct ray and the smooth horizon, 0 for none. [rad]
    """
    mapped: NDArray[np.bool_]
    """Whether the ground on the way is known: marked hills are part of it. (S,)"""

    def horizon_is(self, name: str) -> NDArray[np.bool_]:
        """Where the obstruction of this id is the horizon or a part of the known ground, and so no
        screen. (A, S)"""
        if name not in self.hills:
            return np.zeros(self.edge.shape, bool)
        return np.asarray((self.edge == self.hills.index(name)) | self.mapped)


def arrivals_of(
    survey: Survey,
    stations: list[Station],
    antenna_m: Array,
    screens: dict[str, list[ViewScreen]],
    terrain: Terrain | None = None,
) -> Arrivals:
    """Directions of stations at antennas (A, 3), east north up.

    Where the ground on the way is known its skyline is the horizon, and marked hills set none.
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
    top = terrain.top_amsl_m if terrain else np.array([s.antenna_amsl_m for s in stations], float)
    haat = np.array([np.nan if s.haat_m is None else s.haat_m for s in stations])
    level = elevation.smooth_level_amsl_m(ground, top, haat)
    direct = elevation.elevation_over_earth(own, top, distance)
    smooth = -elevation.horizon_dip(own - level)
    hills = tuple(h for h, views in screens.items() if views[0].obstruction.kind == "hill")
    crest, which = _crests([screens[name] for name in hills], antenna_m, azimuth, distance)
    hidden = elevation.beyond_horizon(own, top, distance, level)
    mapped = np.zeros(len(stations), bool)
    if terrain is not None:
        mapped = terrain.known
        skyline = terrain.horizon(antenna_m[:, 2])
        smooth = np.where(mapped, skyline, smooth)
        hidden = np.where(mapped, skyline > direct, hidden)
        crest = np.where(mapped, -np.inf, crest)
    beyond = hidden | (crest > direct)
    by_hill = beyond & (crest > smooth)
    return Arrivals(
        azimuth=azimuth,
        distance_m=distance,
        arrival=np.where(beyond, np.maximum(smooth, crest), direct),
        optical=elevation.optical_elevation(own, top, distance),
        beyond=beyond,
        hills=hills,
        edge=np.where(by_hill, which, -1),
        shielding=np.where(
            by_hill, np.nan_to_num(crest, neginf=0.0) - np.maximum(direct, smooth), 0.0
        ),
        mapped=mapped,
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
