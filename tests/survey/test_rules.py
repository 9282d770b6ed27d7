"""Rules that span several fields: each refusal as the user reads it."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from skyview.errors import InputError
from skyview.survey.models import validate

EXAMPLE = json.loads(Path(__file__).with_name("example_survey.json").read_text("utf-8"))


def example(**parts: Any) -> dict[str, Any]:
    """The example with fields of the first item of the named lists replaced."""
    data = copy.deepcopy(EXAMPLE)
    for name, fields in parts.items():
        data[name][0].update(fields)
    return data


def sentence(data: Any) -> str:
    with pytest.raises(InputError) as caught:
        validate(data)
    return str(caught.value)


@pytest.mark.parametrize(
    "name",
    ["spots", "views", "landmarks", "marks", "obstructions", "outlines", "stations", "antennas"],
)
def test_ids_are_unique_in_their_list(name: str) -> None:
    data = example()
    data[name].append(copy.deepcopy(data[name][0]))
    key = data[name][0]["id"]
    assert sentence(data) == (
        f"{name}.{key}: 2 of the {name} are called '{key}'; give each its own id."
    )


@pytest.mark.parametrize(
    ("name", "field", "target"),
    [
        ("views", "spot", "spots"),
        ("marks", "view", "views"),
        ("marks", "landmark", "landmarks"),
        ("marks", "station", "stations"),
        ("marks", "other", "marks"),
        ("obstructions", "distance_from", "views"),
        ("outlines", "obstruction", "obstructions"),
        ("outlines", "view", "views"),
        ("antennas", "spot", "spots"),
        ("promises", "station", "stations"),
        ("scans", "antenna", "antennas"),
    ],
)
def test_what_is_named_exists(name: str, field: str, target: str) -> None:
    said = sentence(example(**{name: {field: "zz"}}))
    assert f".{field}: 'zz' is not the id of any of the {target}; there are " in said
    assert said.startswith(f"{name}.{EXAMPLE[name][0].get('id', 0)}.")


def test_the_nearest_id_is_offered() -> None:
    assert "did you mean ridge?" in sentence(example(antennas={"spot": "rigde"}))


def test_nothing_to_name_is_said_too() -> None:
    data = example(antennas={"spot": "ridge"}, views={"spot": None})
    data["spots"] = []
    assert "there are no spots" in sentence(data)


@pytest.mark.parametrize(("north_m", "refused"), [(9.0, True), (11.0, False)])
def test_a_station_at_the_site_itself(north_m: float, refused: bool) -> None:
    data = example(stations={"latitude_deg": north_m / 111_194.9, "longitude_deg": 0.0})
    if refused:
        assert sentence(data) == (
            "stations.QALD: a station at the site itself, 9 m away; "
            "give the transmitter's latitude and longitude."
        )
    else:
        assert validate(data).stations[0].id == "QALD"


def test_the_distance_to_a_station_goes_the_short_way_round() -> None:
    data = example(stations={"latitude_deg": 10.0, "longitude_deg": 179.99999})
    data["site"].update(latitude_deg=10.0, longitude_deg=-179.99999)
    assert "a station at the site itself, 2 m away" in sentence(data)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"landmark": None}, "marks.m1.landmark: a mark of kind landmark needs it"),
        ({"kind": "station"}, "marks.m1.station: a mark of kind station needs it"),
        ({"kind": "tie"}, "marks.m1.other: a mark of kind tie needs it"),
        (
            {"kind": "bearing", "north": "true"},
            "marks.m1.azimuth_deg: a mark of kind bearing needs it",
        ),
        (
            {"kind": "bearing", "azimuth_deg": 9},
            "marks.m1.north: a mark of kind bearing needs it",
        ),
        (
            {"kind": "plumb"},
            "marks.m1.points_px: 1 of them in a mark of kind plumb; it takes 2 or more points",
        ),
        (
            {"kind": "shadow", "points_px": [[1, 1], [2, 2], [3, 3]]},
            "marks.m1.points_px: 3 of them in a mark of kind shadow; it takes exactly 2",
        ),
        (
            {"kind": "sun", "points_px": [[1, 1], [2, 2]]},
            "marks.m1.points_px: 2 of them in a mark of kind sun; it takes exactly 1",
        ),
        ({"kind": "tie", "other": "m1"}, "marks.m1.other: 'm1' lies in the same view"),
        (
            {"points_px": [[900, 1026]]},
            "marks.m1.points_px.0: x 900, y 1026 lies outside the picture of view v1; "
            "it is 4096 px wide and 1024 px high",
        ),
    ],
)
def test_a_mark_has_what_its_kind_needs(fields: dict[str, Any], said: str) -> None:
    assert sentence(example(marks=fields)).startswith(said)


def test_pixels_of_a_frame_are_not_held_against_the_panorama() -> None:
    marks = validate(example(marks={"points_px": [[900, 3000]], "frame": "a.jpg"})).marks
    assert marks[0].frame == "a.jpg"


@pytest.mark.parametrize(
    ("rings", "said"),
    [
        ([[[1, 1], [9, 1]]], "rings_px.0: a ring of 2 different points; a ring takes 3 or more"),
        ([[[1, 1], [9, 1], [1, 1], [9, 1]]], "rings_px.0: a ring of 2 different points"),
        ([[[1, 1], [5, 5], [9, 9]]], "rings_px.0: the ring encloses no area"),
        (
            [[[0, 0], [20, 20], [20, 0], [0, 20]]],
            "rings_px.0: the ring crosses itself near x 10, y 10; "
            "draw it so that its sides do not cross",
        ),
        (
            [[[0, 0], [90, 0], [50, 90]], [[200, 10], [220, 10], [210, 30]]],
            "rings_px.1: this hole is not inside the edge",
        ),
        (
            [
                [[0, 0], [90, 0], [90, 90], [0, 90]],
                [[10, 10], [50, 10], [50, 50], [10, 50]],
                [[30, 30], [70, 30], [70, 70], [30, 70]],
            ],
            "rings_px: two of the holes overlap; join them into one",
        ),
        ([[[0, -3], [90, 0], [50, 90]]], "rings_px.0.0: x 0, y -3 lies outside the picture"),
        ([[[1e300, 0], [90, 0], [50, 90]]], "rings_px.0.0: x 1e+300, y 0 lies outside"),
    ],
)
def test_an_outline_is_a_shape_in_its_picture(rings: list[Any], said: str) -> None:
    assert sentence(example(outlines={"rings_px": rings})).startswith(f"outlines.o1.{said}")


def test_a_ring_may_be_closed_and_have_a_hole() -> None:
    edge = [[0, 0], [90, 0], [90, 90], [0, 90], [0, 0]]
    hole = [[10, 10], [50, 10], [50, 50]]
    outline = validate(example(outlines={"rings_px": [edge, hole]})).outlines[0]
    assert outline.rings_px[0][0] == outline.rings_px[0][-1] == (0.0, 0.0)


@pytest.mark.parametrize(
    ("projection", "closes"),
    [
        ({"kind": "equirectangular", "left_deg": -180, "right_deg": 180}, True),
        ({"kind": "equirectangular", "left_deg": 0, "right_deg": 360}, True),
        ({"kind": "equirectangular"}, True),
        ({"kind": "equirectangular", "left_deg": -90, "right_deg": 90}, False),
        ({"kind": "cylindrical", "px_per_rad": 651.9}, True),
        ({"kind": "cylindrical", "px_per_rad": 1300}, False),
        ({"kind": "cylindrical"}, False),
        ({"kind": "rectilinear"}, False),
        (None, False),
    ],
)
def test_x_runs_past_the_width_of_a_full_circle_only(projection: Any, closes: bool) -> None:
    ring = [[4000, 10], [4200, 10], [4100, 90]]
    data = example(views={"projection": projection}, outlines={"rings_px": [ring]})
    if closes:
        assert validate(data).outlines[0].rings_px[0][1] == (4200.0, 10.0)
    else:
        assert "x 4200, y 10 lies outside the picture of view v1" in sentence(data)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        (
            {"left_deg": 90, "right_deg": -90},
            "views.v1.projection.right_deg: the picture would span -180 degrees",
        ),
        (
            {"left_deg": -180, "right_deg": 181},
            "views.v1.projection.right_deg: the picture would span 361 degrees",
        ),
        (
            {"top_deg": -30, "bottom_deg": 60},
            "views.v1.projection.top_deg: the upper edge, -30, is not above the lower one, 60",
        ),
    ],
)
def test_edges_of_a_panorama_are_in_order(fields: dict[str, float], said: str) -> None:
    data = example(views={"projection": {"kind": "equirectangular", **fields}})
    assert sentence(data).startswith(said)


def test_a_covariance_has_a_row_for_each_parameter() -> None:
    pose = {"yaw_deg": 1, "pitch_deg": 0, "roll_deg": 0, "parameters": ["yaw"]}
    data = example(views={"calibration": {**pose, "covariance": [[1e-6, 0]]}})
    assert "does not have a row and a column for each of 1 parameters" in sentence(data)
    data = example(views={"calibration": {**pose, "covariance": [[1e-6]]}})
    calibration = validate(data).views[0].calibration
    assert calibration is not None
    assert calibration.scale == 1.0


def test_a_pass_band_is_in_order() -> None:
    data = example(antennas={"downlead": [{"kind": "filter", "pass_mhz": [608, 470]}]})
    assert sentence(data) == (
        "antennas.main.downlead.0.pass_mhz: 608 is not below 470; "
        "the lowest frequency stands first."
    )


def test_several_rules_broken_are_counted() -> None:
    data = example(marks={"landmark": None}, outlines={"rings_px": [[[1, 1], [5, 5], [9, 9]]]})
    assert "needs it (and 1 more)" in sentence(data)
