"""One antenna with its downlead and the sets below, as arrays over stations (S)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import assert_never

import numpy as np

from skyview.angles import Array
from skyview.errors import InputError
from skyview.link import antenna as receiving
from skyview.link import chain, line
from skyview.survey.budget.parts import Bools
from skyview.survey.budget.signals import Signals
from skyview.survey.models import (
    Antenna,
    Attenuator,
    Coax,
    DownleadPart,
    Filter,
    Preamplifier,
    Receiver,
    Splitter,
    Survey,
    Transformer,
)

PLANNING_LINE_DB = {"low_vhf": 1.0, "high_vhf": 2.0, "uhf": 4.0}
"""Loss of the downlead where none is described: ISED BPR-10, Appendix 8."""

WITHOUT_ELEMENTS_DBD = -10.0
"""Gain of an antenna in a band that it is not built for: our own choice, no source."""

ENVIRONMENT = {
    "urban": "city",
    "dense_urban": "city",
    "suburban": "residential",
    "rural": "rural",
}
"""Environment of the man-made noise by surroundings; residential where they are not known."""


@dataclass(frozen=True)
class Gear:
    """What an antenna and all behind it do to each station, whichever way it points."""

    name: str | None
    """Id of the antenna; None for the one that planning assumes."""
    aim: Array
    """Azimuth of its aim in each station's band; NaN where it is turned to each station in turn.
    (S,) [rad]"""
    gain_dbd: Array
    """On the aim, in the station's band. (S,)"""
    front_to_back_db: Array
    """(S,)"""
    tables: dict[str, tuple[Array, Array]]
    """Pattern by band where the user gave one: offsets [rad] and relative gain [dB]."""
    polarization: str
    """h or v."""
    noise_figure_db: Array
    """Of everything behind the antenna's terminals. (S,)"""
    line_db: Array
    """Loss from the terminals to the set, amplifiers left out. (S,)"""
    load_db: Array
    """Gain from the terminals to the first amplifier. (S,)"""
    overload_dbm: float
    """Total power at which that amplifier begins to overload; inf where there is none."""
    external_db: Array
    """Noise figure of the man-made noise that the antenna takes in. (S,)"""


def gear_of(survey: Survey, antenna: Antenna | None, signals: Signals) -> Gear:
    """The survey's antenna, or where it has none the one that planning assumes, with its line."""
    bands = signals.bands
    gains: Mapping[str, float] = receiving.PLANNING_GAIN_DBD
    if antenna and antenna.gain_dbd is not None:
        gains = {str(band): gain for band, gain in antenna.gain_dbd.items()}
    told = (antenna.front_to_back_db if antenna else None) or {}
    ratios = receiving.PLANNING_FRONT_TO_BACK_DB | {str(b): ratio for b, ratio in told.items()}
    parts = list(antenna.downlead) if antenna else []
    gain, figure, first = _stages(parts, survey, antenna, signals)
    whole = chain.cascade(gain, figure)
    amplifier = parts[first] if first is not None else None
    surroundings = survey.site.surroundings or "suburban"
    return Gear(
        name=antenna.id if antenna else None,
        aim=np.full(len(bands), _aim(antenna)),
        gain_dbd=receiving.by_band(gains, bands, missing=WITHOUT_ELEMENTS_DBD),
        front_to_back_db=receiving.by_band(ratios, bands, missing=0.0),
        tables=_tables(antenna),
        polarization=(antenna and antenna.polarization) or "h",
        noise_figure_db=whole.noise_figure_db,
        line_db=-np.sum(np.minimum(gain, 0.0), axis=0),
        load_db=gain[:first].sum(axis=0) if first is not None else np.zeros(len(bands)),
        overload_dbm=float(amplifier.overload_dbm)
        if isinstance(amplifier, Preamplifier) and amplifier.overload_dbm is not None
        else np.inf,
        external_db=chain.man_made_noise_db(
            signals.frequency_mhz, ENVIRONMENT.get(surroundings, "residential")
        ),
    )


def _aim(antenna: Antenna | None) -> float:
    if antenna is None or antenna.aim_true_deg is None:
        return np.nan
    return float(np.radians(antenna.aim_true_deg))


def _tables(antenna: Antenna | None) -> dict[str, tuple[Array, Array]]:
    if antenna is None or not isinstance(antenna.pattern, dict):
        return {}
    found = {}
    for band, rows in antenna.pattern.items():
        offset, relative = np.array(sorted(rows), float).T
        found[str(band)] = (np.radians(offset), relative)
    return found


def _stages(
    parts: Sequence[DownleadPart], survey: Survey, antenna: Antenna | None, signals: Signals
) -> tuple[Array, Array, int | None]:
    """Gain and noise figure of every stage from the terminals to the set, (K, S) each, and which
    stage is the first amplifier."""
    f = signals.frequency_mhz
    rows = [_stage(part, f, antenna) for part in parts]
    if not parts:
        planned = receiving.by_band(PLANNING_LINE_DB, signals.bands, missing=0.0)
        rows.append((-planned, planned))
    split = np.full(f.shape, float(line.splitter_loss_db(survey.receiver.splitter_ways)))
    rows += [(-split, split), (np.zeros(f.shape), receiver_figure_db(survey.receiver, signals))]
    first = next((i for i, part in enumerate(parts) if isinstance(part, Preamplifier)), None)
    return np.array([r[0] for r in rows]), np.array([r[1] for r in rows]), first


def receiver_figure_db(receiver: Receiver, signals: Signals) -> Array:
    """The user's noise figure, else the one that planning assumes in the band. (S,)"""
    if "noise_figure_db" in receiver.model_fields_set:
        return np.full(len(signals.bands), receiver.noise_figure_db)
    return receiving.by_band(chain.RECEIVER_NOISE_FIGURE_DB, signals.bands, missing=7.0)


def _stage(part: DownleadPart, f: Array, antenna: Antenna | None) -> tuple[Array, Array]:
    """Gain and noise figure of one part at frequencies (S,)."""
    if isinstance(part, Preamplifier):
        figure = part.noise_figure_db
        figure = chain.PREAMPLIFIER_NOISE_FIGURE_DB if figure is None else figure
        return np.full(f.shape, part.gain_db), np.full(f.shape, figure)
    loss = _loss(part, f, antenna)
    return -loss, loss


def _loss(
    part: Coax | Filter | Splitter | Attenuator | Transformer, f: Array, antenna: Antenna | None
) -> Array:
    match part:
        case Coax():
            try:
                return line.coax_loss_db(part.type.lower(), part.length_m, f)
            except InputError as error:
                where = f"antennas.{antenna.id if antenna else ''}.downlead"
                raise InputError(error.message, None, where, error.mend) from error
        case Filter():
            loss = line.FILTER_LOSS_DB if part.loss_db is None else part.loss_db
            low, high = part.pass_mhz or (0.0, np.inf)
            return line.filter_loss_db(f, low, high, loss, max(line.FILTER_STOP_DB, loss))
        case Splitter():
            return np.full(f.shape, float(line.splitter_loss_db(part.ways)))
        case Attenuator():
            return np.full(f.shape, part.loss_db)
        case Transformer():
            loss = receiving.MATCHING_TRANSFORMER_DB if part.loss_db is None else part.loss_db
            return np.full(f.shape, loss)
        case _:
            assert_never(part)


def pattern_db(gear: Gear, signals: Signals, offset: Array) -> Array:
    """Relative gain towards wanted stations at offsets (..., S) [rad] from the aim. [dB]"""
    found = receiving.cos4_pattern_db(offset, gear.front_to_back_db)
    for band, (angle, relative) in gear.tables.items():
        both = angle.min() < 0.0 or angle.max() > np.pi
        read = receiving.table_pattern_db if both else receiving.symmetric_pattern_db
        found = np.where(np.array(signals.bands) == band, read(offset, angle, relative), found)
    return found


def unwanted_db(gear: Gear, signals: Signals, offset: Array) -> Array:
    """Relative gain towards stations that disturb others, at offsets (..., S) [rad]. [dB]

    The user's table tells what was measured in the open; here Rec. ITU-R BT.419 is taken, which
    is never better than what an antenna amid buildings does.
    """
    across = np.array([p in ("h", "v") and p != gear.polarization for p in signals.polarizations])
    return receiving.unwanted_pattern_db(offset, signals.frequency_mhz, across)


def polarization_db(gear: Gear, signals: Signals) -> Array:
    """What the antenna's polarization costs each wanted station, 0 or less. (S,) [dB]"""
    return receiving.polarization_db(signals.polarizations, gear.polarization)


def diplexed(first: Gear, second: Gear, signals: Signals) -> Gear:
    """Two antennas on the first one's downlead: each band from the one with more gain in it."""
    one = behind(first, line.DIPLEXER_LOSS_DB)
    better = second.gain_dbd > first.gain_dbd
    bands = np.array(signals.bands)

    def served(band: str, mine: Bools) -> bool:
        return bool(np.any(mine & (bands == band)))

    return replace(
        one,
        aim=np.where(better, second.aim, first.aim),
        gain_dbd=np.where(better, second.gain_dbd, first.gain_dbd),
        front_to_back_db=np.where(better, second.front_to_back_db, first.front_to_back_db),
        tables={
            band: table
            for gear, mine in ((first, ~better), (second, better))
            for band, table in gear.tables.items()
            if served(band, mine)
        },
    )


def behind(gear: Gear, loss_db: Array | float) -> Gear:
    """The same antenna with one more loss at its terminals, as of a combiner."""
    extra = np.broadcast_to(np.asarray(loss_db, float), gear.line_db.shape)
    stages = np.stack([-extra, np.zeros_like(extra)])
    figures = np.stack([extra, gear.noise_figure_db])
    return replace(
        gear,
        noise_figure_db=chain.cascade(stages, figures).noise_figure_db,
        line_db=gear.line_db + extra,
        load_db=gear.load_db - extra,
    )
