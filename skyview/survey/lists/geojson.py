"""GeoJSON points to rows of text cells, as a table of delimited text would hold them.

Source: RFC 7946. Coordinates are longitude, latitude on WGS 84. A third coordinate is a height
above the ellipsoid (section 3.1.1) of a point that may be the ground or the antenna: it is left
aside, and that is noted.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from skyview.errors import InputError
from skyview.survey.lists.columns import Column, Layout, layout_of
from skyview.survey.lists.reading import Notes, Rejected
from skyview.survey.lists.spellings import Kind
from skyview.survey.lists.values import shown

_COLLECTION = "give a FeatureCollection of points"


def features_of(
    text: str, kind: Kind, path: str | Path, notes: Notes
) -> tuple[Layout, list[tuple[int, list[str]]], list[Rejected]]:
    """The layout of the properties, a row for each point, and the features that are no points.

    Rows are numbered by their feature, from 1. Raises InputError for what is no collection of
    features on WGS 84.
    """
    features = _collection(text, path)
    names = list(dict.fromkeys(name for feature in features for name in _properties(feature)))
    layout = layout_of(names, kind)
    at = {name: index for index, name in enumerate(names)}
    _place_columns(layout, len(names))
    rows: list[tuple[int, list[str]]] = []
    rejected: list[Rejected] = []
    for number, feature in enumerate(features, start=1):
        point = _point(feature)
        if isinstance(point, str):
            rejected.append(Rejected(number, "geometry", point))
            continue
        if len(point) > 2:
            notes.add("the third coordinate does not say what it is the height of; not used")
        cells = [""] * (len(names) + 3)
        for name, value in _properties(feature).items():
            cells[at[name]] = cell_of(value)
        cells[-3], cells[-2] = cell_of(point[1]), cell_of(point[0])
        cells[-1] = cell_of(feature.get("id"))
        rows.append((number, cells))
    if not rows:
        raise InputError(
            f"none of the {len(features)} features is a point; the first: {rejected[0].reason}",
            path,
            "features",
            _COLLECTION,
        )
    return layout, rows, rejected


def _place_columns(layout: Layout, width: int) -> None:
    """The point's own columns; those of the properties that also give a place are left aside."""
    for quantity in list(layout.columns):
        if quantity.startswith(("latitude", "longitude", "position")):
            layout.ignored.append(layout.columns.pop(quantity).header)
    layout.columns["latitude"] = Column(width, "latitude of the point", "")
    layout.columns["longitude"] = Column(width + 1, "longitude of the point", "")
    layout.columns.setdefault("id", Column(width + 2, "id of the feature", ""))


def _collection(text: str, path: str | Path) -> list[dict[str, Any]]:
    try:
        found = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as trouble:
        where = f" (line {trouble.lineno})" if isinstance(trouble, json.JSONDecodeError) else ""
        raise InputError(f"the file is no valid JSON{where}", path, mend=_COLLECTION) from None
    kind = found.get("type") if isinstance(found, dict) else None
    if kind == "Feature":
        found = {"features": [found]}
    elif kind != "FeatureCollection" or not isinstance(found.get("features"), list):
        raise InputError("the JSON is no collection of features", path, "type", _COLLECTION)
    system = json.dumps(found.get("crs", "CRS84"))
    if not any(name in system for name in ("CRS84", "4326", "WGS84")):
        raise InputError(
            f"the coordinates are in {shown(system)}, not on WGS 84",
            path,
            "crs",
            "export the points as longitude and latitude",
        )
    features = [feature if isinstance(feature, dict) else {} for feature in found["features"]]
    if not features:
        raise InputError("the collection holds no features", path, "features", _COLLECTION)
    return features


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON")


def _properties(feature: dict[str, Any]) -> dict[str, Any]:
    properties = feature.get("properties")
    return properties if isinstance(properties, dict) else {}


def _point(feature: dict[str, Any]) -> list[float] | str:
    """The coordinates of a feature, or why it has none."""
    geometry = feature.get("geometry")
    if not isinstance(geometry, dict):
        return "the feature has no geometry"
    if geometry.get("type") != "Point":
        return f"the geometry is {shown(str(geometry.get('type')))}, not a Point"
    point = geometry.get("coordinates")
    if isinstance(point, list) and len(point) >= 2 and all(map(_is_number, point[:2])):
        return point
    return "the coordinates are not longitude and latitude"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def cell_of(value: Any) -> str:
    """A JSON value as the text of a cell; pairs of numbers become a pattern's "0:0;10:-0.5".

    >>> cell_of(None), cell_of(True), cell_of(1e-5), cell_of([[0, 0], [10, -0.5]])
    ('', 'yes', '0.00001', '0:0;10:-0.5')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return np.format_float_positional(value, trim="-") if abs(value) < 1e15 else repr(value)
    if isinstance(value, list) and all(isinstance(v, list) and len(v) == 2 for v in value):
        return ";".join(f"{cell_of(azimuth)}:{cell_of(level)}" for azimuth, level in value)
    return str(value) if isinstance(value, str | int) else json.dumps(value)
