"""The loss of everything marked near the paths, drawn again and again within what is known.

Each thing's own loss follows every draw of calibration, outline, distance and foliage; what things
in a row cost together is the exact joint loss, changed by what the draw changes of each. Arrays
run over draws (D), antenna positions (A), stations (S).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array, unit_from_azimuth_elevation
from skyview.constants import wavelength_m
from skyview.survey.arrivals import Arrivals
from skyview.survey.budget.alone import Complexes, Moves, Paths, opening_draws, plainer
from skyview.survey.budget.chance import DRAWS, SEED, normal
from skyview.survey.budget.parts import Bools, LossDraws
from skyview.survey.budget.unsure import (
    MOST_SIGMAS,
    camera_offset_m,
    distance_factors,
    foliage_factors,
    outline_offsets,
    view_offsets,
)
from skyview.survey.cameras import ViewCamera
from skyview.survey.losses import Hindrance, amplitude_of
from skyview.survey.models import Survey
from skyview.survey.screens import ViewScreen, nearest_view
from skyview.wave.aperture import loss_db
from skyview.wave.screens import TRUSTED_LOSS_DB

BEHIND_DB = 6.0
"""One sigma of what may stand unseen behind a thing that the antenna clears, one-sided: half of
the draws lose more than 4 dB to it. Our own choice."""

NEAR_RADII = 2.0
"""Things that stay farther from the ray than this, in radii of the first Fresnel zone, in every
draw keep the loss they have."""

LEAST_FIELD = 1e-4


@dataclass(frozen=True)
class _Alone:
    """One thing's draws before the paths it can matter to."""

    paths: NDArray[np.intp]
    """Into (A, S) laid flat. (K,)"""
    loss_db: NDArray[np.float32]
    """(K, D)"""
    middle_db: Array
    """(K,)"""


def loss_draws(
    survey: Survey,
    met: Hindrance,
    arrivals: Arrivals,
    antenna_m: Array,
    cameras: dict[str, ViewCamera],
    screens: dict[str, list[ViewScreen]],
    frequency_mhz: Array,
    leaf: str,
    unseen_behind: Bools,
    joint_db: Array,
    count: int = DRAWS,
    seed: int = SEED,
    shares: bool = False,
    joint_error_db: Array | None = None,
    stations: Sequence[str] | None = None,
) -> LossDraws:
    """Draws of the joint loss of all paths, and with ``shares`` of what each thing gives back.

    ``antenna_m`` (A, 3); ``frequency_mhz`` (S,); ``unseen_behind``, ``joint_db`` and
    ``joint_error_db`` (A, S): the joint loss of the middle, its error to nine cases of ten;
    ``stations``: their ids, the survey's if not given.
    """
    shape = (count, *joint_db.shape)
    names = list(stations) if stations is not None else [s.id for s in survey.stations]
    change = np.zeros((count, joint_db.size), np.float32)
    gains = np.zeros((len(met.names) if shares else 0, count, joint_db.size), np.float32)
    for o, name in enumerate(met.names):
        for alone in _things(
            survey,
            screens[name],
            met.clearance_m[o],
            arrivals,
            antenna_m,
            cameras,
            frequency_mhz,
            leaf,
            count,
            seed,
        ):
            used = np.isfinite(met.loss_db[o].ravel()[alone.paths])
            change[:, alone.paths[used]] += (alone.loss_db - alone.middle_db[:, None])[used].T
            if shares:
                gains[o][:, alone.paths[used]] = alone.loss_db[used].T
    loss = joint_db.astype(np.float32) + change.reshape(shape)
    if joint_error_db is not None:
        loss += _joint_error(joint_db, joint_error_db, names, count, seed).astype(np.float32)
    behind = BEHIND_DB * np.abs(_cut(normal("behind", names, count, seed)))
    loss += np.where(unseen_behind, behind[:, None, :], 0.0).astype(np.float32)
    return LossDraws(loss, gains.reshape(len(gains), *shape), met.names)


def _cut(numbers: Array) -> Array:
    return np.clip(numbers, -MOST_SIGMAS, MOST_SIGMAS)


def _joint_error(
    joint_db: Array, error_db: Array, names: list[str], count: int, seed: int
) -> Array:
    """What the joint computation itself may be off; where only 'at least' is sure, upwards."""
    number = _cut(normal("joint", names, count, seed))[:, None, :] / 1.645
    return error_db * np.where(joint_db > TRUSTED_LOSS_DB, np.abs(number), number)


def _things(
    survey: Survey,
    views: list[ViewScreen],
    clearance_m: Array,
    arrivals: Arrivals,
    antenna_m: Array,
    cameras: dict[str, ViewCamera],
    frequency_mhz: Array,
    leaf: str,
    count: int,
    seed: int,
) -> list[_Alone]:
    """One obstruction's draws, for each view the paths that it is seen in best."""
    nearest = nearest_view(views, antenna_m)
    waves = wavelength_m(frequency_mhz)
    found = []
    for v, screen in enumerate(views):
        at = np.flatnonzero(nearest == v)
        size = frequency_mhz.size
        rows = (at[:, None] * size + np.arange(size)).ravel()
        gap = clearance_m.ravel()[rows]
        rows = rows[np.isfinite(gap)]
        if not rows.size:
            continue
        antenna, station = rows // size, rows % size
        paths = Paths(
            antenna_m[antenna],
            arrivals.azimuth.ravel()[rows],
            arrivals.arrival.ravel()[rows],
            arrivals.distance_m.ravel()[rows],
            waves[station],
        )
        moves = _moves(survey, screen, cameras[screen.view], paths, count, seed)
        reach = np.hypot(np.abs(moves.right).max(axis=1), np.abs(moves.up).max(axis=1))
        radius = np.sqrt(paths.wavelength_m * screen.distance_m)
        gap = clearance_m.ravel()[rows]
        pick = gap - reach * screen.distance_m < NEAR_RADII * radius
        if not pick.any():
            continue
        rows, station, gap = rows[pick], station[pick], gap[pick]
        paths = Paths(*(part[pick] for part in paths))
        moves = moves._replace(right=moves.right[pick], up=moves.up[pick])
        plain = plainer(screen, float(waves.min()))
        still = Moves(np.zeros((rows.size, 1)), np.zeros((rows.size, 1)), np.zeros(1))
        opening = opening_draws(plain, paths, gap, moves)
        middle = opening_draws(plain, paths, gap, still)[:, 0]
        amplitude = amplitude_of(screen, frequency_mhz, leaf)
        passed = amplitude[station][:, None] * np.ones(count)
        if screen.is_tree:
            depth = screen.obstruction.depth_m or screen.screen.mean_width_m
            factors = foliage_factors(screen.obstruction, depth, frequency_mhz, count, seed)
            passed = passed ** factors[:, station].T
        found.append(
            _Alone(
                rows,
                _loss(opening, passed),
                _loss(middle, amplitude[station]).astype(float),
            )
        )
    return found


def _loss(opening: Complexes, amplitude: Array) -> NDArray[np.float32]:
    return loss_db(1.0 - (1.0 - amplitude) * opening).astype(np.float32)


def _moves(
    survey: Survey,
    screen: ViewScreen,
    camera: ViewCamera,
    paths: Paths,
    count: int,
    seed: int,
) -> Moves:
    """Where each draw puts a thing's outline before the paths."""
    azimuth, elevation = view_offsets(camera, paths.azimuth, paths.arrival, count, seed)
    own = outline_offsets(screen, survey.outlines, camera, count, seed)
    place = camera_offset_m(camera, count, seed)
    side = unit_from_azimuth_elevation(paths.azimuth + np.pi / 2.0, np.zeros_like(paths.azimuth))
    right = (azimuth + own[:, :1]) * np.cos(paths.arrival) + place @ side.T / screen.distance_m
    up = elevation + own[:, 1:] + place[:, 2:] / screen.distance_m
    return Moves(right.T, up.T, np.log(distance_factors(screen, count, seed)))
