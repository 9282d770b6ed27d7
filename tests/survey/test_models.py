"""The models: what they take, what they default to, and the sentences they refuse with."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from skyview.errors import InputError
from skyview.survey.models import (
    Equirectangular,
    Mark,
    Prior,
    Rectilinear,
    Spot,
    Survey,
    View,
    new_survey,
    schema,
    validate,
)

EXAMPLE = json.loads(Path(__file__).with_name("example_survey.json").read_text("utf-8"))


def changed(path: str, value: Any) -> dict[str, Any]:
    """The example with one place set; the steps of the path are keys and indices."""
    data = copy.deepcopy(EXAMPLE)
    *above, last = [int(step) if step.isdecimal() else step for step in path.split("/")]
    place = data
    for step in above:
        place = place[step]
    if isinstance(place, list) and last == len(place):
        place.append(value)
    else:
        place[last] = value
    return data


def refusal(data: Any) -> InputError:
    with pytest.raises(InputError) as caught:
        validate(data, "survey.json")
    return caught.value


def test_the_contracts_example_is_a_survey() -> None:
    survey = validate(EXAMPLE)
    assert survey.spots[0].enu_m == (2.0, 0.0, 7.5)
    assert isinstance(survey.views[0].projection, Equirectangular)
    assert [part.kind for part in survey.antennas[0].downlead] == ["preamplifier", "coax", "filter"]
    assert survey.stations[0].must_have is True


def test_only_the_required_fields_are_required() -> None:
    survey = new_survey(40.0, -100.0)
    assert survey.site.position_sigma_m == 5.0
    assert survey.site.channel_plan == "americas-6mhz"
    assert survey.limits.unguyed_mast_m == 3.0
    assert survey.limits.lines_checked is False
    assert survey.receiver.noise_figure_db == 7.0
    assert survey.stations == []


def test_defaults_of_the_parts() -> None:
    view = View(id="v", photo="p.jpg", size_px=(10, 10), camera_enu_m=(0.0, 0.0, 2.0))
    assert (view.camera_sigma_m, view.projection, view.calibration) == (0.2, None, None)
    prior = view.prior
    assert (prior.yaw_deg, prior.yaw_sigma_deg, prior.scale_sigma) == (None, 10.0, 0.04)
    assert (prior.pitch_sigma_deg, prior.roll_sigma_deg) == (2.0, 2.0)
    assert Mark(id="m", view="v", kind="sun", points_px=[(1.0, 1.0)]).sigma_px == 2.0
    assert Rectilinear(kind="rectilinear").model_dump(exclude={"kind"}) == {
        "focal_px": None,
        "centre_px": None,
        "k1": None,
        "k2": None,
    }


def test_defaults_are_not_shared_between_surveys() -> None:
    one, other = new_survey(1.0, 1.0), new_survey(1.0, 1.0)
    one.limits.unguyed_mast_m = 2.0
    one.spots.append(Spot(id="a", enu_m=(0.0, 0.0, 0.0)))
    assert other.limits.unguyed_mast_m == 3.0
    assert other.spots == []


@pytest.mark.parametrize(
    ("path", "value", "attribute"),
    [
        ("marks/0/sigma_px", 2.0, lambda s: s.marks[0].sigma_px),
        ("views/0/prior", Prior(), lambda s: s.views[0].prior),
        ("site/position_sigma_m", 5.0, lambda s: s.site.position_sigma_m),
        ("promises", [], lambda s: s.promises),
        ("stations/0/role", "wanted", lambda s: s.stations[0].role),
    ],
)
def test_null_is_unknown_and_leaves_the_default(path: str, value: Any, attribute: Any) -> None:
    assert attribute(validate(changed(path, None))) == value


def test_assignments_to_parts_are_checked() -> None:
    survey = validate(EXAMPLE)
    with pytest.raises(ValidationError):
        survey.site.latitude_deg = 91.0
    assert survey.site.latitude_deg == 0.0


@pytest.mark.parametrize(
    "number", [float("nan"), float("inf"), -float("inf"), "7", True, 10**400, [1]]
)
@pytest.mark.parametrize(
    "path", ["spots/0/enu_m/2", "site/ground_amsl_m", "antennas/0/gain_dbd/uhf", "marks/0/sigma_px"]
)
def test_a_number_is_a_finite_number(path: str, number: Any) -> None:
    assert "number" in refusal(changed(path, number)).message


@pytest.mark.parametrize(
    ("path", "value", "sentence"),
    [
        (
            "stations/0/erp_kW",
            400,
            "survey.json, stations.QALD.erp_kW: erp_kW is not a field here; did you mean erp_kw?",
        ),
        (
            "views/0/projection/focal_px",
            400,
            "survey.json, views.v1.projection.focal_px: focal_px is not a field here; "
            "the fields here are kind, left_deg, right_deg, top_deg, bottom_deg",
        ),
        (
            "antennas/0/downlead/1/lenght_m",
            1,
            "survey.json, antennas.main.downlead.1.lenght_m: lenght_m is not a field here; "
            "did you mean length_m?",
        ),
        (
            "site/latitude_deg",
            91,
            "survey.json, site.latitude_deg: 91 is too large, it must be at most 90; "
            "were latitude and longitude swapped?",
        ),
        (
            "stations/0/erp_kw",
            "400",
            'survey.json, stations.QALD.erp_kw: "400" is text, not a number; '
            "expected: effective radiated power over a half-wave dipole [kW]",
        ),
        (
            "stations/0/erp_kw",
            0,
            "survey.json, stations.QALD.erp_kw: 0 is too small, it must be more than 0; "
            "expected: effective radiated power over a half-wave dipole [kW]",
        ),
        (
            "obstructions/0/kind",
            "broadleave",
            'survey.json, obstructions.maple.kind: "broadleave" is not a word known here; '
            "did you mean broadleaf?",
        ),
        (
            "views/0/leaf",
            "off",
            'survey.json, views.v1.leaf: "off" is not a word known here; it is one of in, out',
        ),
        (
            "views/0/projection",
            {"kind": "cylindric"},
            'survey.json, views.v1.projection: "cylindric" is not a word known here; '
            "did you mean cylindrical?",
        ),
        (
            "views/0/projection",
            {},
            'survey.json, views.v1.projection: it does not say its "kind"; '
            "the kinds are equirectangular, cylindrical, rectilinear, fisheye",
        ),
        (
            "antennas/0/downlead/0",
            {},
            'survey.json, antennas.main.downlead.0: it does not say its "kind"; '
            "the kinds are preamplifier, coax, filter",
        ),
        (
            "limits/lines_checked",
            "yes",
            'survey.json, limits.lines_checked: "yes" is neither true nor false; '
            "write true or false",
        ),
        (
            "views/0/size_px",
            [4096],
            "survey.json, views.v1.size_px.1: [4096] holds too few values; "
            "expected: width and height after EXIF rotation [px]",
        ),
        (
            "views/0/size_px",
            [4096, 1024, 3],
            "survey.json, views.v1.size_px: the list holds more than 2 values; "
            "expected: width and height after EXIF rotation [px]",
        ),
        (
            "views/0/size_px/0",
            0,
            "survey.json, views.v1.size_px.0: 0 is too small, it must be more than 0; "
            "expected: width and height after EXIF rotation [px]",
        ),
        (
            "stations/0/rf_channel",
            21.5,
            "survey.json, stations.QALD.rf_channel: 21.5 is not a whole number; "
            "expected: the channel on the air, not the virtual one",
        ),
        ("spots/0", 3, "survey.json, spots.0: 3 is not an object"),
        ("spots", {}, "survey.json, spots: {} is not a list"),
        ("stations/0/id", "", "survey.json, stations.0.id: it is empty"),
        (
            "stations/0/id",
            " Q",
            "survey.json, stations. Q.id: begins or ends with a blank or holds a control "
            "character; use what people can type",
        ),
        (
            "stations/0/name",
            "\ud800",
            r'survey.json, stations.QALD.name: "\ud800" is not text that can be stored',
        ),
        (
            "views/0/taken",
            "noon",
            "survey.json, views.v1.taken: 'noon' is not a date and time; "
            "write it as in 2026-06-01T14:05:00+00:00",
        ),
        (
            "antennas/0/pattern",
            "cos3",
            'survey.json, antennas.main.pattern: "cos3" is not a word known here; '
            "did you mean cos4?",
        ),
        (
            "antennas/0/gain_dbd/vhf",
            3,
            'survey.json, antennas.main.gain_dbd.vhf: "vhf" is not a word known here; '
            "did you mean uhf?",
        ),
        (
            "limits/keep_out_enu_m",
            [[[0, 0, 0], [1, 0]]],
            "survey.json, limits.keep_out_enu_m.0.1.2: [1, 0] holds too few values",
        ),
    ],
)
def test_one_sentence_names_file_field_fault_and_mend(path: str, value: Any, sentence: str) -> None:
    assert str(refusal(changed(path, value))).startswith(sentence)


def test_a_missing_field_is_named_with_its_meaning() -> None:
    data = copy.deepcopy(EXAMPLE)
    del data["views"][0]["camera_enu_m"]
    assert str(refusal(data)) == (
        "survey.json, views.v1.camera_enu_m: it is missing; "
        "add it; expected: place of the camera: east, north, up [m]."
    )


def test_several_faults_are_counted() -> None:
    data = changed("spots/0/enu_m/0", "east")
    data["stations"][0]["rf_channel"] = -1
    data["receiver"]["sets"] = None
    data["receiver"]["splitter_ways"] = "two"
    error = refusal(data)
    assert error.field == "spots.ridge.enu_m.0"
    assert error.message == '"east" is not a number (and 2 more)'


def test_a_misspelt_required_field_is_told_as_misspelt() -> None:
    data = copy.deepcopy(EXAMPLE)
    data["stations"][0]["latitude"] = data["stations"][0].pop("latitude_deg")
    error = refusal(data)
    assert error.message == "latitude is not a field here (and 1 more)"
    assert error.mend == "did you mean latitude_deg?"


def test_no_hint_of_swapping_where_it_would_not_help() -> None:
    assert "swapped" not in str(refusal(changed("stations/0/latitude_deg", 400)))


def test_either_one_ring_or_several() -> None:
    ring = [[0, 0, 3], [4, 0, 3], [4, 4, 3]]
    assert validate(changed("limits/keep_out_enu_m", ring)).limits.keep_out_enu_m == [
        (0.0, 0.0, 3.0),
        (4.0, 0.0, 3.0),
        (4.0, 4.0, 3.0),
    ]
    several = validate(changed("limits/keep_out_enu_m", [ring, ring])).limits.keep_out_enu_m
    assert len(several) == 2
    assert len(several[0]) == 3


def test_the_schema_tells_every_field_its_meaning() -> None:
    made = schema()
    assert made["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "$id" not in made
    assert made["title"] == "skyview survey, version 1"
    assert made["required"] == ["format", "version", "revision", "site"]
    silent = [
        f"{name}.{field}"
        for name, part in {**made["$defs"], "Survey": made}.items()
        for field, inner in part.get("properties", {}).items()
        if "description" not in inner and field not in ("id", "kind")
    ]
    assert silent == []
    numbers = made["$defs"]["Station"]["properties"]["latitude_deg"]
    assert (numbers["minimum"], numbers["maximum"]) == (-90, 90)
    assert {"type": "null"} in made["$defs"]["Mark"]["properties"]["sigma_px"]["anyOf"]


def test_the_schema_knows_the_fields_of_the_models() -> None:
    assert set(schema()["properties"]) == set(Survey.model_fields) == set(EXAMPLE)
