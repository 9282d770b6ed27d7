"""The fields of a station, from each of their spellings and units."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from skyview.errors import InputError
from skyview.survey.lists.reading import StationReading

_HEAD = "id,lat,lon,rf_channel,antenna_amsl_m"
Reads = Callable[..., StationReading]


def _one(stations: Reads, header: str, cells: str, **more: Any) -> tuple[Any, StationReading]:
    reading = stations(f"{_HEAD},{header}\nQALD,41.5,-97.25,21,600,{cells}\n", **more)
    return reading.stations[0], reading


@pytest.mark.parametrize(
    ("header", "cell", "kw", "said"),
    [
        ("erp_kw", "400", 400.0, None),
        ("erp", "400", 400.0, "no unit; taken as kW"),
        ("ERP (W)", "250", 0.25, "from w to kW"),
        ("ERP (dBk)", "20", 100.0, "from dbk to kW"),
        ("ERP (dBW)", "40", 10.0, "from dbw to kW"),
        ("erp", "250 W", 0.25, "from W to kW"),
        ("EIRP (kW)", "164.0590", 100.0, "2.15 dB"),
        ("EIRP (dBW)", "52.15", 100.0, "2.15 dB"),
        ("power_kw", "400", 400.0, "taken as effective radiated power"),
        ("erp_kw", "", None, None),
        ("erp_kw", "0", None, "power of 0 taken as unknown"),
    ],
)
def test_powers(
    stations: Reads, header: str, cell: str, kw: float | None, said: str | None
) -> None:
    station, reading = _one(stations, header, cell)
    assert station["erp_kw"] == (None if kw is None else pytest.approx(kw, rel=1e-5))
    if said is None:
        assert reading.assumed == []
    else:
        assert any(said in sentence for sentence in reading.assumed)


def test_erp_and_eirp_differ_as_published() -> None:
    """shared/channel_checks.csv: field at 1 km of 1 kW ERP and of 1 kW EIRP."""
    checks = (Path(__file__).parents[3] / "shared" / "channel_checks.csv").read_text("utf-8")
    fields = {line.split(",")[0]: float(line.split(",")[2]) for line in checks.splitlines()[-2:]}
    published = fields["E_1kW_ERP_1km"] - fields["E_1kW_EIRP_1km"]
    assert published == pytest.approx(2.15, abs=0.01)


def test_a_number_too_large_for_kw_is_refused(stations: Reads) -> None:
    with pytest.raises(InputError, match="head the column erp_w"):
        _one(stations, "erp", "400000")
    assert _one(stations, "erp_w", "400000")[0]["erp_kw"] == 400.0


@pytest.mark.parametrize(
    ("header", "cells", "amsl", "haat", "said"),
    [
        ("antenna_amsl_m", "600", 600.0, None, None),
        ("Antenna height AMSL (ft)", "1000", 304.8, None, "feet"),
        ("antenna_amsl", "1000 ft", 304.8, None, "feet"),
        ("antenna_agl_m,ground_amsl_m", "150,450", 600.0, None, "above ground"),
        ("Height AGL (ft),Ground elevation (m)", "500,447.6", 600.0, None, "feet"),
        ("Site height (m),Aerial height (m)", "450,150", 600.0, None, "above ground"),
        ("Elevation,Height", "450,150", 600.0, None, "taken as a height above ground"),
        ("antenna_amsl_m,HAAT (ft)", "600,1000", 600.0, 304.8, "feet"),
        ("antenna_amsl_m,antenna_agl_m,ground_amsl_m", "600,1,1", 600.0, None, None),
    ],
)
def test_heights(
    stations: Reads, header: str, cells: str, amsl: float, haat: float | None, said: str | None
) -> None:
    reading = stations(f"id,lat,lon,rf,{header}\nQALD,41.5,-97.25,21,{cells}\n")
    station = reading.stations[0]
    assert station["antenna_amsl_m"] == pytest.approx(amsl)
    assert station["haat_m"] == (None if haat is None else pytest.approx(haat))
    assert (said is None) == (reading.assumed == [])
    assert said is None or any(said in sentence for sentence in reading.assumed)


@pytest.mark.parametrize(
    ("header", "reason"),
    [
        ("HAAT", "above average terrain alone do not tell"),
        ("antenna_agl_m", "no column gives the ground"),
        ("Height (m)", "'Height .m.' does not say what the height is above"),
        ("Elevation", "'Elevation' does not say"),
        ("Owner", "no column gives the antenna's height above sea level"),
    ],
)
def test_lists_without_a_height_above_sea_level(stations: Reads, header: str, reason: str) -> None:
    with pytest.raises(InputError, match=reason) as caught:
        stations(f"id,lat,lon,rf,{header}\nQALD,41.5,-97.25,21,300\n")
    assert caught.value.field == "antenna_amsl_m"
    assert caught.value.mend


def test_rows_without_a_height_above_sea_level(stations: Reads) -> None:
    text = (
        "id,lat,lon,rf,antenna_amsl_m,haat_m,antenna_agl_m,ground_amsl_m,height\n"
        "QA,41,-97,21,600,250,,,\n"
        "QB,41,-97,21,,250,,,\n"
        "QC,41,-97,21,,,150,,\n"
        "QD,41,-97,21,,,,,200\n"
        "QE,41,-97,21,,,,,\n"
        "QF,41,-97,21,99999,,,,\n"
    )
    reading = stations(text)
    assert [station["id"] for station in reading.stations] == ["QA"]
    assert [row.line for row in reading.rejected] == [3, 4, 5, 6, 7]
    assert {row.field for row in reading.rejected} == {"antenna_amsl_m"}
    reasons = [row.reason for row in reading.rejected]
    assert "average terrain" in reasons[0]
    assert "above ground" in reasons[1]
    assert "head it antenna_amsl_m" in reasons[2]
    assert "no antenna height" in reasons[3]
    assert "no likely height" in reasons[4]


def test_the_ground_from_the_terrain(stations: Reads) -> None:
    text = "id,lat,lon,rf,antenna_agl_m\nQA,41,-97,21,150\nQB,42,-97,21,150\n"

    def ground(latitude_deg: float, longitude_deg: float) -> float | None:
        return 450.0 if (latitude_deg, longitude_deg) == (41.0, -97.0) else None

    reading = stations(text, ground_amsl_of=ground)
    assert [station["antenna_amsl_m"] for station in reading.stations] == [600.0]
    assert [row.line for row in reading.rejected] == [3]
    assert any("taken from the terrain" in sentence for sentence in reading.assumed)


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("lat,lon", "41.5,-97.25"),
        ("Longitude,Latitude", "-97.25,41.5"),
        ("lat,Longitude (W)", "41.5,97.25"),
        ("lat,Longitude West", "41-30-00,97-15-00"),
        ("Lat Deg,Lat Min,Lat Sec,Lat Dir,Lon Deg,Lon Min,Lon Sec,Lon Dir", "41,30,0,N,97,15,0,W"),
        ("lat,lat_min,lon,lon_min", "41,30,-97,15"),
        ("Coordinates", '"41.5, -97.25"'),
        ("Coordinates", "41-30-00 N 97-15-00 W"),
    ],
)
def test_places(stations: Reads, header: str, cells: str) -> None:
    reading = stations(f"id,rf,antenna_amsl_m,{header}\nQALD,21,600,{cells}\n")
    station = reading.stations[0]
    assert (station["latitude_deg"], station["longitude_deg"]) == pytest.approx((41.5, -97.25))


def test_swapped_columns_are_hinted_at(stations: Reads) -> None:
    with pytest.raises(InputError, match="look swapped"):
        stations(f"{_HEAD}\nQALD,-97.25,41.5,21,600\n")


def test_places_that_look_wrong_are_warned_of(stations: Reads) -> None:
    reading = stations(f"{_HEAD}\nQA,41.5,97.25,21,600\nQB,0,0,21,600\n")
    assert [s.split(" (")[0] for s in reading.warnings] == [
        "longitude east of Greenwich in the Americas: is a minus missing?",
        "latitude and longitude both 0, which often means unknown",
    ]


def test_a_virtual_channel_is_kept_apart(stations: Reads) -> None:
    station, _ = _one(stations, "virtual_channel", "6.1")
    assert (station["rf_channel"], station["virtual_channel"]) == (21, "6.1")


def test_a_channel_above_36_in_the_americas_is_probably_virtual(stations: Reads) -> None:
    text = f"{_HEAD}\nQA,41,-97,44,600\nQB,41,-97,21,600\n"
    assert stations(text).warnings == [
        "RF channel above 36 in the Americas: probably the virtual channel (1 row: 2)"
    ]
    text = f"{_HEAD}\nQA,51,7,44,600\n"
    assert stations(text, "europe-8mhz").warnings == []


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        ("6.1", "virtual channel"),
        ("37", "radio astronomy"),
        ("99", "no RF channel of americas-6mhz; use one of 2-36, 38-69"),
        ("x", "not an RF channel"),
        ("", "no RF channel is given"),
    ],
)
def test_channels_that_cannot_be_used(stations: Reads, cell: str, reason: str) -> None:
    reading = stations(f"{_HEAD}\nQA,41,-97,{cell},600\nQB,41,-97,21,600\n")
    assert [(row.line, row.field) for row in reading.rejected] == [(2, "rf_channel")]
    assert reason in reading.rejected[0].reason


def test_a_frequency_finds_its_channel(stations: Reads) -> None:
    text = "id,lat,lon,frequency_mhz,antenna_amsl_m\nQA,51,7,474.166,600\nQB,51,7,300,600\n"
    reading = stations(text, "europe-8mhz")
    assert reading.stations[0]["rf_channel"] == 21
    assert reading.rejected[0].field == "frequency_mhz"
    assert reading.assumed == ["RF channel found from the frequency"]


def test_a_frequency_beside_another_channel_is_warned_of(stations: Reads) -> None:
    _, reading = _one(stations, "frequency_mhz", "605")
    assert "frequency outside the RF channel" in reading.warnings[0]
    assert _one(stations, "frequency_mhz", "515")[1].warnings == []


def test_channel_9a(stations: Reads) -> None:
    text = f"{_HEAD}\nQA,-35,149,9A,600\nQB,-35,149,9,600\n"
    reading = stations(text, "australia-7mhz")
    assert [station["rf_channel"] for station in reading.stations] == [109, 9]


def test_lists_with_virtual_channels_alone(stations: Reads) -> None:
    with pytest.raises(InputError, match="only virtual channels"):
        stations("id,lat,lon,virtual,antenna_amsl_m\nQA,41,-97,6.1,600\n")
    with pytest.raises(InputError, match="no column gives the RF channel"):
        stations("id,lat,lon,antenna_amsl_m\nQA,41,-97,600\n")
    with pytest.raises(InputError, match="no column gives the longitude"):
        stations("id,lat,rf,antenna_amsl_m\nQA,41,21,600\n")


@pytest.mark.parametrize(
    ("header", "cell", "field", "value"),
    [
        ("pattern", '"0:0;10:-0.5"', "pattern", [[0.0, 0.0], [10.0, -0.5]]),
        ("Relative field", "0:1|180:0.5", "pattern", [[0.0, 0.0], [180.0, -6.0206]]),
        ("Attenuation (dB)", "0:0|180:6", "pattern", [[0.0, 0.0], [180.0, -6.0]]),
        ("pattern", "ND", "pattern", None),
        ("pattern", "DA", "pattern", None),
        ("pol", "H", "polarization", "h"),
        ("pol", "Circular", "polarization", "c"),
        ("pol", "E", "polarization", "e"),
        ("pol", "slant", "polarization", None),
        ("system", "NTSC", "system", None),
        ("role", "interferer", "role", "interferer"),
        ("must_have", "x", "must_have", True),
        ("must_have", "no", "must_have", False),
        ("required_cn_db", "19.5 dB", "required_cn_db", 19.5),
        ("mode", "64qam-2/3", "mode", "64qam-2/3"),
        ("name", "'=SUM", "name", "'=SUM"),
        ("name", "'-12 Hill", "name", "-12 Hill"),
    ],
)
def test_other_fields(stations: Reads, header: str, cell: str, field: str, value: Any) -> None:
    if value == "'=SUM":
        value = "=SUM"
    assert _one(stations, header, cell)[0][field] == value


def test_unknown_words_are_left_out_and_said(stations: Reads) -> None:
    _, reading = _one(stations, "pol,system,pattern", "slant,NTSC,DA")
    assert reading.assumed == [
        "polarization 'slant' is not known and left out (1 row: 2)",
        "system 'NTSC' is not known and left out (1 row: 2)",
        "pattern 'DA' names no levels and is left out (1 row: 2)",
    ]
