"""Surveys and numbers that cannot be used: exit code 2, one sentence with file, field and mend."""

from __future__ import annotations

import json

import pytest


def refuse(roof, *words: object) -> str:
    """The sentence with which ``check`` (or the verb given) turns the survey away."""
    folder = roof.save()
    before = (folder / "survey.json").read_bytes()
    sentence = roof.runner.refused(*(words or ("check", folder)))
    assert (folder / "survey.json").read_bytes() == before
    assert sentence.startswith("skyview: ")
    assert sentence[-1] in ".?"
    assert "survey.json" in sentence
    assert ";" in sentence or "must be" in sentence
    return sentence


@pytest.fixture
def walled(roof, make_wall):
    """A survey with one wall and one station."""
    roof.wall("block", make_wall(30.0, 60.0, 6.0, 0.0, 9.0))
    roof.station("QA", 30.0, 0.5)
    return roof


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("site.latitude_deg", 91),
        ("site.latitude_deg", -90.5),
        ("site.longitude_deg", 361),
        ("site.latitude_deg", None),
        ("site.latitude_deg", "twelve"),
        ("site.channel_plan", "moon-6mhz"),
        ("spots.0.enu_m", [0, 0]),
        ("spots.0.heights_m", [-1]),
        ("views.0.size_px", [0, 360]),
        ("views.0.taken", "yesterday"),
        ("views.0.spot", "nowhere"),
        ("marks.0.kind", "guess"),
        ("marks.0.view", "v9"),
        ("obstructions.0.kind", "dragon"),
        ("obstructions.0.distance_m", -3),
        ("outlines.0.obstruction", "nothing"),
        ("stations.0.rf_channel", 0),
        ("stations.0.latitude_deg", 95),
        ("stations.0.erp_kw", -1),
        ("stations.0.polarization", "x"),
        ("revision", 0.5),
    ],
)
def test_a_bad_value_is_named_by_its_field(walled, path, value) -> None:
    *way, last = (int(part) if part.isdigit() else part for part in path.split("."))
    holder = walled.data
    for part in way:
        holder = holder[part]
    holder[last] = value
    assert str(last) in refuse(walled)


def test_an_unknown_projection_is_told_the_known_ones(walled) -> None:
    walled.data["views"][0]["projection"]["kind"] = "mercator"
    sentence = refuse(walled)
    assert "projection" in sentence
    for kind in ("equirectangular", "cylindrical", "rectilinear", "fisheye"):
        assert kind in sentence


@pytest.mark.parametrize("literal", ["NaN", "Infinity", "-Infinity"])
@pytest.mark.parametrize("where", ["ground_amsl_m", "position_sigma_m"])
def test_nan_in_the_json(walled, literal, where) -> None:
    folder = walled.save()
    text = (folder / "survey.json").read_text(encoding="utf-8")
    old = f'"{where}": {walled.data["site"][where]}'
    assert old in text
    (folder / "survey.json").write_text(text.replace(old, f'"{where}": {literal}'), "utf-8")
    sentence = walled.runner.refused("check", folder)
    assert f"site.{where}" in sentence
    assert "finite" in sentence or "null" in sentence


@pytest.mark.parametrize(
    "missing",
    ["format", "version", "revision", "site", "site.latitude_deg", "site.longitude_deg",
     "spots.0.id", "views.0.photo", "views.0.size_px", "views.0.camera_enu_m", "marks.0.view",
     "marks.0.kind", "marks.0.points_px", "outlines.0.obstruction", "outlines.0.rings_px",
     "stations.0.rf_channel", "stations.0.antenna_amsl_m"],
)  # fmt: skip
def test_a_required_field_is_missed_by_name(walled, missing) -> None:
    *way, last = (int(part) if part.isdigit() else part for part in missing.split("."))
    holder = walled.data
    for part in way:
        holder = holder[part]
    del holder[last]
    assert str(last) in refuse(walled)


@pytest.mark.parametrize(
    ("holder", "wrong", "nearest"),
    [
        ((), "stationz", "stations"),
        (("site",), "lattitude_deg", "latitude_deg"),
        (("spots", 0), "height_m", "heights_m"),
        (("views", 0), "camera_enu", "camera_enu_m"),
        (("obstructions", 0), "distance", "distance_m"),
        (("stations", 0), "rf_chanel", "rf_channel"),
        (("views", 0, "prior"), "jaw_deg", "yaw_deg"),
    ],
)
def test_an_unknown_field_is_refused_with_the_nearest_known(walled, holder, wrong, nearest) -> None:
    thing = walled.data
    for part in holder:
        thing = thing[part]
    thing[wrong] = 1
    sentence = refuse(walled)
    assert wrong in sentence
    assert nearest in sentence.rpartition(";")[2]


@pytest.mark.parametrize("version", [2, 99])
def test_a_newer_version_is_refused_and_never_rewritten(walled, version) -> None:
    walled.data["version"] = version
    walled.data["glasses"] = {"colour": "blue"}
    sentence = refuse(walled)
    assert "version" in sentence
    assert str(version) in sentence
    for words in (["set", walled.folder, "title=Mine"], ["calibrate", walled.folder]):
        assert "version" in refuse(walled, *words)


def test_another_format_is_refused(walled) -> None:
    walled.data["format"] = "shopping-list"
    assert "skyview-survey" in refuse(walled)


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.9, 0.999])
def test_a_survey_cut_short_is_not_json(walled, share) -> None:
    folder = walled.save()
    whole = (folder / "survey.json").read_bytes()
    cut = whole[: int(len(whole) * share)]
    (folder / "survey.json").write_bytes(cut)
    sentence = walled.runner.refused("check", folder)
    assert "survey.json" in sentence
    walled.runner.refused("set", folder, "title=Mine")
    assert (folder / "survey.json").read_bytes() == cut


@pytest.mark.parametrize("text", ["[]", "null", "17", '"survey"', "\x00\x01", "{'a': 1}"])
def test_json_that_is_no_survey(walled, text) -> None:
    folder = walled.save()
    (folder / "survey.json").write_text(text, encoding="utf-8")
    assert "survey.json" in walled.runner.refused("check", folder)


def test_bytes_that_are_no_text(walled) -> None:
    folder = walled.save()
    (folder / "survey.json").write_bytes(b"\xff\xfe\x80{}")
    assert "survey.json" in walled.runner.refused("check", folder)


def test_a_key_written_twice_is_refused(walled) -> None:
    """Two titles in one object: whichever were taken, the other would be lost in silence."""
    folder = walled.save()
    text = (folder / "survey.json").read_text(encoding="utf-8")
    (folder / "survey.json").write_text(
        text.replace('"revision": 1', '"revision": 1, "title": "First"'), encoding="utf-8"
    )
    assert "title" in walled.runner.refused("check", folder)


RING = [[100, 100], [200, 100], [200, 200], [100, 200]]


@pytest.mark.parametrize(
    ("ring", "word"),
    [
        ([[100, 100], [200, 100]], "3"),
        ([[100, 100], [200, 100], [100, 100]], "3"),
        ([], "3"),
        ([[100, 100], [200, 200], [200, 100], [100, 200]], "cross"),
        ([[100, 100], [200, 100], [200, 999], [100, 999]], "outside"),
        ([[100, -50], [200, -50], [200, 100], [100, 100]], "outside"),
        ([[100, 100], [200, 100, 5], [200, 200]], "rings_px"),
    ],
)
def test_a_polygon_that_is_none(walled, ring, word) -> None:
    walled.data["outlines"][0]["rings_px"] = [ring]
    sentence = refuse(walled)
    assert "block_v1" in sentence
    assert "rings_px" in sentence
    assert word in sentence


def test_a_hole_outside_its_edge(walled) -> None:
    walled.data["outlines"][0]["rings_px"] = [RING, [[x + 300, y] for x, y in RING]]
    assert "block_v1" in refuse(walled)


def test_x_may_pass_the_width_of_a_full_circle_only(make_roof, make_camera, make_wall) -> None:
    sector = {"kind": "equirectangular", "left_deg": -60, "right_deg": 60,
              "top_deg": 45, "bottom_deg": -30}  # fmt: skip
    roof = make_roof(make_camera(sector, (960, 600)))
    roof.wall("block", make_wall(0.0, 60.0, 6.0, 0.0, 9.0))
    roof.data["outlines"][0]["rings_px"] = [[[x + 900, y] for x, y in RING]]
    sentence = refuse(roof)
    assert "outside" in sentence
    assert "960" in sentence


@pytest.mark.parametrize(
    "name", ["spots", "views", "marks", "obstructions", "outlines", "stations"]
)
def test_an_id_given_twice(walled, name) -> None:
    walled.data[name].append(dict(walled.data[name][0]))
    sentence = refuse(walled)
    assert name in sentence
    assert str(walled.data[name][0]["id"]) in sentence


def test_no_stations(roof) -> None:
    roof.solve()
    sentence = roof.runner.refused("paths", roof.folder)
    assert "stations" in sentence
    assert "skyview stations" in sentence


def test_no_spots(roof) -> None:
    """Valid by the contract, but nothing can be answered before there is one."""
    roof.station("QA", 30.0, 0.5)
    roof.data["spots"] = []
    del roof.data["views"][0]["spot"]
    folder = roof.solve()
    assert "spots" in roof.runner.refused("paths", folder)
    said = roof.runner.ok("check", folder, "--json").rows
    assert any("spots" in row["field"] and row["severity"] == "missing" for row in said)


def test_a_station_at_the_site_itself(roof) -> None:
    roof.data["stations"] = [
        {"id": "QHERE", "latitude_deg": 12.0, "longitude_deg": -40.0, "antenna_amsl_m": 200,
         "rf_channel": 21}
    ]  # fmt: skip
    roof.save()
    sentence = roof.runner.refused("paths", roof.folder)
    assert "QHERE" in sentence
    assert "survey.json" in sentence


def hints_of_a_swap(roof) -> list[str]:
    folder = roof.solve()
    rows = roof.runner.ok("check", folder, "--json").rows
    said = [f"{row['sentence']} {row['mend']}".replace(str(folder), "") for row in rows]
    return [text for text in said if "swapped" in text]


def test_a_station_with_its_numbers_interchanged_draws_a_hint(roof) -> None:
    """Both numbers are possible, so the distance gives it away."""
    roof.station("QOK", 30.0, 0.5)
    roof.station("QBAD", 30.0, 0.5)
    bad = roof.data["stations"][1]
    bad["latitude_deg"], bad["longitude_deg"] = bad["longitude_deg"], bad["latitude_deg"]
    (hint,) = hints_of_a_swap(roof)
    assert "QBAD" in hint


def test_a_landmark_with_its_numbers_interchanged_draws_a_hint(roof) -> None:
    roof.data["landmarks"] = [
        {"id": "tower", "latitude_deg": -40.01, "longitude_deg": 12.01, "top_amsl_m": 300}
    ]
    (hint,) = hints_of_a_swap(roof)
    assert "tower" in hint


def test_a_swap_out_of_range_draws_a_hint(roof) -> None:
    roof.data["site"].update(latitude_deg=-117.4, longitude_deg=-38.6)
    assert "swapped" in refuse(roof)


def test_there_is_no_survey(run, tmp_path) -> None:
    for verb in ("check", "paths", "calibrate", "draw"):
        assert "nosuch" in run.refused(verb, tmp_path / "nosuch")
    assert not (tmp_path / "nosuch").exists()


def test_a_view_without_marks_cannot_be_trusted_in_silence(roof) -> None:
    roof.data["marks"] = []
    roof.station("QA", 30.0, 0.5)
    folder = roof.save()
    (row,) = roof.runner.ok("paths", folder, "--json").rows
    assert row["bearing_deg"] == pytest.approx(30.0, abs=1e-6)
    assert row["elevation_sigma_deg"] >= 2.0
    assert any("v1" in r["sentence"] for r in roof.runner.ok("check", folder, "--json").rows)


def test_a_stale_calibration_is_noticed(roof) -> None:
    """Marks changed by hand after calibration: the digest in the file no longer fits."""
    roof.station("QA", 30.0, 0.5)
    folder = roof.solve()
    stored = json.loads((folder / "survey.json").read_text(encoding="utf-8"))
    for mark in stored["marks"]:
        mark["azimuth_deg"] = (mark["azimuth_deg"] + 5.0) % 360.0
    (folder / "survey.json").write_text(json.dumps(stored), encoding="utf-8")
    said = roof.runner.ok("check", folder, "--json").rows
    assert any("v1" in row["sentence"] and "calibrate" in str(row["mend"]) for row in said)
    roof.runner.ok("calibrate", folder)
    row = roof.runner.ok("locate", folder, "v1", 720, 200, "--json").row
    assert row["azimuth_deg"] == pytest.approx(5.0, abs=0.02)


def test_the_file_named_instead_of_its_folder(roof) -> None:
    """A slip of the user's, not trouble of the storage: exit code 2."""
    folder = roof.save()
    assert "folder" in roof.runner.refused("check", folder / "survey.json")
