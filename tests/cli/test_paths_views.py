"""The same wall through all four projections, across the north seam and past the width."""

from __future__ import annotations

import math

import pytest

RECTILINEAR = {"kind": "rectilinear", "focal_px": 1500.0, "centre_px": [1008.0, 756.0]}
BENT = {**RECTILINEAR, "k1": -0.08, "k2": 0.01}
CYLINDER = {"kind": "cylindrical", "px_per_rad": 1200.0, "centre_px": [1400.0, 620.0]}
FISHEYE = {"kind": "fisheye", "px_per_rad": 700.0, "centre_px": [1000.0, 1000.0]}
SECTOR = {"kind": "equirectangular", "left_deg": -60, "right_deg": 60,
          "top_deg": 45, "bottom_deg": -30}  # fmt: skip
VIEWS = [
    pytest.param(RECTILINEAR, (2016, 1512), id="rectilinear"),
    pytest.param(BENT, (2016, 1512), id="rectilinear-distorted"),
    pytest.param(CYLINDER, (2800, 1000), id="cylindrical"),
    pytest.param(FISHEYE, (2000, 2000), id="fisheye"),
    pytest.param(SECTOR, (960, 600), id="equirectangular"),
]


@pytest.fixture
def tilted(make_camera):
    """A camera turned, tilted and rolled."""
    return lambda form, size: make_camera(form, size, yaw_deg=33.0, pitch_deg=2.0, roll_deg=1.2)


@pytest.mark.parametrize(("form", "size"), VIEWS)
def test_locate_gives_back_the_direction(make_roof, tilted, form, size) -> None:
    roof = make_roof(tilted(form, size))
    asked = [(15.0, 3.0), (33.0, 10.0), (50.0, -2.0), (24.0, 15.0)]
    pixels = [value for a, e in asked for value in roof.camera.pixel_of(a, e)]
    rows = roof.runner.ok("locate", roof.solve(), "v1", *pixels, "--json").rows
    for row, (azimuth, elevation) in zip(rows, asked, strict=True):
        slack = 0.02 + 0.3 * row["azimuth_sigma_deg"]
        assert row["azimuth_deg"] == pytest.approx(azimuth, abs=slack)
        slack = 0.02 + 0.3 * row["elevation_sigma_deg"]
        assert row["elevation_deg"] == pytest.approx(elevation, abs=slack)
        assert row["azimuth_sigma_deg"] < 0.5
        assert row["elevation_sigma_deg"] < 0.5


@pytest.mark.parametrize(("form", "size"), VIEWS)
def test_a_wall_is_the_same_through_every_lens(make_roof, make_wall, tilted, form, size) -> None:
    wall = make_wall(40.0, 60.0, 6.0, 0.5, 11.0)
    roof = make_roof(tilted(form, size))
    roof.data["spots"][0]["enu_m"] = [1.5, 0.0, 8.0]
    roof.wall("block", wall)
    roof.station("QA", 40.0, 0.5)
    row = roof.path()
    across, up, _ = wall.crossing(roof.antenna(), 40.0, row["arrival_elevation_deg"])
    assert row["clearance_m"] == pytest.approx(wall.clearance(across, up), abs=0.04)
    assert row["path"] == "blocked"


@pytest.mark.parametrize("yaw_deg", [0.0, 90.0, 179.0, 270.0, 359.5])
@pytest.mark.parametrize("azimuth_deg", [0.0, 3.0, 180.0])
def test_no_seam_matters(make_roof, make_wall, make_camera, yaw_deg, azimuth_deg) -> None:
    """Outlines over north, and over the picture's edge with x past the width."""
    wall = make_wall(azimuth_deg, 60.0, 10.0, 0.0, 10.0)
    roof = make_roof(make_camera(yaw_deg=yaw_deg))
    roof.wall("block", wall)
    roof.station("QA", (azimuth_deg - 1.0) % 360.0, 0.5)
    row = roof.path()
    across, up, _ = wall.crossing(roof.antenna(), azimuth_deg - 1.0, 0.5)
    assert row["clearance_m"] == pytest.approx(wall.clearance(across, up), abs=0.03)
    assert row["path"] == "blocked"


def test_an_outline_written_a_whole_turn_further_is_the_same(
    make_roof, make_wall, make_camera
) -> None:
    answers = []
    for name, turn in (("a", 0.0), ("b", 1440.0)):
        roof = make_roof(make_camera(yaw_deg=100.0), name=name)
        roof.wall("block", make_wall(270.0, 60.0, 10.0, 0.0, 9.0))
        ring = roof.data["outlines"][0]["rings_px"][0]
        roof.data["outlines"][0]["rings_px"] = [[[x % 1440.0 + turn, y] for x, y in ring]]
        roof.station("QA", 270.0, 0.5)
        answers.append(roof.path())
    assert answers[0]["clearance_m"] == pytest.approx(answers[1]["clearance_m"], abs=0.002)
    assert answers[0]["obstruction_loss_db"] == pytest.approx(
        answers[1]["obstruction_loss_db"], abs=0.002
    )


def test_past_the_width_locate_goes_round(roof) -> None:
    """Pixel x and x + width are one pixel of a full circle, even after uncertain clicks."""
    for mark, slip in zip(roof.data["marks"], (2.0, -2.0, 1.0, -1.5, 0.5), strict=True):
        mark["points_px"][0][0] += slip
        mark["sigma_px"] = 2.0
    here, round_again = roof.runner.ok(
        "locate", roof.solve(), "v1", 360, 200, 360 + 1440, 200, "--json"
    ).rows
    turn = (here["azimuth_deg"] - round_again["azimuth_deg"] + 180.0) % 360.0 - 180.0
    assert turn == pytest.approx(0.0, abs=1e-6)
    assert round_again["azimuth_sigma_deg"] == pytest.approx(here["azimuth_sigma_deg"], rel=1e-6)


def test_a_pole_at_the_antimeridian(roof, make_wall) -> None:
    roof.data["site"].update(latitude_deg=-17.0, longitude_deg=179.999)
    wall = make_wall(90.0, 60.0, 6.0, 0.0, 10.5)
    roof.wall("block", wall)
    roof.station("QA", 90.0, 0.5)
    assert roof.data["stations"][0]["longitude_deg"] < 0.0
    row = roof.path()
    across, up, _ = wall.crossing(roof.antenna(), 90.0, 0.5)
    assert row["clearance_m"] == pytest.approx(wall.clearance(across, up), abs=0.03)


def test_the_north_pole_itself(roof) -> None:
    roof.data["site"].update(latitude_deg=90.0, longitude_deg=0.0)
    roof.data["stations"] = [
        {"id": "QA", "latitude_deg": 89.6, "longitude_deg": 0.0, "antenna_amsl_m": 900,
         "rf_channel": 21}
    ]  # fmt: skip
    row = roof.path()
    assert row["distance_km"] == pytest.approx(44.7, abs=0.1)
    assert row["bearing_deg"] == pytest.approx(180.0, abs=0.01)
    assert row["path"] == "clear"


@pytest.fixture
def twice_seen(make_roof, make_wall, make_camera):
    """One wall, outlined in two views whose cameras stand 12 m apart."""
    roof = make_roof()
    wall = make_wall(0.0, 60.0, 6.0, 0.0, 9.0)
    roof.wall("block", wall)
    aside = (-12.0, 0.0, 8.0)
    view = dict(roof.data["views"][0], id="v2", camera_enu_m=list(aside))
    roof.data["views"].append(view)
    roof.data["marks"] += [dict(m, id=f"{m['id']}b", view="v2") for m in roof.data["marks"]]
    ring = make_camera(enu_m=aside).ring(wall)
    roof.data["outlines"].append(
        dict(roof.data["outlines"][0], id="o2", view="v2", rings_px=[ring])
    )
    roof.station("QA", 0.0, 0.5)
    return roof, wall


def test_two_outlines_of_one_wall_are_one_wall(twice_seen) -> None:
    roof, wall = twice_seen
    both = roof.path()
    del roof.data["outlines"][1]
    once = roof.path()
    across, up, _ = wall.crossing(roof.antenna(), 0.0, 0.5)
    assert once["clearance_m"] == pytest.approx(wall.clearance(across, up), abs=0.03)
    assert both["clearance_m"] == pytest.approx(once["clearance_m"], abs=0.05)
    assert both["obstruction_loss_db"] == pytest.approx(once["obstruction_loss_db"], abs=0.1)


def test_an_outline_in_the_other_view_stands_in_the_same_place(twice_seen) -> None:
    """Seen from v2 only, the wall stands where its distance from v1 puts it."""
    roof, wall = twice_seen
    roof.data["obstructions"][0]["distance_from"] = "v2"
    roof.data["obstructions"][0]["distance_m"] = math.hypot(60.0, 12.0)
    del roof.data["outlines"][0]
    row = roof.path()
    across, up, _ = wall.crossing(roof.antenna(), 0.0, 0.5)
    assert row["clearance_m"] == pytest.approx(wall.clearance(across, up), abs=0.06)


@pytest.mark.parametrize("outlines", [1, 2])
def test_without_a_distance_the_answer_says_what_it_assumed(twice_seen, outlines) -> None:
    roof, _ = twice_seen
    del roof.data["outlines"][outlines:]
    for field in ("distance_m", "distance_sigma_m", "distance_by", "distance_from"):
        del roof.data["obstructions"][0][field]
    folder = roof.solve()
    answer = roof.runner.ok("paths", folder, "--json")
    assert any("block" in said and "distance" in said for said in answer.json["warnings"])
    todo = roof.runner.ok("check", folder, "--json").rows
    assert any("block" in row["sentence"] and "distance" in row["sentence"] for row in todo)
