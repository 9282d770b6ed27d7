"""What one picture tells of a thing's place: its sides and its top, with their covariance.

Pixels of an outline come in, azimuths and elevations in radians go out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.calibrate.spread import PosedPicture

BORDER_SHARE = 0.004
"""A side nearer to the picture's border than this share of its width is taken as cut off."""


@dataclass(frozen=True)
class Sighting:
    """One thing in one picture."""

    angles: Array
    """Azimuth of its left and its right side, elevation of its top. (3,) [rad]"""
    covariance: Array
    """Of these. (3, 3) [rad^2]"""
    used: NDArray[np.bool_]
    """False for what the picture's border cuts off. (3,)"""
    points: Array
    """Azimuth and elevation of these three points of the outline. (3, 2) [rad]"""


def sighting_of(
    picture: PosedPicture,
    rings_px: list[Array],
    sigma_px: float,
    blur: float,
    size_px: tuple[int, int],
    full_circle: bool = False,
) -> Sighting:
    """Sides and top of a thing outlined by the vertices of ``rings_px``, each (N, 2).

    ``sigma_px`` is one sigma of a vertex, ``blur`` that of an edge as a share of the width: where
    a crown ends is a matter of opinion. The pose's covariance is shared by the three angles.
    ``size_px`` is the picture's width and height; a full circle has no left and right border.

    >>> from skyview.camera.projections import Equirectangular
    >>> turn = Equirectangular((3600.0, 900.0), -np.pi, np.pi, np.pi / 3, -np.pi / 6)
    >>> picture = PosedPicture(turn, np.zeros(4), np.zeros((4, 4)))
    >>> ring = np.array([[1900.0, 600.0], [2000.0, 600.0], [1950.0, 500.0]])
    >>> seen = sighting_of(picture, [ring], 2.0, 0.0, (3600, 900))
    >>> np.degrees(seen.angles).round(3).tolist()
    [10.0, 20.0, 10.0]
    >>> np.degrees(np.sqrt(np.diag(seen.covariance))).round(3).tolist()
    [0.2, 0.2, 0.2]
    """
    pixels = np.concatenate(rings_px)
    azimuth, elevation = picture.camera.directions(pixels[:, 0], pixels[:, 1])
    azimuth = np.unwrap(azimuth)
    corners = np.array([np.argmin(azimuth), np.argmax(azimuth), np.argmax(elevation)])
    at = pixels[corners]
    by_azimuth, by_elevation = picture.direction_slopes(at[:, 0], at[:, 1])
    slope = np.stack([by_azimuth[0], by_azimuth[1], by_elevation[2]])
    width, height = size_px
    across, up = _angle_of_a_pixel(picture, at)
    drawn = np.array([across[0], across[1], up[2]]) * sigma_px
    angles = np.array([azimuth[corners[0]], azimuth[corners[1]], elevation[corners[2]]])
    edge = blur * (angles[1] - angles[0])
    near = BORDER_SHARE * width
    inside = full_circle | ((at[:2, 0] > near) & (at[:2, 0] < width - near))
    return Sighting(
        angles=angles,
        covariance=slope @ picture.covariance @ slope.T + np.diag(drawn**2 + edge**2),
        used=np.append(inside, at[2, 1] > BORDER_SHARE * height),
        points=np.stack([azimuth[corners], elevation[corners]], axis=1),
    )


def _angle_of_a_pixel(picture: PosedPicture, pixels: Array) -> tuple[Array, Array]:
    """Azimuth and elevation moved through by one sigma of a pixel each way. [rad/px]"""
    x, y = pixels.T
    here = np.stack(picture.camera.directions(x, y))
    right = np.stack(picture.camera.directions(x + 0.5, y)) - here
    down = np.stack(picture.camera.directions(x, y + 0.5)) - here
    move = np.remainder(np.stack([right, down]) + np.pi, 2.0 * np.pi) - np.pi
    size = np.nan_to_num(np.hypot(move[0], move[1])) / 0.5
    return size[0], size[1]
