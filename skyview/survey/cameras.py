"""From a view of the survey to a camera: projection, priors, sights, pose.

What a view's projection leaves out is filled with the common case and a wide sigma; what was
filled is said in the warnings.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import UTC, date, datetime

import numpy as np

from skyview.angles import Array
from skyview.calibrate.estimate import NAMES, PoseEstimate, PosePrior, estimate
from skyview.calibrate.spread import PosedPicture
from skyview.camera import projections
from skyview.errors import InputError
from skyview.place.declination import Declination, decimal_year, declination
from skyview.survey.models import Calibration, Residual, Survey, View
from skyview.survey.sights import sights_of

GUESSED_SCALE_SIGMA = 0.3
"""Relative sigma of a focal length that nobody stated: common practice, no source."""

STITCHED_SCALE_SIGMA = 0.002
"""Relative sigma of the stated angles of an equirectangular picture: our own choice."""

LEVEL_ROW_SIGMA = np.radians(10.0)
"""How far a hand-swept panorama's level row may lie from where it is expected (as an angle)."""

PHONE_FOCAL_35MM = 26.0
"""Main camera of most phones, as a 35 mm equivalent: common practice, no source."""

FRAME_DIAGONAL_35MM = 43.267
"""Diagonal of 36 x 24 mm; the equivalent is by equal diagonal angle (CIPA DCG-001)."""


@dataclass(frozen=True)
class ViewCamera:
    """A view with its pose, ready for questions."""

    view: View
    picture: PosedPicture
    full_circle: bool
    warnings: tuple[str, ...]

    def covers(self, rays: Array) -> Array:
        """Whether rays (..., 3), east north up, fall inside the picture. (bool)"""
        x, y = self.picture.camera.pixels(rays)
        width, height = self.view.size_px
        with np.errstate(invalid="ignore"):
            inside_x = np.isfinite(x) if self.full_circle else (x >= 0.0) & (x <= width)
            return np.asarray(inside_x & (y >= 0.0) & (y <= height))


def projection_of(view: View) -> tuple[projections.Projection, float, list[str]]:
    """The view's projection, the relative sigma of its scale, and what was assumed.

    Raises InputError where an equirectangular picture does not say what it covers.
    """
    given, (width, height) = view.projection, view.size_px
    diagonal = float(np.hypot(width, height))
    sigma, notes = view.prior.scale_sigma, []
    if given is None or given.kind == "rectilinear":
        focal = given.focal_px if given else None
        if focal is None:
            focal = PHONE_FOCAL_35MM / FRAME_DIAGONAL_35MM * diagonal
            sigma = max(sigma, GUESSED_SCALE_SIGMA)
            notes.append(f"view {view.id}: no focal length, a 26 mm equivalent is taken")
        centre = given.centre_px if given and given.centre_px else (width / 2, height / 2)
        k1, k2 = (given.k1 or 0.0, given.k2 or 0.0) if given else (0.0, 0.0)
        return projections.Rectilinear(focal, centre, k1, k2), sigma, notes
    if given.kind == "equirectangular":
        edges = [given.left_deg, given.right_deg, given.top_deg, given.bottom_deg]
        if all(edge is None for edge in edges) and width == 2 * height:
            edges = [-180.0, 180.0, 90.0, -90.0]
        if any(edge is None for edge in edges):
            raise InputError(
                "an equirectangular picture must say the angles of its edges",
                field=f"views.{view.id}.projection",
                mend="set left_deg, right_deg, top_deg and bottom_deg",
            )
        if "scale_sigma" not in view.prior.model_fields_set:
            sigma = STITCHED_SCALE_SIGMA
        left, right, top, bottom = np.radians(np.array(edges, float)).tolist()
        size = (float(width), float(height))
        return projections.Equirectangular(size, left, right, top, bottom), sigma, notes
    per_rad, centre = given.px_per_rad, given.centre_px or (width / 2, height / 2)
    if given.kind == "fisheye":
        if per_rad is None:
            per_rad, sigma = min(width, height) / np.pi, max(sigma, GUESSED_SCALE_SIGMA)
            notes.append(f"view {view.id}: no scale, 180 degrees across the short side are taken")
        return projections.Fisheye(per_rad, centre), sigma, notes
    if per_rad is None:
        # A phone held upright: its long side, of a 26 mm equivalent, becomes the height.
        per_rad = PHONE_FOCAL_35MM / FRAME_DIAGONAL_35MM * height * 1.25
        sigma = max(sigma, GUESSED_SCALE_SIGMA)
        notes.append(f"view {view.id}: no scale, an upright phone of 26 mm equivalent is taken")
    return projections.Cylindrical(per_rad, centre), sigma, notes


def prior_of(survey: Survey, view: View, scale_sigma: float, per_rad: float) -> PosePrior:
    """The view's priors in the engine's units."""
    prior = view.prior
    known = prior.yaw_deg is not None
    tiny = 1e-9
    return PosePrior(
        yaw=float(np.radians(prior.yaw_deg)) if prior.yaw_deg is not None else None,
        yaw_sigma=max(float(np.radians(prior.yaw_sigma_deg)), tiny) if known else float(np.pi),
        pitch=float(np.radians(prior.pitch_deg)),
        pitch_sigma=max(float(np.radians(prior.pitch_sigma_deg)), tiny),
        roll=float(np.radians(prior.roll_deg)),
        roll_sigma=max(float(np.radians(prior.roll_sigma_deg)), tiny),
        scale_sigma=max(scale_sigma, tiny),
        level_row_sigma_px=LEVEL_ROW_SIGMA * per_rad,
        site_sigma_m=survey.site.position_sigma_m,
    )


def day_of(view: View | None) -> date:
    """The day a view was taken, else today."""
    if view is not None and view.taken:
        return datetime.fromisoformat(view.taken).date()
    return datetime.now(UTC).date()


def declination_of(survey: Survey, view: View | None = None) -> Declination:
    """Declination at the site on the view's day, else on that of the first dated view."""
    dated = view or next((v for v in survey.views if v.taken), None)
    site = survey.site
    return declination(
        site.latitude_deg,
        site.longitude_deg,
        site.ground_amsl_m or 0.0,
        decimal_year(day_of(dated)),
    )


def calibration_inputs(survey: Survey, view: View) -> dict[str, object]:
    """All that a calibration of this view rests on."""
    marks = [m for m in survey.marks if m.view == view.id]
    landmarks = {m.landmark for m in marks}
    stations = {m.station for m in marks if m.station}
    return {
        "site": survey.site.model_dump(
            include={"latitude_deg", "longitude_deg", "position_sigma_m", "ground_amsl_m"}
        ),
        "view": view.model_dump(exclude={"calibration", "photo", "spot", "leaf", "frames"}),
        "marks": [m.model_dump() for m in marks],
        "landmarks": [t.model_dump() for t in survey.landmarks if t.id in landmarks],
        "stations": [
            s.model_dump(include={"id", "latitude_deg", "longitude_deg", "antenna_amsl_m"})
            for s in survey.stations
            if s.id in stations
        ],
    }


def digest_of(survey: Survey, view: View) -> str:
    """A short digest of the calibration's inputs, so that a stale one is noticed."""
    text = json.dumps(calibration_inputs(survey, view), sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def solve(survey: Survey, view: View) -> tuple[Calibration, list[str]]:
    """Calibrate a view from its marks; also what was assumed or left out on the way."""
    projection, scale_sigma, notes = projection_of(view)
    per_rad = getattr(projection, "px_per_rad", 0.0)
    sights, ids, left_out = sights_of(survey, view, declination_of(survey, view))
    found = estimate(projection, prior_of(survey, view, scale_sigma, per_rad), sights)
    return _calibration_of(found, ids, projection, digest_of(survey, view)), notes + left_out


def _calibration_of(
    found: PoseEstimate, ids: list[str], projection: projections.Projection, digest: str
) -> Calibration:
    lens = projection if isinstance(projection, projections.Rectilinear) else None
    residuals = np.degrees(np.stack([found.azimuth_residual, found.elevation_residual], axis=1))
    return Calibration(
        yaw_deg=float(np.degrees(found.yaw)),
        pitch_deg=float(np.degrees(found.pitch)),
        roll_deg=float(np.degrees(found.roll)),
        scale=found.scale,
        level_row_px=found.level_row_px,
        k1=lens.k1 if lens else None,
        k2=lens.k2 if lens else None,
        parameters=list(found.parameters),
        covariance=found.covariance.tolist(),
        solved=list(found.solved),
        held=list(found.held),
        residuals=[
            Residual(
                mark=mark,
                azimuth_residual_deg=None if np.isnan(azimuth) else float(azimuth),
                elevation_residual_deg=None if np.isnan(elevation) else float(elevation),
            )
            for mark, (azimuth, elevation) in zip(ids, residuals, strict=True)
        ],
        digest=digest,
    )


def camera_of(survey: Survey, view: View) -> ViewCamera:
    """The view's camera: its stored calibration where that is fresh, else solved anew.

    A calibration without a digest was written by another program and is taken as it is.
    """
    projection, _, notes = projection_of(view)
    stored = view.calibration
    if stored is None or (stored.digest and stored.digest != digest_of(survey, view)):
        why = "is not calibrated" if stored is None else "changed since its calibration"
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
    vector = [np.radians(stored.yaw_deg), np.radians(stored.pitch_deg)]
    vector += [np.radians(stored.roll_deg), np.log(stored.scale)]
    if isinstance(projection, projections.Cylindrical):
        row = stored.level_row_px
        vector.append(projection.centre_px[1] if row is None else row)
    covariance = _covariance_of(stored, len(vector))
    full = isinstance(projection, projections.Equirectangular) and bool(
        np.isclose(projection.right - projection.left, 2.0 * np.pi, atol=1e-6)
    )
    picture = PosedPicture(projection, np.array(vector), covariance)
    return ViewCamera(view, picture, full, tuple(notes))


def _covariance_of(stored: Calibration, size: int) -> Array:
    """The stored covariance in the order of ``NAMES``; parameters it lacks are taken as exact."""
    full = np.zeros((size, size))
    index = [NAMES.index(name) for name in stored.parameters if name in NAMES[:size]]
    given = np.array(stored.covariance, float)
    if given.shape == (len(stored.parameters), len(stored.parameters)) and len(index) == len(given):
        full[np.ix_(index, index)] = given
    return full
