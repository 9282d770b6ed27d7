"""The field at the roof: the curves, heights, surroundings, patterns, lists' own fields."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from link_case import signals, station, survey_of

from skyview.errors import InputError
from skyview.link.field import base_field
from skyview.survey.arrivals import arrivals_of
from skyview.survey.budget.field import SCANNED_SIGMA_DB, roof_field

ROOF = np.array([[0.0, 0.0, 9.0]])


def field_of(stations, seen=True, antenna_m=ROOF, **site):
    survey = survey_of(stations)
    for name, value in site.items():
        setattr(survey.site, name, value)
    arrivals = arrivals_of(survey, survey.stations, antenna_m, {})
    frequency = signals(survey).frequency_mhz
    shown = np.full(arrivals.azimuth.shape, seen)
    return roof_field(survey, survey.stations, antenna_m, arrivals, frequency, shown), arrivals


def test_the_curves_with_the_height_here():
    """Rec. ITU-R P.1546-6: F(50,90) of the curves and K log(h2/10), worked by hand at 569 MHz."""
    found, arrivals = field_of([station("Q", 30, erp_kw=100.0, haat_m=300.0)])
    gain = (3.2 + 6.2 * np.log10(569.0)) * np.log10(9.0 / 10.0)
    base = base_field(100.0, arrivals.distance_m, 300.0, 569.0)
    assert found.wanted_dbuv_m == pytest.approx(base.dependable_dbuv_m + gain, abs=1e-6)
    assert found.unwanted_dbuv_m == pytest.approx(base.seldom_dbuv_m + gain, abs=1e-6)
    assert found.surroundings_db.item() == 0.0


def test_what_was_not_photographed_counts_as_its_surroundings():
    stations = [station("Q", 30, erp_kw=100.0, haat_m=300.0)]
    seen, _ = field_of(stations)
    for surroundings in ("suburban", "urban"):
        unseen, _ = field_of(stations, seen=False, surroundings=surroundings)
        assert unseen.surroundings_db.item() < -1.0
        lost = unseen.wanted_dbuv_m - seen.wanted_dbuv_m
        assert lost == pytest.approx(unseen.surroundings_db)
        assert any("no picture shows the direction of Q" in note for note in unseen.warnings)
    rural, _ = field_of(stations, seen=False, surroundings="rural")
    assert rural.surroundings_db.item() == 0.0


def test_spread_by_surroundings():
    """8, 10, 12 dB in all, of which 5, 6, 8 are common: the project's own division."""
    for surroundings, site, total in (("urban", 5, 8), ("suburban", 6, 10), ("rural", 8, 12)):
        found, _ = field_of([station("Q", 30, erp_kw=1.0)], surroundings=surroundings)
        assert found.site_sigma_db == site
        assert np.hypot(site, found.station_sigma_db[0]) == pytest.approx(total)


def test_a_scan_re_centres_the_common_part():
    stations = [station("Q", 30, erp_kw=100.0)]
    before, _ = field_of(stations)
    after, _ = field_of(stations, field_offset_db=-7.0)
    assert (after.wanted_dbuv_m - before.wanted_dbuv_m).item() == pytest.approx(-7.0)
    assert after.site_sigma_db == SCANNED_SIGMA_DB


def test_a_list_that_knows_the_field_overrides_power():
    found, _ = field_of([station("Q", 30, field_dbuv_m=61.0)], antenna_m=np.array([[0, 0, 10.0]]))
    assert found.wanted_dbuv_m.item() == pytest.approx(61.0)
    assert found.measured.tolist() == [True]
    told, _ = field_of([station("Q", 30, field_dbuv_m=61.0, field_sigma_db=3.0)])
    assert told.station_sigma_db.tolist() == [3.0]


def test_power_that_is_not_known():
    found, _ = field_of([station("Q", 30), station("R", 31, erp_kw=1.0)])
    assert np.isnan(found.wanted_dbuv_m).tolist() == [[True, False]]
    assert any(note.startswith("the power of Q is not known") for note in found.warnings)


def test_the_transmitters_pattern_counts_towards_the_site():
    """The transmitter lies north-east, so that the site is to its south-west, near 225 degrees."""
    pattern = [[0, 0], [210, 0], [220, -12], [230, -12], [240, 0]]
    where = {"latitude_deg": -38.5, "longitude_deg": -117.172, "erp_kw": 100.0}
    plain, _ = field_of([station("Q", 30, **where)])
    shaped, _ = field_of([station("Q", 30, pattern=pattern, **where)])
    assert (shaped.wanted_dbuv_m - plain.wanted_dbuv_m).item() == pytest.approx(-12.0, abs=0.01)
    assert shaped.pattern_db.item() == pytest.approx(-12.0, abs=0.01)


def test_surroundings_that_nobody_knows():
    with pytest.raises(InputError) as caught:
        field_of([station("Q", 30, erp_kw=1.0)], surroundings="seaside")
    assert caught.value.field == "site.surroundings"


@given(st.floats(2.0, 60.0), st.floats(0.0, 60.0))
def test_height_never_lowers_the_field(height, more):
    antenna = np.array([[0.0, 0.0, height], [0.0, 0.0, height + more]])
    found, _ = field_of([station("Q", 30, erp_kw=100.0, haat_m=200.0)], antenna_m=antenna)
    low, high = found.wanted_dbuv_m[:, 0]
    assert high >= low - 1e-9
    assert np.all(found.wanted_dbuv_m <= found.free_space_dbuv_m + 1e-9)
