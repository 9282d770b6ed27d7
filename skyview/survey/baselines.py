"""Whether the views at hand can tell a distance, and from where one more view would.

Error grows as distance^2 x error of the angle / baseline across the line of sight.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from skyview.angles import Array, azimuth_elevation_of
from skyview.mount.meeting import Meeting, Sighted, meet
from skyview.mount.sighting import Sighting
from skyview.survey.cameras import ViewCamera
from skyview.survey.kinds import WIRES
from skyview.survey.models import Obstruction, Survey
from skyview.survey.sightings import sighted

GOOD_SHARE = 0.15
"""A distance this well known, as a share of it, moves a clearance little: our own choice."""

LONGEST_STEP_M = 12.0
"""A step aside longer than most roofs is not proposed."""

SAME_PLACE_M = 1.0
"""A spot so near to a camera of a view at hand is not proposed: it would show the same."""

EYE_HEIGHT_M = 1.6
"""Common practice, no source."""


@dataclass(frozen=True)
class Advice:
    """What one more view would bring."""

    sigma_share: float | None
    """One sigma of the distance by the views at hand, as a share of it; None where nothing
    bounds it."""
    step_m: float | None
    """How far square to the line of sight one more view would have to be taken; None where no
    step of `LONGEST_STEP_M` is enough. [m]"""
    spot: str | None
    """The spot of the survey from which one more view would tell it best, if it would."""
    spot_sigma_share: float | None
    """One sigma of the distance with that view, as a share of it."""


def advice_for(
    survey: Survey,
    cameras: dict[str, ViewCamera],
    thing: Obstruction,
    seen: dict[str, Sighting],
    distance_m: float | None,
    met: Meeting | None,
) -> Advice | None:
    """What would tell the distance of a thing; None where the views do, or for a wire.

    ``distance_m`` is the best that is known of it, from the camera of the first of ``seen``.
    """
    if thing.kind in WIRES:
        return None
    share = None
    if met is not None and met.inverse_m[0] > 2.0 * met.inverse_sigma[0]:
        share = float(met.inverse_sigma[0] / met.inverse_m[0])
        if share <= GOOD_SHARE:
            return None
    if distance_m is None or not np.isfinite(distance_m):
        return Advice(share, None, None, None)
    first = next(iter(seen.values()))
    eye = np.array(cameras[next(iter(seen))].view.camera_enu_m, float)
    azimuth = float(first.angles[:2].mean())
    ahead = np.array([np.sin(azimuth), np.cos(azimuth), 0.0])
    aside = np.array([ahead[1], -ahead[0], 0.0])
    base = sighted(thing.kind, seen, cameras)
    steps = np.arange(1.0, LONGEST_STEP_M + 0.5)
    eye_height = np.array([0.0, 0.0, EYE_HEIGHT_M])
    taken = base.camera_m[0, :, :2]
    spots = {
        s.id: np.array(s.enu_m) + eye_height
        for s in survey.spots
        if np.hypot(*(taken - s.enu_m[:2]).T).min() > SAME_PLACE_M
    }
    places = np.vstack([eye + steps[:, None] * aside, *spots.values()])
    shares = _shares_with(base, places, eye, distance_m, ahead)
    enough = np.flatnonzero(shares[: len(steps)] <= GOOD_SHARE)
    at_spots = dict(zip(spots, shares[len(steps) :], strict=True))
    best = min(at_spots, key=lambda name: at_spots[name], default=None)
    if best is not None and (at_spots[best] > GOOD_SHARE or (share and at_spots[best] > share)):
        best = None
    return Advice(
        sigma_share=share,
        step_m=float(steps[enough[0]]) if enough.size else None,
        spot=best,
        spot_sigma_share=float(at_spots[best]) if best else None,
    )


def _shares_with(
    base: Sighted, places_m: Array, eye_m: Array, distance_m: float, ahead: Array
) -> Array:
    """Sigma of the inverse distance over it, with one more view from each place (P, 3)."""
    count = len(places_m)
    half = float(np.ptp(base.angles[0, 0, :2])) / 2.0
    aside = np.array([ahead[1], -ahead[0], 0.0]) * distance_m * np.tan(half)
    top = np.array([0.0, 0.0, distance_m * np.tan(base.angles[0, 0, 2])])
    middle = eye_m + distance_m * ahead
    corners = np.stack([middle - aside, middle + aside, middle + top])
    cameras = np.concatenate([np.repeat(base.camera_m, count, 0), places_m[:, None]], axis=1)
    offset = corners[None, None] - cameras[:, :, None]
    azimuth, elevation = azimuth_elevation_of(offset)
    angles = np.concatenate([azimuth[..., :2], elevation[..., 2:]], axis=-1)

    def more(values: Array) -> Array:
        """One more view like the first."""
        return np.repeat(np.concatenate([values, values[:, :1]], axis=1), count, axis=0)

    met = meet(
        Sighted(
            camera_m=cameras,
            angles=angles,
            covariance=more(base.covariance),
            camera_sigma_m=more(base.camera_sigma_m),
            depth_share=np.repeat(base.depth_share, count, axis=0),
            is_round=np.repeat(base.is_round, count),
            used=np.ones((count, angles.shape[1], 3), bool),
        )
    )
    return np.where(met.inverse_m > 0.0, met.inverse_sigma / np.abs(met.inverse_m), np.inf)
