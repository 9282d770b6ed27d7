"""Places of a survey that can hardly be meant: far from the site, perhaps interchanged."""

from __future__ import annotations

import numpy as np

from skyview.angles import Array
from skyview.place.bearings import geodesic
from skyview.survey.models import Survey

FARTHEST_STATION_M = 1000e3
"""Beyond this no television reaches: common practice, no source."""

FARTHEST_LANDMARK_M = 200e3
"""Beyond this no landmark is seen from a roof: common practice, no source."""


def doubtful_places(survey: Survey) -> list[tuple[str, str]]:
    """Field and sentence for each station and landmark too far from the site to be meant."""
    found = []
    for name, farthest_m in (("stations", FARTHEST_STATION_M), ("landmarks", FARTHEST_LANDMARK_M)):
        things = getattr(survey, name)
        if not things:
            continue
        latitude = np.array([thing.latitude_deg for thing in things])
        longitude = np.array([thing.longitude_deg for thing in things])
        distance_m = _distance_m(survey, latitude, longitude)
        swappable = np.abs(longitude) <= 90.0
        swapped_m = np.where(
            swappable, _distance_m(survey, np.where(swappable, longitude, 0.0), latitude), np.inf
        )
        for index in np.flatnonzero(distance_m > farthest_m):
            hint = ""
            if swapped_m[index] < farthest_m:
                hint = "; were latitude and longitude swapped?"
            thing = things[index].id
            far = f"{name[:-1]} {thing} lies {distance_m[index] / 1e3:.0f} km from the site{hint}"
            found.append((f"{name}.{thing}.latitude_deg", far))
    return found


def _distance_m(survey: Survey, latitude_deg: Array, longitude_deg: Array) -> Array:
    site = survey.site
    return geodesic(site.latitude_deg, site.longitude_deg, latitude_deg, longitude_deg)[1]
