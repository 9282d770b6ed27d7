"""GeoJSON points to rows."""

from __future__ import annotations

import json
from typing import Any

import pytest

from skyview.errors import InputError
from skyview.survey.lists.geojson import cell_of, features_of
from skyview.survey.lists.reading import Notes


def _point(*coordinates: Any, **properties: Any) -> dict[str, Any]:
    geometry = {"type": "Point", "coordinates": list(coordinates)}
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def _text(*features: Any, **more: Any) -> str:
    return json.dumps({"type": "FeatureCollection", "features": list(features), **more})


def _cells(text: str, notes: Notes | None = None) -> list[dict[str, str]]:
    layout, rows, _ = features_of(text, "stations", "list.json", notes or Notes())
    return [
        {quantity: cells[column.index] for quantity, column in layout.columns.items()}
        for _, cells in rows
    ]


def test_points_become_rows() -> None:
    text = _text(
        _point(-97.25, 41.5, id="QALD", rf_channel=21, erp_kw=12.5, must_have=True),
        _point(-97, 41, id="QBEL", polarization="v"),
    )
    first, second = _cells(text)
    assert (first["longitude"], first["latitude"]) == ("-97.25", "41.5")
    assert (first["rf_channel"], first["erp"], first["must_have"]) == ("21", "12.5", "yes")
    assert (second["polarization"], second["erp"]) == ("v", "")


def test_the_point_comes_before_the_properties_and_the_features_id_last() -> None:
    feature = {**_point(-97.25, 41.5, lat=0, lon=0), "id": "QALD"}
    (row,) = _cells(_text(feature))
    assert (row["latitude"], row["id"]) == ("41.5", "QALD")


def test_a_third_coordinate_is_left_aside_and_that_is_said() -> None:
    notes = Notes()
    assert len(_cells(_text(_point(-97, 41, 500)), notes)) == 1
    assert "third coordinate" in notes.sentences()[0]


def test_features_that_are_no_points() -> None:
    line = {"type": "Feature", "geometry": {"type": "LineString", "coordinates": []}}
    text = _text(
        line, _point(1, 2), {"geometry": None}, 7, _point("1", 2), _point(1), _point(True, 2)
    )
    _, rows, rejected = features_of(text, "stations", "list.json", Notes())
    assert [number for number, _ in rows] == [2]
    assert [row.line for row in rejected] == [1, 3, 4, 5, 6, 7]
    assert "'LineString', not a Point" in rejected[0].reason


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("{", "no valid JSON"),
        ('{"type": "FeatureCollection", "features": [\n NaN]}', "no valid JSON"),
        ("[" * 100_000, "no valid JSON"),
        ("[]", "no collection of features"),
        ('{"type": "Topology"}', "no collection of features"),
        ('{"type": "FeatureCollection", "features": {}}', "no collection of features"),
        ('{"type": "FeatureCollection", "features": []}', "holds no features"),
        (_text({"geometry": None}), "none of the 1 features is a point"),
        (_text(_point(1, 2), crs={"properties": {"name": "EPSG:25832"}}), "not on WGS 84"),
    ],
)
def test_what_is_no_collection(text: str, reason: str) -> None:
    with pytest.raises(InputError, match=reason):
        features_of(text, "stations", "list.json", Notes())


def test_a_single_feature_and_the_named_system_are_accepted() -> None:
    assert len(_cells(json.dumps(_point(1, 2)))) == 1
    system = {"properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    assert len(_cells(_text(_point(1, 2), crs=system))) == 1


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1e22, "1e+22"),
        (0.1, "0.1"),
        (-97.0, "-97"),
        ("a", "a"),
        ({"a": 1}, '{"a": 1}'),
        ([1, 2, 3], "[1, 2, 3]"),
        (False, "no"),
    ],
)
def test_cells(value: Any, text: str) -> None:
    assert cell_of(value) == text
