"""What the screens cost each path: losses, clearances, the word.

Arrays run over antenna positions (A) and stations (S); only obstructions and views are looped
over. The loss of one outline is exact, by the boundary-line form of the Fresnel integral over its
polygons; where several stand before a station their joint loss is computed (``joint``).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.constants import wavelength_m
from skyview.mount.sight import Seen, clearance_m, see
from skyview.survey.arrivals import Arrivals
from skyview.survey.cameras import ViewCamera
from skyview.survey.joint import Standing, joint_loss, screen_of
from skyview.survey.results import PathWord
from skyview.survey.screens import ViewScreen, nearest_view
from skyview.wave.aperture import aperture_field, loss_db
from skyview.wave.foliage_models import DEFAULT_MODEL, foliage_loss_db, holds
from skyview.wave.fresnel import first_zone_radius_m
from skyview.wave.screens import Screen

REACH = np.radians(20.0)
"""Outlines farther from the ray than this, and than ``REACH_RADII``, are no part of a path."""

REACH_RADII = 2.0
"""The same in radii of the first Fresnel zone."""

CLEAR_DB, BLOCKED_DB = 1.0, 6.0
"""At most ``CLEAR_DB`` is clear, more than ``BLOCKED_DB`` is blocked, between is grazing."""


@dataclass(frozen=True)
class Answer:
    """One path."""

    costliest: str | None
    shares_db: dict[str, float]
    """What each thing near the path would give back if it alone were gone."""
    loss_db: float
    """Loss of everything together."""
    error_db: float
    at_least: bool
    tree_share: float
    """Share of the positive decibels that crowns cost."""
    clearance: float
    """From the ray to the costliest outline's edge, radians, negative inside, NaN where none."""
    clearance_m: float
    clearance_radii: float


@dataclass(frozen=True)
class Hindrance:
    """All paths before all obstructions: arrays (O, A, S), NaN where an outline is not near."""

    names: tuple[str, ...]
    trees: tuple[bool, ...]
    loss_db: Array
    """Of each thing alone."""
    clearance: Array
    clearance_m: Array
    clearance_radii: Array
    standing: dict[str, list[Standing]]
    """The things as screens, for each view that shows them best from some antennas."""
    hidden_free: dict[str, NDArray[np.bool_]]
    """By view: hidden in it by a thing of which the antenna's ray is free. (A, S)"""

    def at(
        self,
        a: int,
        s: int,
        wavelength_m: float,
        transmitter_distance_m: float,
        shares: bool = True,
    ) -> Answer:
        """The answer at one antenna and station; without ``shares``, which take most of the time,
        each thing's own loss stands for its share."""
        loss = self.loss_db[:, a, s]
        near = np.flatnonzero(np.isfinite(loss))
        if not near.size:
            return Answer(None, {}, 0.0, 0.0, False, 0.0, np.nan, np.nan, np.nan)
        alone = {self.names[i]: float(loss[i]) for i in near}
        standing = {
            name: next(part for part in self.standing[name] if a in part.antennas) for name in alone
        }
        joint = joint_loss(standing, alone, a, s, wavelength_m, transmitter_distance_m, shares)
        costliest = max(joint.shares_db, key=lambda name: joint.shares_db[name])
        worst = self.names.index(costliest)
        positive = np.array([max(joint.shares_db[self.names[i]], 0.0) for i in near])
        crowns = positive[np.array(self.trees)[near]].sum()
        total = positive.sum()
        return Answer(
            costliest=costliest,
            shares_db=joint.shares_db,
            loss_db=joint.loss_db,
            error_db=joint.error_db,
            at_least=joint.at_least,
            tree_share=float(crowns / total) if total > 0.0 else 0.0,
            clearance=float(self.clearance[worst, a, s]),
            clearance_m=float(self.clearance_m[worst, a, s]),
            clearance_radii=float(self.clearance_radii[worst, a, s]),
        )

    def screen(
        self, thing: int, a: int, s: int, wavelength_m: float, transmitter_distance_m: float
    ) -> Screen:
        """One thing near a path as a diffracting screen."""
        return screen_of(
            self.standing[self.names[thing]], a, s, wavelength_m, transmitter_distance_m
        )

    def unseen_behind(self, seen: dict[str, NDArray[np.bool_]]) -> NDArray[np.bool_]:
        """Where every view that covers a direction had it hidden by what is now cleared. (A, S)"""
        if not seen:
            return np.zeros(self.loss_db.shape[1:], bool)
        free = [self.hidden_free[name] | ~covers for name, covers in seen.items()]
        result: NDArray[np.bool_] = np.all(free, axis=0) & np.any(list(seen.values()), axis=0)
        return result


def path_word(answer: Answer, seen: bool) -> PathWord:
    """The word of a path from the joint loss of what stands in front.

    >>> path_word(Answer("oak", {"oak": 4.0}, 4.0, 0.0, False, 1.0, -0.1, -2.0, -0.5), True)
    'through_trees'
    """
    if not seen:
        return "not_seen"
    if answer.loss_db <= CLEAR_DB:
        return "clear"
    if answer.tree_share > 0.5:
        return "through_trees"
    return "blocked" if answer.loss_db > BLOCKED_DB else "grazing"


def hindrances(
    antenna_m: Array,
    arrivals: Arrivals,
    frequency_mhz: Array,
    screens: dict[str, list[ViewScreen]],
    cameras: dict[str, ViewCamera],
    leaf: str,
) -> Hindrance:
    """Loss and clearance of every obstruction before every path, alone and as screens."""
    solid = {name: views for name, views in screens.items() if not views[0].is_wire}
    shape = (len(solid), *arrivals.azimuth.shape)
    loss, clear, metres, radii = (np.full(shape, np.nan) for _ in range(4))
    free = np.ones(shape, bool)
    standing: dict[str, list[Standing]] = {}
    for o, (name, views) in enumerate(solid.items()):
        is_horizon = arrivals.horizon_is(name)
        nearest = nearest_view(views, antenna_m)
        for v, screen in enumerate(views):
            at = np.flatnonzero(nearest == v)
            if at.size:
                to = directions(arrivals, at)
                part = _one_screen(screen, antenna_m[at], to, frequency_mhz, leaf)
                standing.setdefault(name, []).append(part.standing_at(at))
                usable = part.near & ~is_horizon[at]
                loss[o, at] = np.where(usable, part.loss_db, np.nan)
                metres[o, at] = np.where(usable, part.clearance_m, np.nan)
                clear[o, at] = np.where(usable, part.clearance, np.nan)
                radii[o, at] = np.where(usable, part.radii, np.nan)
                free[o, at] = (~part.near | (part.clearance_m > 0.0)) & ~is_horizon[at]
    return Hindrance(
        names=tuple(solid),
        trees=tuple(views[0].is_tree for views in solid.values()),
        loss_db=loss,
        clearance=clear,
        clearance_m=metres,
        clearance_radii=radii,
        standing=standing,
        hidden_free=_hidden_free(arrivals, solid, cameras, free),
    )


@dataclass(frozen=True)
class Directions:
    """Where the waves come from at some antennas, and from how far. (A, S)"""

    azimuth: Array
    arrival: Array
    distance_m: Array


def directions(arrivals: Arrivals, at: NDArray[np.intp]) -> Directions:
    """Those of the antennas ``at``."""
    return Directions(arrivals.azimuth[at], arrivals.arrival[at], arrivals.distance_m[at])


@dataclass(frozen=True)
class _OneScreen:
    loss_db: Array
    clearance: Array
    clearance_m: Array
    radii: Array
    near: NDArray[np.bool_]
    parts: tuple[Seen, ...]
    amplitude: Array

    def standing_at(self, antennas: NDArray[np.intp]) -> Standing:
        return Standing(antennas, self.parts, self.amplitude)


def look(screen: ViewScreen, antenna_m: Array, to: Directions) -> list[Seen]:
    """The screen's parts before every ray; ahead is only what stands before the transmitter."""
    upright = screen.screen
    found = [
        see(
            tuple(upright.points(ring) for ring in part),
            upright.azimuth,
            antenna_m,
            to.azimuth,
            to.arrival,
        )
        for part in upright.parts
    ]
    return [replace(part, ahead=part.ahead & (part.distance_m < to.distance_m)) for part in found]


def _one_screen(
    screen: ViewScreen, antenna_m: Array, to: Directions, frequency_mhz: Array, leaf: str
) -> _OneScreen:
    """One obstruction's parts together before every path."""
    parts = look(screen, antenna_m, to)
    gaps = np.array([np.where(p.ahead, clearance_m(p.rings), np.inf) for p in parts])
    first = np.argmin(np.arctan2(gaps, [p.distance_m for p in parts]), axis=0)
    gap = np.take_along_axis(gaps, first[None], axis=0)[0]
    distance = np.take_along_axis(np.array([p.distance_m for p in parts]), first[None], axis=0)[0]
    wave = wavelength_m(frequency_mhz)[None, :]
    radius = first_zone_radius_m(
        np.broadcast_to(frequency_mhz, gap.shape),
        distance,
        np.maximum(to.distance_m - distance, 1.0),
    )
    near = np.isfinite(gap)
    angle = np.arctan2(np.where(near, gap, 0.0), distance)
    near &= (angle < REACH) | (gap < REACH_RADII * radius)
    opening = np.zeros(gap.shape, complex)
    for part in parts:
        for index, (x, y) in enumerate(part.rings):
            pick = near & part.ahead
            field = aperture_field(
                x[pick],
                y[pick],
                np.broadcast_to(wave, gap.shape)[pick],
                part.distance_m[pick],
                np.maximum(to.distance_m - part.distance_m, 1.0)[pick],
            )
            opening[pick] += field if index == 0 else -field
    amplitude = amplitude_of(screen, frequency_mhz, leaf)
    return _OneScreen(
        loss_db=loss_db(1.0 - (1.0 - amplitude) * opening),
        clearance=angle,
        clearance_m=gap,
        radii=gap / radius,
        near=near,
        parts=tuple(parts),
        amplitude=amplitude,
    )


def amplitude_of(screen: ViewScreen, frequency_mhz: Array, leaf: str) -> Array:
    """What the shape lets through, (S,): decibels per metre of crown where there are any,
    else its share of sky, else nothing; never both.

    Where the model chosen for the site does not hold, the default one is taken.
    """
    thing = screen.obstruction
    if not screen.is_tree:
        return np.zeros(frequency_mhz.shape)
    if thing.kind == "dead_tree" and thing.depth_m is None and screen.sky_share is not None:
        return np.full(frequency_mhz.shape, screen.sky_share)
    model = np.where(
        holds(screen.foliage_model, frequency_mhz), screen.foliage_model, DEFAULT_MODEL
    )
    loss = np.zeros(frequency_mhz.shape)
    for name in np.unique(model):
        at = model == name
        depth = crown_depth_m(screen)
        loss[at] = foliage_loss_db(depth, frequency_mhz[at], thing.kind, leaf, str(name))
    return 10.0 ** (-loss / 20.0)


def crown_depth_m(screen: ViewScreen) -> float:
    """A crown's depth along the ray, as wide as the outline where nobody measured it."""
    depth = screen.obstruction.depth_m
    return depth if depth is not None else screen.screen.mean_width_m


def _hidden_free(
    arrivals: Arrivals,
    solid: dict[str, list[ViewScreen]],
    cameras: dict[str, ViewCamera],
    free: NDArray[np.bool_],
) -> dict[str, NDArray[np.bool_]]:
    """By view: the direction lay behind an outline whose thing the antenna's ray now clears."""
    size = arrivals.azimuth.size
    to = Directions(
        arrivals.azimuth.reshape(1, size),
        arrivals.arrival.reshape(1, size),
        arrivals.distance_m.reshape(1, size),
    )
    hidden = {name: np.zeros(arrivals.azimuth.shape, bool) for name in cameras}
    for o, views in enumerate(solid.values()):
        for screen in views:
            inside = np.zeros((1, size), bool)
            for part in look(screen, screen.camera_m[None, :], to):
                inside |= part.ahead & (clearance_m(part.rings) < 0.0)
            hidden[screen.view] |= inside.reshape(arrivals.azimuth.shape) & free[o]
    return hidden
