"""What is known of a view before any mark: its projection and its priors.

What a view's projection leaves out is filled with the common case and a wide sigma; what was
filled is said in the notes.
"""

from __future__ import annotations

import numpy as np

from skyview.calibrate.marks import PosePrior
from skyview.camera import projections
from skyview.camera.sweep import FIRST_ORDER, Swept
from skyview.errors import InputError
from skyview.photo.lens import FULL_FRAME_DIAGONAL_MM
from skyview.survey.models import Survey, View

GUESSED_SCALE_SIGMA = 0.3
"""Relative sigma of a focal length that nobody stated: common practice, no source."""

STITCHED_SCALE_SIGMA = 0.002
"""Relative sigma of the stated angles of an equirectangular picture: our own choice."""

LEVEL_ROW_SIGMA = np.radians(10.0)
"""How far a hand-swept panorama's level row may lie from where it is expected (as an angle)."""

PHONE_FOCAL_35MM = 26.0
"""Main camera of most phones, as a 35 mm equivalent: common practice, no source."""

METAL_YAW_SIGMA_DEG = 15.0
"""One sigma of a compass beside metal: common practice, no source."""

K1_SIGMA = 0.01
"""One sigma of the distortion that a telephone leaves in its pictures: our own choice."""

SWEEP_ASPECT_SIGMA = 0.015
"""Relative sigma of a hand-held sweep's columns against its rows: our own choice."""

STRETCH_SHARES = (0.010, 0.010, 0.008, 0.008, 0.006)
"""Local stretch of a hand-held sweep by shapes of order 2, 3, ..., root mean square over the
picture; with the aspect 2.4 %. No published figure found: our own choice, so that intervals hold
for waves of 2 % up to one and a half across (tests/calibrate/study_rendered.py)."""


def is_turn(angle: float) -> bool:
    """Whether a picture's width is the whole turn, so that its scale is known exactly. [rad]"""
    return bool(np.isclose(angle, 2.0 * np.pi, atol=1e-6))


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
            focal = PHONE_FOCAL_35MM / FULL_FRAME_DIAGONAL_MM * diagonal
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
        left, right, top, bottom = np.radians(np.array(edges, float)).tolist()
        if is_turn(right - left):
            sigma = 0.0
        elif "scale_sigma" not in view.prior.model_fields_set:
            sigma = STITCHED_SCALE_SIGMA
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
        per_rad = PHONE_FOCAL_35MM / FULL_FRAME_DIAGONAL_MM * height * 1.25
        sigma = max(sigma, GUESSED_SCALE_SIGMA)
        notes.append(f"view {view.id}: no scale, an upright phone of 26 mm equivalent is taken")
    # Frames that were joined lie evenly; a sweep laid down by the telephone does not.
    if view.frames:
        return projections.Cylindrical(per_rad, centre), sigma, notes
    uneven = (0.0,) * len(STRETCH_SHARES)
    return Swept(per_rad, centre, 0.0, uneven, (0.0, float(width))), sigma, notes


def prior_of(
    survey: Survey, view: View, projection: projections.Projection, scale_sigma: float
) -> PosePrior:
    """The view's priors in the engine's units; a scale sigma of 0 holds the whole geometry."""
    prior = view.prior
    known = prior.yaw_deg is not None
    yaw_sigma_deg = prior.yaw_sigma_deg
    if prior.beside_metal and "yaw_sigma_deg" not in prior.model_fields_set:
        yaw_sigma_deg = METAL_YAW_SIGMA_DEG
    tiny = 1e-9
    free = scale_sigma > 0.0
    given = view.projection
    k1_stated = given is not None and given.kind == "rectilinear" and given.k1 is not None
    swept = isinstance(projection, Swept)
    aspect = SWEEP_ASPECT_SIGMA if swept else STITCHED_SCALE_SIGMA
    if view.frames and not swept:
        # Joined frames share one scale across and up.
        aspect = min(aspect, scale_sigma)
    per_rad = getattr(projection, "px_per_rad", 0.0)
    return PosePrior(
        yaw=float(np.radians(prior.yaw_deg)) if prior.yaw_deg is not None else None,
        yaw_sigma=max(float(np.radians(yaw_sigma_deg)), tiny) if known else float(np.pi),
        pitch=float(np.radians(prior.pitch_deg)),
        pitch_sigma=max(float(np.radians(prior.pitch_sigma_deg)), tiny),
        roll=float(np.radians(prior.roll_deg)),
        roll_sigma=max(float(np.radians(prior.roll_sigma_deg)), tiny),
        scale_sigma=max(scale_sigma, tiny),
        level_row_sigma_px=LEVEL_ROW_SIGMA * per_rad,
        site_sigma_m=survey.site.position_sigma_m,
        camera_sigma_m=view.camera_sigma_m,
        k1_sigma=K1_SIGMA if free and not k1_stated else 0.0,
        aspect_sigma=aspect if free else 0.0,
        stretch_sigma=_stretch_sigmas(view.size_px[0] / per_rad) if swept and free else (),
    )


def _stretch_sigmas(span: float) -> tuple[float, ...]:
    """Sigma of each shape: its share of the span over the root mean square of its slope.

    The Legendre polynomial of order n has a mean squared slope of n (n + 1)/2 over [-1, 1].
    """
    return tuple(
        share * span / 2.0 / float(np.sqrt(order * (order + 1) / 2.0))
        for order, share in enumerate(STRETCH_SHARES, start=FIRST_ORDER)
    )
