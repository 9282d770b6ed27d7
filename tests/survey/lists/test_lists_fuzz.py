"""Whatever the bytes, a list is read or refused in one sentence; nothing else is raised."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from skyview.errors import SkyviewError
from skyview.survey.lists.reader import read_landmark_list, read_station_list
from skyview.survey.models import Landmark, Station

_CSV = (
    b'id,name,lat,lon,rf,virtual,antenna_amsl_m,haat_m,erp_kw,pol,pattern\nQALD,"Qalder, Hill",'
    b'41-30-00 N,97-15-00 W,21,6.1,600,250,400,H,"0:0;90:-3"\nQBEL,b,41.6,-97.3,7,,500 ft,,,,\n'
)
_JSON = (
    b'{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point",'
    b'"coordinates":[-97.25,41.5]},"properties":{"id":"QALD","rf_channel":21,'
    b'"antenna_amsl_m":600,"pattern":[[0,0],[90,-3]],"must_have":true}}]}'
)
_CELLS = st.text(alphabet="0123456789.,-+;:|\t\"'=@°NSEWnsewkdBftmQ \u00e4\ud800", max_size=12)
_FEW = settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])


def _read(path: Path, data: bytes) -> None:
    path.write_bytes(data)
    try:
        for station in read_station_list(path, plan="americas-6mhz").stations:
            Station.model_validate(station)
    except SkyviewError as trouble:
        _check_sentence(str(trouble))
    try:
        for landmark in read_landmark_list(path).landmarks:
            Landmark.model_validate(landmark)
    except SkyviewError as trouble:
        _check_sentence(str(trouble))


def _check_sentence(sentence: str) -> None:
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert len(sentence) < 600


@_FEW
@given(st.binary(max_size=400))
def test_random_bytes(tmp_path: Path, data: bytes) -> None:
    _read(tmp_path / "list", data)


@pytest.mark.parametrize("whole", [_CSV, _JSON], ids=["csv", "geojson"])
@_FEW
@given(data=st.data())
def test_a_good_list_with_some_bytes_changed(
    tmp_path: Path, whole: bytes, data: st.DataObject
) -> None:
    spoilt = bytearray(whole)
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(spoilt) - 1))
        spoilt[at : at + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3))
    _read(tmp_path / "list", bytes(spoilt))


@_FEW
@given(rows=st.lists(st.lists(_CELLS, min_size=9, max_size=9), min_size=1, max_size=4))
def test_random_cells_below_good_headers(tmp_path: Path, rows: list[list[str]]) -> None:
    head = "id,lat,lon,rf,antenna_amsl_m,haat_m,erp,pattern,top_amsl_m"
    text = "\n".join([head, *(",".join(row) for row in rows)])
    _read(tmp_path / "list", text.encode("utf-8", "surrogatepass"))


@_FEW
@given(
    cells=st.dictionaries(
        st.sampled_from(["id", "rf", "erp", "antenna_amsl_m", "pattern", "name", "must_have"]),
        st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | _CELLS,
            lambda inner: st.lists(inner, max_size=3),
            max_leaves=5,
        ),
    ),
    place=st.lists(st.floats(-200, 200) | st.integers(), max_size=3),
)
def test_random_properties(tmp_path: Path, cells: dict[str, object], place: list[float]) -> None:
    feature = {"geometry": {"type": "Point", "coordinates": place}, "properties": cells}
    text = json.dumps({"type": "FeatureCollection", "features": [feature]})
    _read(tmp_path / "list", text.encode())
