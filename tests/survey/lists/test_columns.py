"""Headers by their spellings, and columns named in order."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.errors import InputError
from skyview.survey.lists.columns import layout_from, layout_of, meaning_of, squashed
from skyview.survey.lists.spellings import spellings_of, units_of

_STATION_FIELDS = {
    "id": "id",
    "name": "name",
    "latitude_deg": "latitude",
    "longitude_deg": "longitude",
    "antenna_amsl_m": "antenna_amsl",
    "antenna_agl_m": "antenna_agl",
    "ground_amsl_m": "ground_amsl",
    "haat_m": "haat",
    "rf_channel": "rf_channel",
    "virtual_channel": "virtual_channel",
    "erp_kw": "erp",
    "eirp_kw": "eirp",
    "frequency_mhz": "frequency",
    "polarization": "polarization",
    "system": "system",
    "mode": "mode",
    "required_cn_db": "required_cn",
    "pattern": "pattern",
    "role": "role",
    "must_have": "must_have",
}


@pytest.mark.parametrize(("header", "quantity"), _STATION_FIELDS.items())
def test_the_survey_files_own_names(header: str, quantity: str) -> None:
    found = meaning_of(header, "stations")
    assert found is not None
    assert found[0] == quantity


@pytest.mark.parametrize("kind", ["stations", "landmarks"])
def test_every_spelling_in_each_dress(kind: str) -> None:
    for spelling, (quantity, rank) in spellings_of(kind).items():  # type: ignore[arg-type]
        for dress in (spelling, spelling.upper(), f" {spelling.title()} ", f"{spelling}:"):
            assert meaning_of(dress, kind) == (quantity, "", rank)  # type: ignore[arg-type]
        for unit in units_of(quantity) - {"'", "°"}:
            found = meaning_of(f"{spelling} ({unit})", kind)  # type: ignore[arg-type]
            assert found is not None, (spelling, unit)
            assert found[0] == quantity or f"{spelling}{unit}" in spellings_of(kind)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("header", "quantity", "unit"),
    [
        ("ERP (kW)", "erp", "kw"),
        ("ERP [dBk]", "erp", "dbk"),
        ("erp_w", "erp", "w"),
        ("ERP W", "erp", "w"),
        ("Max ERP (W)", "erp", "w"),
        ("E.R.P. kW", "erp", "kw"),
        ("EIRP dBW", "eirp", "dbw"),
        ("EIRP, dBm", "eirp", "dbm"),
        ("Antenna height (m AMSL)", "antenna_amsl", "m"),
        ("Antenna height, m AMSL", "antenna_amsl", "m"),
        ("antenna_height_ft_amsl", "antenna_amsl", "ft"),
        ("Height above sea level [m]", "antenna_amsl", "m"),
        ("Height above mean sea level (feet)", "antenna_amsl", "feet"),
        ("RCAMSL", "antenna_amsl", ""),
        ("Radiation centre AMSL", "antenna_amsl", ""),
        ("AMSL height m", "antenna_amsl", "m"),
        ("RC AGL", "antenna_agl", ""),
        ("Height above ground level (ft)", "antenna_agl", "ft"),
        ("Aerial height AGL", "antenna_agl", ""),
        ("HAAT", "haat", ""),
        ("HAAT (m)", "haat", "m"),
        ("Antenna height (above average terrain)", "haat", ""),
        ("EHAAT ft", "haat", "ft"),
        ("Ground elevation (m)", "ground_amsl", "m"),
        ("Site height", "ground_amsl", ""),
        ("Site Ht (m AOD)", "ground_amsl", "m"),
        ("Ant. Ht. AMSL, ft", "antenna_amsl", "ft"),
        ("ant_ht_agl", "antenna_agl", ""),
        ("Elev.", "elevation_unstated", ""),
        ("Site elevation AMSL ft", "ground_amsl", "ft"),
        ("Antenna height (m)", "height_unstated", "m"),
        ("Height", "height_unstated", ""),
        ("Elevation", "elevation_unstated", ""),
        ("Lat.", "latitude", ""),
        ("LATITUDE (WGS84)", "latitude", ""),
        ("Longitude (W)", "longitude", "w"),
        ("Longitude West", "longitude", "west"),
        ("Lon [deg]", "longitude", "deg"),
        ("Lat/Long", "position", ""),
        ("Latitude, Longitude", "position", ""),
        ("lat_min", "latitude_minutes", ""),
        ("Lon Sec", "longitude_seconds", ""),
        ("Lat Dir", "latitude_hemisphere", ""),
        ("Call Sign", "id", ""),
        ("CALL-SIGN", "id", ""),
        ("RF Channel", "rf_channel", ""),
        ("Physical channel", "rf_channel", ""),
        ("Channel (RF)", "rf_channel", ""),
        ("Channel (virtual)", "virtual_channel", ""),
        ("Ch.", "channel_unstated", ""),
        ("Frequency (kHz)", "frequency", "khz"),
        ("Polarisation", "polarization", ""),
        ("Polarización", "polarization", ""),
        ("Must have?", "must_have", ""),
        ("Relative field", "pattern_field", ""),
        ("Pattern (dB)", "pattern", "db"),
    ],
)
def test_headers_of_stations(header: str, quantity: str, unit: str) -> None:
    found = meaning_of(header, "stations")
    assert found is not None
    assert found[:2] == (quantity, unit)


@pytest.mark.parametrize(
    ("header", "quantity", "unit"),
    [
        ("top_amsl_m", "top_amsl", "m"),
        ("Top height above sea level", "top_amsl", ""),
        ("Elevation AMSL (ft)", "top_amsl", "ft"),
        ("Top AGL", "top_agl", ""),
        ("Height", "height_unstated", ""),
        ("Elevation", "elevation_unstated", ""),
        ("sigma_m", "sigma", "m"),
        ("Accuracy (ft)", "sigma", "ft"),
        ("Landmark", "id", ""),
    ],
)
def test_headers_of_landmarks(header: str, quantity: str, unit: str) -> None:
    found = meaning_of(header, "landmarks")
    assert found is not None
    assert found[:2] == (quantity, unit)


@pytest.mark.parametrize("header", ["", "Owner", "TPO (kW)", "Licence date", "Azimuth", "(m)"])
def test_headers_that_mean_nothing_here(header: str) -> None:
    assert meaning_of(header, "stations") is None


def test_heights_above_average_terrain_are_never_above_sea_level() -> None:
    for spelling, (quantity, _) in spellings_of("stations").items():
        if "haat" in spelling or "average" in spelling:
            assert quantity == "haat"


def test_the_plainest_name_wins_and_the_other_is_left_aside() -> None:
    layout = layout_of(["Station", "Call sign", "Lat", "Lon"], "stations")
    assert layout.columns["id"].index == 1
    assert layout.ignored == ["Station"]
    layout = layout_of(["Call sign", "Station", "Owner"], "stations")
    assert layout.columns["id"].index == 0
    assert layout.ignored == ["Station", "Owner"]


def test_a_bare_channel_is_the_rf_one_unless_that_is_named() -> None:
    assert "rf_channel" in layout_of(["Channel"], "stations").columns
    both = layout_of(["Channel", "RF"], "stations")
    assert both.columns["virtual_channel"].header == "Channel"
    assert both.notes == ["column 'Channel' taken as the virtual channel"]
    three = layout_of(["Channel", "RF", "Virtual"], "stations")
    assert three.columns["virtual_channel"].header == "Virtual"
    assert three.ignored == ["Channel"]


def test_a_bare_height_beside_the_ground_is_above_it() -> None:
    layout = layout_of(["Site height", "Aerial height"], "stations")
    assert layout.columns["antenna_agl"].header == "Aerial height"
    layout = layout_of(["Elevation", "Height AGL"], "stations")
    assert layout.columns["ground_amsl"].header == "Elevation"
    layout = layout_of(["Elevation", "Height AMSL"], "stations")
    assert "ground_amsl" not in layout.columns


def test_a_bare_power_is_erp_unless_eirp_is_named() -> None:
    assert "erp" in layout_of(["Power kW"], "stations").columns
    layout = layout_of(["Power", "EIRP"], "stations")
    assert "erp" not in layout.columns
    assert layout.ignored == ["Power"]


def test_columns_in_order() -> None:
    layout = layout_from("id, -, latitude_deg,longitude_deg,,rf_channel,erp_dbk", "stations")
    at = {quantity: column.index for quantity, column in layout.columns.items()}
    assert at == {"id": 0, "latitude": 2, "longitude": 3, "rf_channel": 5, "erp": 6}
    assert layout.columns["erp"].unit == "dbk"


def test_an_unknown_column_is_named_with_the_nearest_spelling() -> None:
    with pytest.raises(InputError, match="did you mean latitude"):
        layout_from("id,lattitude", "stations")
    with pytest.raises(InputError, match="use - for a column"):
        layout_from("id,qqqqqq", "stations")


def test_a_column_that_comes_twice_is_refused() -> None:
    with pytest.raises(InputError, match="comes twice"):
        layout_from("id,lat,latitude_deg", "stations")


@given(st.text(max_size=60))
def test_any_header_means_something_or_nothing(header: str) -> None:
    found = meaning_of(header, "stations")
    assert found is None or (found[1] == "" or found[1] in units_of(found[0]))
    assert squashed(header) == squashed(squashed(header))
