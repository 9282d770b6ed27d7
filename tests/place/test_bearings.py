"""Geodesics against published lines and GeographicLib, and the site's plane.

GRS 80 rows serve the WGS 84 function: on the longest of them the two ellipsoids differ by
0.06 micrometre, far below the rows' 1 mm.
"""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from skyview.angles import wrap_180_deg
from skyview.place.bearings import bearing_from, destination_deg, east_north_m, geodesic

LATITUDE_DEG = st.floats(-89.0, 89.0)
LONGITUDE_DEG = st.floats(-180.0, 180.0)
AZIMUTH = st.floats(0.0, 2.0 * np.pi, exclude_max=True)
ROOF_M = st.floats(-8.0, 8.0)
EARTH_RADIUS_M = 6_371_000.0


def ends(row):
    return tuple(row.number(name) for name in ("lat1", "lon1", "lat2", "lon2"))


def turn_deg(a, b_deg):
    """Azimuth a [rad] less b [deg], in degrees."""
    return float(wrap_180_deg(np.degrees(a) - b_deg))


def test_ellipsoids_of_the_rows_differ_by_less_than_a_micrometre(angle_rows):
    """Flinders Peak to Buninyong, GDA technical manual: 0.06 micrometre."""
    row = angle_rows("geodesic_distance")[0]
    assert row.parts[0] == "GRS80"
    grs80 = Geodesic(6378137.0, 1.0 / 298.257222101).Inverse(*ends(row))["s12"]
    _, wgs84 = geodesic(*ends(row))
    assert float(wgs84) == pytest.approx(grs80, abs=1e-7)


def test_distance_matches_the_published_rows(angle_rows):
    for row in angle_rows("geodesic_distance"):
        _, distance_m = geodesic(*ends(row))
        assert float(distance_m) == pytest.approx(row.value, abs=row.tolerance)


def test_azimuth_matches_the_published_rows(angle_rows):
    for row in angle_rows("geodesic_azimuth12"):
        azimuth, _ = geodesic(*ends(row))
        assert abs(turn_deg(azimuth, row.value)) < row.tolerance


def test_azimuth_back_matches_the_published_rows(angle_rows):
    for row in angle_rows("geodesic_azimuth21"):
        lat1, lon1, lat2, lon2 = ends(row)
        azimuth, _ = geodesic(lat2, lon2, lat1, lon1)
        assert abs(turn_deg(azimuth, row.value)) < row.tolerance


def test_azimuth_onwards_at_the_far_end_matches_the_published_rows(angle_rows):
    for row in angle_rows("geodesic_forward_azimuth_at_2"):
        lat1, lon1, lat2, lon2 = ends(row)
        azimuth, _ = geodesic(lat2, lon2, lat1, lon1)
        assert abs(turn_deg(azimuth + np.pi, row.value)) < row.tolerance


@given(LATITUDE_DEG, LONGITUDE_DEG, AZIMUTH, st.floats(10.0, 500e3))
def test_geodesic_agrees_with_geographiclib(latitude_deg, longitude_deg, azimuth, distance_m):
    """Karney's own Python library as the reference."""
    there = Geodesic.WGS84.Direct(latitude_deg, longitude_deg, np.degrees(azimuth), distance_m)
    to = there["lat2"], there["lon2"]
    expected = Geodesic.WGS84.Inverse(latitude_deg, longitude_deg, *to)
    found_azimuth, found_m = geodesic(latitude_deg, longitude_deg, *to)
    assert float(found_m) == pytest.approx(expected["s12"], abs=1e-7)
    # A rounding of 1e-14 deg in the ends, some nanometres, turns a line of 10 m by 1e-8 deg.
    assert abs(turn_deg(found_azimuth, expected["azi1"])) < 1e-7


@given(LATITUDE_DEG, LONGITUDE_DEG, AZIMUTH, st.floats(10.0, 500e3))
def test_destination_agrees_with_geographiclib(latitude_deg, longitude_deg, azimuth, distance_m):
    expected = Geodesic.WGS84.Direct(latitude_deg, longitude_deg, np.degrees(azimuth), distance_m)
    to_latitude, to_longitude = destination_deg(latitude_deg, longitude_deg, azimuth, distance_m)
    assert float(to_latitude) == pytest.approx(expected["lat2"], abs=1e-11)
    assert abs(float(wrap_180_deg(to_longitude - expected["lon2"]))) < 1e-9


@given(LATITUDE_DEG, LONGITUDE_DEG, AZIMUTH, st.floats(10.0, 500e3))
def test_destination_is_the_inverse_of_geodesic(latitude_deg, longitude_deg, azimuth, distance_m):
    to = destination_deg(latitude_deg, longitude_deg, azimuth, distance_m)
    found_azimuth, found_m = geodesic(latitude_deg, longitude_deg, *to)
    assert float(found_m) == pytest.approx(distance_m, abs=1e-6)
    assert abs(turn_deg(found_azimuth, np.degrees(azimuth))) * distance_m < 1e-5


def test_arrays_give_the_same_as_single_points():
    to_latitude, to_longitude = np.array([[48.1, 48.2], [48.3, 47.9]]), np.array([16.0, 16.5])
    azimuth, distance_m = geodesic(48.0, 16.2, to_latitude, to_longitude)
    assert azimuth.shape == distance_m.shape == (2, 2)
    single = geodesic(48.0, 16.2, 48.3, 16.0)
    assert (azimuth[1, 0], distance_m[1, 0]) == (float(single[0]), float(single[1]))
    assert east_north_m(48.0, 16.2, to_latitude, to_longitude).shape == (2, 2, 2)


@pytest.mark.parametrize(("longitude_deg", "other_deg"), [(179.999, -179.999), (180.0, -179.998)])
def test_line_crosses_the_antimeridian_the_short_way(longitude_deg, other_deg):
    azimuth, distance_m = geodesic(-16.9, longitude_deg, -16.9, other_deg)
    plain_azimuth, plain_m = geodesic(-16.9, 10.0, -16.9, 10.002)
    assert float(distance_m) == pytest.approx(float(plain_m), abs=1e-6)
    assert abs(turn_deg(azimuth, np.degrees(plain_azimuth))) < 1e-6


@given(LATITUDE_DEG, st.floats(-89.0, 89.0), st.floats(90.0, 180.0))
def test_site_on_180_deg_may_be_written_either_way(latitude_deg, to_latitude_deg, to_longitude_deg):
    east = geodesic(latitude_deg, 180.0, to_latitude_deg, to_longitude_deg)
    west = geodesic(latitude_deg, -180.0, to_latitude_deg, to_longitude_deg - 360.0)
    assert abs(turn_deg(east[0], np.degrees(west[0]))) < 1e-9
    assert float(east[1]) == pytest.approx(float(west[1]), abs=1e-6)


@pytest.mark.parametrize("site_longitude_deg", [-180.0, 0.0, 77.0, 180.0])
@pytest.mark.parametrize("to_longitude_deg", [-170.0, -1.0, 0.0, 90.0, 180.0])
def test_site_on_the_north_pole_sees_meridians_at_their_longitudes(
    site_longitude_deg, to_longitude_deg
):
    """North at the pole runs along the meridian opposite to the site's own."""
    azimuth, distance_m = geodesic(90.0, site_longitude_deg, 89.5, to_longitude_deg)
    assert abs(turn_deg(azimuth, 180.0 - (to_longitude_deg - site_longitude_deg))) < 1e-9
    meridian = Geodesic.WGS84.Inverse(90.0, 0.0, 89.5, 0.0)["s12"]
    assert float(distance_m) == pytest.approx(meridian, abs=1e-6)


@pytest.mark.parametrize("to_longitude_deg", [-170.0, 0.0, 90.0])
def test_site_on_the_south_pole_sees_meridians_at_their_longitudes(to_longitude_deg):
    azimuth, _ = geodesic(-90.0, 30.0, -89.5, to_longitude_deg)
    assert abs(turn_deg(azimuth, to_longitude_deg - 30.0)) < 1e-9


@pytest.mark.parametrize("pole_deg", [90.0, -90.0])
@pytest.mark.parametrize("away_m", [0.0, 1.0])
@given(AZIMUTH, st.floats(100.0, 150e3), LONGITUDE_DEG)
def test_plane_closes_at_and_beside_a_pole(pole_deg, away_m, azimuth, distance_m, longitude_deg):
    # Meridian radius of curvature at the pole: a^2 / b = 6 399 594 m.
    latitude_deg = pole_deg - np.sign(pole_deg) * np.degrees(away_m / 6_399_593.6)
    to = destination_deg(latitude_deg, longitude_deg, azimuth, distance_m)
    point = east_north_m(latitude_deg, longitude_deg, *to)
    expected = distance_m * np.array([np.sin(azimuth), np.cos(azimuth)])
    np.testing.assert_allclose(point, expected, atol=1e-4)


@given(LATITUDE_DEG, LONGITUDE_DEG)
def test_site_itself_is_the_plane_s_origin(latitude_deg, longitude_deg):
    point = east_north_m(latitude_deg, longitude_deg, latitude_deg, longitude_deg)
    np.testing.assert_allclose(point, [0.0, 0.0], atol=1e-8)


@given(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5))
def test_azimuths_lie_in_the_half_open_turn(east_m, north_m):
    azimuth, distance_m = bearing_from([east_m, north_m], [0.0, 0.0])
    assert 0.0 <= azimuth < 2.0 * np.pi
    assert float(distance_m) == pytest.approx(np.hypot(east_m, north_m))


def test_azimuth_a_hair_west_of_north_stays_below_a_full_turn():
    on_plane, _ = bearing_from([-1e-20, 1.0], [0.0, 0.0])
    on_earth, _ = geodesic(0.0, 0.0, 1.0, -1e-18)
    assert 0.0 <= on_plane < 2.0 * np.pi
    assert 0.0 <= on_earth < 2.0 * np.pi


def test_bearings_of_antennas_and_stations_broadcast():
    stations_m = np.array([[0.0, 100.0], [100.0, 0.0]])
    antennas_m = np.array([[0.0, 0.0], [0.0, -100.0], [100.0, 100.0]])
    azimuth, distance_m = bearing_from(stations_m[None, :, :], antennas_m[:, None, :])
    np.testing.assert_allclose(np.degrees(azimuth), [[0, 90], [0, 45], [270, 180]], atol=1e-12)
    np.testing.assert_allclose(
        distance_m, [[100, 100], [200, np.sqrt(2e4)], [100, 100]], atol=1e-12
    )


def from_plane_and_geodesic(site, offset_m, azimuth, distance_m):
    """Bearings of a station from an antenna beside the site: on the plane, and by a geodesic from
    the antenna's own latitude and longitude. [rad]"""
    station = destination_deg(*site, azimuth, distance_m)
    antenna = destination_deg(*site, np.arctan2(*offset_m), np.hypot(*offset_m))
    plane, _ = bearing_from(east_north_m(*site, *station), np.asarray(offset_m))
    full, _ = geodesic(float(antenna[0]), float(antenna[1]), *station)
    return plane, full


@given(st.floats(-50.0, 50.0), LONGITUDE_DEG, ROOF_M, ROOF_M, AZIMUTH, st.floats(5e3, 150e3))
def test_bearing_from_a_roof_agrees_with_the_full_geodesic(
    latitude_deg, longitude_deg, east_m, north_m, azimuth, distance_m
):
    plane, full = from_plane_and_geodesic(
        (latitude_deg, longitude_deg), (east_m, north_m), azimuth, distance_m
    )
    assert abs(turn_deg(plane, np.degrees(full))) < 1e-4


@given(
    st.floats(-75.0, 75.0),
    LONGITUDE_DEG,
    st.floats(-300.0, 300.0),
    st.floats(-300.0, 300.0),
    AZIMUTH,
    st.floats(5e3, 150e3),
)
def test_bearing_from_afar_differs_by_the_convergence_of_meridians_alone(
    latitude_deg, longitude_deg, east_m, north_m, azimuth, distance_m
):
    """The plane counts azimuths from the site's north. Some hundred metres east of it the local
    north has turned by east / R x tan(latitude): 0.005 deg for 300 m at 60 deg."""
    plane, full = from_plane_and_geodesic(
        (latitude_deg, longitude_deg), (east_m, north_m), azimuth, distance_m
    )
    convergence_deg = np.degrees(east_m / EARTH_RADIUS_M * np.tan(np.radians(latitude_deg)))
    assert abs(turn_deg(full - plane, convergence_deg)) < 1e-4
