"""The margin taken apart by cause: what each thing on the way costs, in decibels.

Every cause is what the middle of the margin would gain if that thing alone were ideal and all else
stayed as it is. Causes therefore need not add up: two walls in a row, or a weak amplifier behind a
long cable, share their loss.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.link import antenna as receiving
from skyview.link import chain
from skyview.survey.budget.gear import Gear, polarization_db, receiver_figure_db
from skyview.survey.budget.judged import Judged
from skyview.survey.budget.listen import (
    OVERLOAD_SLOPE,
    Row,
    listen,
    middle,
    strongest_disturber,
    wanted_gain_dbd,
)
from skyview.survey.budget.parts import Bools, RoofField
from skyview.survey.losses import hindrances
from skyview.survey.scene import Leaf, Scene, joint_db
from skyview.survey.threads import in_threads

CauseCode = Literal[
    "distance",
    "terrain",
    "pattern",
    "surroundings",
    "obstruction",
    "foliage",
    "aim",
    "band",
    "polarization",
    "line",
    "noise",
    "interference",
    "overload",
]
CODES: tuple[CauseCode, ...] = get_args(CauseCode)

LISTED_DB = 0.5
"""What costs less is not listed: our own choice."""

NO_ELEMENTS_DBD = 0.0
"""An antenna with less gain than a bare half-wave dipole counts as without elements for the band:
our own choice."""


@dataclass(frozen=True)
class Causes:
    """What each cause costs every path. Arrays (A positions, S stations)."""

    loss_db: dict[CauseCode, Array]
    """By code, obstructions left out; NaN where unknown. [dB]"""
    shares_db: tuple[tuple[Mapping[str, float], ...], ...]
    """By position and station: what each obstruction near the path costs. [dB]"""
    disturber: NDArray[np.intp]
    """Station that disturbs most; only where ``interference`` costs anything."""
    on_channel: Bools
    """Whether its channel overlaps with the disturbed station's."""

    def listed(self, a: int, s: int) -> dict[str, float]:
        """The causes of one path that cost at least `LISTED_DB`, the costliest first.

        Keys are the codes, for obstructions ``obstruction:`` and the id.
        """
        found = {str(code): float(values[a, s]) for code, values in self.loss_db.items()}
        found |= {f"obstruction:{name}": db for name, db in self.shares_db[a][s].items()}
        kept = {name: db for name, db in found.items() if db >= LISTED_DB}
        return dict(sorted(kept.items(), key=lambda item: -item[1]))


def causes_of(told: Judged) -> Causes:
    """Every cause of a scene with its antennas.

    - ``distance``: free space less the field at the roof, without the next three and without what
      is marked: distance beyond free space, the bulge of the earth, the antenna's height.
    - ``terrain``: loss of the terrain profile over free space, where there is one; else what a
      marked hill that is the horizon takes.
    - ``pattern``: what the transmitter sends less towards the site than at its strongest.
    - ``surroundings``: what buildings and trees take where no picture shows the direction.
    - ``obstruction``: a thing's share of the joint loss, by leaving it out.
    - ``foliage``: the joint loss in leaf less that out of leaf; of the obstructions' loss, not on
      top of it. 0 out of leaf.
    - ``aim``: the antenna's gain towards the station with the aim on it, less its gain as it
      points.
    - ``band``: the gain that planning assumes in the station's band less the antenna's, where it
      has no elements for that band.
    - ``polarization``: what the antenna's polarization costs.
    - ``line``: the noise of everything behind the antenna less that of the set alone: cable,
      splitters, filters, with the help of an amplifier counted.
    - ``noise``: man-made noise.
    - ``interference``: every other transmitter on the same or the next channel.
    - ``overload``: too much power into the preamplifier.
    """
    scene = told.scene
    field = scene.field
    terrain = np.nan_to_num(field.terrain_db, nan=0.0)
    loss: dict[CauseCode, Array] = {
        "distance": _distance_db(field, terrain),
        "terrain": terrain,
        "pattern": -field.pattern_db,
        "surroundings": -field.surroundings_db,
        "foliage": foliage_db(scene),
        "aim": _served(told, lambda row: _aim_db(told, row)),
        "band": _served(told, lambda row: _band_db(told, row)),
        "polarization": _served(
            told, lambda row: _by_gear(row, lambda g: -polarization_db(g, scene.signals))
        ),
        "line": _quieter_db(told, _set_alone(told)),
        "noise": _quieter_db(told, _without_man_made(told)),
        "interference": _median(told, _to_noise_db(told, told.heard.noise_dbm, disturbed=False)),
        "overload": _median(told, OVERLOAD_SLOPE * told.heard.excess_db),
    }
    who = [strongest_disturber(told.air, row) for row in told.kit.rows]
    disturber = np.take_along_axis(np.stack(who), told.which[None], axis=0)[0]
    apart = scene.signals.frequency_mhz[disturber] - scene.signals.frequency_mhz
    width = np.minimum(scene.signals.bandwidth_mhz[disturber], scene.signals.bandwidth_mhz)
    return Causes(
        loss_db=loss,
        shares_db=tuple(tuple(answer.shares_db for answer in row) for row in scene.answers),
        disturber=disturber,
        on_channel=np.abs(apart) < 0.5 * width,
    )


def _distance_db(field: RoofField, terrain_db: Array) -> Array:
    whole = field.free_space_dbuv_m - field.wanted_dbuv_m
    return np.maximum(whole + field.surroundings_db - terrain_db, 0.0)


def foliage_db(scene: Scene) -> Array:
    """Joint loss in leaf less joint loss out of leaf; 0 where the leaves change nothing, and
    everywhere out of leaf. (A, S) [dB]"""
    found = np.zeros(scene.arrivals.azimuth.shape)
    if scene.leaf == "out":
        return found
    other: Leaf = "out"
    frequency = scene.signals.frequency_mhz
    bare = hindrances(
        scene.antenna_m, scene.arrivals, frequency, scene.screens, scene.cameras, other
    )
    change = np.abs(np.nan_to_num(scene.met.loss_db) - np.nan_to_num(bare.loss_db))

    def work(paths: list[tuple[int, int]]) -> None:
        for a, s in paths:
            found[a, s] = scene.answers[a][s].loss_db - joint_db(scene, bare, a, s)

    changed = np.argwhere(np.sum(change, axis=0) >= LISTED_DB / 2.0)
    in_threads(work, [(int(a), int(s)) for a, s in changed], at_once=1)
    return found


def _served(told: Judged, of_row: Callable[[Row], Array]) -> Array:
    """Of what every row of antennas gives (A, S), that of the row which serves each path."""
    values = np.stack([of_row(row) for row in told.kit.rows])
    return np.asarray(np.take_along_axis(values, told.which[None], axis=0)[0])


def _by_gear(row: Row, of_gear: Callable[[Gear], Array]) -> Array:
    return np.stack([of_gear(gear) for gear in row.gears])[row.at]


def _aim_db(told: Judged, row: Row) -> Array:
    aimed = np.full(len(told.scene.places), np.nan)
    gain = wanted_gain_dbd(told.air, row, row.at, aimed) - wanted_gain_dbd(told.air, row, row.at)
    if np.all(row.other < 0):
        return gain
    turned = listen(told.air, row, aimed).carrier_dbm - listen(told.air, row).carrier_dbm
    return np.where(row.other[:, None] < 0, gain, middle(turned))


def _band_db(told: Judged, row: Row) -> Array:
    planned = receiving.by_band(receiving.PLANNING_GAIN_DBD, told.scene.signals.bands, 0.0)
    gain = _by_gear(row, lambda gear: gear.gain_dbd)
    return np.where(gain < NO_ELEMENTS_DBD, planned - gain, 0.0)


def _noise_dbm(told: Judged, figure_db: Array, external_db: Array) -> Array:
    whole = chain.system_noise_figure_db(figure_db, external_db)
    return chain.noise_power_dbm(told.scene.signals.bandwidth_mhz, whole)


def _set_alone(told: Judged) -> Array:
    """Noise with the set at the antenna's terminals. (A, S) [dBm]"""
    figure = receiver_figure_db(told.scene.survey.receiver, told.scene.signals)
    external = _served(told, lambda row: _by_gear(row, lambda gear: gear.external_db))
    return _noise_dbm(told, figure, external)


def _without_man_made(told: Judged) -> Array:
    figure = _served(told, lambda row: _by_gear(row, lambda gear: gear.noise_figure_db))
    return _noise_dbm(told, figure, np.full(figure.shape, -np.inf))


def _quieter_db(told: Judged, noise_dbm: Array) -> Array:
    return _median(told, _to_noise_db(told, noise_dbm, disturbed=True))


def _to_noise_db(told: Judged, noise_dbm: Array, disturbed: bool) -> Array:
    """What the margin of every draw gains by another noise, with or without what disturbs."""
    heard = told.heard
    before = chain.margin_db(0.0, heard.noise_dbm, 0.0, heard.disturbance_dbm)
    other = heard.disturbance_dbm if disturbed else np.full_like(heard.disturbance_dbm, -np.inf)
    return chain.margin_db(0.0, noise_dbm, 0.0, other) - before


def _median(told: Judged, gained_db: Array) -> Array:
    """What the middle of the margin gains where each draw gains so much; where no margin is known
    the middle of the gains. (A, S) [dB]"""
    margin = np.nan_to_num(told.heard.margin_db, nan=0.0)
    return middle(margin + gained_db) - middle(margin)
