"""Least squares for yaw, pitch, roll, scale and the level row of one picture.

Every unknown has a prior, so that the answer exists from the first mark on: what the marks do
not carry stays at its prior, and its prior sigma shows in the covariance. The site's own
position error moves all landmarks together and is estimated along as two nuisance unknowns.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from skyview.angles import Array, azimuth_elevation_of
from skyview.camera.pose import Camera
from skyview.camera.projections import Cylindrical, Projection

SOLVED_SHARE = 0.5
"""A parameter counts as solved when its sigma falls below this share of its prior sigma; the yaw
as soon as one azimuth is known."""

NAMES = ("yaw", "pitch", "roll", "log_scale", "level_row_px")
"""The parameters in the covariance's order; the last only for a cylindrical picture."""


@dataclass(frozen=True)
class Sights:
    """Marks as numbers, arrays of one length N. Angles in radians, NaN where unknown."""

    x_px: Array
    """Pixel column of each mark."""
    y_px: Array
    """Pixel row of each mark."""
    sigma_px: Array
    """One sigma of the click. [px]"""
    azimuth: Array
    """True azimuth of what was marked."""
    elevation: Array
    """Its optical elevation, NaN where its height is unknown."""
    azimuth_sigma: Array
    """One sigma of the azimuth from the thing's own position or bearing."""
    elevation_sigma: Array
    """One sigma of the elevation likewise."""
    distance_m: Array
    """Horizontal distance, inf for a bearing: tells how the site's error turns it."""

    def __len__(self) -> int:
        return int(self.x_px.size)


@dataclass(frozen=True)
class PosePrior:
    """What is believed before any mark. Radians; sigmas are one sigma."""

    yaw: float | None
    """Azimuth of the axis, None where no compass told it."""
    yaw_sigma: float
    pitch: float
    pitch_sigma: float
    roll: float
    roll_sigma: float
    scale_sigma: float
    """Relative sigma of the pixels per radian."""
    level_row_sigma_px: float
    """Sigma of a cylinder's level row. [px]"""
    site_sigma_m: float
    """Sigma of the site's position in each of east and north. [m]"""


@dataclass(frozen=True)
class PoseEstimate:
    """The pose and how well it is known."""

    yaw: float
    """Azimuth of the axis in [0, 2 pi)."""
    pitch: float
    roll: float
    scale: float
    """Multiplies the projection's pixels per radian."""
    level_row_px: float | None
    """Row of a cylinder's level plane, else None."""
    parameters: tuple[str, ...]
    """Names of the covariance's rows."""
    covariance: Array
    """(P, P) in the parameters' units: radians, natural log of scale, pixels."""
    solved: tuple[str, ...]
    """Parameters that the marks carry."""
    held: tuple[str, ...]
    """Parameters that stay at their prior for want of marks."""
    azimuth_residual: Array
    """Measured less true azimuth of each sight, NaN where none was known. (N,)"""
    elevation_residual: Array
    """The same in elevation. (N,)"""


def camera_at(projection: Projection, vector: Array) -> Camera:
    """The camera that a parameter vector (in the order of ``NAMES``) describes."""
    scaled = projection.scaled(float(np.exp(vector[3])))
    if isinstance(scaled, Cylindrical):
        scaled = Cylindrical(scaled.px_per_rad, (scaled.centre_px[0], float(vector[4])))
    return Camera(scaled, float(vector[0]), float(vector[1]), float(vector[2]))


def estimate(projection: Projection, prior: PosePrior, sights: Sights) -> PoseEstimate:
    """The most probable pose of a picture, Gaussian priors and errors.

    Minimises the sum of squared standardised residuals of azimuth and of elevation, and of the
    departures from the prior (maximum a posteriori); the covariance is the inverse of the normal
    matrix at the minimum (Gauss-Newton). Without any azimuth known and without a compass the yaw
    stays 0 with its prior sigma.

    >>> from skyview.camera.projections import Rectilinear
    >>> prior = PosePrior(None, 3.2, 0.0, 0.03, 0.0, 0.03, 0.04, 1.0, 0.0)
    >>> one = Sights(*(np.array([v]) for v in (500.0, 400.0, 1.0, 2.0, 0.1, 1e-4, 1e-4, 1e3)))
    >>> found = estimate(Rectilinear(1000.0, (500.0, 400.0)), prior, one)
    >>> round(found.yaw, 4), found.solved, found.held
    (2.0, ('yaw', 'pitch'), ('roll', 'log_scale'))
    """
    start, sigma = _prior_vectors(projection, prior, sights)
    weights = _weights(projection, start, sights)

    def residuals(unknowns: Array) -> Array:
        azimuth, elevation = _misfit(projection, unknowns, sights)
        return np.concatenate(
            [
                (azimuth * weights[0])[weights[0] > 0],
                (elevation * weights[1])[weights[1] > 0],
                (unknowns - start) / sigma,
            ]
        )

    # The first guess of an unknown compass comes from the sights themselves.
    first = start.copy()
    if prior.yaw is None:
        first[0] = start[0] = _first_yaw(projection, start, sights)
    result = least_squares(residuals, first, x_scale=sigma, xtol=1e-12, ftol=1e-12, gtol=1e-12)
    covariance = np.linalg.inv(result.jac.T @ result.jac)
    return _estimate_of(projection, result.x, covariance, sigma, sights)


def _prior_vectors(projection: Projection, prior: PosePrior, sights: Sights) -> tuple[Array, Array]:
    """Prior mean and sigma of the pose parameters and the two nuisance unknowns."""
    mean = [prior.yaw or 0.0, prior.pitch, prior.roll, 0.0]
    sigma = [prior.yaw_sigma, prior.pitch_sigma, prior.roll_sigma, prior.scale_sigma]
    if isinstance(projection, Cylindrical):
        mean.append(projection.centre_px[1])
        sigma.append(prior.level_row_sigma_px)
    mean += [0.0, 0.0]
    sigma += [max(prior.site_sigma_m, 1e-3)] * 2
    return np.array(mean), np.array(sigma)


def _first_yaw(projection: Projection, start: Array, sights: Sights) -> float:
    azimuth, _ = camera_at(projection, start).directions(sights.x_px, sights.y_px)
    turn = (sights.azimuth - azimuth)[np.isfinite(sights.azimuth - azimuth)]
    return float(np.angle(np.exp(1j * turn).mean())) if turn.size else 0.0


def _misfit(projection: Projection, unknowns: Array, sights: Sights) -> tuple[Array, Array]:
    """Measured less true azimuth and elevation, the site moved by the nuisance unknowns."""
    azimuth, elevation = camera_at(projection, unknowns[:-2]).directions(sights.x_px, sights.y_px)
    per_metre = 1.0 / sights.distance_m
    east = np.sin(sights.azimuth) - unknowns[-2] * per_metre
    north = np.cos(sights.azimuth) - unknowns[-1] * per_metre
    true_azimuth, true_elevation = azimuth_elevation_of(
        np.stack([east, north, np.tan(sights.elevation)], axis=-1)
    )
    # A level line has an elevation and no azimuth: the site's shift does not touch it.
    true_elevation = np.where(np.isnan(sights.azimuth), sights.elevation, true_elevation)
    turn = np.remainder(azimuth - true_azimuth + np.pi, 2.0 * np.pi) - np.pi
    return turn, elevation - true_elevation


def _weights(projection: Projection, start: Array, sights: Sights) -> tuple[Array, Array]:
    """One over sigma of each azimuth and elevation; 0 where unknown or outside the picture."""
    rays = projection.rays(sights.x_px, sights.y_px)
    across = np.linalg.norm(projection.rays(sights.x_px + 0.5, sights.y_px) - rays, axis=-1) * 2
    along = np.linalg.norm(projection.rays(sights.x_px, sights.y_px + 0.5) - rays, axis=-1) * 2
    # A click turns the ray by an angle across it; its azimuth turns by more, the higher it looks.
    measured = camera_at(projection, start[:-2]).directions(sights.x_px, sights.y_px)[1]
    azimuth_sigma = np.hypot(sights.sigma_px * across / np.cos(measured), sights.azimuth_sigma)
    elevation_sigma = np.hypot(sights.sigma_px * along, sights.elevation_sigma)
    with np.errstate(invalid="ignore", divide="ignore"):
        w_azimuth = np.where(np.isfinite(sights.azimuth), 1.0 / azimuth_sigma, 0.0)
        w_elevation = np.where(np.isfinite(sights.elevation), 1.0 / elevation_sigma, 0.0)
    return np.nan_to_num(w_azimuth), np.nan_to_num(w_elevation)


def _estimate_of(
    projection: Projection, unknowns: Array, covariance: Array, sigma: Array, sights: Sights
) -> PoseEstimate:
    pose, pose_covariance = unknowns[:-2], covariance[:-2, :-2]
    names = NAMES[: pose.size]
    found = np.sqrt(np.diag(pose_covariance)) < SOLVED_SHARE * sigma[:-2]
    found[0] |= bool(np.any(np.isfinite(sights.azimuth)))
    azimuth, elevation = _misfit(projection, unknowns, sights)
    return PoseEstimate(
        yaw=float(np.mod(pose[0], 2.0 * np.pi)),
        pitch=float(pose[1]),
        roll=float(pose[2]),
        scale=float(np.exp(pose[3])),
        level_row_px=float(pose[4]) if pose.size == 5 else None,
        parameters=names,
        covariance=pose_covariance,
        solved=tuple(n for n, yes in zip(names, found, strict=True) if yes),
        held=tuple(n for n, yes in zip(names, found, strict=True) if not yes),
        azimuth_residual=azimuth,
        elevation_residual=elevation,
    )
