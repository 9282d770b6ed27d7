"""Latitudes and longitudes in each spelling, there and back."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from skyview.survey.lists.positions import (
    LATITUDE,
    LONGITUDE,
    Axis,
    angle_deg_from,
    angle_deg_from_cells,
    both_deg_from,
)
from skyview.survey.lists.values import UnreadableError

HUNDREDTH_OF_A_SECOND = 0.011 / 3600

_SPELLINGS = [
    "{d}-{m:02d}-{s:05.2f} {h}",
    "{d}-{m}-{s:.2f}{h}",
    "{d}°{m}'{s:.2f}\"{h}",
    "{d}° {m}' {s:.2f}\" {h}",
    "{d}º{m}′{s:.2f}″{h}",
    "{d}°{m}’{s:.2f}” {h}",
    "{d}°{m}'{s:.2f}''{h}",
    "{h} {d} {m} {s:.2f}",
    "{h}{d} {m} {s:.2f}",
    "{d} {m} {s:.2f} {h}",
    "{d}:{m}:{s:.2f} {h}",
    "{d}d{m}m{s:.2f}s{h}",
    "{d} deg {m} min {s:.2f} sec {h}",
    "{h} {d}°{m}'{s:.2f}\"",
    "{d} {m} {sc} {h}",
    "{sign}{d} {m} {s:.2f}",
    "{sign}{d}-{m}-{s:.2f}",
    "{sign}{d}°{m}'{s:.2f}\"",
    "{sign}{d}d{m}m{s:.2f}s",
    "{sign}{d} deg {m} min {s:.2f} s",
    "{sign}{d} degrees {m} minutes {s:.2f} seconds",
    "{d} deg {m} min {s:.2f} s {h}",
    "{d}-{m}-{s:.2f}-{h}",
    "{d} {m} {s:.2f} {word}",
    "{word} {d} {m} {s:.2f}",
]


def _spelled(spelling: str, hundredths: int, axis: Axis, negative: bool) -> tuple[str, float]:
    seconds_of_arc, rest = divmod(hundredths, 100)
    minutes, whole = divmod(seconds_of_arc, 60)
    degrees, minute = divmod(minutes, 60)
    second = whole + rest / 100
    letter = (axis.negative if negative else axis.positive).upper()
    words = {"N": "North", "S": "South", "E": "East", "W": "west"}
    text = spelling.format(
        d=degrees,
        m=minute,
        s=second,
        sc=f"{second:.2f}".replace(".", ","),
        h=letter,
        sign="-" if negative else "",
        word=words[letter],
    )
    return text, (-1 if negative else 1) * hundredths / 360_000


@pytest.mark.parametrize("spelling", _SPELLINGS)
@given(share=st.floats(0, 1), longitude=st.booleans(), negative=st.booleans())
def test_each_spelling_reads_back(
    spelling: str, share: float, longitude: bool, negative: bool
) -> None:
    axis = LONGITUDE if longitude else LATITUDE
    hundredths = round(share * axis.limit_deg * 360_000)
    text, expected = _spelled(spelling, hundredths, axis, negative)
    assert angle_deg_from(text, axis) == pytest.approx(expected, abs=HUNDREDTH_OF_A_SECOND)


@given(
    value=st.floats(-90, 90), form=st.sampled_from(["{v}", "{v}°", "{a}{h}", "{h} {a}°", "{a} {h}"])
)
def test_decimal_degrees_read_back(value: float, form: str) -> None:
    text = form.format(v=f"{value:.7f}", a=f"{abs(value):.7f}", h="S" if value < 0 else "N")
    assert angle_deg_from(text, LATITUDE) == pytest.approx(value, abs=6e-8)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("41,25", 41.25),
        ("41 15.5 N", 41.25833333),
        ("41°15.5'N", 41.25833333),
        ("N41 15", 41.25),
        ("-0 30 0", -0.5),
        ("\u221212.5", -12.5),
        ("-12.5 S", -12.5),
        ("123456N", 12.58222222),
        ("123456.5S", -12.58236111),
        ("12°34'", 12.56666667),
        ("90", 90.0),
        ("12.5 Nord", 12.5),
        ("12.5 sur", -12.5),
    ],
)
def test_other_spellings(text: str, value: float) -> None:
    assert angle_deg_from(text, LATITUDE) == pytest.approx(value, abs=1e-8)


def test_packed_longitude() -> None:
    assert angle_deg_from("0973030W", LONGITUDE) == pytest.approx(-97.50833333)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("abc", "not a latitude"),
        ("12 60 00 N", "minutes or seconds"),
        ("12 30 75 N", "minutes or seconds"),
        ("12.5 30 N", "fraction"),
        ("12 30.5 10 N", "fraction"),
        ("-12.5 N", "contradicts"),
        ("+12.5 S", "contradicts"),
        ("12.5 W", "swapped"),
        ("97.25", "swapped"),
        ("-122.5", "swapped"),
        ("200", "outside -90..90"),
        ("N 12 S", "two hemispheres"),
        ("1 2 3 4", "not a latitude"),
        ("123456", "outside"),
        ("12 34 56 X", "not a latitude"),
        ("1" * 61, "not a latitude"),
    ],
)
def test_what_is_no_latitude(text: str, reason: str) -> None:
    with pytest.raises(UnreadableError, match=reason):
        angle_deg_from(text, LATITUDE)


def test_no_hint_at_swapped_axes_for_longitudes() -> None:
    with pytest.raises(UnreadableError) as caught:
        angle_deg_from("190", LONGITUDE)
    assert "swapped" not in str(caught.value)


@pytest.mark.parametrize(
    ("cells", "hemisphere", "value"),
    [
        (("97", "30", "36"), "W", -97.51),
        (("-97", "30", "36"), "", -97.51),
        (("-97", "30", "36"), "W", -97.51),
        (("97", "30", ""), "E", 97.5),
        (("97°", "30'", '36"'), "West", -97.51),
        (("-0", "30", "0"), "", -0.5),
        (("97", "30", "36,0"), "E", 97.51),
    ],
)
def test_cells_of_their_own(cells: tuple[str, str, str], hemisphere: str, value: float) -> None:
    assert angle_deg_from_cells(cells, hemisphere, LONGITUDE) == pytest.approx(value)


@pytest.mark.parametrize(
    ("cells", "hemisphere"),
    [
        (("97", "61", "0"), "W"),
        (("97", "-1", "0"), "W"),
        (("97.5", "30", "0"), "W"),
        (("97", "30", "0"), "N"),
        (("97", "30", "0"), "Q"),
        (("-97", "30", "0"), "E"),
        (("181", "0", "0"), "E"),
        (("x", "0", "0"), "E"),
    ],
)
def test_cells_that_are_no_longitude(cells: tuple[str, str, str], hemisphere: str) -> None:
    with pytest.raises(UnreadableError):
        angle_deg_from_cells(cells, hemisphere, LONGITUDE)


@pytest.mark.parametrize(
    "text",
    [
        "41.5, -97.25",
        "41.5,-97.25",
        "(41.5, -97.25)",
        "41.5 -97.25",
        "41.5; -97.25",
        "41,5; -97,25",
        "41-30-00 N, 97-15-00 W",
        "41 30 00 N 97 15 00 W",
        "N 41 30 00 W 97 15 00",
        "41°30'00\"N 97°15'00\"W",
        "97-15-00 W / 41-30-00 N",
        "N41.5 W97.25",
    ],
)
def test_both_in_one_cell(text: str) -> None:
    assert both_deg_from(text) == pytest.approx((41.5, -97.25))


@pytest.mark.parametrize("text", ["41.5", "a b c", "EN91ab", "41.5, -97.25, 300", "41 30 00"])
def test_what_is_no_position(text: str) -> None:
    with pytest.raises(UnreadableError):
        both_deg_from(text)


@given(st.text(alphabet="0123456789 .,-+°'\"NSEWnsewdmÄ:/;", max_size=40))
def test_any_text_gives_a_place_on_earth_or_a_reason(text: str) -> None:
    for axis in (LATITUDE, LONGITUDE):
        with suppress(UnreadableError):
            assert abs(angle_deg_from(text, axis)) <= axis.limit_deg
    with suppress(UnreadableError):
        latitude, longitude = both_deg_from(text)
        assert abs(latitude) <= 90
        assert abs(longitude) <= 180
