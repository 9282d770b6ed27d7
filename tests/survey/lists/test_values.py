"""Cells to numbers, powers, heights, channels and words."""

from __future__ import annotations

import math
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.survey.lists.values import (
    UnreadableError,
    frequency_mhz_from,
    is_blank,
    length_m_from,
    number_and_unit,
    number_from,
    power_kw_from,
    rf_channel_from,
    shown,
    word_from,
)


@pytest.mark.parametrize(
    ("text", "decimal_comma", "value"),
    [
        ("12", False, 12.0),
        ("-0.5", False, -0.5),
        ("\u22123.5", False, -3.5),
        ("+7.", False, 7.0),
        (".5", False, 0.5),
        ("1.5e3", False, 1500.0),
        ("1,000", False, 1000.0),
        ("1,234,567.5", False, 1234567.5),
        ("1 000", False, 1000.0),
        ("1\u00a0000", False, 1000.0),
        ("1'000", False, 1000.0),
        ("12,5", True, 12.5),
        ("1,000", True, 1.0),
        ("1.234.567,5", True, 1234567.5),
        ("1.000,5", True, 1000.5),
        ("12.5", True, 12.5),
        ("41", True, 41.0),
    ],
)
def test_numbers(text: str, decimal_comma: bool, value: float) -> None:
    assert number_from(text, decimal_comma) == value


@pytest.mark.parametrize(
    ("text", "decimal_comma"),
    [
        ("", False),
        ("abc", False),
        ("12,5", False),
        ("1,00", False),
        ("1.2.3", False),
        ("1.000", True),
        ("nan", False),
        ("inf", False),
        ("1e999", False),
        ("0x10", False),
        ("1_000", False),
        ("١٢", False),
        ("9" * 41, False),
        ("--5", False),
    ],
)
def test_what_is_no_number(text: str, decimal_comma: bool) -> None:
    with pytest.raises(UnreadableError):
        number_from(text, decimal_comma)


@given(st.floats(-1e6, 1e6), st.booleans())
def test_a_written_number_reads_back(value: float, decimal_comma: bool) -> None:
    text = f"{value:.4f}"
    if decimal_comma:
        text = text.replace(".", ",")
    assert number_from(text, decimal_comma) == pytest.approx(value, abs=5.1e-5)


@pytest.mark.parametrize("text", ["", " ", "-", "--", "n/a", "N/A", "null", "None", "?", "NaN"])
def test_marks_for_unknown(text: str) -> None:
    assert is_blank(text)


@pytest.mark.parametrize("text", ["0", "no", "-1", "x"])
def test_values_that_are_no_marks_for_unknown(text: str) -> None:
    assert not is_blank(text)


# 0 dBk = 1 kW, 0 dBW = 1 W, 0 dBm = 1 mW by definition of the level (ITU-R V.574, section 3).
@pytest.mark.parametrize(
    ("text", "unit", "kw"),
    [
        ("400", "", 400.0),
        ("400", "kw", 400.0),
        ("250", "w", 0.25),
        ("1", "mw", 1000.0),
        ("30", "dbk", 1000.0),
        ("-10", "dbk", 0.1),
        ("30", "dbkw", 1000.0),
        ("30", "dbw", 1.0),
        ("60", "dbm", 1.0),
        ("250 W", "kw", 0.25),
        ("250W", "", 0.25),
        ("1.5 MW", "", 1500.0),
        ("26.02 dBk", "w", 399.945),
        ("1,000 kW", "", 1000.0),
        ("0", "kw", 0.0),
    ],
)
def test_powers(text: str, unit: str, kw: float) -> None:
    assert power_kw_from(text, unit) == pytest.approx(kw, rel=1e-6)


@pytest.mark.parametrize("text", ["-5", "5 mW", "5 hp", "400 dBk", "abc", "5 kW each", "-5 W"])
def test_what_is_no_power(text: str) -> None:
    with pytest.raises(UnreadableError):
        power_kw_from(text)


@pytest.mark.parametrize(
    ("text", "unit", "metres"),
    [
        ("600", "", 600.0),
        ("600", "m", 600.0),
        ("1000", "ft", 304.8),
        ("1000", "feet", 304.8),
        ("1000 ft", "m", 304.8),
        ("1000'", "", 304.8),
        ("1000 ft.", "", 304.8),
        ("600 metres", "ft", 600.0),
        ("-12.5m", "", -12.5),
        ("1,200 ft", "", 365.76),
    ],
)
def test_heights(text: str, unit: str, metres: float) -> None:
    assert length_m_from(text, unit) == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize("text", ["600 km", "high", "600 yd", "600 m 20"])
def test_what_is_no_height(text: str) -> None:
    with pytest.raises(UnreadableError):
        length_m_from(text)


@pytest.mark.parametrize(
    ("text", "unit"), [("474", ""), ("474000", "khz"), ("0.474 GHz", ""), ("474e6 Hz", "")]
)
def test_frequencies(text: str, unit: str) -> None:
    assert frequency_mhz_from(text, unit) == pytest.approx(474.0)


def test_a_unit_of_frequency_that_is_not_known() -> None:
    with pytest.raises(UnreadableError, match="unit of frequency"):
        frequency_mhz_from("474 m")


@pytest.mark.parametrize(
    "text",
    [
        *("21", " 21 ", "21.0", "D21", "d21", "E21", "K21", "C21", "ch 21", "CH21", "Ch. 21"),
        *("21D", "RF 21", "rf21", "Channel 21", "UHF 21", "#21", "021", "21DT", "21+"),
        "UHF ch 21",
    ],
)
def test_channels(text: str) -> None:
    assert rf_channel_from(text, "americas-6mhz") == 21


@pytest.mark.parametrize("text", ["9A", "9a", "ch 9A"])
def test_9a_is_australian(text: str) -> None:
    assert rf_channel_from(text, "australia-7mhz") == 109
    with pytest.raises(UnreadableError):
        rf_channel_from(text, "europe-8mhz")


@pytest.mark.parametrize("text", ["6.1", "6-1", "44.12"])
def test_virtual_channels_are_refused(text: str) -> None:
    with pytest.raises(UnreadableError, match="virtual channel"):
        rf_channel_from(text, "americas-6mhz")


@pytest.mark.parametrize("text", ["S21", "twenty", "21 22", "1234", "21/22", "2½", "-21.5"])
def test_what_is_no_channel(text: str) -> None:
    with pytest.raises(UnreadableError):
        rf_channel_from(text, "americas-6mhz")


@pytest.mark.parametrize(
    ("field", "word", "texts"),
    [
        ("polarization", "h", "H h Horizontal HOR horiz"),
        ("polarization", "v", "V Vertical vert"),
        ("polarization", "c", "C Circular circ"),
        ("polarization", "e", "E Elliptical elliptic"),
        ("polarization", "m", "M mixed H/V HV H+V"),
        ("system", "atsc1", "ATSC atsc1 ATSC-1.0 8VSB 8-VSB"),
        ("system", "atsc3", "ATSC3 ATSC_3.0"),
        ("system", "dvbt", "DVB-T dvbt"),
        ("system", "dvbt2", "DVB-T2 dvbt2"),
        ("system", "isdbt", "ISDB-T isdbt ISDB-Tb"),
        ("role", "wanted", "wanted Desired"),
        ("role", "interferer", "interferer Interfering undesired"),
        ("must_have", "yes", "yes Y true 1 X"),
        ("must_have", "no", "no N false 0"),
    ],
)
def test_words(field: str, word: str, texts: str) -> None:
    assert {word_from(text, field) for text in texts.split()} == {word}


def test_unknown_words_are_none() -> None:
    assert word_from("slant", "polarization") is None
    assert word_from("NTSC", "system") is None


@given(st.text(max_size=80))
def test_any_text_gives_a_finite_number_or_a_reason(text: str) -> None:
    for read in (number_from, power_kw_from, length_m_from, frequency_mhz_from):
        with suppress(UnreadableError):
            assert math.isfinite(read(text))
    with suppress(UnreadableError):
        assert 0 <= rf_channel_from(text, "australia-7mhz") < 1000


def test_a_unit_is_kept_as_it_is_written() -> None:
    assert number_and_unit("12,5 dBk", decimal_comma=True) == (12.5, "dBk")


def test_cells_are_quoted_short() -> None:
    assert len(shown("x" * 1000)) == 42
    assert "\n" not in shown("a\nb")
