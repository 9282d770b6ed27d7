"""What the user made survives: other files, set fields, photographs of the same name."""

from __future__ import annotations

import json

import pytest
from sample_house import lay_out, trimmed


@pytest.fixture
def house(run, tmp_path):
    folder = tmp_path / "house"
    run.ok("new", folder, "--latitude", -38.64, "--longitude", -117.39, "--spot", "ridge", 0, 0, 5)
    return folder


def survey(folder):
    return json.loads((folder / "survey.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", ["../survey", "../../evil", "a/b", "a\\b", "c:x"])
def test_a_view_s_name_never_leaves_the_photos(run, house, samples, name):
    before = (house / "survey.json").read_bytes()
    run.refused("photo", samples / "ridge_frame_1.jpg", "--into", house, "--id", name)
    assert (house / "survey.json").read_bytes() == before
    assert not (house.parent / "evil.jpg").exists()


def test_another_photograph_of_that_name_stays(run, house, samples):
    (house / "photos").mkdir()
    other = house / "photos" / "v.jpg"
    other.write_bytes(b"somebody's picture")
    said = run.refused("photo", samples / "ridge_frame_1.jpg", "--into", house, "--id", "v")
    assert "v.jpg" in said
    assert other.read_bytes() == b"somebody's picture"


def test_a_list_read_again_keeps_what_the_user_set(run, house, tmp_path):
    table = tmp_path / "list.csv"
    head = "id,latitude_deg,longitude_deg,antenna_amsl_m,rf_channel,erp_kw\n"
    table.write_text(head + "QALD,-38.4,-117.5,600,21,400\n", encoding="utf-8")
    run.ok("stations", house, table)
    run.ok("set", house, "stations.QALD.must_have=yes", "stations.QALD.required_cn_db=16")
    table.write_text(head + "QALD,-38.4,-117.5,600,22,300\n", encoding="utf-8")
    run.ok("stations", house, table)
    (kept,) = survey(house)["stations"]
    assert (kept["must_have"], kept["required_cn_db"]) == (True, 16)
    assert (kept["rf_channel"], kept["erp_kw"]) == (22, 300)


def test_a_second_outline_fills_what_is_open_and_changes_nothing_said(run, house, samples):
    run.ok("photo", samples / "ridge_sweep.jpg", "--into", house, "--id", "v1")
    ring = "900,700 880,420 990,300 1100,430"
    run.ok("mark", "outline", house, "v1", "oak", "--kind", "broadleaf", "--points", ring)
    run.ok("mark", "outline", house, "v1", "oak", "--points", ring, "--distance", 12,
           "--by", "tape")  # fmt: skip
    (oak,) = survey(house)["obstructions"]
    assert (oak["distance_m"], oak["distance_by"], oak["distance_from"]) == (12, "tape", "v1")
    said = run.refused("mark", "outline", house, "v1", "oak", "--points", ring, "--distance", 30)
    assert "oak" in said
    assert survey(house)["obstructions"][0]["distance_m"] == 12


def test_with_several_spots_the_photograph_must_say_which(run, house, samples):
    run.ok("set", house, "--add", "spots", '{"id": "gable", "enu_m": [4, 0, 5]}')
    said = run.refused("photo", samples / "ridge_frame_1.jpg", "--into", house)
    assert "ridge" in said
    assert "gable" in said


def test_the_demo_draws_what_a_changed_survey_still_has(run, tmp_path):
    kept = trimmed(lay_out(tmp_path / "d" / "survey"))
    run.ok("set", kept, "views.gable.spot=null", "spots.gable.id=gab")
    run.ok("demo", tmp_path / "d")
