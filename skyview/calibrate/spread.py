"""How far a direction read off a picture may be wrong, from the pose's covariance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from skyview.angles import Array
from skyview.calibrate.slopes import base_names, camera_at, directions_and_slopes
from skyview.camera.pose import Camera
from skyview.camera.projections import Projection


@dataclass(frozen=True)
class PosedPicture:
    """A projection with its pose vector and covariance, in the order of ``names``.

    ``camera`` turns pixels into directions; ``direction_sigma`` tells how well. Without names the
    order is that of ``calibrate.slopes.NAMES``.
    """

    projection: Projection
    vector: Array
    covariance: Array
    names: tuple[str, ...] | None = None
    own_azimuth_sigma: float = 0.0
    """One sigma of azimuth that differs from place to place, so that no pose mends it. [rad]"""

    @property
    def camera(self) -> Camera:
        """The camera at the pose."""
        return camera_at(self.projection, self.vector, self.names)

    def direction_slopes(self, x_px: ArrayLike, y_px: ArrayLike) -> tuple[Array, Array]:
        """Slopes of azimuth and of elevation at pixels by each parameter: both (..., n)."""
        x, y = np.broadcast_arrays(np.asarray(x_px, float), np.asarray(y_px, float))
        names = self.names or base_names(self.projection)
        ray, slope, _ = directions_and_slopes(
            self.projection, self.vector, names, x.ravel(), y.ravel()
        )
        east, north, _ = ray.T
        with np.errstate(invalid="ignore", divide="ignore"):
            level2 = east * east + north * north
            azimuth = np.einsum(
                "pk,pkn->pn", np.stack([north, -east, 0.0 * east], axis=1) / level2[:, None], slope
            )
            elevation = slope[:, 2] / np.sqrt(level2)[:, None]
        shape = (*x.shape, len(names))
        return azimuth.reshape(shape), elevation.reshape(shape)

    def direction_sigma(self, x_px: ArrayLike, y_px: ArrayLike) -> tuple[Array, Array]:
        """One sigma of azimuth and of elevation at pixels. [rad]

        First order: J C J^T, and azimuth's own sigma. NaN where the projection shows nothing.
        """
        slopes = np.stack(self.direction_slopes(x_px, y_px))
        variance = np.einsum("...i,ij,...j->...", slopes, self.covariance, slopes)
        azimuth_sigma, elevation_sigma = np.sqrt(np.maximum(variance, 0.0))
        return np.hypot(azimuth_sigma, self.own_azimuth_sigma), elevation_sigma
