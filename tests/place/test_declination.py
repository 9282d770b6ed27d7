"""Declination against the published test values of the World Magnetic Model."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date

import numpy as np
import pytest
from pygeomag import GeoMag
from scipy.optimize import brentq

from skyview.errors import InputError
from skyview.place.declination import FIRST_YEAR, LAST_YEAR, decimal_year, declination


def at(row, years=0.0):
    return declination(
        row.number("lat"),
        row.number("lon"),
        1000.0 * row.number("h_km"),
        row.number("date") + years,
    )


@pytest.mark.parametrize("quantity", ["wmm2025_declination", "wmm2020_declination"])
def test_declination_matches_the_published_rows(angle_rows, quantity):
    """WMM report and test files; the rows that the library itself computed check no more than
    that place, height and date reach it in their units."""
    for row in angle_rows(quantity):
        found = at(row)
        assert found.declination_deg == pytest.approx(row.value, abs=row.tolerance)
        assert found.in_span
        assert found.decimal_year == row.number("date")


def test_yearly_change_matches_the_published_rows(angle_rows):
    """WMM2025 high-precision test file: the change is linear within a model."""
    for row in angle_rows("wmm2025_declination_annual_change"):
        change = (at(row, 0.5).declination_deg - at(row).declination_deg) / 0.5
        assert change == pytest.approx(row.value, abs=row.tolerance)


def test_sigma_follows_from_the_published_horizontal_intensity(angle_rows):
    """sqrt(0.26^2 + (5417 / H)^2), WMM2025 error model, at H of the report's table."""
    for row in angle_rows("wmm2025_horizontal_intensity"):
        expected = np.sqrt(0.26**2 + (5417.0 / row.value) ** 2)
        assert at(row).sigma_deg == pytest.approx(expected, abs=5e-5)


def test_sigma_matches_the_published_rows(angle_rows):
    """The rows give sigma for H; the place with that H is sought along the meridian 100 E."""

    def excess_nt(latitude_deg, wanted_nt):
        return GeoMag(base_year=2025).calculate(latitude_deg, 100.0, 0.0, 2025.0).h - wanted_nt

    for row in angle_rows("wmm2025_declination_sigma"):
        wanted_nt = row.number("H_nT")
        latitude_deg = brentq(excess_nt, 10.0, 80.0, args=(wanted_nt,), xtol=1e-6)
        sigma_deg = declination(latitude_deg, 100.0, 0.0, 2025.0).sigma_deg
        assert sigma_deg == pytest.approx(row.value, abs=row.tolerance)


def test_sigma_of_the_older_model_uses_its_own_constant():
    """5625 instead of 5417 nT: WMM2020 error model."""
    field = GeoMag(base_year=2020).calculate(48.0, 16.0, 0.0, 2022.0)
    expected = np.sqrt(0.26**2 + (5625.0 / field.h) ** 2)
    assert declination(48.0, 16.0, 0.0, 2022.0).sigma_deg == pytest.approx(expected, rel=1e-9)


def test_compass_is_said_to_be_useless_near_the_magnetic_pole():
    """Blackout zone of the WMM report, H below 2000 nT: sigma above 2.7 deg."""
    near_pole = declination(86.0, 140.0, 0.0, 2026.5)
    assert 2.7 < near_pole.sigma_deg <= 180.0


@pytest.mark.parametrize("latitude_deg", [90.0, -90.0])
def test_geographic_poles_have_a_declination(latitude_deg):
    found = declination(latitude_deg, 30.0, 0.0, 2026.0)
    beside = declination(np.sign(latitude_deg) * 89.99999, 30.0, 0.0, 2026.0)
    assert found.declination_deg == pytest.approx(beside.declination_deg, abs=0.001)


def test_longitude_may_be_counted_either_way():
    west = declination(40.0, -75.0, 0.0, 2026.0).declination_deg
    assert declination(40.0, 285.0, 0.0, 2026.0).declination_deg == pytest.approx(west, abs=1e-9)


@pytest.mark.parametrize(
    ("year", "used", "in_span"),
    [
        (1998.5, FIRST_YEAR, False),
        (float(np.nextafter(FIRST_YEAR, 0.0)), FIRST_YEAR, False),
        (FIRST_YEAR, FIRST_YEAR, True),
        (LAST_YEAR, LAST_YEAR, True),
        (float(np.nextafter(LAST_YEAR, 9e9)), LAST_YEAR, False),
        (2044.0, LAST_YEAR, False),
    ],
)
def test_date_outside_the_models_is_flagged_and_their_end_used(year, used, in_span):
    found = declination(50.0, 8.0, 0.0, year)
    assert found.in_span is in_span
    assert found.decimal_year == used
    assert found.declination_deg == declination(50.0, 8.0, 0.0, used).declination_deg


@pytest.mark.parametrize("boundary", [2015.0, 2020.0, 2025.0])
def test_models_meet_without_a_jump(boundary):
    before = declination(50.0, 8.0, 0.0, np.nextafter(boundary, 0.0))
    after = declination(50.0, 8.0, 0.0, boundary)
    assert before.declination_deg == pytest.approx(after.declination_deg, abs=0.15)


@pytest.mark.parametrize("year", [np.nan, np.inf, -np.inf])
def test_year_that_is_no_number_is_refused(year):
    with pytest.raises(InputError, match="year"):
        declination(50.0, 8.0, 0.0, year)


def test_four_threads_give_the_same_as_one():
    places = [(float(lat), float(lon)) for lat in range(-80, 81, 8) for lon in range(-180, 180, 24)]

    def value(place):
        return declination(place[0], place[1], 100.0, 2026.5)

    alone = [value(place) for place in places]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(value, places * 2))
    assert together == alone * 2


@pytest.mark.parametrize(
    ("day", "expected"),
    [
        (date(2025, 1, 1), 2025.0),
        (date(2025, 12, 31), 2025.0 + 364.0 / 365.0),
        (date(2024, 7, 1), 2024.0 + 182.0 / 366.0),
        (date(2025, 7, 2), 2025.0 + 182.0 / 365.0),
    ],
)
def test_decimal_year_counts_the_days_of_its_own_year(day, expected):
    assert decimal_year(day) == pytest.approx(expected, abs=1e-12)
