"""Which stations of a list matter at a site: by distance, by band, and what interferes.

Records are those of ``read_station_list``; they are given back unchanged but for the role of
interferers. Degrees, kilometres.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from skyview.errors import InputError
from skyview.place.bearings import geodesic
from skyview.place.channels import band_of, centre_mhz, width_mhz
from skyview.survey.lists.reading import Record

INTERFERENCE_REACH_KM = 400.0
"""How far an interferer is looked for: beyond, the earth hides any mast and only rare ducts
carry. Common practice, no source."""

BANDS = ("low_vhf", "high_vhf", "uhf")


@dataclass(frozen=True)
class Selection:
    """The stations kept for one site."""

    stations: list[Record]
    """Those within reach and band, and the interferers, in the order of the list."""
    interferers: int
    """How many distant ones were kept with the role interferer."""
    left_out: int
    """How many stations were left out."""
    hint: str | None
    """A sentence when nothing is near but would be with latitude and longitude swapped."""


def distances_km(
    records: Sequence[Record], latitude_deg: float, longitude_deg: float
) -> NDArray[np.float64]:
    """Length of the geodesic from the site to each record. [km]

    >>> place = {"latitude_deg": 0.0, "longitude_deg": 1.0}
    >>> distances_km([place], 0.0, 0.0).round(2).tolist()
    [111.32]
    """
    latitude = np.array([record["latitude_deg"] for record in records], dtype=float)
    longitude = np.array([record["longitude_deg"] for record in records], dtype=float)
    return geodesic(latitude_deg, longitude_deg, latitude, longitude)[1] / 1000.0


def within(
    records: Sequence[Record], latitude_deg: float, longitude_deg: float, km: float
) -> list[Record]:
    """The records at most ``km`` away. Raises InputError for a distance that is not positive.

    >>> place = {"latitude_deg": 0.0, "longitude_deg": 1.0}
    >>> len(within([place], 0.0, 0.0, 112.0)), len(within([place], 0.0, 0.0, 111.0))
    (1, 0)
    """
    check_choice(km, None)
    near = distances_km(records, latitude_deg, longitude_deg) <= km
    return [record for record, keep in zip(records, near, strict=True) if keep]


def select(
    records: Sequence[Record],
    plan: str,
    latitude_deg: float,
    longitude_deg: float,
    *,
    km: float | None = None,
    bands: Collection[str] | None = None,
    reach_km: float = INTERFERENCE_REACH_KM,
) -> Selection:
    """The stations within ``km`` and in ``bands``, and distant ones that may disturb them.

    A distant station up to ``reach_km`` away is kept with the role interferer when its channel
    is one of a wanted near station or a neighbour of it in frequency: their edges touch or
    overlap. Channels 4 and 5, 6 and 7 or 13 and 14 of the Americas are no neighbours.
    """
    keep = np.ones(len(records), bool) if bands is None else _in_bands(records, plan, bands)
    if km is None or not records:
        kept = [record for record, k in zip(records, keep, strict=True) if k]
        return Selection(kept, 0, len(records) - len(kept), None)
    check_choice(km, None)
    distance = distances_km(records, latitude_deg, longitude_deg)
    near = keep & (distance <= km)
    wanted = near & np.array([record.get("role") != "interferer" for record in records])
    disturbs = ~near & (distance > km) & (distance <= reach_km) & _beside(records, plan, wanted)
    stations = [
        {**record, "role": "interferer"} if disturbing else record
        for record, is_near, disturbing in zip(records, near, disturbs, strict=True)
        if is_near or disturbing
    ]
    hint = None if near.any() else _swapped_hint(records, latitude_deg, longitude_deg, km)
    return Selection(stations, int(disturbs.sum()), len(records) - len(stations), hint)


def _beside(records: Sequence[Record], plan: str, wanted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which stations share a wanted station's channel or touch it in frequency."""
    channel = np.array([record["rf_channel"] for record in records], dtype=int)
    centre, half = centre_mhz(plan, channel), width_mhz(plan, channel) / 2.0
    pairs = np.unique(np.stack([centre[wanted], half[wanted]]), axis=1)
    apart = np.abs(centre[:, None] - pairs[0])
    return np.asarray((apart <= half[:, None] + pairs[1] + 1e-6).any(axis=1))


def band_words(text: str | None) -> frozenset[str] | None:
    """The bands that somebody named with commas between them; None, all bands, for nothing.

    >>> sorted(band_words("uhf, low_vhf"))
    ['low_vhf', 'uhf']
    """
    return frozenset(word.strip() for word in text.split(",")) if text else None


def _in_bands(records: Sequence[Record], plan: str, bands: Collection[str]) -> NDArray[np.bool_]:
    check_choice(None, bands)
    channels = {record["rf_channel"] for record in records}
    inside = {n for n in channels if band_of(float(centre_mhz(plan, n))) in bands}
    return np.array([record["rf_channel"] in inside for record in records], dtype=bool)


def check_choice(km: float | None, bands: Collection[str] | None) -> None:
    """Raises InputError for a distance that is not positive and for a word that is no band."""
    if km is not None and not km > 0:
        raise InputError(f"{km:g} km is no distance", field="--within", mend="give more than 0 km")
    if bands is None:
        return
    unknown = sorted(set(bands) - set(BANDS))
    if unknown or not bands:
        raise InputError(
            f"{', '.join(unknown) or 'nothing'} is no band",
            field="--bands",
            mend=f"use any of {', '.join(BANDS)}",
        )


def _swapped_hint(
    records: Sequence[Record], latitude_deg: float, longitude_deg: float, km: float
) -> str | None:
    turned = [
        {"latitude_deg": record["longitude_deg"], "longitude_deg": record["latitude_deg"]}
        for record in records
        if abs(record["longitude_deg"]) <= 90
    ]
    found = within(turned, latitude_deg, longitude_deg, km) if turned else []
    if not found:
        return None
    return (
        f"no station lies within {km:g} km of the site, but {len(found)} would with latitude and "
        "longitude swapped in the list"
    )
