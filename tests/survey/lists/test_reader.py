"""Whole lists of stations and landmarks, from the file to the survey's own models."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from long_list import write_long_list

from skyview.errors import InputError
from skyview.survey.lists.reader import read_landmark_list, read_station_list
from skyview.survey.lists.reading import LandmarkReading, StationReading
from skyview.survey.models import Landmark, Station

_HEAD = "id,lat,lon,rf_channel,antenna_amsl_m"
Reads = Callable[..., StationReading]


def _landmarks(tmp_path: Path, text: str, **more: Any) -> LandmarkReading:
    path = tmp_path / "landmarks.csv"
    path.write_text(text, encoding="utf-8")
    reading = read_landmark_list(path, **more)
    for landmark in reading.landmarks:
        assert set(landmark) == set(Landmark.model_fields) - {"height_sigma_m"}
        Landmark.model_validate(landmark)
    return reading


def test_a_full_row(stations: Reads) -> None:
    text = (
        "Call sign;Name;Latitude;Longitude;RF channel;Virtual;ERP (kW);RC AMSL (m);HAAT (m);"
        "Polarization;System;Mode;Required C/N (dB);Field strength (dBuV/m);Field sigma (dB);"
        "Pattern (dB);Role;Must have\n"
        "QALD;Qalder Hill;41-30-45 N;97-15-00 W;D21;6.1;400;600;250;C;ATSC;8vsb;15;62.5;4;"
        '"0:0;90:-3";wanted;yes\n'
    )
    reading = stations(text)
    assert reading.stations == [
        {
            "id": "QALD",
            "name": "Qalder Hill",
            "latitude_deg": 41.5125,
            "longitude_deg": -97.25,
            "antenna_amsl_m": 600.0,
            "haat_m": 250.0,
            "rf_channel": 21,
            "virtual_channel": "6.1",
            "erp_kw": 400.0,
            "polarization": "c",
            "system": "atsc1",
            "mode": "8vsb",
            "required_cn_db": 15.0,
            "field_dbuv_m": 62.5,
            "field_sigma_db": 4.0,
            "pattern": [[0.0, 0.0], [90.0, -3.0]],
            "role": "wanted",
            "must_have": True,
        }
    ]
    assert (reading.format, reading.assumed, reading.warnings, reading.rejected) == (
        "CSV, semicolon, utf-8",
        [],
        [],
        [],
    )


def test_the_least_row(stations: Reads) -> None:
    reading = stations("lat,lon,rf_channel,antenna_amsl_m\n41.5,-97.25,21,600\n")
    station = reading.stations[0]
    assert station["id"] == "S1"
    assert (station["role"], station["must_have"]) == ("wanted", False)
    unknown = {key for key, value in station.items() if value is None}
    assert unknown == {
        *("name", "haat_m", "virtual_channel", "erp_kw", "polarization", "system", "mode"),
        *("required_cn_db", "field_dbuv_m", "field_sigma_db", "pattern"),
    }
    assert reading.assumed == ["rows without id or name numbered (1 row: S1)"]


@pytest.mark.parametrize(
    ("header", "cell", "field"),
    [
        ("erp_kw", "much", "erp_kw"),
        ("erp_kw", "-5", "erp_kw"),
        ("haat_m", "high", "haat_m"),
        ("pattern", "0:0|10:5", "pattern"),
        ("required_cn_db", "19 kW", "required_cn_db"),
        ("erp_kw", "1,2,3", "row"),
    ],
)
def test_a_bad_cell_rejects_its_row_and_the_rest_loads(
    stations: Reads, tmp_path: Path, header: str, cell: str, field: str
) -> None:
    text = f"{_HEAD},{header}\nQA,41,-97,21,600,\n\nQB,41,-97,21,600,{cell}\nQC,41,-97,21,600,\n"
    reading = stations(text)
    assert [station["id"] for station in reading.stations] == ["QA", "QC"]
    assert [(row.line, row.field) for row in reading.rejected] == [(4, field)]
    with pytest.raises(InputError, match="line 4: ") as caught:
        stations(text, strict=True)
    assert (caught.value.file, caught.value.field) == (str(tmp_path / "stations.csv"), field)


def test_what_is_said_of_a_rejected_row_is_not_said(stations: Reads) -> None:
    reading = stations(f"{_HEAD},erp\nQA,41,-97,44,,5\nQB,41,-97,21,600,\n")
    assert (reading.rows_used, reading.assumed, reading.warnings) == (1, [], [])


def test_no_usable_row_names_the_first(stations: Reads) -> None:
    with pytest.raises(InputError, match="none of 2 rows can be used; the first, line 2"):
        stations(f"{_HEAD}\nQA,x,-97,21,600\nQB,41,x,21,600\n")


def test_an_unclosed_quotation_mark_costs_its_row_alone(stations: Reads) -> None:
    text = f'{_HEAD},name\nQA,41,-97,21,600,a\nQB,41,-97,21,600,"b\nQC,41,-97,21,600,c\n'
    reading = stations(text)
    assert [station["id"] for station in reading.stations] == ["QA", "QC"]
    assert [(row.line, row.field) for row in reading.rejected] == [(3, "row")]


def test_decimal_commas(stations: Reads) -> None:
    text = "id;lat;lon;rf;antenna_amsl_m;erp_kw\nQA;41,5;-97,25;21;600,5;1,000\n"
    reading = stations(text)
    station = reading.stations[0]
    assert (station["latitude_deg"], station["longitude_deg"]) == (41.5, -97.25)
    assert (station["antenna_amsl_m"], station["erp_kw"]) == (600.5, 1.0)
    assert reading.assumed == ["commas in numbers read as decimal signs"]


def test_thousands_beside_decimal_points(stations: Reads) -> None:
    text = "id;lat;lon;rf;antenna_amsl_m;erp_kw\nQA;41.5;-97.25;21;600;1,000\n"
    assert stations(text).stations[0]["erp_kw"] == 1000.0
    text = f'{_HEAD},erp_kw\nQA,41,-97,21,600,"1,000"\n'
    assert stations(text).stations[0]["erp_kw"] == 1000.0


def test_columns_for_a_list_without_headers(stations: Reads) -> None:
    text = "|QALD|41 30 00|N|21|600|unused|97 15 00|W|\n"
    columns = "id,lat,lat_dir,rf_channel,antenna_amsl_m,-,lon,lon_dir"
    station = stations(text, columns=columns).stations[0]
    assert (station["latitude_deg"], station["longitude_deg"]) == (41.5, -97.25)
    assert (station["id"], station["rf_channel"]) == ("QALD", 21)


def test_ids_are_unique(stations: Reads) -> None:
    rows = "QALD,41,-97,21,600\n" * 3
    reading = stations(f"{_HEAD}\n{rows}")
    assert [station["id"] for station in reading.stations] == ["QALD", "QALD-2", "QALD-3"]
    assert reading.assumed == ["ids made unique (2 rows: QALD-2, QALD-3)"]


def test_unknown_columns_are_said(stations: Reads) -> None:
    reading = stations(f"{_HEAD},Owner,Licence date\nQALD,41,-97,21,600,none,today\n")
    assert reading.assumed == ["columns left aside: 'Owner', 'Licence date'"]


def test_geojson_stations(stations: Reads, tmp_path: Path) -> None:
    def feature(place: list[float], **properties: Any) -> dict[str, Any]:
        geometry = {"type": "Point", "coordinates": place}
        return {"type": "Feature", "geometry": geometry, "properties": properties}

    features = [
        feature([-97.25, 41.5], id="QALD", rf_channel=21, antenna_amsl_m=600, pattern=[[0, 0]]),
        feature([-97.25, 41.5], id="QBAD", rf_channel=99, antenna_amsl_m=600),
        feature([41.5, -97.25], id="QSWP", rf_channel=21, antenna_amsl_m=600),
    ]
    path = tmp_path / "stations.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), "utf-8")
    reading = read_station_list(path, plan="americas-6mhz")
    assert reading.format == "GeoJSON"
    assert [station["id"] for station in reading.stations] == ["QALD"]
    assert reading.stations[0]["pattern"] == [[0.0, 0.0]]
    Station.model_validate(reading.stations[0])
    assert [(row.line, row.field) for row in reading.rejected] == [
        (2, "rf_channel"),
        (3, "latitude_deg"),
    ]
    assert "look swapped" in reading.rejected[1].reason
    with pytest.raises(InputError, match="feature 2"):
        read_station_list(path, plan="americas-6mhz", strict=True)


def test_web_pages_and_unknown_plans(stations: Reads) -> None:
    with pytest.raises(InputError, match="web page"):
        stations("<html><body>id,lat,lon</body></html>")
    with pytest.raises(InputError, match="no channel plan"):
        stations(f"{_HEAD}\nQA,41,-97,21,600\n", "moon-1mhz")


def test_every_error_is_one_sentence(stations: Reads, tmp_path: Path) -> None:
    for text in ("", "x", "<p>", "{", f"{_HEAD}\n", f"{_HEAD}\nQA,x,1,21,600\n", "id,lat\n1,2\n"):
        with pytest.raises(InputError) as caught:
            stations(text)
        sentence = str(caught.value)
        assert sentence.startswith(str(tmp_path / "stations.csv"))
        assert sentence.endswith(".")
        assert "\n" not in sentence


def test_fifty_thousand_rows_in_a_few_seconds(tmp_path: Path) -> None:
    path = write_long_list(tmp_path / "stations.csv")
    begun = time.process_time()
    reading = read_station_list(path, plan="americas-6mhz")
    assert time.process_time() - begun < 8.0
    assert (reading.rows_used, reading.rejected) == (50_000, [])
    assert reading.stations[-1]["id"] == "Q49999"


def test_landmarks(tmp_path: Path) -> None:
    text = (
        "Landmark;Latitude;Longitude;Top AMSL (ft);Accuracy\n"
        "Water tower;41-30-00 N;97-15-00 W;1509.2;8\n"
        "Spire;41,6;-97,3;;\n"
        "Nowhere;91;-97,3;;\n"
        "Chimney;41,6;-97,3;;-1\n"
    )
    reading = _landmarks(tmp_path, text)
    assert reading.landmarks[0] == {
        "id": "Water-tower",
        "latitude_deg": 41.5,
        "longitude_deg": -97.25,
        "top_amsl_m": pytest.approx(460.0, abs=0.01),
        "sigma_m": 8.0,
    }
    assert reading.landmarks[1]["top_amsl_m"] is None
    assert [(row.line, row.field) for row in reading.rejected] == [
        (4, "latitude_deg"),
        (5, "sigma_m"),
    ]


def test_heights_of_landmarks(tmp_path: Path) -> None:
    text = "id,lat,lon,top_agl_m,ground_amsl_m\nQ,41,-97,60,400\n"
    assert _landmarks(tmp_path, text).landmarks[0]["top_amsl_m"] == 460.0
    reading = _landmarks(tmp_path, "id,lat,lon,height\nQ,41,-97,60\n")
    assert reading.landmarks[0]["top_amsl_m"] is None
    assert "does not say what it is above" in reading.assumed[0]
    text = "id,lat,lon,top_agl_m\nQ,41,-97,60\n"
    assert (
        _landmarks(tmp_path, text, ground_amsl_of=lambda *_: 400.0).landmarks[0]["top_amsl_m"]
        == 460.0
    )
    with pytest.raises(InputError, match="above ground"):
        _landmarks(tmp_path, text)


def test_geojson_landmarks(tmp_path: Path) -> None:
    point = {"type": "Point", "coordinates": [-97.25, 41.5, 460]}
    feature = {"type": "Feature", "geometry": point, "properties": {"name": "Spire"}}
    text = json.dumps({"type": "FeatureCollection", "features": [feature]})
    reading = _landmarks(tmp_path, text)
    assert reading.landmarks[0]["id"] == "Spire"
    assert reading.landmarks[0]["top_amsl_m"] is None
    assert "third coordinate" in reading.assumed[0]
