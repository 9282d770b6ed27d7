"""Bearings, distances, elevations, channels and horizons of ``paths`` against own sums.

Geodesics: GeographicLib (C. Karney's own library). Elevation: the exact triangle on a sphere of
radius k x 6371 km. Declination: the test table of the WMM2025 technical report. Channel centres:
47 CFR 73.603 and the rasters of the 7 and 8 MHz plans.
"""

from __future__ import annotations

import math

import pytest
from geographiclib.geodesic import Geodesic

EARTH_RADIUS_M = 6_371_000.0


def elevation_deg(low_m: float, high_m: float, distance_m: float, k: float) -> float:
    """Elevation of a mast's top from the triangle with the centre of the swollen earth."""
    radius = k * EARTH_RADIUS_M
    turn = distance_m / radius
    level = (radius + high_m) * math.sin(turn)
    return math.degrees(math.atan2((radius + high_m) * math.cos(turn) - (radius + low_m), level))


@pytest.mark.parametrize(
    ("site", "mast"),
    [
        ((12.0, -40.0), (12.3, -39.7)),
        ((-38.6, -117.4), (-38.2, -117.9)),
        ((10.0, 179.95), (10.2, -179.8)),
        ((10.0, -179.95), (9.7, 179.8)),
        ((89.9, 20.0), (89.7, -150.0)),
        ((-89.95, 0.0), (-89.5, 100.0)),
        ((0.0, 0.0), (0.0, 0.4)),
    ],
)
def test_bearing_and_distance_are_geodesic(roof, site, mast) -> None:
    roof.data["site"].update(latitude_deg=site[0], longitude_deg=site[1])
    roof.data["stations"] = [
        {"id": "QA", "latitude_deg": mast[0], "longitude_deg": mast[1],
         "antenna_amsl_m": 900, "rf_channel": 21}
    ]  # fmt: skip
    row = roof.path()
    true = Geodesic.WGS84.Inverse(*site, *mast)
    assert row["bearing_deg"] == pytest.approx(true["azi1"] % 360.0, abs=1e-6)
    assert row["distance_km"] == pytest.approx(true["s12"] / 1000.0, abs=1e-6)
    assert 0.0 <= row["bearing_deg"] < 360.0
    assert 0.0 <= row["magnetic_bearing_deg"] < 360.0


def test_bearing_is_taken_at_the_spot(roof) -> None:
    roof.data["spots"][0]["enu_m"] = [20.0, 0.0, 6.5]
    roof.station("QA", 0.0, 1.0, distance_km=3.0)
    assert roof.path()["bearing_deg"] == pytest.approx(
        360.0 - math.degrees(math.atan2(20.0, 3000.0)), abs=0.01
    )


@pytest.mark.parametrize("distance_km", [5.0, 20.0, 60.0, 100.0])
@pytest.mark.parametrize("top_m", [500.0, 2500.0])
def test_elevations_for_waves_and_for_the_eye(roof, distance_km, top_m) -> None:
    roof.data["site"]["ground_amsl_m"] = 0.0
    roof.station("QA", 77.0, 0.0, distance_km=distance_km)
    roof.data["stations"][0]["antenna_amsl_m"] = top_m
    row = roof.path()
    foot = 6.5 + 1.5
    assert not row["beyond_horizon"]
    for field, k in (("arrival_elevation_deg", 4 / 3), ("optical_elevation_deg", 7 / 6)):
        expected = elevation_deg(foot, top_m, distance_km * 1000.0, k)
        assert row[field] == pytest.approx(expected, abs=0.004), field
    assert row["arrival_elevation_deg"] > row["optical_elevation_deg"]


def test_each_height_has_its_own_elevation(roof) -> None:
    roof.data["spots"][0]["heights_m"] = [1.5, 6.0]
    roof.station("QA", 10.0, 0.0, distance_km=8.0)
    roof.data["stations"][0]["antenna_amsl_m"] = 300.0
    roof.solve()
    rows = roof.runner.ok("paths", roof.folder, "--json").rows
    assert [row["antenna_height_m"] for row in rows] == [1.5, 6.0]
    for row in rows:
        foot = 106.5 + row["antenna_height_m"]
        assert row["arrival_elevation_deg"] == pytest.approx(
            elevation_deg(foot, 300.0, 8000.0, 4 / 3), abs=0.002
        )


@pytest.mark.parametrize(
    ("latitude", "longitude", "declination"),
    [(80.0, 0.0, 1.28), (0.0, 120.0, -0.16), (-80.0, -120.0, 68.78)],
)
def test_magnetic_bearing_follows_the_published_declination(
    roof, latitude, longitude, declination
) -> None:
    roof.data["site"].update(latitude_deg=latitude, longitude_deg=longitude, ground_amsl_m=0)
    roof.data["views"][0]["taken"] = "2025-01-01T00:00:00+00:00"
    roof.station("QA", 33.0, 0.5)
    row = roof.path()
    turned = (row["bearing_deg"] - row["magnetic_bearing_deg"] + 180.0) % 360.0 - 180.0
    assert turned == pytest.approx(declination, abs=0.012)


@pytest.mark.parametrize(
    ("plan", "channel", "centre_mhz"),
    [
        ("americas-6mhz", 2, 57.0),
        ("americas-6mhz", 5, 79.0),
        ("americas-6mhz", 9, 189.0),
        ("americas-6mhz", 14, 473.0),
        ("americas-6mhz", 36, 605.0),
        ("europe-8mhz", 21, 474.0),
        ("europe-8mhz", 48, 690.0),
        ("australia-7mhz", 28, 529.5),
        ("australia-7mhz", 12, 226.5),
        ("japan-6mhz", 13, 473.0 + 1.0 / 7.0),
        ("japan-6mhz", 52, 707.0 + 1.0 / 7.0),
    ],
)
def test_frequency_is_the_channel_centre(roof, plan, channel, centre_mhz) -> None:
    roof.data["site"]["channel_plan"] = plan
    roof.station("QA", 33.0, 0.5, channel=channel)
    row = roof.path()
    assert row["rf_channel"] == channel
    assert row["frequency_mhz"] == pytest.approx(centre_mhz, abs=1e-6)


def test_a_channel_of_another_plan_is_refused(roof) -> None:
    roof.data["site"]["channel_plan"] = "europe-8mhz"
    roof.station("QA", 33.0, 0.5, channel=2)
    roof.save()
    sentence = roof.runner.refused("paths", roof.folder)
    assert "QA" in sentence
    assert "rf_channel" in sentence


def test_a_channel_above_36_in_the_americas_is_probably_virtual(roof) -> None:
    roof.station("QA", 33.0, 0.5, channel=44)
    roof.station("QB", 33.0, 0.5, channel=36)
    said = [
        f"{row['sentence']} {row['mend']}"
        for row in roof.runner.ok("check", roof.solve(), "--json").rows
        if "virtual" in row["sentence"]
    ]
    assert len(said) == 1
    assert "QA" in said[0]


def horizon_dip_deg(height_m: float) -> float:
    radius = 4 / 3 * EARTH_RADIUS_M
    return math.degrees(math.acos(radius / (radius + height_m)))


def test_beyond_the_smooth_horizon_the_arrival_is_the_horizon(roof) -> None:
    roof.data["site"]["ground_amsl_m"] = 0.0
    roof.station("QA", 120.0, 0.0, distance_km=200.0)
    roof.data["stations"][0]["antenna_amsl_m"] = 150.0
    row = roof.path()
    assert row["beyond_horizon"] is True
    assert row["arrival_elevation_deg"] == pytest.approx(-horizon_dip_deg(8.0), abs=0.01)
    assert row["path"] == "clear"


def test_just_inside_the_smooth_horizon_nothing_is_flagged(roof) -> None:
    roof.data["site"]["ground_amsl_m"] = 0.0
    reach = math.sqrt(2 * 4 / 3 * EARTH_RADIUS_M) * (math.sqrt(8.0) + math.sqrt(300.0))
    for name, share in (("QIN", 0.98), ("QOUT", 1.02)):
        roof.station(name, 120.0, 0.0, distance_km=share * reach / 1000.0)
        roof.data["stations"][-1]["antenna_amsl_m"] = 300.0
    flags = {row["station"]: row["beyond_horizon"] for row in roof.paths()}
    assert flags == {"QIN": False, "QOUT": True}


@pytest.fixture
def hill_roof(roof, make_wall):
    """A ridge 10 km away in the east, its crest 0.6 deg above the camera's level."""
    crest = 8.0 + 10_000.0 * math.tan(math.radians(0.6))
    roof.data["site"]["ground_amsl_m"] = 0.0
    hill = make_wall(90.0, 10_000.0, 1500.0, -20.0, crest)
    roof.wall("ridge_east", hill, "hill", sigma_m=300.0, ground=True)
    return roof


def test_beyond_the_horizon_a_marked_hill_sets_the_arrival(hill_roof) -> None:
    hill_roof.station("QA", 90.0, 0.0, distance_km=200.0)
    hill_roof.data["stations"][0]["antenna_amsl_m"] = 150.0
    row = hill_roof.path()
    assert row["beyond_horizon"] is True
    assert row["arrival_elevation_deg"] == pytest.approx(0.6, abs=0.02)


def test_the_hill_that_sets_the_arrival_is_no_screen(hill_roof) -> None:
    hill_roof.station("QA", 90.0, 0.0, distance_km=200.0)
    hill_roof.data["stations"][0]["antenna_amsl_m"] = 150.0
    row = hill_roof.path()
    assert row["shares_db"].get("ridge_east", 0.0) == 0.0
    assert row["obstruction"] != "ridge_east"
    assert row["path"] == "clear"


def test_a_hill_that_hides_a_near_station_is_its_horizon(hill_roof) -> None:
    hill_roof.station("QA", 90.0, 0.2, distance_km=40.0)
    row = hill_roof.path()
    assert row["beyond_horizon"] is True
    assert row["arrival_elevation_deg"] == pytest.approx(0.6, abs=0.02)
    assert row["path"] == "clear"


def test_the_crest_sinks_for_a_higher_antenna(hill_roof) -> None:
    hill_roof.data["spots"][0]["enu_m"] = [0.0, 0.0, 56.5]
    hill_roof.station("QA", 90.0, 0.0, distance_km=200.0)
    hill_roof.data["stations"][0]["antenna_amsl_m"] = 150.0
    row = hill_roof.path()
    sunk = math.degrees(math.atan(math.tan(math.radians(0.6)) - 50.0 / 10_000.0))
    assert row["arrival_elevation_deg"] == pytest.approx(sunk, abs=0.02)


def test_beside_the_hill_the_horizon_is_smooth_again(hill_roof) -> None:
    hill_roof.station("QA", 200.0, 0.0, distance_km=200.0)
    hill_roof.data["stations"][0]["antenna_amsl_m"] = 150.0
    row = hill_roof.path()
    assert row["beyond_horizon"] is True
    assert row["arrival_elevation_deg"] == pytest.approx(-horizon_dip_deg(8.0), abs=0.01)


def test_a_wall_before_the_horizon_still_counts(hill_roof, make_wall) -> None:
    hill_roof.wall("block", make_wall(90.0, 60.0, 20.0, 0.0, 14.0), ground=True)
    hill_roof.station("QA", 90.0, 0.0, distance_km=200.0)
    hill_roof.data["stations"][0]["antenna_amsl_m"] = 150.0
    row = hill_roof.path()
    assert row["beyond_horizon"] is True
    assert row["path"] == "blocked"
    assert row["obstruction"] == "block"


def test_sigmas_are_stated_and_sane(roof) -> None:
    roof.station("QA", 77.0, 0.5)
    row = roof.path()
    assert 0.0 < row["bearing_sigma_deg"] < 1.0
    assert 0.0 < row["elevation_sigma_deg"] < 1.0
