"""What is missing and what comes next, as the user reads it."""

from __future__ import annotations

import copy
import json
import shlex
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from skyview.survey.cameras import solve
from skyview.survey.check import Finding, check
from skyview.survey.edit import set_field
from skyview.survey.models import new_survey, validate

EXAMPLE = json.loads(Path(__file__).with_name("example_survey.json").read_text("utf-8"))
CALIBRATION = {"yaw_deg": 141.2, "pitch_deg": 0.1, "roll_deg": 0.0}


def picture(folder: Path, width: int, height: int, orientation: int = 1) -> None:
    (folder / "photos").mkdir(exist_ok=True)
    exif = Image.Exif()
    exif[0x0112] = orientation
    Image.new("RGB", (width, height)).save(folder / "photos" / "v1.jpg", exif=exif)


def complete() -> dict[str, Any]:
    """A survey in which nothing is missing, once its picture is there."""
    data = copy.deepcopy(EXAMPLE)
    data["limits"]["lines_checked"] = True
    data["stations"][0]["haat_m"] = 300
    data["views"][0]["calibration"] = CALIBRATION
    data["marks"].append({**data["marks"][0], "id": "m2", "points_px": [[3000, 420]]})
    return data


def findings(data: dict[str, Any], folder: Path) -> list[Finding]:
    return check(validate(data), folder)


def only(data: dict[str, Any], folder: Path) -> Finding:
    """The one finding in a survey that lacks one thing."""
    picture(folder, 4096, 1024)
    found = findings(data, folder)
    assert len(found) == 1, found
    return found[0]


def test_nothing_is_missing(tmp_path: Path) -> None:
    picture(tmp_path, 4096, 1024)
    assert findings(complete(), tmp_path) == []


def test_a_new_survey_is_told_the_order_of_the_work(tmp_path: Path) -> None:
    found = check(new_survey(40.0, -100.0), tmp_path)
    assert [finding.field for finding in found] == [
        "limits.lines_checked",
        "spots",
        "views",
        "site.ground_amsl_m",
        "stations",
        "obstructions",
    ]
    assert "power lines were looked for; do that before anything else" in found[0].sentence
    assert found[0].severity == "missing"


def test_the_first_command_can_be_typed(tmp_path: Path) -> None:
    folder = tmp_path / "my house"
    survey = new_survey(40.0, -100.0)
    mend = check(survey, folder)[0].mend
    assert mend is not None
    program, verb, place, change = shlex.split(mend)
    assert (program, verb, place) == ("skyview", "set", str(folder))
    path, value = change.split("=", 1)
    assert set_field(survey, path, value).limits.lines_checked is True


@pytest.mark.parametrize("name", ["spots"])
def test_templates_are_items_but_for_the_capitals(name: str, tmp_path: Path) -> None:
    found = next(f for f in check(new_survey(40.0, -100.0), tmp_path) if f.field == name)
    assert found.mend is not None
    *_, add, list_name, item = shlex.split(found.mend)
    assert (add, list_name) == ("--add", name)
    for word in ("EAST", "NORTH", "UP"):
        item = item.replace(word, "7")
    data = {**json.loads(json.dumps(EXAMPLE)), name: [json.loads(item)]}
    for user in ("marks", "outlines", "antennas", "views", "scans", "obstructions"):
        if user != name:
            data[user] = []
    assert getattr(validate(data), name)[0].id == "ID"


def test_what_the_roof_gives_is_added_by_its_own_verb(tmp_path: Path) -> None:
    mends = {f.field: f.mend for f in check(new_survey(40.0, -100.0), tmp_path)}
    assert mends["views"] == f"skyview photo FILE --into {tmp_path} --spot ID"
    assert str(mends["obstructions"]).startswith(f"skyview mark outline {tmp_path} VIEW ID --kind")


def test_a_calibration_that_its_marks_have_left(tmp_path: Path) -> None:
    picture(tmp_path, 4096, 1024)
    survey = validate(complete())
    view = survey.views[0]
    view.calibration, _ = solve(survey, view)
    assert not [f for f in check(survey, tmp_path) if f.field == "views.v1.calibration"]
    survey.marks[0].sigma_px = 7.0
    (found,) = [f for f in check(survey, tmp_path) if f.field == "views.v1.calibration"]
    assert found.severity == "warning"
    assert "changed since it was calibrated" in found.sentence


def test_a_photo_that_is_not_there(tmp_path: Path) -> None:
    found = findings(complete(), tmp_path)
    assert [(f.severity, f.field) for f in found] == [("missing", "views.v1.photo")]
    assert found[0].sentence == (
        "The photograph photos/v1.jpg of view v1 is not in the survey's folder."
    )


def test_a_photo_of_another_size(tmp_path: Path) -> None:
    picture(tmp_path, 4000, 1024)
    (found,) = findings(complete(), tmp_path)
    assert found.severity == "warning"
    assert "is 4000 x 1024 px upright, but view v1 says 4096 x 1024" in found.sentence
    assert found.mend == f"skyview set {tmp_path} 'views.v1.size_px=[4000, 1024]'"


def test_the_size_counts_after_rotation(tmp_path: Path) -> None:
    picture(tmp_path, 1024, 4096, orientation=6)
    assert findings(complete(), tmp_path) == []


def test_a_photo_that_is_none(tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "v1.jpg").write_text("not a picture at all")
    (found,) = findings(complete(), tmp_path)
    assert found.sentence.startswith("The photograph photos/v1.jpg of view v1 cannot be used: ")


def test_a_photo_outside_the_folder(tmp_path: Path) -> None:
    data = complete()
    data["views"][0]["photo"] = "../v1.jpg"
    (found,) = findings(data, tmp_path)
    assert "cannot be used: '../v1.jpg' leads out of the folder." in found.sentence


@pytest.mark.parametrize(
    ("marks", "severity", "sentence"),
    [
        ([], "missing", "View v1 has no marks: nothing ties its pixels to compass directions."),
        (
            [{"id": "m", "view": "v1", "kind": "plumb", "points_px": [[9, 9], [9, 90]]}],
            "missing",
            "No mark of view v1 tells its azimuth; level and plumb marks do not.",
        ),
        (
            EXAMPLE["marks"],
            "warning",
            "View v1 has one mark; a second far from it would fix the scale too.",
        ),
    ],
)
def test_too_few_marks(tmp_path: Path, marks: list[Any], severity: str, sentence: str) -> None:
    found = only({**complete(), "marks": marks}, tmp_path)
    assert (found.severity, found.sentence) == (severity, sentence)


def test_a_view_without_calibration(tmp_path: Path) -> None:
    data = complete()
    data["views"][0]["calibration"] = None
    found = only(data, tmp_path)
    assert found.sentence == "View v1 is not calibrated yet."
    assert found.mend == f"skyview calibrate {tmp_path}"


def test_the_sun_needs_a_time(tmp_path: Path) -> None:
    data = complete()
    data["views"][0]["taken"] = None
    data["marks"][1] = {"id": "m2", "view": "v1", "kind": "sun", "points_px": [[9, 9]]}
    assert only(data, tmp_path).sentence == (
        "View v1 has marks by the sun but no time at which it was taken."
    )


def test_a_frame_that_the_view_does_not_have(tmp_path: Path) -> None:
    data = complete()
    data["marks"][1]["frame"] = "b.jpg"
    data["views"][0]["frames"] = [{"file": "a.jpg"}]
    assert "names the frame b.jpg, which view v1 does not have" in only(data, tmp_path).sentence


def test_the_height_of_the_ground(tmp_path: Path) -> None:
    data = complete()
    data["site"]["ground_amsl_m"] = None
    assert only(data, tmp_path).field == "site.ground_amsl_m"


@pytest.mark.parametrize("zone", ["Nowhere/Else", "../etc", "UTC+2 or so"])
def test_a_time_zone_of_no_place(tmp_path: Path, zone: str) -> None:
    data = complete()
    data["site"]["time_zone"] = zone
    assert only(data, tmp_path).sentence == (f"The time zone {zone} is not known on this computer.")


@pytest.mark.parametrize(
    ("plan", "channel", "sentence"),
    [
        (
            "americas-6mhz",
            44,
            "Channel 44 of QALD is probably a virtual channel; "
            "the RF channel is the one on the air.",
        ),
        ("americas-6mhz", 1, "Channel 1 of QALD is not in the plan americas-6mhz."),
        ("europe-8mhz", 20, "Channel 20 of QALD is not in the plan europe-8mhz."),
    ],
)
def test_channels(tmp_path: Path, plan: str, channel: int, sentence: str) -> None:
    data = complete()
    data["site"]["channel_plan"] = plan
    data["stations"][0]["rf_channel"] = channel
    found = only(data, tmp_path)
    assert (found.severity, found.field) == ("warning", "stations.QALD.rf_channel")
    assert found.sentence == sentence


def test_many_stations_on_one_channel_are_one_finding(tmp_path: Path) -> None:
    data = complete()
    station = data["stations"][0]
    data["stations"] += [{**station, "id": f"Q{n}", "rf_channel": 50} for n in range(9)]
    assert "Channel 50 of Q0, Q1, Q2 and 6 more is prob" in only(data, tmp_path).sentence


@pytest.mark.parametrize(
    ("fields", "field", "sentence"),
    [
        (
            {"distance_m": None},
            "obstructions.maple.distance_m",
            "The distance of maple is not known.",
        ),
        (
            {"distance_from": None},
            "obstructions.maple.distance_from",
            "From which view the distance of maple counts is not known.",
        ),
    ],
)
def test_how_far_an_obstruction_is(
    tmp_path: Path, fields: dict[str, Any], field: str, sentence: str
) -> None:
    data = complete()
    data["obstructions"][0].update(fields)
    found = only(data, tmp_path)
    assert (found.field, found.sentence) == (field, sentence)
    data["obstructions"][0]["enu_m"] = [10, 20, 0]
    assert findings(data, tmp_path) == []


def test_an_obstruction_without_outline(tmp_path: Path) -> None:
    data = {**complete(), "outlines": []}
    assert only(data, tmp_path).sentence == ("The obstruction maple has no outline in any view.")


def test_a_power_line_is_a_hazard_with_a_place(tmp_path: Path) -> None:
    data = complete()
    data["obstructions"].append({"id": "feeder", "kind": "power_line"})
    found = only(data, tmp_path)
    assert (found.severity, found.field) == ("missing", "obstructions.feeder.line_enu_m")
    assert "treat it as within reach" in found.sentence


def test_how_high_a_station_stands_over_its_country(tmp_path: Path) -> None:
    data = complete()
    data["stations"][0]["haat_m"] = None
    found = only(data, tmp_path)
    assert (found.severity, found.field) == ("note", "stations.QALD.haat_m")
    data["stations"][0]["field_dbuv_m"] = 60
    picture(tmp_path, 4096, 1024)
    assert findings(data, tmp_path) == []


def test_a_terrain_file_that_is_not_there(tmp_path: Path) -> None:
    data = complete()
    data["site"]["terrain"] = "Ground.tif"
    picture(tmp_path, 4096, 1024)
    [found] = check(validate(data).kept_in(tmp_path), tmp_path)
    assert (found.severity, found.field) == ("missing", "site.terrain")
    assert found.sentence.startswith("There is no terrain file Ground.tif; copy it")
