"""Rows to CSV and bearings to GeoJSON."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from skyview.survey.lists.export import bearing_lines, rows_to_csv
from skyview.survey.lists.reader import read_station_list


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_text_that_looks_like_a_formula_is_guarded(start: str) -> None:
    (row,) = csv.DictReader(io.StringIO(rows_to_csv([{"name": f"{start}1+1"}]), newline=""))
    assert row["name"] == f"'{start}1+1"


def test_headers_and_lists_are_guarded_too() -> None:
    assert rows_to_csv([{"=a": 1}]).startswith("'=a")
    assert rows_to_csv([{"a": ["=1"]}]) == 'a\r\n"[""=1""]"\r\n'


def test_numbers_are_untouched_and_unknown_is_empty() -> None:
    row = {
        "a": -3.5,
        "b": np.float64(-0.1),
        "c": None,
        "d": float("nan"),
        "e": True,
        "f": 21,
        "g": np.int64(-2),
        "h": [[0.0, 0.0], [10.0, -0.5]],
    }
    assert rows_to_csv([row]).split("\r\n")[1] == "-3.5,-0.1,,,true,21,-2,0:0;10:-0.5"


def test_columns_are_all_keys_or_those_named() -> None:
    rows = [{"a": 1}, {"b": 2, "a": 3}]
    assert rows_to_csv(rows) == "a,b\r\n1,\r\n3,2\r\n"
    assert rows_to_csv(rows, ["b"]) == 'b\r\n""\r\n2\r\n'
    assert rows_to_csv([], ["a"]) == "a\r\n"


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=30))
def test_any_text_comes_back_whole(text: str) -> None:
    (row,) = csv.DictReader(io.StringIO(rows_to_csv([{"k": 1, "name": text}]), newline=""))
    assert row["name"] in (text, f"'{text}")
    assert row["name"][:1] not in ("=", "+", "-", "@")


def _station(**more: Any) -> dict[str, Any]:
    return {
        "id": "QALD",
        "name": "-12 Hill",
        "latitude_deg": 41.5,
        "longitude_deg": -97.25,
        "antenna_amsl_m": 600.0,
        "haat_m": None,
        "rf_channel": 21,
        "virtual_channel": "6.1",
        "erp_kw": 400.0,
        "polarization": "h",
        "system": "atsc1",
        "mode": None,
        "required_cn_db": None,
        "field_dbuv_m": 61.0,
        "field_sigma_db": None,
        "pattern": [[0.0, 0.0], [90.0, -3.0]],
        "role": "interferer",
        "must_have": True,
        **more,
    }


def test_stations_read_back_as_they_were(tmp_path: Path) -> None:
    stations = [_station(), _station(id="QBEL", role="wanted", must_have=False, pattern=None)]
    path = tmp_path / "stations.txt"
    path.write_text(rows_to_csv(stations), encoding="utf-8", newline="")
    reading = read_station_list(path, plan="americas-6mhz", strict=True)
    assert reading.stations == stations
    assert (reading.assumed, reading.warnings) == ([], [])


def test_bearing_lines_follow_the_geodesic() -> None:
    """Against Karney's own implementation, geographiclib, to 2 m between the points."""
    text = bearing_lines(40.0, -98.0, [_station()])
    (feature,) = json.loads(text)["features"]
    points = feature["geometry"]["coordinates"]
    assert points[0] == [-98.0, 40.0]
    assert points[-1] == [-97.25, 41.5]
    whole = Geodesic.WGS84.Inverse(40.0, -98.0, 41.5, -97.25)
    assert len(points) == int(np.ceil(whole["s12"] / 10_000.0)) + 1
    for index, (longitude, latitude) in enumerate(points):
        along = whole["s12"] * index / (len(points) - 1)
        expected = Geodesic.WGS84.Direct(40.0, -98.0, whole["azi1"], along)
        assert latitude == pytest.approx(expected["lat2"], abs=1e-8)
        assert longitude == pytest.approx(expected["lon2"], abs=1e-8)
    assert feature["properties"]["id"] == "QALD"
    assert "latitude_deg" not in feature["properties"]


def test_lines_of_paths_carry_their_fields() -> None:
    paths = [
        {"station": "QALD", "bearing_deg": 20.1, "clearance_deg": float("nan")},
        {"station": "QALD", "bearing_deg": 20.2, "clearance_deg": np.float64(1.5)},
        {"station": "GONE", "bearing_deg": 0.0},
    ]
    features = json.loads(bearing_lines(40.0, -98.0, [_station()], paths))["features"]
    assert [feature["properties"] for feature in features] == [
        {"station": "QALD", "bearing_deg": 20.1, "clearance_deg": None},
        {"station": "QALD", "bearing_deg": 20.2, "clearance_deg": 1.5},
    ]


@pytest.mark.parametrize(("site", "there"), [(179.9, -179.8), (-179.9, 179.8)])
def test_a_line_over_the_antimeridian_is_cut(site: float, there: float) -> None:
    text = bearing_lines(10.0, site, [_station(latitude_deg=10.5, longitude_deg=there)])
    geometry = json.loads(text)["features"][0]["geometry"]
    assert geometry["type"] == "MultiLineString"
    first, second = geometry["coordinates"]
    assert first[0] == [site, 10.0]
    assert second[-1] == [there, 10.5]
    assert first[-1][0] == np.copysign(180.0, site)
    assert second[0][0] == np.copysign(180.0, there)
    assert first[-1][1] == second[0][1]
    for line in (first, second):
        assert np.all(np.abs(np.diff(np.array(line)[:, 0])) < 1.0)


def test_a_station_at_the_site_is_a_line_of_two_points() -> None:
    text = bearing_lines(41.5, -97.25, [_station()])
    line = json.loads(text)["features"][0]["geometry"]
    assert line["coordinates"] == [[-97.25, 41.5], [-97.25, 41.5]]
