"""One scan as arrays over the survey's stations (S); NaN where nothing was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from skyview.angles import Array
from skyview.survey.lists.scans import major_part
from skyview.survey.models import Scan, ScanRow, Station

Scale = Literal["dbm", "percent", "bars"]


@dataclass(frozen=True)
class Observed:
    """What the receiver showed."""

    scale: Scale
    """What its strengths count in: the commonest of the scan."""
    strength: Array
    """In that scale. (S,)"""
    bars: int
    """Bars of a full display."""
    cn_db: Array
    """(S,)"""
    received: Array
    """1 yes, 0 no. (S,)"""
    steady: Array
    """1 yes, 0 no. (S,)"""
    other_station: tuple[bool, ...]
    """The set showed another station's number on this channel."""
    row: tuple[int, ...]
    """Index of each station's row in the scan, -1 for none."""
    unlisted: tuple[int, ...]
    """Rows on channels that no station of the survey uses."""


def observed_of(scan: Scan, stations: Sequence[Station], level_dbm: Array) -> Observed:
    """The scan's rows on the stations that they are most probably of.

    Of several stations on one RF channel it is the one whose virtual channel was shown, else the
    wanted one with the highest predicted ``level_dbm`` (S,).
    """
    rows: list[ScanRow | None] = [None] * len(stations)
    which, unlisted = [-1] * len(stations), []
    strange = [False] * len(stations)
    for number, row in enumerate(scan.rows):
        here = [s for s, station in enumerate(stations) if station.rf_channel == row.rf_channel]
        if not here:
            unlisted.append(number)
            continue
        shown = [s for s in here if _same_number(row, stations[s])]
        ranked = sorted(
            shown or here,
            key=lambda s: (stations[s].role == "wanted", np.nan_to_num(level_dbm[s], nan=-999.0)),
        )
        best = ranked[-1]
        rows[best], which[best] = row, number
        known = row.virtual_channel is not None and stations[best].virtual_channel is not None
        strange[best] = known and not shown
    scale = _scale_of(scan)
    return Observed(
        scale=scale,
        strength=_column(rows, f"strength_{scale}"),
        bars=scan.bars,
        cn_db=_column(rows, "cn_db"),
        received=_column(rows, "received"),
        steady=_column(rows, "steady"),
        other_station=tuple(strange),
        row=tuple(which),
        unlisted=tuple(unlisted),
    )


def _same_number(row: ScanRow, station: Station) -> bool:
    """Whether both carry the same number on the screen, as far as its major part."""
    if row.virtual_channel is None or station.virtual_channel is None:
        return False
    return major_part(row.virtual_channel) == major_part(station.virtual_channel)


def _scale_of(scan: Scan) -> Scale:
    count = {
        name: sum(getattr(row, f"strength_{name}") is not None for row in scan.rows)
        for name in ("dbm", "percent", "bars")
    }
    best = max(count, key=lambda name: count[name])
    return "dbm" if best == "dbm" else "percent" if best == "percent" else "bars"


def _column(rows: Sequence[ScanRow | None], field: str) -> Array:
    values = [None if row is None else getattr(row, field) for row in rows]
    return np.array([np.nan if value is None else float(value) for value in values])
