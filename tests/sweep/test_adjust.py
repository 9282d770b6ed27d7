"""Frames turned together: a turn whose ends just meet closes although the focal length is off."""

from __future__ import annotations

import numpy as np

from skyview.angles import Array
from skyview.camera.projections import Rectilinear
from skyview.sweep.adjust import Cameras, LensPrior, Points, adjust
from skyview.sweep.rays import turned
from skyview.sweep.register import HELD

FOCAL_PX, SIZE = 900.0, (1200.0, 900.0)


def _axes(yaw_deg: Array) -> Array:
    """Rows right, down, ahead of level frames, turned about the upright."""
    level = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    turn = turned(np.stack([0.0 * yaw_deg, 0.0 * yaw_deg, -np.radians(yaw_deg)], axis=1))
    return level @ turn


def _shared(axes: Array, first: int, second: int, rng: np.random.Generator) -> Points:
    """Sixty points that both frames see, a third of a pixel off in each."""
    lens = Rectilinear(FOCAL_PX, (0.0, 0.0))
    xy = (rng.random((4000, 2)) - 0.5) * SIZE
    rays = lens.rays(*xy.T) @ axes[first] @ axes[second].T
    other = np.stack(lens.pixels(rays), axis=1)
    with np.errstate(invalid="ignore"):
        seen = np.flatnonzero(np.all(np.abs(other) < np.array(SIZE) / 2.0, axis=1))[:60]
    noise = rng.normal(0.0, 0.3, (2, len(seen), 2))
    count = len(seen)
    return Points(
        np.full(count, first),
        np.full(count, second),
        xy[seen] + noise[0],
        other[seen] + noise[1],
        np.full(count, 1.0),
    )


def test_a_turn_that_just_closes_does_so_with_a_focal_length_three_per_cent_off():
    rng = np.random.default_rng(4)
    yaw = np.linspace(0.0, 300.0, 9)
    axes = _axes(yaw)
    parts = [_shared(axes, i, i + 1, rng) for i in range(8)] + [_shared(axes, 0, 8, rng)]
    assert min(len(p) for p in parts) > 20
    names = ("first", "second", "xy_first", "xy_second", "sigma_px")
    points = Points(*(np.concatenate([getattr(p, n) for p in parts]) for n in names))
    wrong = 0.97 * FOCAL_PX
    # Every step comes out 3 % too large, so that the ends are 9 deg off.
    start = Cameras(_axes(1.03 * yaw), np.zeros(9, np.int64), np.array([wrong]), np.zeros(1))
    off = []
    for sigma in (HELD, 0.04):
        found = adjust(points, start, LensPrior(np.array([wrong]), np.array([sigma])))
        ahead = found.cameras.axes[:, 2] @ found.cameras.axes[0].T
        turned_deg = np.degrees(np.arctan2(ahead[:, 0], ahead[:, 2]))
        off.append(np.abs((turned_deg - yaw + 180.0) % 360.0 - 180.0).max())
    assert abs(found.cameras.focal[0] / FOCAL_PX - 1.0) < 0.001
    # Held where it was the ends stay apart.
    assert off[1] < 0.05 < 1.0 < off[0]
