"""The sun against published rows and a full theory."""

from __future__ import annotations

import csv
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from skyview.errors import InputError
from skyview.place.sun import refraction, sun_position, true_sun_position

# shared/sun_checks.csv: NREL/TP-560-34302 and astropy, row by row with its source.
TABLE = Path(__file__).parents[2] / "shared" / "sun_checks.csv"
ROWS = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))
LIGHT_DEG = 0.02


def rows(quantity):
    found = [row for row in ROWS if row["quantity"] == quantity]
    assert found
    return [pytest.param(row["inputs"], float(row["value"]), id=row["inputs"]) for row in found]


def at(inputs):
    moment, latitude, longitude = re.match(r"(\S+?)Z;lat=([-\d.]+);lon=([-\d.]+)", inputs).groups()
    return datetime.fromisoformat(moment).replace(tzinfo=UTC), float(latitude), float(longitude)


@pytest.mark.parametrize(("inputs", "value"), rows("sun_azimuth"))
def test_azimuth(inputs, value):
    azimuth, elevation = true_sun_position(*at(inputs))
    off = float(np.degrees(azimuth)) - value
    assert abs(off) * np.cos(elevation) < LIGHT_DEG


@pytest.mark.parametrize(("inputs", "value"), rows("sun_elevation_true"))
def test_elevation_without_air(inputs, value):
    _, elevation = true_sun_position(*at(inputs))
    assert float(np.degrees(elevation)) == pytest.approx(value, abs=LIGHT_DEG)


@pytest.mark.parametrize(("inputs", "value"), rows("sun_elevation_apparent"))
def test_apparent_elevation(inputs, value):
    """The row's air is thinner (820 mbar) than ours: 0.004 deg at that elevation."""
    _, elevation = sun_position(*at(inputs))
    assert float(np.degrees(elevation)) == pytest.approx(value, abs=LIGHT_DEG)


@pytest.mark.parametrize(("inputs", "value"), rows("refraction_saemundsson"))
def test_refraction(inputs, value):
    height_deg = float(re.search(r"true_el_deg=([\d.]+)", inputs).group(1))
    lift_deg = float(np.degrees(refraction(np.radians(height_deg))))
    assert lift_deg == pytest.approx(value, abs=2e-5)


def test_against_a_full_theory():
    """400 moments 2021 to 2035 at latitudes -65 to 70, those with the sun up; PyEphem's apparent
    place (VSOP87, no air)."""
    ephem = pytest.importorskip("ephem")
    random = np.random.default_rng(3)
    worst = 0.0
    for _ in range(400):
        hours = float(random.uniform(0, 131400))
        moment = datetime(2021, 1, 1, tzinfo=UTC) + timedelta(hours=hours)
        latitude, longitude = random.uniform(-65, 70), random.uniform(-180, 180)
        watcher = ephem.Observer()
        watcher.lat, watcher.lon = np.radians(latitude), np.radians(longitude)
        watcher.pressure, watcher.date = 0.0, moment.replace(tzinfo=None)
        sun = ephem.Sun(watcher)
        if sun.alt > 0.0:
            azimuth, elevation = true_sun_position(moment, latitude, longitude)
            turn = np.angle(np.exp(1j * (azimuth - float(sun.az)))) * np.cos(float(sun.alt))
            worst = max(worst, float(np.degrees(np.hypot(turn, elevation - float(sun.alt)))))
    assert 0.0 < worst < LIGHT_DEG


def test_an_hour_is_fifteen_degrees_of_hour_angle():
    """At a pole azimuth is hour angle (but for its sign in the south)."""
    moment = datetime(2026, 6, 1, 12, tzinfo=UTC)
    azimuth, _ = sun_position(moment, 89.9999, 0.0, [0.0, 3600.0])
    assert float(np.degrees(azimuth[1] - azimuth[0])) == pytest.approx(15.0, abs=0.01)


def test_a_time_without_its_offset_is_refused():
    with pytest.raises(InputError, match="offset from UTC"):
        sun_position(datetime(2026, 6, 1, 12), 46.0, 11.0)
