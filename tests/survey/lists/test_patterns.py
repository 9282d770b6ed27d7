"""Patterns by azimuth."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.survey.lists.patterns import LOWEST_DB, is_round, pattern_from
from skyview.survey.lists.values import UnreadableError

_PAIRS = [[0.0, 0.0], [10.0, -0.5], [180.0, -12.0]]


@pytest.mark.parametrize(
    "text",
    [
        "0:0;10:-0.5;180:-12",
        "0:0; 10:-0.5; 180:-12;",
        "0:0|10:-0.5|180:-12",
        "0:0,10:-0.5,180:-12",
        "0:0 10:-0.5 180:-12",
        "0=0;10=-0.5;180=-12",
        "180:-12;0:0;10:-0.5",
        "0°:0 dB;10°:-0.5 dB;180°:-12 dB",
        "0:0;10:-0.5;180:-12;360:0",
    ],
)
def test_decibels(text: str) -> None:
    assert pattern_from(text) == _PAIRS


def test_decimal_commas() -> None:
    assert pattern_from("0:0;10:-0,5;180:-12", decimal_comma=True) == _PAIRS
    assert pattern_from("0:0 10:-0,5 180:-12", decimal_comma=True) == _PAIRS


def test_attenuations() -> None:
    assert pattern_from("0:0;10:0.5;180:12", "pattern_attenuation") == _PAIRS


@given(st.floats(0.01, 1.0))
def test_relative_field_is_20_log10(field: float) -> None:
    (pair,) = pattern_from(f"90:{field:.6f}", "pattern_field")
    assert pair == [90.0, pytest.approx(20 * math.log10(round(field, 6)), abs=1e-4)]


def test_no_field_has_the_lowest_level() -> None:
    assert pattern_from("90:0", "pattern_field") == [[90.0, LOWEST_DB]]


@pytest.mark.parametrize(
    ("text", "form", "reason"),
    [
        ("0:0;10:1", "pattern", "above the maximum"),
        ("0:1.2", "pattern_field", "outside 0..1"),
        ("0:-0.1", "pattern_field", "outside 0..1"),
        ("361:0", "pattern", "outside 0..360"),
        ("-1:0", "pattern", "outside 0..360"),
        ("0:0;0:-3", "pattern", "twice"),
        ("0:0;360:-3", "pattern", "twice"),
        ("0", "pattern", "not a pair"),
        ("a:b", "pattern", "not a number"),
        (";", "pattern", "not a pattern"),
    ],
)
def test_what_is_no_pattern(text: str, form: str, reason: str) -> None:
    with pytest.raises(UnreadableError, match=reason):
        pattern_from(text, form)


def test_words_for_no_direction() -> None:
    assert all(map(is_round, ["ND", "Omni", "omnidirectional", "non-directional"]))
    assert not is_round("DA")
