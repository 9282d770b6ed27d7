"""Rows to CSV that a spreadsheet opens safely, and stations and bearings to GeoJSON.

Text only: who calls it writes the file. Degrees, kilometres.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from skyview.angles import Array
from skyview.place.bearings import destination_deg, geodesic
from skyview.survey.lists.geojson import cell_of

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
STEP_KM = 10.0
"""Longest step of a bearing line: its chord leaves the geodesic by 2 m at most."""


def rows_to_csv(rows: Sequence[Mapping[str, Any]], columns: Sequence[str] | None = None) -> str:
    """Rows as comma-separated text with a line of headers, lines ended by CR LF (RFC 4180).

    The columns are all keys in the order in which they first appear, or those named. Unknown
    (None, NaN) is an empty cell. A text that a spreadsheet would take for a formula, since it
    begins with = + - @ or a control character, gets an apostrophe before it; numbers are as
    they are. Lists and objects are JSON, a pattern is "0:0;10:-0.5".

    >>> rows_to_csv([{"id": "=QALD", "margin_db": -3.5, "note": None}])
    "id,margin_db,note\\r\\n'=QALD,-3.5,\\r\\n"
    """
    names = (
        list(dict.fromkeys(name for row in rows for name in row)) if columns is None else columns
    )
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow([_guarded(name) for name in names])
    writer.writerows([_cell(row.get(name)) for name in names] for row in rows)
    return file.getvalue()


def _guarded(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text


def _cell(value: Any) -> str:
    plain = _plain(value)
    if isinstance(plain, bool):
        return "true" if plain else "false"
    if isinstance(plain, int | float):
        return repr(plain)
    return _guarded(cell_of(plain))


def _plain(value: Any) -> Any:
    """A value as JSON knows it: NumPy scalars unwrapped, what is not finite unknown."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        return [_plain(inner) for inner in value]
    return value


def bearing_lines(
    latitude_deg: float,
    longitude_deg: float,
    stations: Sequence[Mapping[str, Any]],
    paths: Sequence[Mapping[str, Any]] | None = None,
) -> str:
    """Bearing lines from the site to the stations as GeoJSON (RFC 7946).

    Each is a LineString along the geodesic in steps of at most 10 km; at the antimeridian it is
    cut into a MultiLineString (section 3.1.9). With ``paths`` there is a line for each path row
    whose ``station`` is the id of one of the stations, and its fields are the properties;
    without, a line for each station.

    >>> text = bearing_lines(0.0, 0.0, [{"id": "Q", "latitude_deg": 0.0, "longitude_deg": 1.0}])
    >>> line = json.loads(text)["features"][0]["geometry"]
    >>> line["type"], line["coordinates"][0], line["coordinates"][-1]
    ('LineString', [0.0, 0.0], [1.0, 0.0])
    """
    of = {station["id"]: station for station in stations}
    lines = {}
    for name, station in of.items():
        azimuth, distance_m = geodesic(
            latitude_deg, longitude_deg, station["latitude_deg"], station["longitude_deg"]
        )
        lines[name] = _line(latitude_deg, longitude_deg, station, float(azimuth), float(distance_m))
    rows = [(name, _without_place(station)) for name, station in of.items()]
    if paths is not None:
        rows = [(path["station"], dict(path)) for path in paths if path["station"] in of]
    return _collection([_feature(*lines[name], properties) for name, properties in rows])


def _line(
    latitude_deg: float,
    longitude_deg: float,
    station: Mapping[str, Any],
    azimuth: float,
    distance_m: float,
) -> tuple[str, list[Any]]:
    """Type and coordinates of one line, whose ends are the given places to the last digit."""
    steps = max(1, math.ceil(distance_m / (1000.0 * STEP_KM)))
    along = np.linspace(0.0, distance_m, steps + 1)
    latitude, longitude = destination_deg(latitude_deg, longitude_deg, azimuth, along)
    latitude, longitude = np.array(latitude), np.array(longitude)
    latitude[[0, -1]] = latitude_deg, station["latitude_deg"]
    longitude[[0, -1]] = longitude_deg, station["longitude_deg"]
    cuts = np.flatnonzero(np.abs(np.diff(longitude)) > 180.0)
    if cuts.size == 0:
        return "LineString", _pairs(longitude, latitude)
    at = int(cuts[0])
    side = math.copysign(180.0, longitude[at])
    ahead = longitude[at + 1] + 2.0 * side
    share = (side - longitude[at]) / (ahead - longitude[at])
    crossing = latitude[at] + share * (latitude[at + 1] - latitude[at])
    first = _pairs(np.append(longitude[: at + 1], side), np.append(latitude[: at + 1], crossing))
    second = _pairs(
        np.insert(longitude[at + 1 :], 0, -side), np.insert(latitude[at + 1 :], 0, crossing)
    )
    return "MultiLineString", [first, second]


def _pairs(longitude: Array, latitude: Array) -> list[list[float]]:
    result: list[list[float]] = np.stack([longitude, latitude], axis=-1).round(9).tolist()
    return result


def _without_place(record: Mapping[str, Any]) -> dict[str, Any]:
    return {key: v for key, v in record.items() if key not in ("latitude_deg", "longitude_deg")}


def _feature(kind: str, coordinates: list[Any], properties: Mapping[str, Any]) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "geometry": geometry, "properties": _plain(properties)}


def _collection(features: list[dict[str, Any]]) -> str:
    return json.dumps(
        {"type": "FeatureCollection", "features": features}, ensure_ascii=False, allow_nan=False
    )
