"""Single measurements of how far away a thing is: how good they are, and the rule of its size."""

from __future__ import annotations

import numpy as np

from skyview.errors import InputError
from skyview.survey.cameras import ViewCamera
from skyview.survey.known import known_item
from skyview.survey.models import Measured, Obstruction, Survey

USUAL_SIGMA = {
    "paced": (0.3, 0.08),
    "tape": (0.1, 0.005),
    "laser": (0.5, 0.0),
    "map": (3.0, 0.0),
    "size": (0.3, 0.10),
}
"""Metres, and share of the distance, that a measurement without a sigma is taken to be off by:
common practice, no source. The laser's half metre is the depth of a crown that it may hit."""

OTHER_SIGMA = (0.5, 0.2)
"""The same for any other way of measuring."""

COMBINED = "combined: "
"""How ``distance_by`` begins where this module wrote it."""


def measurements_of(thing: Obstruction) -> list[Measured]:
    """Every single measurement of a thing: those kept, and the one in its own fields."""
    own = []
    if (
        thing.distance_m is not None
        and thing.distance_from is not None
        and not (thing.distance_by or "").startswith(COMBINED)
    ):
        own = [
            Measured(
                view=thing.distance_from,
                distance_m=thing.distance_m,
                sigma_m=thing.distance_sigma_m,
                by=thing.distance_by or "no way named",
            )
        ]
    return own + [m for m in thing.measured if m not in own]


def usual_sigma_m(by: str, distance_m: float) -> float:
    """One sigma of a measurement that names none. [m]

    >>> usual_sigma_m("map", 20.0)
    3.0
    """
    metres, share = USUAL_SIGMA.get(by, OTHER_SIGMA)
    return metres + share * distance_m


def by_size(
    camera: ViewCamera,
    points_px: tuple[tuple[float, float], tuple[float, float]],
    size_m: float,
    size_sigma_m: float,
    sigma_px: float = 2.0,
) -> tuple[float, float]:
    """Horizontal distance and its sigma of something upright of a known size. [m]

    ``points_px`` are the ends of a length that lies across the line of sight: the height of a
    door, the width of a garage. Raises InputError where they show the same direction or none.
    """
    ends = np.array(points_px, float)
    azimuth, elevation = camera.picture.camera.directions(ends[:, 0], ends[:, 1])
    if not np.isfinite([azimuth, elevation]).all():
        raise InputError("one of these pixels shows no direction", field="--between")
    turn = np.remainder(azimuth[1] - azimuth[0] + np.pi, 2.0 * np.pi) - np.pi
    across = 2.0 * np.tan(turn / 2.0)
    up = float(np.diff(np.tan(elevation)).item()) / np.cos(turn / 2.0)
    angle = float(np.hypot(across, up))
    if angle <= 0.0:
        raise InputError("these two pixels are the same", field="--between")
    distance = size_m / angle
    blur = sigma_px * np.sqrt(2.0) * angle / float(np.hypot(*(ends[1] - ends[0])))
    return distance, distance * float(np.hypot(size_sigma_m / size_m, blur / angle))


def with_measurement(survey: Survey, name: str, measured: Measured) -> Survey:
    """The survey with one more measurement of an obstruction; InputError for an unknown id."""
    known_item(survey.obstructions, name, "obstruction")
    things = [
        thing.model_copy(update={"measured": [*thing.measured, measured]})
        if thing.id == name
        else thing
        for thing in survey.obstructions
    ]
    return survey.model_copy(update={"obstructions": things})
