"""Terrain files of the user's: profiles, the horizon, the field, the skyline."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from link_case import station, survey_of

from skyview.errors import InputError
from skyview.survey.assess import assess
from skyview.survey.models import validate
from skyview.survey.raster import Ground, ground_of
from skyview.survey.storage import create, load
from skyview.survey.terrain import skyline, terrain_of
from skyview.wave.terrain import Profile, delta_bullington_loss

LAT, LON = -38.6, -117.3
METRES_A_DEGREE = 111_000.0
STEP_DEG = 0.001


def write_raster(path, height_of, half_deg=0.6, nodata=None):
    """A GeoTIFF of ground heights about the site; ``height_of(lat, lon)`` in metres."""
    count = round(2 * half_deg / STEP_DEG)
    lat = LAT + half_deg - (np.arange(count) + 0.5) * STEP_DEG
    lon = LON - half_deg + (np.arange(count) + 0.5) * STEP_DEG
    band = np.asarray(height_of(lat[:, None], lon[None, :]), np.float32)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=count,
        height=count,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=rasterio.Affine(STEP_DEG, 0.0, LON - half_deg, 0.0, -STEP_DEG, LAT + half_deg),
        nodata=nodata,
    ) as file:
        file.write(band, 1)


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
    write_raster(folder / "ground.tif", ridge)
    return folder


def test_heights_between_the_middles_of_pixels(tmp_path):
    write_raster(tmp_path / "slope.tif", lambda lat, lon: 1000.0 * (lat - LAT) + 0.0 * lon)
    at = np.array([LAT + 0.2345, LAT - 0.1111])
    found = Ground(tmp_path / "slope.tif").heights_m(at, np.full(2, LON + 0.0123))
    assert found == pytest.approx(1000.0 * (at - LAT), abs=0.01)


def test_outside_the_file_and_where_it_holds_nothing(tmp_path):
    hole = lambda lat, lon: np.where((lat > LAT) & (lon > LON), -9999.0, 50.0)  # noqa: E731
    write_raster(tmp_path / "hole.tif", hole, nodata=-9999.0)
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


def test_spread_and_height_with_terrain(roof):
    field = assess(load(roof), heights_m=[3.0]).scene.field
    assert np.hypot(field.site_sigma_db, field.station_sigma_db) == pytest.approx(6.0)
    assert field.height_db.tolist() == [[0.0, 0.0]]


def test_a_marked_hill_is_part_of_the_terrain(roof):
    survey = load(roof)
    data = survey.model_dump()
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
    hill = {"id": "crest", "kind": "hill", "distance_m": 11_000.0}

    def marked(top_px):
        ring = [[1300, 310], [1300, top_px], [2300, top_px], [2300, 310]]
        outline = {"id": "o", "obstruction": "crest", "view": "v", "rings_px": [ring]}
        more = {"views": [view], "obstructions": [hill], "outlines": [outline]}
        return validate({**data, **more}).kept_in(roof)

    agreeing, off = assess(marked(280)), assess(marked(220))
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
    write_raster(roof / "ground.tif", ridge, half_deg=0.3)
    found = assess(load(roof), heights_m=[3.0])
    assert np.isnan(found.scene.field.terrain_db).all()
    assert any("does not cover the way to SOUTH, NORTH" in note for note in found.warnings)


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


def test_an_hgt_tile(tmp_path):
    """One degree of 1201 x 1201 big-endian 16-bit heights, named by its south-west corner."""
    heights = np.full((1201, 1201), 321, ">i2")
    (tmp_path / "S39W118.hgt").write_bytes(heights.tobytes())
    found = Ground(tmp_path / "S39W118.hgt").heights_m(np.array([-38.6]), np.array([-117.3]))
    assert found.tolist() == [321.0]
