"""Terrain files of the user's: profiles, the horizon, the field, the skyline."""

from __future__ import annotations

import sys

import numpy as np
import pytest
import rasterio
from bench_ground import write_raster
from hypothesis import given, settings
from hypothesis import strategies as st
from link_case import station, survey_of

from skyview.errors import InputError
from skyview.survey import raster
from skyview.survey import terrain as module
from skyview.survey.assess import assess
from skyview.survey.budget.over_ground import ground_loss_db
from skyview.survey.models import validate
from skyview.survey.raster import Ground, ground_of
from skyview.survey.storage import create, load
from skyview.survey.terrain import POINTS, Terrain, skyline, terrain_of
from skyview.wave.terrain import Profile, delta_bullington_loss

LAT, LON = -38.6, -117.3
METRES_A_DEGREE = 111_000.0
STEP_DEG = 0.001


def ridge(lat, lon):
    """A wall of a hill, 400 m high, 0.1 degrees (11 km) south of the site, from east to west."""
    return np.where(np.abs(lat - (LAT - 0.1)) < 0.01, 500.0, 100.0) + 0.0 * lon


SOUTH = {"latitude_deg": LAT - 0.4, "longitude_deg": LON, "erp_kw": 100.0, "haat_m": 300.0}
NORTH = {"latitude_deg": LAT + 0.4, "longitude_deg": LON, "erp_kw": 100.0, "haat_m": 300.0}


@pytest.fixture
def roof(tmp_path):
    """A survey in a folder with a ridge in the south; 100 m of ground elsewhere."""
    folder = tmp_path / "roof"
    survey = survey_of([station("SOUTH", 30, **SOUTH), station("NORTH", 33, **NORTH)])
    survey.site.terrain = "ground.tif"
    create(folder, survey)
    write_raster(folder / "ground.tif", (LAT, LON), STEP_DEG, ridge)
    return folder


def test_heights_between_the_middles_of_pixels(tmp_path):
    write_raster(
        tmp_path / "slope.tif",
        (LAT, LON),
        STEP_DEG,
        lambda lat, lon: 1000.0 * (lat - LAT) + 0.0 * lon,
    )
    at = np.array([LAT + 0.2345, LAT - 0.1111])
    found = Ground(tmp_path / "slope.tif").heights_m(at, np.full(2, LON + 0.0123))
    assert found == pytest.approx(1000.0 * (at - LAT), abs=0.01)


def test_outside_the_file_and_where_it_holds_nothing(tmp_path):
    hole = lambda lat, lon: np.where((lat > LAT) & (lon > LON), -9999.0, 50.0)  # noqa: E731
    write_raster(tmp_path / "hole.tif", (LAT, LON), STEP_DEG, hole, nodata=-9999.0)
    lat, lon = np.array([LAT - 0.1, LAT + 0.1, LAT + 5.0]), np.array([LON, LON + 0.1, LON])
    found = Ground(tmp_path / "hole.tif").heights_m(lat, lon)
    assert found[0] == 50.0
    assert np.isnan(found[1:]).all()


def test_profiles_run_from_the_station_to_the_site(roof):
    survey = load(roof)
    terrain = terrain_of(survey, survey.stations)
    assert terrain.known.tolist() == [True, True]
    assert terrain.profile.length_m == pytest.approx(0.4 * METRES_A_DEGREE, rel=0.01)
    at = terrain.profile.distance_m[0, np.argmax(terrain.profile.ground_amsl_m[0])]
    assert at == pytest.approx(0.3 * METRES_A_DEGREE, abs=1500.0)
    assert terrain.profile.ground_amsl_m[1].max() == pytest.approx(100.0)


def test_the_ridge_is_the_horizon_and_costs_its_diffraction(roof):
    """The loss is that of Rec. ITU-R P.526 over the same ridge, its profile written by hand."""
    rows = {r.station: r for r in assess(load(roof), heights_m=[3.0]).rows}
    assert rows["SOUTH"].beyond_horizon
    assert not rows["NORTH"].beyond_horizon
    top = np.degrees(np.arctan2(391.0, 0.1 * METRES_A_DEGREE))
    assert rows["SOUTH"].arrival_elevation_deg == pytest.approx(top, abs=0.25)
    scene = assess(load(roof), heights_m=[3.0]).scene
    found = scene.field.terrain_db[0]
    distance = np.linspace(0.0, 0.4 * 110_990.0, 601)
    wall = np.abs(distance - 0.3 * 110_990.0) < 0.01 * 110_990.0
    by_hand = delta_bullington_loss(
        Profile(distance, np.where(wall, 500.0, 100.0)), 500.0, 109.0, 569.0
    ).loss_db
    assert found[0] == pytest.approx(float(by_hand), abs=0.5)
    assert found[1] < 6.0
    assert rows["NORTH"].field_dbuv_m - rows["SOUTH"].field_dbuv_m > 20.0


def test_spread_with_terrain(roof):
    field = assess(load(roof), heights_m=[3.0]).scene.field
    assert np.hypot(field.site_sigma_db, field.station_sigma_db) == pytest.approx(6.0)


def marked(survey, folder, top_px=280, bearing_px=(1300, 2300)):
    """The survey with a view all round, north at its left edge, and a hill outlined in it."""
    left, right = bearing_px
    view = {
        "id": "v",
        "photo": "v.jpg",
        "size_px": [3600, 600],
        "camera_enu_m": [0.0, 0.0, 9.0],
        "projection": {
            "kind": "equirectangular",
            "left_deg": -180,
            "right_deg": 180,
            "top_deg": 30,
            "bottom_deg": -30,
        },
        "prior": {"yaw_deg": 180, "yaw_sigma_deg": 0.2, "pitch_sigma_deg": 0.1, "scale_sigma": 0},
    }
    right += 3600 if right < left else 0
    ring = [[left, 310], [left, top_px], [right, top_px], [right, 310]]
    outline = {"id": "o", "obstruction": "crest", "view": "v", "rings_px": [ring]}
    hill = {"id": "crest", "kind": "hill", "distance_m": 11_000.0}
    more = {"views": [view], "obstructions": [hill], "outlines": [outline]}
    return validate({**survey.model_dump(), **more}).kept_in(folder)


def test_a_marked_hill_is_part_of_the_terrain(roof):
    survey = load(roof)
    agreeing, off = assess(marked(survey, roof)), assess(marked(survey, roof, top_px=220))
    south = next(r for r in agreeing.rows if r.station == "SOUTH")
    assert south.beyond_horizon
    assert south.obstruction is None
    assert not [w for w in agreeing.warnings if "skyline" in w]
    assert [w for w in off.warnings if "hill crest stands" in w and "above the terrain" in w]


def test_the_skyline_that_an_eye_sees(roof):
    survey = load(roof)
    found, away = skyline(
        survey, ground_of(survey), np.array([0.0, 0.0, 9.0]), np.radians([180.0, 0.0])
    )
    assert found[0] == pytest.approx(np.degrees(np.arctan2(391.0, 10_000.0)), abs=0.1)
    assert away[0] == pytest.approx(10_000.0, abs=200.0)
    assert found[1] == pytest.approx(-0.05, abs=0.06)


def test_a_path_that_the_file_does_not_cover(roof):
    write_raster(roof / "ground.tif", (LAT, LON), STEP_DEG, ridge, half_deg=0.3)
    found = assess(load(roof), heights_m=[3.0])
    assert np.isnan(found.scene.field.terrain_db).all()
    assert any("does not cover the way to SOUTH, NORTH" in note for note in found.warnings)


def test_a_path_half_known_keeps_its_hills_and_its_spread(roof):
    """North of 0.2 degrees from the site the file holds nothing: SOUTH is mapped, NORTH is not."""
    write_raster(
        roof / "ground.tif",
        (LAT, LON),
        STEP_DEG,
        lambda lat, lon: np.where(lat < LAT + 0.2, ridge(lat, lon), np.nan),
    )
    survey = load(roof)
    terrain = terrain_of(survey, survey.stations)
    assert terrain.known.tolist() == [True, False]
    field = assess(survey, heights_m=[3.0]).scene.field
    assert np.isnan(field.terrain_db).tolist() == [[False, True]]
    total = np.hypot(field.site_sigma_db, field.station_sigma_db)
    assert total == pytest.approx([6.0, 10.0])
    crest = marked(survey, roof, bearing_px=(3400, 200))
    north = next(r for r in assess(crest).rows if r.station == "NORTH")
    assert north.beyond_horizon
    assert north.arrival_elevation_deg == pytest.approx(2.0, abs=0.3)


def test_heights_that_do_not_agree_are_told(roof):
    survey = load(roof)
    survey.site.ground_amsl_m = 130.0
    survey.stations[0].antenna_amsl_m = 60.0
    terrain = terrain_of(survey, survey.stations)
    assert terrain.site_amsl_m == pytest.approx(100.0)
    assert terrain.top_amsl_m.tolist() == [110.0, 500.0]
    assert any("130 m above sea level in the survey and 100 m" in n for n in terrain.notes)
    assert any("the antenna of SOUTH would stand below the ground" in n for n in terrain.notes)
    assert not np.isnan(assess(survey).scene.field.wanted_dbuv_m).any()


def over(ground_amsl_m, length_m, top_amsl_m):
    """Two equal stations behind profiles (2, N) of ground, all of them known."""
    ground = np.broadcast_to(ground_amsl_m, (2, POINTS))
    profile = Profile(np.linspace(0.0, length_m, POINTS), ground)
    terrain = Terrain(profile, np.ones(2, bool), ground[0, -1], np.full(2, top_amsl_m), ())
    return terrain, survey_of([station("Q", 30), station("R", 33)]).stations


def test_scatter_is_the_floor_far_away():
    """Rec. ITU-R P.1812-6, section 4.4, eq. (44), by hand over 250 km of flat ground; the bend is
    the path's own angle less those to both smooth horizons, sqrt(2 h / a)."""
    terrain, stations = over(0.0, 250e3, 100.0)
    loss = ground_loss_db(terrain, stations, np.array([10.0]), np.full(2, 569.0))
    radius = 8_494_667.0
    bend = 1e3 * (250e3 / radius - np.sqrt(200.0 / radius) - np.sqrt(20.0 / radius))
    f = 0.569
    scatter = 190.1 + 25 * np.log10(f) - 2.5 * np.log10(f / 2) ** 2 + 20 * np.log10(250.0)
    scatter += 0.573 * bend - 0.15 * 325.0
    free = 92.45 + 20 * np.log10(f * 250.0)
    assert loss == pytest.approx(scatter - free, abs=0.2)


@settings(deadline=None, max_examples=40)
@given(
    crest=st.floats(420.0, 900.0),
    more=st.floats(0.0, 500.0),
    up=st.floats(2.0, 40.0),
    at=st.integers(30, 570),
)
def test_a_higher_ridge_never_helps_and_free_space_is_the_ceiling(crest, more, up, at):
    """Of ridges in the way; one far below the ray lifts the delta-Bullington method's fitted
    surface, which gives back up to 0.8 dB."""
    ground = np.full((2, POINTS), 100.0)
    ground[:, at] += crest, crest + more
    terrain, stations = over(ground, 44.4e3, 500.0)
    loss = ground_loss_db(terrain, stations, np.array([up]), np.full(2, 569.0))
    assert loss.min() >= 0.0
    assert loss[0, 1] >= loss[0, 0] - 1e-6


def test_many_heights_are_the_same_as_one_by_one(roof, monkeypatch):
    survey = load(roof)
    terrain, up = terrain_of(survey, survey.stations), np.array([9.0, 3.0, 9.0, 12.5])
    frequency = np.array([569.0, 587.0])
    monkeypatch.setattr(module, "BLOCK", 2 * POINTS)
    together = ground_loss_db(terrain, survey.stations, up, frequency)
    apart = [ground_loss_db(terrain, survey.stations, up[[n]], frequency)[0] for n in range(4)]
    np.testing.assert_allclose(together, apart, rtol=1e-12)


def test_a_station_next_door(roof):
    """12 m away, the nearest that a survey allows beside the site: free space, no infinities."""
    next_door = {"latitude_deg": LAT + 12.0 / 111e3, "longitude_deg": LON, "erp_kw": 0.01}
    survey = survey_of([station("NEAR", 30, **{**next_door, "antenna_amsl_m": 130.0})])
    survey.site.terrain = "ground.tif"
    field = assess(survey.kept_in(roof), heights_m=[3.0]).scene.field
    assert field.terrain_db == pytest.approx(0.0, abs=0.1)
    assert field.wanted_dbuv_m == pytest.approx(field.free_space_dbuv_m, abs=0.5)
    assert field.free_space_dbuv_m == pytest.approx(86.9 - 20 * np.log10(0.02), abs=0.1)


def test_files_that_cannot_be_used(roof):
    survey = load(roof)
    (roof / "ground.tif").write_bytes(b"no raster")
    with pytest.raises(InputError, match="cannot be read") as caught:
        assess(survey)
    assert caught.value.field == "site.terrain"
    (roof / "ground.tif").unlink()
    with pytest.raises(InputError, match=r"no terrain file ground\.tif"):
        assess(survey)
    survey.site.terrain = "../elsewhere.tif"
    with pytest.raises(InputError, match="leads out of the folder"):
        assess(survey)


def test_feet_are_converted_where_the_file_says_so(tmp_path):
    write_raster(
        tmp_path / "feet.tif",
        (LAT, LON),
        STEP_DEG,
        lambda lat, lon: 1000.0 + 0.0 * (lat + lon),
        units="ft",
    )
    found = Ground(tmp_path / "feet.tif").heights_m(np.array([LAT]), np.array([LON]))
    assert found == pytest.approx(304.8)


def test_marks_for_nothing_that_nobody_declared(tmp_path):
    write_raster(
        tmp_path / "void.tif", (LAT, LON), STEP_DEG, lambda lat, lon: -32768.0 + 0.0 * (lat + lon)
    )
    assert np.isnan(Ground(tmp_path / "void.tif").heights_m(np.array([LAT]), np.array([LON])))


def test_a_large_window_is_read_coarser(tmp_path, monkeypatch):
    """A quarter of the pixels a side: a plain slope stays what it is within half a coarse pixel."""
    write_raster(
        tmp_path / "slope.tif",
        (LAT, LON),
        STEP_DEG,
        lambda lat, lon: 1000.0 * (lat - LAT) + 0.0 * lon,
    )
    monkeypatch.setattr(raster, "LARGEST_PIXELS", 90_000)
    at = np.linspace(LAT - 0.5, LAT + 0.5, 11)
    found = Ground(tmp_path / "slope.tif").heights_m(at, np.linspace(LON - 0.5, LON + 0.5, 11))
    assert found == pytest.approx(1000.0 * (at - LAT), abs=1000.0 * STEP_DEG * 4 / 2)


def test_a_file_across_the_antimeridian(tmp_path):
    band = np.full((20, 20), 70.0, np.float32)
    shape = {"width": 20, "height": 20, "count": 1, "dtype": "float32", "crs": "EPSG:4326"}
    corner = rasterio.Affine(0.1, 0.0, 179.0, 0.0, -0.1, 1.0)
    with rasterio.open(tmp_path / "x.tif", "w", driver="GTiff", transform=corner, **shape) as file:
        file.write(band, 1)
    found = Ground(tmp_path / "x.tif").heights_m(np.zeros(3), np.array([179.5, -179.5, 175.0]))
    assert found[:2].tolist() == [70.0, 70.0]
    assert np.isnan(found[2])


def test_without_rasterio_the_mend_is_told(roof, monkeypatch):
    monkeypatch.setitem(sys.modules, "rasterio", None)
    with pytest.raises(InputError, match="rasterio") as caught:
        raster.Ground(roof / "ground.tif").heights_m(np.array([LAT]), np.array([LON]))
    assert "pip install 'skyview[terrain]'" in caught.value.mend


def test_an_hgt_tile(tmp_path):
    """One degree of 1201 x 1201 big-endian 16-bit heights, named by its south-west corner."""
    heights = np.full((1201, 1201), 321, ">i2")
    (tmp_path / "S39W118.hgt").write_bytes(heights.tobytes())
    found = Ground(tmp_path / "S39W118.hgt").heights_m(np.array([-38.6]), np.array([-117.3]))
    assert found.tolist() == [321.0]
