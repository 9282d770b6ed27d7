"""The brief's facts: the sun against PyEphem, free margins against the plain assessment."""

from __future__ import annotations

import math
from datetime import date

import ephem
from paper_cases import sample
from paper_reading import survey_of

from skyview.survey.assess import assess
from skyview.survey.outlook import outlook_of, sectors_of

DAY = date(2026, 6, 1)


def test_sun_stands_where_ephem_has_it() -> None:
    found = outlook_of(survey_of(sample()), DAY)
    here = ephem.Observer()
    here.lat, here.lon = "-38.6417", "-117.3925"
    here.pressure = 0
    for hour in found.sun:
        here.date = f"2026/6/1 {hour.hour + 8}:00:00"  # Etc/GMT+8 is UTC-8
        sun = ephem.Sun(here)
        off = (hour.azimuth_deg - math.degrees(sun.az) + 180.0) % 360.0 - 180.0
        assert abs(off) < 0.05
    assert [h.hour for h in found.sun] == list(range(7, 17))


def test_nothing_in_the_way_is_never_worse_than_the_roof() -> None:
    survey = survey_of(sample())
    rows = assess(survey, spots=["ridge"], heights_m=[3.0]).rows
    real = {r.station: r.margin_db.p50 for r in rows if r.margin_db is not None}
    free = {s.row.station: s.row.margin_db for s in outlook_of(survey, DAY).stations}
    assert set(real) == set(free)
    assert all(free[name].p50 > real[name] for name in real)  # type: ignore[union-attr]


def test_brief_needs_no_spot_no_photo_no_antenna() -> None:
    data = {k: v for k, v in sample().items()
            if k in ("format", "version", "revision", "site", "stations")}  # fmt: skip
    found = outlook_of(survey_of(data), DAY)
    assert len(found.stations) == len(data["stations"])
    assert not found.height_known


def test_sectors_hold_every_station_once() -> None:
    bearings = [(float(b), f"Q{b}") for b in (3, 20, 70, 200, 215, 350)]
    sectors, whole = sectors_of(bearings)
    assert not whole
    assert sorted(n for s in sectors for n in s.stations) == sorted(n for _, n in bearings)
    for sector in sectors:
        width = (sector.high_deg - sector.low_deg) % 360.0
        for bearing, name in bearings:
            inside = (bearing - sector.low_deg) % 360.0 <= width
            assert inside == (name in sector.stations)
