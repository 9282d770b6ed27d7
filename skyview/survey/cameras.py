"""A view as a camera: its stored calibration where that is fresh, else solved anew."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from skyview.angles import Array
from skyview.calibrate.slopes import STRETCH, base_names
from skyview.calibrate.spread import PosedPicture
from skyview.camera import projections
from skyview.survey.inputs import day_of, declination_of, digest_of
from skyview.survey.models import Calibration, Survey, View
from skyview.survey.priors import is_turn, projection_of
from skyview.survey.solving import solve

__all__ = ["ViewCamera", "camera_of", "day_of", "declination_of", "digest_of", "solve"]

CLOSED_CIRCLE = 0.005
"""A circle whose solved scale is off by more than this share does not close."""


@dataclass(frozen=True)
class ViewCamera:
    """A view with its pose, ready for questions."""

    view: View
    picture: PosedPicture
    full_circle: bool
    warnings: tuple[str, ...]

    @property
    def azimuth_sigma(self) -> float:
        """One sigma of azimuth at the picture's middle. [rad]"""
        return float(self.picture.direction_sigma(*np.array(self.view.size_px) / 2.0)[0])

    def covers(self, rays: Array) -> Array:
        """Whether rays (..., 3), east north up, fall inside the picture. (bool)"""
        x, y = self.picture.camera.pixels(rays)
        width, height = self.view.size_px
        with np.errstate(invalid="ignore"):
            inside_x = np.isfinite(x) if self.full_circle else (x >= 0.0) & (x <= width)
            return np.asarray(inside_x & (y >= 0.0) & (y <= height))


def camera_of(survey: Survey, view: View) -> ViewCamera:
    """The view's camera: its stored calibration where that is fresh, else solved anew.

    A calibration without a digest was written by another program and is taken as it is.
    """
    projection, _, notes = projection_of(view)
    stored = view.calibration
    if stored is None or (stored.digest and stored.digest != digest_of(survey, view)):
        why = (
            "is not calibrated" if stored is None else "or its marks changed since its calibration"
        )
        notes.append(f"view {view.id} {why}: it was solved for this answer and not stored")
        stored, more = solve(survey, view)
        notes += more
    azimuth_known = view.prior.yaw_deg is not None or any(
        r.azimuth_residual_deg is not None for r in stored.residuals
    )
    if not azimuth_known and not (view.calibration and not view.calibration.digest):
        notes.append(
            f"view {view.id} has neither a compass bearing nor a mark with an azimuth: its "
            "azimuths mean nothing until it gets one"
        )
    if isinstance(projection, projections.Rectilinear) and "k1" not in stored.parameters:
        k1 = projection.k1 if stored.k1 is None else stored.k1
        k2 = projection.k2 if stored.k2 is None else stored.k2
        projection = replace(projection, k1=k1, k2=k2)
    names = _names(stored, projection)
    vector = np.array([_value(stored, name, projection) for name in names])
    picture = PosedPicture(
        projection, vector, _covariance_of(stored, names), names, view.own_azimuth_sigma
    )
    return ViewCamera(view, picture, _closes(projection, stored), tuple(notes))


def _closes(projection: projections.Projection, stored: Calibration) -> bool:
    """Whether the picture goes once round."""
    if not isinstance(projection, projections.Equirectangular):
        return False
    factor = float(np.exp(stored.log_aspect or 0.0)) / stored.scale
    return is_turn(projection.right - projection.left) and abs(factor - 1.0) < CLOSED_CIRCLE


def _names(stored: Calibration, projection: projections.Projection) -> tuple[str, ...]:
    """The parameters of a stored calibration, in the order of its covariance."""
    base = base_names(projection)
    beyond = {"k1", "log_aspect", *(f"{STRETCH}{n + 2}" for n in range(len(stored.stretch)))}
    return base + tuple(n for n in stored.parameters if n in beyond)


def _value(stored: Calibration, name: str, projection: projections.Projection) -> float:
    if name in ("yaw", "pitch", "roll"):
        return float(np.radians(getattr(stored, f"{name}_deg")))
    if name == "log_scale":
        return float(np.log(stored.scale))
    if name.startswith(STRETCH):
        return stored.stretch[int(name.removeprefix(STRETCH)) - 2]
    value = getattr(stored, name)
    if value is None and isinstance(projection, projections.Cylindrical):
        return projection.centre_px[1]
    return 0.0 if value is None else float(value)


def _covariance_of(stored: Calibration, names: tuple[str, ...]) -> Array:
    """The stored covariance in the order of ``names``; parameters it lacks are taken as exact."""
    full = np.zeros((len(names), len(names)))
    known = [n for n in stored.parameters if n in names]
    place = [names.index(n) for n in known]
    given = np.array(stored.covariance, float)
    if given.shape == (len(stored.parameters), len(stored.parameters)) and known:
        own = [stored.parameters.index(n) for n in known]
        full[np.ix_(place, place)] = given[np.ix_(own, own)]
    return full
