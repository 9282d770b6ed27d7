"""The loss of everything in front of a station together, and each thing's share of it.

Two obstacles in a row cost neither the sum nor the worst of both. Paths with one thing that
matters keep its exact loss; the others are computed as a row of diffracting screens. A thing's
share is what would be gained if it alone were gone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.mount.sight import Seen
from skyview.wave.aperture import loss_db
from skyview.wave.screens import (
    TRUSTED_LOSS_DB,
    Screen,
    field_report,
    field_report_without,
    rough_field,
)
from skyview.wave.simplify import simplified

MATTERS_DB = 0.15
"""A thing whose loss alone lies within this of nothing is left out of the row of screens, where
nothing else stands: in the shadow of others less is enough (``matters_db``)."""

DEEPEST_DB = 40.0
"""Deeper shadows count as this deep for what matters in them."""

MOST_SCREENS = 6
"""The costliest so many are computed together: each further one multiplies the time."""


ROUGH_ERROR_DB = 0.2
"""Error of the loss on wider grids in nine cases of ten, at least."""

LONG_RING, FIELD_CHANGE = 120, 0.002
"""Rings with more vertices are simplified, each by at most this change of the field: 0.02 dB in
the open, 0.2 dB where 20 dB are lost."""


@dataclass(frozen=True)
class Standing:
    """One obstruction as it stands before some antennas."""

    antennas: NDArray[np.intp]
    """Indices of the antennas for which ``parts`` hold, in order."""
    parts: tuple[Seen, ...]
    """Its parts before each of those antennas and every station."""
    amplitude: Array
    """What it lets through at each station's frequency. (S,)"""

    def screen(
        self, antenna: int, station: int, wavelength_m: float, transmitter_distance_m: float
    ) -> Screen:
        """The obstruction as a diffracting screen square to one ray.

        Outlines of more than ``LONG_RING`` vertices keep only what the wavelength can feel.
        """
        row = int(np.searchsorted(self.antennas, antenna))
        shown = [part for part in self.parts if part.ahead[row, station]]
        distance = float(np.mean([part.distance_m[row, station] for part in shown]))
        rings = []
        for part in shown:
            scale = distance / part.distance_m[row, station]
            edges = [
                scale * np.stack([x[row, station], y[row, station]], axis=1) for x, y in part.rings
            ]
            ring = keyholed([_without_repeats(edge) for edge in edges])
            if len(ring) > LONG_RING:
                ring = simplified(
                    ring,
                    wavelength_m,
                    distance,
                    transmitter_distance_m,
                    1.0 - float(self.amplitude[station]),
                    FIELD_CHANGE,
                ).ring_m
            rings.append(ring)
        return Screen(distance, rings, [float(self.amplitude[station])] * len(rings))


def screen_of(
    parts: list[Standing],
    antenna: int,
    station: int,
    wavelength_m: float,
    transmitter_distance_m: float,
) -> Screen:
    """One obstruction square to one ray, of the view that shows it best from the antenna."""
    part = next(part for part in parts if antenna in part.antennas)
    return part.screen(antenna, station, wavelength_m, transmitter_distance_m)


@dataclass(frozen=True)
class Joint:
    """What a path loses to everything in front of it."""

    loss_db: float
    """Loss of all together. [dB]"""
    error_db: float
    """Estimated error of that figure. [dB]"""
    at_least: bool
    """The loss is so deep that only 'at least' is sure."""
    shares_db: dict[str, float]
    """What each thing alone would give back if it were gone. [dB]"""


def joint_loss(
    standing: dict[str, Standing],
    alone_db: dict[str, float],
    antenna: int,
    station: int,
    wavelength_m: float,
    transmitter_distance_m: float,
    shares: bool = True,
) -> Joint:
    """The joint loss of one path, whose things alone cost ``alone_db`` (all that are near).

    Things that do not matter keep their own small loss as their share. Without ``shares`` all do,
    and the loss is computed on wider grids without an estimate of its error: half of the time.
    """
    order = sorted(alone_db, key=lambda name: -abs(alone_db[name]))
    least = float(matters_db(np.array([alone_db[name] for name in order])))
    row = [name for name in order if abs(alone_db[name]) >= least][:MOST_SCREENS]
    shares_db = dict(alone_db)
    if len(row) < 2:
        loss = alone_db[row[0]] if row else 0.0
        return Joint(loss, 0.0, False, shares_db)
    screens = [
        standing[name].screen(antenna, station, wavelength_m, transmitter_distance_m)
        for name in row
    ]
    if not shares:
        rough = float(loss_db(rough_field(screens, wavelength_m, transmitter_distance_m)))
        return Joint(rough, ROUGH_ERROR_DB, rough > TRUSTED_LOSS_DB, shares_db)

    if len(row) == 2:
        found = field_report(screens, wavelength_m, transmitter_distance_m)
        without_db = [alone_db[name] for name in reversed(row)]
    else:
        found, rest = field_report_without(screens, wavelength_m, transmitter_distance_m)
        without_db = loss_db(rest).tolist()
    shares_db |= {name: found.loss_db - other for name, other in zip(row, without_db, strict=True)}
    return Joint(found.loss_db, found.error_db, found.at_least, shares_db)


def matters_db(alone_db: Array) -> Array:
    """What a thing must cost alone to matter, where things alone cost ``alone_db`` along axis 0.

    It is ``MATTERS_DB`` in the open. Behind others the field is weaker by about their decibels,
    and the same disturbance by so much more of it. Against all screens in random scenes this
    leaves 0.11 dB RMS where one limit for all left 0.37. [dB]

    >>> float(matters_db(np.array([0.0, 20.0])).round(3))
    0.015
    """
    shadow = np.minimum(np.maximum(alone_db, 0.0).sum(axis=0), DEEPEST_DB)
    return np.asarray(MATTERS_DB * 10.0 ** (-shadow / 20.0))


def keyholed(rings: Sequence[Array]) -> Array:
    """An edge with its holes as one simple ring, each hole reached by a cut of no width.

    >>> edge = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> hole = np.array([[1.0, 1.0], [1.0, 2.0], [2.0, 2.0], [2.0, 1.0]])
    >>> len(keyholed([edge, hole]))
    10
    """
    whole = _turning(rings[0], left=True)
    for hole in rings[1:]:
        hole = _turning(hole, left=False)
        gaps = np.linalg.norm(whole[:, None, :] - hole[None, :, :], axis=-1)
        at, start = np.unravel_index(int(np.argmin(gaps)), gaps.shape)
        inner = np.roll(hole, -int(start), axis=0)
        whole = np.concatenate([whole[: at + 1], inner, inner[:1], whole[at:]])
    return whole


def _turning(ring: Array, left: bool) -> Array:
    x, y = ring.T
    twice_area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return ring if (twice_area > 0.0) == left else ring[::-1]


def _without_repeats(ring: Array) -> Array:
    """Vertices that repeat the one before, which pad a ring, taken out."""
    moved = np.any(ring != np.roll(ring, 1, axis=0), axis=1)
    return ring[moved] if moved.sum() >= 3 else ring
