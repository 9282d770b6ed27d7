"""How far a direction read off a picture may be wrong, from the pose's covariance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from skyview.angles import Array
from skyview.calibrate.estimate import camera_at
from skyview.camera.pose import Camera
from skyview.camera.projections import Projection

_STEPS = np.array([1e-6, 1e-6, 1e-6, 1e-6, 1e-3])


@dataclass(frozen=True)
class PosedPicture:
    """A projection with its pose vector (order of ``calibrate.estimate.NAMES``) and covariance.

    ``camera`` turns pixels into directions; ``direction_sigma`` tells how well.
    """

    projection: Projection
    vector: Array
    covariance: Array

    @property
    def camera(self) -> Camera:
        """The camera at the pose."""
        return camera_at(self.projection, self.vector)

    def direction_sigma(self, x_px: ArrayLike, y_px: ArrayLike) -> tuple[Array, Array]:
        """One sigma of azimuth and of elevation at pixels. [rad]

        First order: J C J^T with the derivatives of azimuth and elevation by central
        differences. NaN where the projection shows nothing.
        """
        x, y = np.broadcast_arrays(np.asarray(x_px, float), np.asarray(y_px, float))
        columns = []
        for index in range(self.vector.size):
            step = np.zeros(self.vector.size)
            step[index] = _STEPS[index]
            up = camera_at(self.projection, self.vector + step).directions(x, y)
            down = camera_at(self.projection, self.vector - step).directions(x, y)
            turn = np.remainder(up[0] - down[0] + np.pi, 2.0 * np.pi) - np.pi
            columns.append(np.stack([turn, up[1] - down[1]]) / (2.0 * _STEPS[index]))
        slopes = np.stack(columns, axis=-1)
        variance = np.einsum("...i,ij,...j->...", slopes, self.covariance, slopes)
        azimuth_sigma, elevation_sigma = np.sqrt(np.maximum(variance, 0.0))
        return azimuth_sigma, elevation_sigma
