"""``new``, ``photo --into``, ``mark`` and ``set``: a survey grows without anybody editing JSON."""

from __future__ import annotations

import json

import pytest


def load(folder) -> dict:
    return json.loads((folder / "survey.json").read_text(encoding="utf-8"))


@pytest.fixture
def survey(run, tmp_path):
    """A new survey with one spot."""
    folder = tmp_path / "s"
    run.ok("new", folder, "--latitude", -38.6417, "--longitude", -117.3925, "--ground", 48,
           "--title", "House in the street", "--spot", "ridge", -0.6, -1.16, 4.9,
           "--heights", "1.5,3")  # fmt: skip
    return folder


@pytest.fixture
def pictured(run, survey, samples):
    """The same with one picture."""
    run.ok("photo", samples / "gable_sector.jpg", "--into", survey, "--spot", "ridge", "--id", "v1")
    return survey


def test_new_writes_a_valid_survey(run, survey) -> None:
    data = load(survey)
    assert (data["format"], data["version"], data["revision"]) == ("skyview-survey", 1, 1)
    assert data["title"] == "House in the street"
    assert data["site"]["latitude_deg"] == -38.6417
    assert data["site"]["longitude_deg"] == -117.3925
    assert data["site"]["ground_amsl_m"] == 48
    assert data["spots"] == [{"id": "ridge", "enu_m": [-0.6, -1.16, 4.9], "heights_m": [1.5, 3]}]
    assert run.ok("check", survey, "--json").json["revision"] == 1


def test_new_takes_the_place_from_a_photo(run, tmp_path, samples) -> None:
    run.ok("new", tmp_path / "n", "--place-from", samples / "gable_sector.jpg")
    site = load(tmp_path / "n")["site"]
    assert site["latitude_deg"] == pytest.approx(-38.6416, abs=1e-3)
    assert site["longitude_deg"] == pytest.approx(-117.3925, abs=1e-3)
    assert site["position_sigma_m"] > 1.0


def test_new_keeps_what_is_there(run, survey) -> None:
    before = (survey / "survey.json").read_bytes()
    assert "survey.json" in run.refused("new", survey, "--latitude", 1, "--longitude", 2)
    assert (survey / "survey.json").read_bytes() == before


@pytest.mark.parametrize(
    ("latitude", "longitude", "word"),
    [("91", "0", "latitude"), ("nan", "0", "latitude"), ("0", "inf", "longitude"),
     ("117.4", "38", "swapped")],
)  # fmt: skip
def test_new_refuses_no_place(run, tmp_path, latitude, longitude, word) -> None:
    folder = tmp_path / "n"
    assert word in run.refused("new", folder, "--latitude", latitude, "--longitude", longitude)
    assert not (folder / "survey.json").exists()


def test_new_asks_for_a_place(run, tmp_path) -> None:
    assert "--latitude" in run.refused("new", tmp_path / "n")


def test_photo_becomes_a_view_in_the_survey_folder(run, pictured, samples) -> None:
    (view,) = load(pictured)["views"]
    assert view["id"] == "v1"
    assert view["size_px"] == [2976, 1024]
    assert view["spot"] == "ridge"
    assert view["taken"] == "2026-02-01T14:11:00-08:00"
    assert view["projection"]["kind"] == "equirectangular"
    east, north, up = view["camera_enu_m"]
    assert (east, north) == (-0.6, -1.16)
    assert 4.9 + 1.3 < up < 4.9 + 1.9
    copy = pictured / view["photo"]
    assert copy.parent == pictured / "photos"
    assert copy.read_bytes() == (samples / "gable_sector.jpg").read_bytes()
    assert load(pictured)["revision"] == 2


def test_photo_takes_a_camera_position(run, survey, samples) -> None:
    run.ok("photo", samples / "mast_sector.jpg", "--into", survey, "--spot", "ridge",
           "--camera", -0.6, -1.16, 8.5, "--leaf", "in")  # fmt: skip
    (view,) = load(survey)["views"]
    assert view["camera_enu_m"] == [-0.6, -1.16, 8.5]
    assert view["leaf"] == "in"
    assert view["id"] == "mast_sector"


def test_photo_refuses_an_unknown_spot_and_a_taken_id(run, pictured, samples) -> None:
    before = (pictured / "survey.json").read_bytes()
    where = ("--into", pictured)
    assert "nowhere" in run.refused(
        "photo", samples / "mast_sector.jpg", *where, "--spot", "nowhere"
    )
    assert "v1" in run.refused(
        "photo", samples / "mast_sector.jpg", *where, "--spot", "ridge", "--id", "v1"
    )
    assert (pictured / "survey.json").read_bytes() == before


def test_marks_of_each_kind(run, pictured) -> None:
    run.ok("mark", "landmark", pictured, "lattice", "--latitude", -38.6423201,
           "--longitude", -117.3855855, "--top", 121.07, "--sigma", 3)  # fmt: skip
    run.ok("mark", "point", pictured, "v1", 1797.7, 610.8, "--landmark", "lattice",
           "--sigma-px", 2)  # fmt: skip
    run.ok("mark", "point", pictured, "v1", 2079.4, 662.1, "--bearing", 121.8, "--id", "map")
    run.ok("mark", "point", pictured, "v1", 938, 711.5, "--bearing", 0.7, "--magnetic",
           "--elevation", 0.5)  # fmt: skip
    run.ok("mark", "point", pictured, "v1", 1500, 683, "--level", "spirit")
    data = load(pictured)
    assert data["landmarks"] == [
        {"id": "lattice", "latitude_deg": -38.6423201, "longitude_deg": -117.3855855,
         "top_amsl_m": 121.07, "sigma_m": 3}
    ]  # fmt: skip
    by_kind = {}
    for mark in data["marks"]:
        by_kind.setdefault(mark["kind"], []).append(mark)
    (landmark,) = by_kind["landmark"]
    assert landmark["landmark"] == "lattice"
    assert landmark["points_px"] == [[1797.7, 610.8]]
    assert landmark["sigma_px"] == 2
    first, second = by_kind["bearing"]
    assert (first["id"], first["azimuth_deg"], first["north"]) == ("map", 121.8, "true")
    assert (second["north"], second["elevation_deg"]) == ("magnetic", 0.5)
    (level,) = by_kind["level"]
    assert level["level_by"] == "spirit"
    assert len({mark["id"] for mark in data["marks"]}) == 4


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("v1", 10, 10), "--landmark"),
        (("v1", 10, 10, "--landmark", "a", "--bearing", 3), "--bearing"),
        (("v9", 10, 10, "--bearing", 3), "v9"),
        (("v1", 10, 10, "--landmark", "nothing"), "nothing"),
        (("v1", 10, 10, "--bearing", 400), "azimuth"),
        (("v1", 99999, 10, "--bearing", 3), "99999"),
    ],
)
def test_a_mark_that_means_nothing(run, pictured, words, named) -> None:
    before = (pictured / "survey.json").read_bytes()
    assert named in run.refused("mark", "point", pictured, *words)
    assert (pictured / "survey.json").read_bytes() == before


def test_outline_adds_the_obstruction_and_its_shape(run, pictured) -> None:
    run.ok("mark", "outline", pictured, "v1", "oak", "--kind", "broadleaf", "--distance", 21,
           "--distance-sigma", 2, "--by", "paced", "--depth", 8,
           "--points", "1000,500 1200,500 1200,800 1000,800",
           "--hole", "1050,550 1100,550 1100,600")  # fmt: skip
    data = load(pictured)
    (oak,) = data["obstructions"]
    assert oak["kind"] == "broadleaf"
    assert oak["kind_by"] == "hand"
    assert (oak["distance_m"], oak["distance_sigma_m"], oak["depth_m"]) == (21, 2, 8)
    assert (oak["distance_by"], oak["distance_from"]) == ("paced", "v1")
    (outline,) = data["outlines"]
    assert (outline["obstruction"], outline["view"], outline["by"]) == ("oak", "v1", "hand")
    assert outline["rings_px"][0] == [[1000, 500], [1200, 500], [1200, 800], [1000, 800]]
    assert len(outline["rings_px"]) == 2
    assert outline["reaches_ground"] is True


def test_a_floating_outline_does_not_reach_the_ground(run, pictured) -> None:
    run.ok("mark", "outline", pictured, "v1", "sign", "--kind", "building", "--distance", 30,
           "--points", "1000,500 1200,500 1200,600 1000,600", "--floating")  # fmt: skip
    assert load(pictured)["outlines"][0]["reaches_ground"] is False


@pytest.mark.parametrize(
    ("points", "more", "named"),
    [
        ("100,100 200,100", ("--kind", "tree"), "3"),
        ("100,100 200,200 200,100 100,200", ("--kind", "tree"), "cross"),
        ("100,100 9000,100 9000,200", ("--kind", "tree"), "9000"),
        ("100,100 200,100 200", ("--kind", "tree"), "--points"),
        ("a,b c,d e,f", ("--kind", "tree"), "--points"),
        ("100,100 200,100 200,200", (), "--kind"),
        ("100,100 200,100 200,200", ("--kind", "tree", "--distance", -4), "distance"),
        ("100,100 200,100 200,200", ("--kind", "tree", "--sky-share", 1.4), "sky_share"),
    ],
)
def test_an_outline_that_is_none(run, pictured, points, more, named) -> None:
    before = (pictured / "survey.json").read_bytes()
    said = run.refused("mark", "outline", pictured, "v1", "oak", "--points", points, *more)
    assert named in said
    assert (pictured / "survey.json").read_bytes() == before


def test_set_changes_any_field_by_its_path(run, pictured) -> None:
    run.ok("set", pictured, "limits.lines_checked=yes", "site.ground_amsl_m=50.5",
           "spots.ridge.heights_m=[2,4]", "views.v1.leaf=out", "title=A = B, really")  # fmt: skip
    data = load(pictured)
    assert data["limits"]["lines_checked"] is True
    assert data["site"]["ground_amsl_m"] == 50.5
    assert data["spots"][0]["heights_m"] == [2, 4]
    assert data["views"][0]["leaf"] == "out"
    assert data["title"] == "A = B, really"
    assert data["revision"] == 3


def test_set_adds_and_removes_items(run, survey) -> None:
    antenna = {"id": "main", "spot": "ridge", "height_m": 3, "length_m": 1.5}
    run.ok("set", survey, "--add", "antennas", json.dumps(antenna))
    run.ok("set", survey, "antennas.main.aim_true_deg=140")
    assert load(survey)["antennas"] == [{**antenna, "aim_true_deg": 140}]
    run.ok("set", survey, "--remove", "main")
    assert not load(survey).get("antennas")
    assert load(survey)["revision"] == 4


def test_set_gives_a_field_back_to_the_unknown(run, survey) -> None:
    run.ok("set", survey, "site.ground_amsl_m=null")
    assert load(survey)["site"].get("ground_amsl_m") is None


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("site.latitude_deg=91",), "site.latitude_deg"),
        (("site.lattitude_deg=9",), "latitude_deg"),
        (("spots.roof.enu_m=[0,0,1]",), "roof"),
        (("antennas.main.aim_true_deg=140",), "main"),
        (("site.ground_amsl_m=NaN",), "ground_amsl_m"),
        (("title",), "PATH=VALUE"),
        ((), "PATH=VALUE"),
        (("--add", "spots", "{broken"), "spots"),
        (("--add", "spots", '{"id": "ridge", "enu_m": [0, 0, 1]}'), "ridge"),
        (("--add", "holes", '{"id": "a"}'), "holes"),
        (("--remove", "nobody"), "nobody"),
        (("title=Good", "site.latitude_deg=95"), "latitude_deg"),
    ],
)
def test_set_stores_all_or_nothing(run, survey, words, named) -> None:
    before = (survey / "survey.json").read_bytes()
    assert named in run.refused("set", survey, *words)
    assert (survey / "survey.json").read_bytes() == before


def test_removing_what_others_need_is_refused(run, pictured) -> None:
    run.ok("mark", "point", pictured, "v1", 100, 100, "--bearing", 3)
    before = (pictured / "survey.json").read_bytes()
    assert "v1" in run.refused("set", pictured, "--remove", "v1")
    assert (pictured / "survey.json").read_bytes() == before


def test_revision_grows_by_one_at_each_save(run, survey) -> None:
    for n in range(2, 5):
        run.ok("set", survey, f"title=T{n}")
        assert load(survey)["revision"] == n


def test_the_whole_job_by_verbs_alone(run, pictured, samples, tmp_path) -> None:
    """From an empty folder to a picture, on a sample photo, with marks read off the truth."""
    truth = json.loads((samples / "truth.json").read_text(encoding="utf-8"))
    facts = next(p for p in truth["pictures"] if p["picture"] == "gable_sector.jpg")
    for x, y, azimuth, elevation in facts["points"][::17]:
        run.ok("mark", "point", pictured, "v1", x, y, "--bearing", azimuth,
               "--elevation", elevation, "--sigma-px", 1)  # fmt: skip
    run.ok("calibrate", pictured)
    x, y, azimuth, elevation = facts["points"][50]
    row = run.ok("locate", pictured, "v1", x, y, "--json").row
    assert row["azimuth_deg"] == pytest.approx(azimuth, abs=0.05)
    assert row["elevation_deg"] == pytest.approx(elevation, abs=0.05)
    run.ok("mark", "outline", pictured, "v1", "block", "--kind", "building", "--distance", 128,
           "--points", "528,545 665,555 665,700 528,700")  # fmt: skip
    run.ok("set", pictured, "limits.lines_checked=yes")
    run.ok("stations", pictured, samples / "stations.csv")
    rows = run.ok("paths", pictured, "--json").rows
    assert len(rows) == 12 * 2
    picture = tmp_path / "out.png"
    run.ok("draw", pictured, "-o", picture)
    assert picture.stat().st_size > 10_000
    left = run.ok("check", pictured, "--json").rows
    assert [r for r in left if r["severity"] == "missing"] == []


def test_setting_a_word_that_nothing_understands_is_told(run, tmp_path) -> None:
    folder = tmp_path / "house"
    run.ok("new", folder, "--latitude", 1, "--longitude", 2)
    assert "are not known: give one of" in run.ok("set", folder, "site.surroundings=town").err
    assert run.ok("set", folder, "site.surroundings=rural").err == ""
