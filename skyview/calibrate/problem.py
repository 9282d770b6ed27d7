"""All marks of some pictures as one system of residuals with their slopes and covariance.

Unknowns: every picture's parameters, then the site's shift (east, north) and every camera's
(east, north, up), which move all near landmarks together. Residuals: azimuth and elevation of
sights, lean of plumb lines, azimuth of shadows, and two for a tie. What a landmark's own place
adds is in the residuals' covariance, shared by all marks of its group.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from skyview.angles import Array
from skyview.calibrate.marks import Picture, PosePrior, Ties, no_ties
from skyview.calibrate.rows import (
    LEAST_DROP,
    Ints,
    azimuth_of,
    elevation_of,
    line_misfit,
    wrapped,
)
from skyview.calibrate.slopes import STRETCH, base_names, directions_and_slopes
from skyview.camera.projections import Cylindrical, Equirectangular, Projection, Rectilinear
from skyview.camera.sweep import FIRST_ORDER, Swept

TIE_NEARNESS_PER_M = (0.0215, 0.033)
"""Mean and root mean square of one over a tied thing's distance, which is taken for log-uniform
from 10 m to 1 km; the larger serves as its sigma, since that spread has a long tail. [1/m]"""

_NUISANCE_FLOOR_M = 1e-3


def names_of(projection: Projection, prior: PosePrior) -> tuple[str, ...]:
    """The parameters that a picture has, by its projection and what its prior lets go."""
    names = list(base_names(projection))
    if isinstance(projection, Rectilinear) and prior.k1_sigma > 0.0:
        names.append("k1")
    if isinstance(projection, Swept | Equirectangular) and prior.aspect_sigma > 0.0:
        names.append("log_aspect")
    if isinstance(projection, Swept):
        count = len(prior.stretch_sigma)
        names += [f"{STRETCH}{order}" for order in range(FIRST_ORDER, FIRST_ORDER + count)]
    return tuple(names)


def prior_vectors(projection: Projection, prior: PosePrior) -> tuple[Array, Array]:
    """Mean and sigma of a picture's parameters before any mark."""
    row = projection.centre_px[1] if isinstance(projection, Cylindrical) else 0.0
    k1 = projection.k1 if isinstance(projection, Rectilinear) else 0.0
    beliefs = {
        "yaw": (prior.yaw or 0.0, prior.yaw_sigma),
        "pitch": (prior.pitch, prior.pitch_sigma),
        "roll": (prior.roll, prior.roll_sigma),
        "log_scale": (0.0, prior.scale_sigma),
        "level_row_px": (row, prior.level_row_sigma_px),
        "k1": (k1, prior.k1_sigma),
        "log_aspect": (0.0, prior.aspect_sigma),
    }
    for index, sigma in enumerate(prior.stretch_sigma):
        beliefs[f"{STRETCH}{FIRST_ORDER + index}"] = (0.0, sigma)
    mean, spread = zip(*(beliefs[name] for name in names_of(projection, prior)), strict=True)
    return np.array(mean), np.array(spread)


@dataclass(frozen=True)
class Linear:
    """The system at one guess: residuals (R,), slopes (R, n), covariance (R, R)."""

    residual: Array
    slope: Array
    covariance: Array


class Problem:
    """Pictures and ties, laid out once as arrays; ``linear`` evaluates them at a guess."""

    def __init__(self, pictures: Sequence[Picture], ties: Ties | None = None) -> None:
        self.pictures = list(pictures)
        self.names = [names_of(p.projection, p.prior) for p in self.pictures]
        sizes = [len(names) for names in self.names]
        ends = np.cumsum([0, *sizes])
        self.parts = [slice(a, b) for a, b in pairwise(ends)]
        self.pose_size = int(ends[-1])
        self.size = self.pose_size + 2 + 3 * len(self.pictures)
        self.mean, self.sigma = self._beliefs()
        self._lay_out(ties if ties is not None else no_ties())

    def _beliefs(self) -> tuple[Array, Array]:
        pairs = [prior_vectors(p.projection, p.prior) for p in self.pictures]
        site = max(p.prior.site_sigma_m for p in self.pictures)
        places = [[p.prior.camera_sigma_m] * 3 for p in self.pictures]
        shifts = np.maximum(np.concatenate([[site] * 2, *places]), _NUISANCE_FLOOR_M)
        mean = np.concatenate([*(m for m, _ in pairs), np.zeros(shifts.size)])
        return mean, np.concatenate([*(s for _, s in pairs), shifts])

    def _lay_out(self, ties: Ties) -> None:
        """Tables of points and of rows; rows whose pixel shows nothing are left out."""
        points: list[Array] = []
        self.sight_point: list[Ints] = []
        self.line_point: list[Ints] = []
        count = 0
        for index, picture in enumerate(self.pictures):
            s, k = picture.sights, picture.lines
            points.append(np.stack([np.full(len(s), index), s.x_px, s.y_px, s.sigma_px], axis=1))
            self.sight_point.append(count + np.arange(len(s)))
            count += len(s)
            sigma = np.repeat(k.sigma_px, 2)
            columns = [np.full(sigma.size, index), k.x_px.ravel(), k.y_px.ravel(), sigma]
            points.append(np.stack(columns, axis=1))
            self.line_point.append(count + np.arange(sigma.size).reshape(-1, 2))
            count += sigma.size
        tied = [ties.picture, ties.x_px, ties.y_px, ties.sigma_px]
        points.append(np.stack([np.ravel(column) for column in tied], axis=1))
        self.tie_point = count + np.arange(2 * len(ties)).reshape(-1, 2)
        table = np.concatenate(points).reshape(-1, 4)
        self.point_picture, self.point_sigma = table[:, 0].astype(int), table[:, 3]
        self.point_xy = table[:, 1:3]
        self.ties = ties
        self._rows()

    def _rows(self) -> None:
        rays, _, _ = self._rays(self.mean)
        seen = np.asarray(np.isfinite(rays).all(axis=-1))
        sights = [p.sights for p in self.pictures]

        def joined(name: str) -> Array:
            return np.concatenate([getattr(s, name) for s in sights])

        azimuth, elevation = joined("azimuth"), joined("elevation")
        point = np.concatenate(self.sight_point).astype(int)
        group = self._groups(azimuth.size)
        self.target = np.stack([azimuth, elevation, 1.0 / joined("distance_m")], axis=1)
        self.az = np.flatnonzero(np.isfinite(azimuth) & seen[point])
        self.el = np.flatnonzero(np.isfinite(elevation) & seen[point])
        self.sight_at, self.sight_picture = point, self.point_picture[point]
        lines = [p.lines for p in self.pictures]
        ends = np.concatenate(self.line_point).astype(int).reshape(-1, 2)
        aim = np.concatenate([k.azimuth for k in lines])
        low = rays[ends][:, :, 2] < -LEAST_DROP
        good = seen[ends].all(axis=1) & (np.isnan(aim) | low.all(axis=1))
        self.line, self.line_ends, self.line_aim = np.flatnonzero(good), ends[good], aim[good]
        tie = np.flatnonzero(seen[self.tie_point].all(axis=1))
        self.tie = tie
        self._tie_frame(rays)
        line_sigma = np.concatenate([k.sigma for k in lines])[good]
        place = self.ties.baseline_sigma_m[tie] * TIE_NEARNESS_PER_M[1]
        self.own = np.concatenate(
            [
                joined("azimuth_noise")[self.az],
                joined("elevation_noise")[self.el],
                line_sigma,
                place,
                np.hypot(place, self.tie_parallax * TIE_NEARNESS_PER_M[1]),
            ]
        )
        last = int(group.max(initial=-1)) + 1
        line_block = last + np.arange(good.sum())
        tie_block = last + line_block.size + np.arange(tie.size)
        blocks = [group[self.az], group[self.el], line_block, tie_block, tie_block]
        _, self.block = np.unique(np.concatenate(blocks), return_inverse=True)
        self.blocks = int(self.block.max(initial=-1)) + 1
        # Each group is wrong by one azimuth and one elevation, scaled by each sight's own sigma.
        shared = np.zeros((self.own.size, 2 * last))
        rows = np.arange(self.az.size + self.el.size)
        column = np.concatenate([2 * group[self.az], 2 * group[self.el] + 1])
        spread = [joined("azimuth_sigma")[self.az], joined("elevation_sigma")[self.el]]
        shared[rows, column] = np.concatenate(spread)
        self.shared = shared @ shared.T + np.diag(np.maximum(self.own, 1e-9) ** 2)

    def _groups(self, count: int) -> Ints:
        """One number a sight, the same for sights that share their error."""
        labels: list[tuple[str, int]] = []
        for index, picture in enumerate(self.pictures):
            for place, number in enumerate(picture.sights.group.tolist()):
                labels.append((f"own{index}", place) if number < 0 else ("group", number))
        order = {label: number for number, label in enumerate(dict.fromkeys(labels))}
        return np.array([order[label] for label in labels], dtype=np.int64).reshape(count)

    def _tie_frame(self, rays: Array) -> None:
        """Across and along the parallax of each tie, and its length square to the sight."""
        first = rays[self.tie_point[self.tie, 0]]
        base = self.ties.baseline_m[self.tie]
        beside = base - first * np.sum(first * base, axis=1, keepdims=True)
        self.tie_parallax = np.sqrt(np.sum(beside * beside, axis=1))
        near = self.tie_parallax < 1e-3
        level = np.stack([first[:, 1], -first[:, 0], np.zeros(len(first))], axis=1)
        beside[near] = level[near]
        self.tie_along = beside / np.sqrt(np.sum(beside * beside, axis=1, keepdims=True))
        self.tie_across = np.cross(first, self.tie_along)

    def _rays(self, x: Array) -> tuple[Array, Array, Array]:
        """Rays of all points and their slopes by all pose parameters and by pixel."""
        count = len(self.point_xy)
        rays, pixel = np.empty((count, 3)), np.empty((count, 3, 2))
        slope = np.zeros((count, 3, self.pose_size))
        for index, (picture, part) in enumerate(zip(self.pictures, self.parts, strict=True)):
            own = self.point_picture == index
            if own.any():
                rays[own], slope[own, :, part], pixel[own] = directions_and_slopes(
                    picture.projection, x[part], self.names[index], *self.point_xy[own].T
                )
        return rays, slope, pixel

    def camera_yaw_turns(self, x: Array) -> Array:
        """How far each sight with an azimuth would turn the picture, and its picture. (A, 2)"""
        rays, _, _ = self._rays(x)
        at = rays[self.sight_at[self.az]]
        turn = self.target[self.az, 0] - np.arctan2(at[:, 0], at[:, 1])
        return np.stack([wrapped(turn), self.sight_picture[self.az]], axis=1)

    def linear(self, x: Array) -> Linear:
        """Residuals, slopes and covariance at a guess."""
        rays, slope, pixel = self._rays(x)
        first, second, pulls = [], [], []
        residuals, nuisance = [], []
        for az in (True, False):
            index = self.az if az else self.el
            value, pull = (
                azimuth_of(rays, self.sight_at[index])
                if az
                else elevation_of(rays, self.sight_at[index])
            )
            aim, by_shift = self._aims(x, index, az)
            residuals.append(wrapped(value - aim) if az else value - aim)
            nuisance.append(-by_shift)
            first.append(self.sight_at[index])
            second.append(self.sight_at[index])
            pulls.append((pull, np.zeros_like(pull)))
        value, ahead, behind = line_misfit(rays, self.line_ends, self.line_aim)
        residuals.append(value)
        first.append(self.line_ends[:, 0])
        second.append(self.line_ends[:, 1])
        pulls.append((ahead, behind))
        ends = self.tie_point[self.tie]
        apart = rays[ends[:, 1]] - rays[ends[:, 0]]
        for axis, shift in ((self.tie_across, 0.0), (self.tie_along, TIE_NEARNESS_PER_M[0])):
            residuals.append(np.sum(apart * axis, axis=1) + shift * self.tie_parallax)
            first.append(ends[:, 0])
            second.append(ends[:, 1])
            pulls.append((-axis, axis))
        i, j = np.concatenate(first).astype(int), np.concatenate(second).astype(int)
        pull_i, pull_j = (np.concatenate([p[side] for p in pulls]) for side in (0, 1))
        by_pose = np.einsum("rk,rkn->rn", pull_i, slope[i]) + np.einsum(
            "rk,rkn->rn", pull_j, slope[j]
        )
        by_click = np.zeros((i.size, len(rays), 2))
        rows = np.arange(i.size)
        sigma = self.point_sigma[:, None]
        by_click[rows, i] = np.einsum("rk,rkn->rn", pull_i, pixel[i]) * sigma[i]
        by_click[rows, j] += np.einsum("rk,rkn->rn", pull_j, pixel[j]) * sigma[j]
        clicks = np.nan_to_num(by_click.reshape(i.size, 2 * len(rays)))
        jacobian = np.zeros((i.size, self.size))
        jacobian[:, : self.pose_size] = by_pose
        shifts = np.concatenate(nuisance)
        jacobian[: len(shifts), self.pose_size :] = shifts
        return Linear(
            np.nan_to_num(np.concatenate(residuals)),
            np.nan_to_num(jacobian),
            clicks @ clicks.T + self.shared,
        )

    def _aims(self, x: Array, index: Ints, want_azimuth: bool) -> tuple[Array, Array]:
        """Where sights' things stand seen from the shifted camera, and slopes by the shifts."""
        azimuth, elevation, per_m = self.target[index].T
        known = np.isfinite(azimuth)
        azimuth = np.where(known, azimuth, 0.0)
        per_m = np.where(known, per_m, 0.0)
        picture = self.sight_picture[index]
        site = x[self.pose_size : self.pose_size + 2]
        places = x[self.pose_size + 2 :].reshape(-1, 3)[picture]
        e = np.sin(azimuth) - (site[0] + places[:, 0]) * per_m
        n = np.cos(azimuth) - (site[1] + places[:, 1]) * per_m
        u = np.tan(np.nan_to_num(elevation)) - places[:, 2] * per_m
        level2 = e * e + n * n
        slopes = np.zeros((index.size, self.size - self.pose_size))
        if want_azimuth:
            by_e, by_n, by_u = -n / level2 * per_m, e / level2 * per_m, np.zeros_like(e)
            value = np.arctan2(e, n)
        else:
            level = np.sqrt(level2)
            whole = level2 + u * u
            by_e, by_n = u * e / level / whole * per_m, u * n / level / whole * per_m
            by_u = -level / whole * per_m
            value = np.where(known, np.arctan2(u, level), elevation)
        slopes[:, 0], slopes[:, 1] = by_e, by_n
        rows, own = np.arange(index.size), 2 + 3 * picture
        slopes[rows, own], slopes[rows, own + 1], slopes[rows, own + 2] = by_e, by_n, by_u
        return value, slopes
