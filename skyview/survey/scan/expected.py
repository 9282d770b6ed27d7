"""What a receiver should read on each station, with its spread: arrays over stations (S)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from skyview.angles import Array
from skyview.link import chain
from skyview.link.antenna import dipole_factor_db
from skyview.survey.budget.gear import Gear, pattern_db, receiver_figure_db
from skyview.survey.budget.judged import Judged, judged
from skyview.survey.budget.listen import Heard, middle
from skyview.survey.budget.parts import Bools
from skyview.survey.budget.signals import Signals
from skyview.survey.models import Antenna, Preamplifier, Survey
from skyview.survey.scene import OVER_FREE_SPACE_DB, Leaf, Scene, scene_of

DECILE = 1.2816
"""Standard deviations from the middle to the tenth part of a normal distribution."""

AGAIN_DB = 1.0
"""One sigma of a level on any day about its middle, beside fading: our own choice."""

SHEDDING = ("broadleaf", "tree")
"""Kinds of obstruction that lose their leaves, or may."""

LEAST_SIGMA_DB = 1.0
"""No station's level is predicted better than this: our own choice."""


@dataclass(frozen=True)
class Expected:
    """One antenna's prediction for one scan. Levels in dBm where the scan was made."""

    signals: Signals
    level_dbm: Array
    """Middle of the prediction, exceeded half the time, without the site's own correction; NaN
    where the power is not known. (S,)"""
    own_sigma_db: Array
    """One sigma of each station's own error, fading on the day included. (S,)"""
    again_sigma_db: Array
    """One sigma of its level between two days. (S,)"""
    shares_offset: Bools
    """False where a list gives the field itself: its error is its own. (S,)"""
    offset_db: float
    """The site's own correction that the survey holds, 0 for none."""
    offset_sigma_db: float
    """One sigma of what all stations have in common, with that correction."""
    prior_sigma_db: float
    """The same before any correction."""
    highest_dbm: Array
    """No true level lies above. (S,)"""
    noise_dbm: Array
    """Noise at the same place. (S,)"""
    disturbance_dbm: Array
    """What other stations add to it, half the time; -inf for none. (S,)"""
    probability: Array
    """Of reception, with the survey's correction; NaN where unknown. (S,)"""
    azimuth: Array
    """(S,) [rad]"""
    gear: Gear
    co_channel: Bools
    """The survey lists another transmitter on the same channel. (S,)"""
    crowns_db: Array
    """What the crowns that shed their leaves cost, in leaf. (S,)"""
    amplifier_db: float
    """Gain of all amplifiers between the antenna and where the scan was made."""
    at_terminals: bool


def expected_of(survey: Survey, antenna: Antenna | None, at: str, leaf: Leaf) -> Expected:
    """The prediction for one of the survey's antennas, or for the one that planning assumes.

    ``at``: set or terminals. Raises InputError where nothing can be said.
    """
    place = None if antenna is None else [antenna.spot]
    heights = None if antenna is None or antenna.height_m is None else [antenna.height_m]
    bare = survey.model_copy(deep=True)
    bare.site.field_offset_db = None
    told = judged(scene_of(bare, spots=place, heights_m=heights, leaf=leaf))
    heard, gear = _of_antenna(told, antenna)
    probability = heard.probability[0]
    offset = survey.site.field_offset_db
    prior = sigma = told.scene.field.site_sigma_db
    if offset is not None:
        now = judged(scene_of(survey, spots=place, heights_m=heights, leaf=leaf))
        probability = _of_antenna(now, antenna)[0].probability[0]
        sigma = now.scene.field.site_sigma_db
    leafy = told.scene
    if leaf == "out":
        leafy = scene_of(bare, spots=place, heights_m=heights, leaf="in", draws=2)
    return _levels(
        told, heard, gear, antenna, at, offset or 0.0, sigma, prior, probability, _crowns_db(leafy)
    )


def _crowns_db(scene: Scene) -> Array:
    """What the crowns of trees that shed their leaves cost each station, in leaf. (S,) [dB]"""
    green = {thing.id for thing in scene.survey.obstructions if thing.kind in SHEDDING}
    return np.array(
        [
            sum(max(db, 0.0) for name, db in answer.shares_db.items() if name in green)
            for answer in scene.answers[0]
        ],
        float,
    )


def _of_antenna(told: Judged, antenna: Antenna | None) -> tuple[Heard, Gear]:
    """What one antenna hears at the first position."""
    gears = [row.gears[row.at[0]] for row in told.kit.rows]
    name = antenna.id if antenna else None
    number = next((i for i, gear in enumerate(gears) if gear.name == name), 0)
    return told.each[number], gears[number]


def _levels(
    told: Judged,
    heard: Heard,
    gear: Gear,
    antenna: Antenna | None,
    at: str,
    offset: float,
    sigma: float,
    prior: float,
    probability: Array,
    crowns_db: Array,
) -> Expected:
    scene, signals = told.scene, told.scene.signals
    field = scene.field
    rise = 0.5 * (field.unwanted_dbuv_m[0] - field.wanted_dbuv_m[0])
    ceiling = field.free_space_dbuv_m[0] + OVER_FREE_SPACE_DB
    median = np.minimum(field.wanted_dbuv_m[0] + rise, ceiling)
    gained = middle(heard.carrier_dbm[:, 0, :] - told.air.wanted_dbm[:, 0, :])
    nearby = middle(np.asarray(scene.losses.loss_db[:, 0, :], float))
    carrier = median + dipole_factor_db(signals.frequency_mhz) - nearby + gained
    loss = np.std(scene.losses.loss_db[:, 0, :], axis=0)
    own = np.sqrt(field.station_sigma_db**2 + loss**2 + (np.nan_to_num(rise) / DECILE) ** 2)
    parts = antenna.downlead if antenna else []
    amplifier = sum(part.gain_db for part in parts if isinstance(part, Preamplifier))
    noise = heard.noise_dbm[0]
    disturbance = middle(heard.disturbance_dbm[:, 0, :]) - _usual(rise)
    if at == "terminals":
        amplifier = 0.0
        figure = receiver_figure_db(scene.survey.receiver, signals)
        system = chain.system_noise_figure_db(figure, gear.external_db)
        noise = chain.noise_power_dbm(signals.bandwidth_mhz, system)
        gain = np.zeros(len(carrier))
    else:
        gain = amplifier - gear.line_db
    channel = signals.frequency_mhz
    same = np.abs(channel[:, None] - channel[None, :]) < 0.1
    np.fill_diagonal(same, False)
    return Expected(
        signals=signals,
        level_dbm=carrier + gain,
        own_sigma_db=np.maximum(own, LEAST_SIGMA_DB),
        again_sigma_db=np.sqrt(2.0) * np.hypot(AGAIN_DB, np.nan_to_num(rise) / DECILE),
        shares_offset=~field.measured,
        offset_db=offset,
        offset_sigma_db=sigma,
        prior_sigma_db=prior,
        highest_dbm=carrier + gain + (ceiling - median),
        noise_dbm=noise + gain,
        disturbance_dbm=disturbance + gain,
        probability=probability,
        azimuth=scene.arrivals.azimuth[0],
        gear=gear,
        co_channel=np.any(same, axis=1),
        crowns_db=crowns_db,
        amplifier_db=float(amplifier),
        at_terminals=at == "terminals",
    )


def _usual(rise: Array) -> float:
    """How much lower a disturbance is half the time than a tenth of it. [dB]"""
    known = rise[~np.isnan(rise)]
    return float(np.median(known)) if known.size else 0.0


def turned_db(expected: Expected, turn: Array) -> Array:
    """What each station gains when the antenna points ``turn`` (P,) [rad] clockwise of its aim.

    (P, S) [dB]; 0 where the antenna has no aim.
    """
    aim = expected.gear.aim
    offset = np.where(np.isnan(aim), 0.0, expected.azimuth - aim)
    there = pattern_db(expected.gear, expected.signals, offset[None, :] - turn[:, None])
    here = pattern_db(expected.gear, expected.signals, offset)
    return np.where(np.isnan(aim), 0.0, there - here)
