"""What the stations send and need, as arrays over stations (S)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from skyview.angles import Array
from skyview.link.interference import CO_CHANNEL_DB, protection_ratio_db
from skyview.link.systems import USUAL_MODE, noise_bandwidth_mhz, required_cn_db
from skyview.place.channels import Band, band_of, width_mhz
from skyview.survey.budget.parts import Bools
from skyview.survey.models import Station


@dataclass(frozen=True)
class Signals:
    """The stations' side of the budget."""

    ids: tuple[str, ...]
    frequency_mhz: Array
    """Centre of the channel. (S,)"""
    bands: tuple[Band, ...]
    polarizations: tuple[str | None, ...]
    required_cn_db: Array
    """NaN where the threshold is not known. (S,)"""
    bandwidth_mhz: Array
    """In which noise counts. (S,)"""
    wanted: Bools
    """False for interferers. (S,)"""
    disturbance: Array
    """What one milliwatt of station u counts as noise in station w, (S of u, S of w), a ratio of
    powers: protection ratio less required carrier to noise; 0 for the station itself."""


def signals_of(plan: str, stations: Sequence[Station], frequency_mhz: Array) -> Signals:
    """The stations of a channel plan as arrays; ``frequency_mhz`` (S,) are their centres.

    A digital station must stay its required carrier to noise above another on its channel; ATSC
    1.0, and a station whose threshold is unknown, 15 dB (`CO_CHANNEL_DB`).
    """
    width = np.asarray(width_mhz(plan, np.array([s.rf_channel for s in stations])), float)
    needed = np.array([_required(s) for s in stations], float)
    atsc1 = np.array([s.system == "atsc1" for s in stations])
    co_channel = np.where(np.isnan(needed) | atsc1, CO_CHANNEL_DB, needed)
    ratio = protection_ratio_db(
        frequency_mhz[:, None] - frequency_mhz[None, :],
        width[None, :],
        width[:, None],
        co_channel[None, :],
    )
    np.fill_diagonal(ratio, -np.inf)
    counted = ratio - np.where(np.isnan(needed), CO_CHANNEL_DB, needed)[None, :]
    return Signals(
        ids=tuple(s.id for s in stations),
        frequency_mhz=frequency_mhz,
        bands=tuple(band_of(float(f)) for f in frequency_mhz),
        polarizations=tuple(s.polarization for s in stations),
        required_cn_db=needed,
        bandwidth_mhz=np.array(
            [noise_bandwidth_mhz(s.system, w) for s, w in zip(stations, width, strict=True)]
        ),
        wanted=np.array([s.role == "wanted" for s in stations]),
        disturbance=10.0 ** (counted / 10.0),
    )


def supposes_mode(station: Station) -> bool:
    """Whether the threshold is that of the usual mode because no list names the station's own."""
    named = station.mode is not None or station.required_cn_db is not None
    return not named and station.system in USUAL_MODE


def _required(station: Station) -> float:
    if station.required_cn_db is not None:
        return station.required_cn_db
    if station.system is None and station.mode is None:
        return math.nan
    return required_cn_db(station.system, station.mode)
