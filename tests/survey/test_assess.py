"""The whole chain on small exact scenes and on the sample survey."""

from __future__ import annotations

import copy
from pathlib import Path

import numpy as np
import pytest
from scipy.special import fresnel
from survey_scene import CAMERA, box_ring, station

from skyview.constants import wavelength_m
from skyview.errors import InputError
from skyview.survey.assess import assess
from skyview.survey.models import validate
from skyview.survey.plates import plate_of
from skyview.survey.results import PathRow
from skyview.wave.aperture import loss_db
from skyview.wave.screens import Screen, field

SAMPLES = Path(__file__).parents[2] / "sample_images"


def only(found) -> PathRow:
    (row,) = found.rows
    return row


def rectangle_loss_db(x1, x2, y1, y2, wavelength, near, far):
    """Opaque rectangle by products of Fresnel integrals: Rec. ITU-R P.526-15, 5.2.1.1, 5.2.2."""
    scale = np.sqrt(2.0 * (near + far) / (wavelength * near * far))
    (sx1, cx1), (sx2, cx2), (sy1, cy1), (sy2, cy2) = (fresnel(v * scale) for v in (x1, x2, y1, y2))
    across, along = (cx2 - cx1) + 1j * (sx2 - sx1), (cy2 - cy1) + 1j * (sy2 - sy1)
    return float(-20.0 * np.log10(abs(1.0 - across * along / 2j)))


def test_a_wall_costs_what_the_fresnel_integrals_say(scene):
    """The antenna stands where the camera stood, so the rectangle is the one drawn."""
    wall = {"kind": "building", "distance_m": 60.0, "ring": box_ring(-4, 6, -6, 3)}
    row = only(assess(scene({"wall": wall}, [station("QA", 1.0, 30.0)])))
    el = np.radians(row.arrival_elevation_deg)
    plane = np.radians(row.bearing_deg - 1.0)
    near = 60.0 / np.cos(plane) / np.cos(el)
    side = [60.0 * np.tan(np.radians(a - row.bearing_deg)) for a in (-4, 6)]
    height = [60.0 * np.tan(np.radians(e) - el) for e in (-6, 3)]
    expected = rectangle_loss_db(*side, *height, wavelength_m(row.frequency_mhz), near, 30e3)
    assert row.path == "blocked"
    assert row.obstruction_loss_db == pytest.approx(expected, abs=0.15)
    assert row.clearance_m == pytest.approx(-min(height[1], -height[0]), rel=0.01)
    assert row.clearance_deg == pytest.approx(-(3.0 - row.arrival_elevation_deg), abs=0.02)
    zone = np.sqrt(wavelength_m(row.frequency_mhz) * 60.0 * 29940.0 / 30e3)
    assert row.clearance_fresnel_radii == pytest.approx(row.clearance_m / zone, rel=0.01)


def test_a_metre_of_mast_turns_a_near_edge_by_its_angle(scene):
    """One metre is 2.6 deg at 22 m: arctan(1 / 22)."""
    wall = {"kind": "building", "distance_m": 22.0, "ring": box_ring(-20, 20, -10, 5)}
    survey = scene({"wall": wall}, [station("QA", 0.0, 40.0)])
    low, high = (only(assess(survey, heights_m=[h])) for h in (1.5, 2.5))
    rise = np.degrees(np.arctan(1.0 / 22.0))
    assert high.clearance_deg - low.clearance_deg == pytest.approx(rise, abs=0.03)
    assert high.obstruction_loss_db < low.obstruction_loss_db


def test_a_step_aside_moves_the_outline_the_other_way(scene):
    wall = {"kind": "building", "distance_m": 20.0, "ring": box_ring(-30, 0.0, -10, 20)}
    survey = scene({"wall": wall}, [station("QA", 0.0, 40.0)])
    survey.spots[0].enu_m = (2.0, 0.0, 5.0)
    row = only(assess(survey))
    assert row.clearance_m == pytest.approx(2.0, abs=0.05)
    edge = 20.0 / np.cos(np.radians(15.0))  # the plane is square to the outline's middle
    assert row.clearance_deg == pytest.approx(np.degrees(np.arctan(2.0 / edge)), abs=0.02)


@pytest.mark.parametrize(
    ("ring", "kind", "word"),
    [
        (box_ring(-8, 8, -6, 8), "building", "blocked"),
        (box_ring(-8, 8, -6, -0.8), "building", "grazing"),
        (box_ring(-8, 8, -6, -3), "building", "clear"),
        (box_ring(-8, 8, -6, 12), "broadleaf", "through_trees"),
        (box_ring(-8, 8, -6, 12), "wire", "clear"),
        (box_ring(-8, 8, -6, 12), "power_line", "clear"),
    ],
)
def test_each_word(scene, ring, kind, word):
    thing = {"kind": kind, "distance_m": 40.0, "ring": ring}
    assert only(assess(scene({"thing": thing}, [station("QA", 0.0, 40.0)]))).path == word


def test_wires_are_no_part_of_the_losses(scene):
    wire = {"kind": "power_line", "distance_m": 15.0, "ring": box_ring(-8, 8, -1, 2)}
    row = only(assess(scene({"line": wire}, [station("QA", 0.0, 40.0)])))
    assert (row.obstruction, row.shares_db, row.obstruction_loss_db) == (None, {}, 0.0)


def test_a_thin_pole_is_no_wall(scene):
    """0.3 m wide, 20 m away: a knife edge as wide as the sky would cost about 18 dB."""
    half = np.degrees(0.15 / 20.0)
    pole = {"kind": "mast", "distance_m": 20.0, "ring": box_ring(-half, half, -15, 20)}
    row = only(assess(scene({"pole": pole}, [station("QA", 0.0, 40.0, rf_channel=35)])))
    assert row.clearance_m < 0.0
    assert row.obstruction_loss_db < 1.0
    assert row.path == "clear"


def test_a_crown_is_nothing_at_low_vhf(scene):
    tree = {"kind": "conifer", "distance_m": 30.0, "depth_m": 3.0, "ring": box_ring(-3, 3, -10, 15)}
    stations = [station("QLOW", 0.0, 40.0, rf_channel=2), station("QUHF", 0.0, 40.0, rf_channel=35)]
    low, high = assess(scene({"spruce": tree}, stations)).rows
    assert low.obstruction_loss_db < 0.3
    assert high.obstruction_loss_db > 2.0 * low.obstruction_loss_db


def test_out_of_leaf_costs_less(scene):
    tree = {"kind": "broadleaf", "distance_m": 30.0, "ring": box_ring(-9, 9, -10, 25)}
    survey = scene({"oak": tree}, [station("QA", 0.0, 40.0)])
    assert (
        only(assess(survey, leaf="out")).obstruction_loss_db
        < only(assess(survey, leaf="in")).obstruction_loss_db
    )


def test_a_bare_tree_uses_its_share_of_sky(scene):
    ring = box_ring(-20, 20, -10, 40)
    tree = {"kind": "dead_tree", "distance_m": 15.0, "ring": ring, "sky_share": 0.5}
    row = only(assess(scene({"snag": tree}, [station("QA", 0.0, 40.0)])))
    assert row.obstruction_loss_db == pytest.approx(6.02, abs=0.5)


def test_outside_every_picture_is_not_seen(scene, demo_data):
    survey = scene({}, [station("QA", 100.0, 40.0)])
    survey.views[0].projection = {
        "kind": "equirectangular",
        "left_deg": -90,
        "right_deg": 90,
        "top_deg": 60,
        "bottom_deg": -30,
    }
    row = only(assess(survey))
    assert row.path == "not_seen"
    assert row.elevation_sigma_deg is None


def test_no_view_at_all_is_not_seen_and_said(scene):
    survey = scene({}, [station("QA", 100.0, 40.0)], views=[])
    found = assess(survey)
    assert only(found).path == "not_seen"
    assert any("no view" in note for note in found.warnings)


def test_across_the_north_seam_and_past_the_width(scene):
    """The picture's joint is at south: the ring's x runs past the width."""
    wall = {"kind": "building", "distance_m": 40.0, "ring": box_ring(175, 185, -6, 9)}
    ring = wall["ring"]
    assert max(x for x, _ in ring) > 3600
    row = only(assess(scene({"wall": wall}, [station("QA", 181.0, 40.0)])))
    assert (row.path, row.obstruction) == ("blocked", "wall")


def test_a_gap_between_two_things(scene):
    shapes = {
        "left": {"kind": "building", "distance_m": 60.0, "ring": box_ring(-30, -11, -6, 15)},
        "right": {"kind": "building", "distance_m": 60.0, "ring": box_ring(9, 30, -6, 15)},
    }
    row = only(assess(scene(shapes, [station("QA", 1.0, 40.0)])))
    assert set(row.shares_db) == {"left", "right"}
    aside = {"left": 12.0, "right": 8.0}[row.obstruction]
    assert row.clearance_m == pytest.approx(60.0 * np.tan(np.radians(aside)), rel=0.03)
    assert row.path == "clear"


def test_reaching_the_ground_closes_what_lies_below(scene):
    ring = box_ring(-10, 10, 1.0, 9.0)
    thing = {"kind": "building", "distance_m": 40.0, "ring": ring}
    free = only(assess(scene({"sign": thing}, [station("QA", 0.0, 40.0)])))
    closed = only(
        assess(scene({"sign": {**thing, "reaches_ground": True}}, [station("QA", 0.0, 40.0)]))
    )
    assert free.clearance_m > 0.0 > closed.clearance_m
    assert closed.obstruction_loss_db > free.obstruction_loss_db


def test_a_higher_mast_frees_what_was_never_seen(scene):
    wall = {"kind": "building", "distance_m": 15.0, "ring": box_ring(-20, 20, -15, 3)}
    survey = scene({"wall": wall}, [station("QA", 0.0, 40.0)])
    low, high = assess(survey, heights_m=[1.5, 5.0]).rows
    assert (low.path, low.unseen_behind) == ("blocked", False)
    assert (high.path, high.unseen_behind) == ("clear", True)


def test_beyond_the_horizon_the_earth_sets_the_arrival(scene):
    survey = scene({}, [station("QA", 0.0, 150.0, antenna_amsl_m=150.0)])
    row = only(assess(survey))
    assert row.beyond_horizon
    dip = np.degrees(np.arccos(1.0 / (1.0 + 6.5 / (4 / 3 * 6371e3))))
    assert row.arrival_elevation_deg == pytest.approx(-dip, abs=1e-4)
    assert row.optical_elevation_deg < row.arrival_elevation_deg


def test_a_hill_beyond_which_the_station_lies_sets_the_arrival_and_is_no_screen(scene):
    hill = {"kind": "hill", "distance_m": 4000.0, "ring": box_ring(-30, 30, -1, 2.5)}
    survey = scene({"hill": hill}, [station("QA", 0.0, 150.0, antenna_amsl_m=150.0)])
    row = only(assess(survey))
    assert row.beyond_horizon
    assert row.arrival_elevation_deg == pytest.approx(2.5, abs=0.02)
    assert "hill" not in row.shares_db
    assert row.path == "clear"


def test_a_hill_above_the_direct_ray_is_the_horizon_of_a_near_station_too(scene):
    hill = {"kind": "hill", "distance_m": 4000.0, "ring": box_ring(-30, 30, -1, 2.5)}
    row = only(assess(scene({"hill": hill}, [station("QA", 0.0, 20.0)])))
    assert (row.beyond_horizon, row.path) == (True, "clear")
    assert row.arrival_elevation_deg == pytest.approx(2.5, abs=0.02)


def test_a_hill_that_is_the_horizon_takes_what_its_clearance_angle_says(scene):
    """Rec. ITU-R P.1546-6, Annex 5, section 11: J(0.065 angle root f) - J(0.036 root f)."""

    def loss_db(nu):
        return 6.9 + 20.0 * np.log10(np.hypot(nu - 0.1, 1.0) + nu - 0.1)

    stations = [station("QA", 0.0, 20.0, erp_kw=10.0, haat_m=200.0, system="atsc1")]
    hill = {"kind": "hill", "distance_m": 4000.0, "ring": box_ring(-30, 30, -1, 3.5)}
    free = only(assess(scene({}, stations)))
    row = only(assess(scene({"hill": hill}, stations)))
    angle = row.arrival_elevation_deg - free.arrival_elevation_deg
    root = np.sqrt(row.frequency_mhz)
    due = loss_db(0.065 * angle * root) - loss_db(0.036 * root)
    assert due > 5.0
    assert row.field_dbuv_m == pytest.approx(free.field_dbuv_m - due, abs=0.1)
    assert row.losses_db["terrain"] == pytest.approx(due, abs=0.1)
    assert row.losses_db["distance"] == pytest.approx(free.losses_db["distance"])
    assert row.margin_db.p50 < free.margin_db.p50 - 5.0


def test_a_hill_below_the_ray_is_a_screen(scene):
    hill = {"kind": "hill", "distance_m": 4000.0, "ring": box_ring(-30, 30, -1, 0.9)}
    row = only(assess(scene({"hill": hill}, [station("QA", 0.0, 20.0)])))
    assert not row.beyond_horizon
    assert row.obstruction == "hill"
    assert row.clearance_deg == pytest.approx(row.arrival_elevation_deg - 0.9, abs=0.02)


def test_two_in_a_row_cost_neither_the_sum_nor_the_worst(scene):
    """Joint loss of two walls against the cascade on rectangles of our own making."""
    near = {"kind": "building", "distance_m": 30.0, "ring": box_ring(-25, 25, -12, 1.5)}
    far = {"kind": "building", "distance_m": 120.0, "ring": box_ring(-20, 20, -3, 1.5)}
    stations = [station("QA", 0.0, 40.0, rf_channel=30)]
    both = only(assess(scene({"near": near, "far": far}, stations)))
    alone = {
        name: only(assess(scene({name: thing}, stations))).obstruction_loss_db
        for name, thing in (("near", near), ("far", far))
    }
    assert max(alone.values()) < both.obstruction_loss_db < sum(alone.values())
    elevation = np.tan(np.radians(both.arrival_elevation_deg))
    screens = []
    for wide, low, high, distance in ((25, -12, 1.5, 30.0), (20, -3, 1.5, 120.0)):
        side = distance * np.tan(np.radians(wide))
        bottom, top = (distance * (np.tan(np.radians(v)) - elevation) for v in (low, high))
        ring = np.array([[-side, bottom], [side, bottom], [side, top], [-side, top]])
        screens.append(Screen(distance, [ring], [0.0]))
    expected = loss_db(field(screens, wavelength_m(both.frequency_mhz), 40e3))
    assert both.obstruction_loss_db == pytest.approx(float(expected), abs=0.3)
    for name, other in (("near", "far"), ("far", "near")):
        gain = both.obstruction_loss_db - alone[other]
        assert both.shares_db[name] == pytest.approx(gain, abs=0.05)


def test_a_very_long_outline_costs_what_its_few_corners_do(scene):
    """400 vertices along a straight roof line against the same roof with its corners alone."""
    near = {"kind": "building", "distance_m": 30.0, "ring": box_ring(-25, 25, -12, 1.0)}
    corners = box_ring(-20, 20, -3, 1.5)
    (left, low), (_, high), (right, _), _ = corners
    roof_line = [[float(x), high] for x in np.linspace(left, right, 400)]
    losses = [
        only(
            assess(
                scene(
                    {"near": near, "far": {"kind": "building", "distance_m": 120.0, "ring": ring}},
                    [station("QA", 0.0, 40.0, rf_channel=30)],
                )
            )
        ).obstruction_loss_db
        for ring in (corners, [[left, low], *roof_line, [right, low]])
    ]
    assert losses[0] == pytest.approx(losses[1], abs=0.1)


def test_a_hill_behind_the_station_is_no_horizon(scene):
    hill = {"kind": "hill", "distance_m": 10000.0, "ring": box_ring(-30, 30, -1, 4.0)}
    row = only(assess(scene({"hill": hill}, [station("QA", 0.0, 3.0, antenna_amsl_m=200.0)])))
    assert not row.beyond_horizon
    assert row.arrival_elevation_deg == pytest.approx(2.7, abs=0.1)


def test_what_stands_behind_the_transmitter_costs_nothing(scene):
    block = {"kind": "building", "distance_m": 800.0, "ring": box_ring(-8, 8, -2, 20.0)}
    row = only(assess(scene({"block": block}, [station("QA", 0.0, 0.4, antenna_amsl_m=80.0)])))
    assert (row.path, row.obstruction) == ("clear", None)


def test_over_the_hill_that_sets_the_arrival_nothing_is_unseen(scene):
    hill = {"kind": "hill", "distance_m": 4000.0, "ring": box_ring(-30, 30, -1, 2.5)}
    bearings = [station(f"Q{i}", float(i), 150.0, antenna_amsl_m=150.0) for i in range(-6, 7)]
    rows = assess(scene({"hill": hill}, bearings), heights_m=[1.5, 3.0, 6.0]).rows
    assert not any(row.unseen_behind for row in rows)


def test_a_hill_in_two_views_counts_as_the_nearer_camera_saw_it(scene):
    hill = {"kind": "hill", "distance_m": 4000.0, "ring": box_ring(-30, 30, -1, 0.5)}
    data = scene({"hill": hill}, [station("QA", 0.0, 20.0)]).model_dump(exclude_unset=True)
    data["views"].append(
        {**copy.deepcopy(data["views"][0]), "id": "far", "camera_enu_m": [60.0, 0.0, CAMERA[2]]}
    )
    data["outlines"].append(
        {**data["outlines"][0], "id": "h2", "view": "far", "rings_px": [box_ring(-30, 30, -1, 5)]}
    )
    row = only(assess(validate(data)))
    assert not row.beyond_horizon


def test_antennas_and_listed_heights_are_all_answered(scene):
    antennas = [{"id": "main", "spot": "ridge", "height_m": 4.0}]
    survey = scene({}, [station("QA", 0.0, 40.0)], antennas=antennas)
    assert [r.antenna_height_m for r in assess(survey).rows] == [1.5, 4.0]


def test_two_views_place_a_thing_without_a_distance(scene):
    """A camera 8 m to the east sees the same wall's middle turned: 40 m north of the first."""
    wall = {"kind": "building", "ring": box_ring(-5, 5, -6, 9.0)}
    survey = scene({"wall": wall}, [station("QA", 0.0, 40.0)])
    data = survey.model_dump(exclude_unset=True)
    data["views"].append(
        {**copy.deepcopy(data["views"][0]), "id": "east", "camera_enu_m": [8.0, 0.0, CAMERA[2]]}
    )
    turn = -float(np.degrees(np.arctan(8.0 / 40.0)))
    data["outlines"].append(
        {
            **data["outlines"][0],
            "id": "wall-2",
            "view": "east",
            "rings_px": [box_ring(turn - 5, turn + 5, -6, 9.0)],
        }
    )
    found = assess(validate(data))
    first = next(s for s in found.screens["wall"] if s.view == "round")
    assert first.screen.foot_m == pytest.approx([0.0, 40.0], abs=0.01)
    assert any("wall has no distance" in note for note in found.warnings)


def test_several_spots_heights_and_stations_come_in_order(scene):
    survey = scene({}, [station("QA", 0.0, 40.0), station("QB", 90.0, 40.0)])
    survey.spots[0].heights_m = [1.0, 2.0]
    keys = [(r.spot, r.antenna_height_m, r.station) for r in assess(survey).rows]
    assert keys == [("ridge", h, s) for h in (1.0, 2.0) for s in ("QA", "QB")]


def test_an_antenna_of_the_survey_is_named(scene):
    survey = scene(
        {},
        [station("QA", 0.0, 40.0)],
        antennas=[{"id": "main", "spot": "ridge", "height_m": 1.5}],
    )
    assert only(assess(survey)).antenna == "main"


@pytest.mark.parametrize(
    ("wanted", "sentence"),
    [
        ({"spots": ["attic"]}, "no spot is called attic"),
        ({"stations": ["QZZ"]}, "no station is called QZZ"),
    ],
)
def test_unknown_ids_are_refused(scene, wanted, sentence):
    with pytest.raises(InputError, match=sentence):
        assess(scene({}, [station("QA", 0.0, 40.0)]), **wanted)


def test_a_missing_distance_is_said(scene):
    thing = {"kind": "building", "ring": box_ring(-10, 10, -6, 9.0)}
    found = assess(scene({"shed": thing}, [station("QA", 0.0, 40.0)]))
    assert any("shed has no distance" in note for note in found.warnings)


def test_the_distance_may_count_from_another_view(scene):
    """Measured from a camera 10 m behind: 10 m nearer from the one that drew it."""
    wall = {"kind": "building", "distance_m": 30.0, "ring": box_ring(-10, 10, -6, 9.0)}
    survey = scene({"wall": wall}, [station("QA", 0.0, 40.0)])
    data = survey.model_dump(exclude_unset=True)
    data["views"].append(
        {**copy.deepcopy(data["views"][0]), "id": "back", "camera_enu_m": [0.0, -10.0, CAMERA[2]]}
    )
    data["outlines"].append({**data["outlines"][0], "id": "wall-2", "view": "back"})
    data["obstructions"][0]["distance_from"] = "back"
    found = assess(validate(data))
    front = next(s for s in found.screens["wall"] if s.view == "round")
    assert front.screen.foot_m == pytest.approx([0.0, 20.0], abs=1e-6)


def test_the_plate_s_level_band_is_as_wide_as_the_calibration_leaves_open(demo_data, tmp_path):
    """The sigma of elevation at level on the plate against that of the camera itself."""
    survey = validate(copy.deepcopy(demo_data))
    (tmp_path / "photos").mkdir()
    for view in survey.views:
        name = view.photo.removeprefix("photos/")
        (tmp_path / "photos" / name).write_bytes((SAMPLES / name).read_bytes())
    found = assess(survey, spots=["ridge"], heights_m=[3.0])
    band = plate_of(survey, tmp_path, found, view="sweep").level_band_deg
    posed = found.cameras["sweep"].picture
    azimuth = np.radians(band[::30, 0])
    rays = np.stack([np.sin(azimuth), np.cos(azimuth), np.zeros(azimuth.size)], axis=1)
    sigma = posed.direction_sigma(*posed.camera.pixels(rays))[1]
    np.testing.assert_allclose(band[::30, 1], np.degrees(sigma), rtol=1e-9)
    assert band[:, 1].max() > 1.1 * band[:, 1].min()


def test_every_word_and_the_horizon_appear_in_the_sample(demo_data):
    found = assess(validate(copy.deepcopy(demo_data)), spots=["ridge"], heights_m=[3.0])
    assert {row.path for row in found.rows} == {
        "clear",
        "grazing",
        "through_trees",
        "blocked",
        "not_seen",
    }
    assert any(row.beyond_horizon for row in found.rows)
    assert {"uhf", "high", "low"} == {
        "low" if r.frequency_mhz < 100 else "high" if r.frequency_mhz < 300 else "uhf"
        for r in found.rows
    }


def test_the_sample_calibrates_to_its_truth_within_its_sigma(demo_data, truth):
    """All check points of the three pictures: errors against the stated sigma."""
    survey = validate(copy.deepcopy(demo_data))
    found = assess(survey)
    for picture in truth["pictures"]:
        view = next((v for v in survey.views if v.photo.endswith("/" + picture["picture"])), None)
        if view is None:
            continue
        points = np.array(picture["points"])
        points = points[np.abs(points[:, 3]) < 20.0]
        posed = found.cameras[view.id].picture
        azimuth, elevation = (np.degrees(v) for v in posed.camera.directions(*points[:, :2].T))
        sigma = [np.degrees(v) for v in posed.direction_sigma(*points[:, :2].T)]
        off_azimuth = (azimuth - points[:, 2] + 180.0) % 360.0 - 180.0
        assert np.all(np.abs(off_azimuth) < 3.0 * sigma[0] + 0.05)
        assert np.all(np.abs(elevation - points[:, 3]) < 3.0 * sigma[1] + 0.05)
        assert np.median(np.abs(off_azimuth)) < 0.5
