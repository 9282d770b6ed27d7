from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL.TiffImagePlugin import IFDRational

from skyview.photo.facts import PhotoFacts, read_header

ODD = IFDRational(123457, 1)
"""A numerator that occurs once in the file, so that the tests can give it another denominator."""


def zero_denominator(path: Path) -> Path:
    data = path.read_bytes()
    rationals = [struct.pack(f"{order}II", 123457, 1) for order in "<>"]
    assert sum(data.count(rational) for rational in rationals) == 1
    for order, rational in zip("<>", rationals, strict=True):
        data = data.replace(rational, struct.pack(f"{order}II", 123457, 0))
    path.write_bytes(data)
    return path


@pytest.fixture
def facts_with(save, full_gps) -> Callable[..., PhotoFacts]:
    """facts_with(t10="M") -> facts of a photo whose GPS tag 0x10 is M; None leaves it out."""

    def read(**changed: object) -> PhotoFacts:
        gps = {key: value for key, value in full_gps.items() if f"t{key:02X}" not in changed}
        gps |= {int(name[1:], 16): value for name, value in changed.items() if value is not None}
        return read_header(save(gps=gps))

    return read


@pytest.mark.parametrize(
    ("halves", "latitude", "longitude"),
    [("NE", 47.37, 8.51), ("SW", -47.37, -8.51), ("sw", -47.37, -8.51)],
)
def test_hemispheres(facts_with, halves: str, latitude: float, longitude: float) -> None:
    facts = facts_with(t01=halves[0], t03=halves[1])
    assert (facts.latitude_deg, facts.longitude_deg) == pytest.approx((latitude, longitude))


def test_decimal_minutes_and_degrees(facts_with) -> None:
    facts = facts_with(t02=(47.0, 22.2, 0.0), t04=(8.51, 0.0, 0.0))
    assert (facts.latitude_deg, facts.longitude_deg) == pytest.approx((47.37, -8.51))


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"t02": (91.0, 0.0, 0.0)}, "absurd"),
        ({"t02": (90.0, 0.0, 1.0)}, "absurd"),
        ({"t04": (180.0, 30.0, 0.0)}, "absurd"),
        ({"t02": (47.0, 61.0, 0.0)}, "absurd"),
        ({"t01": None}, "N or S"),
        ({"t03": "N"}, "E or W"),
    ],
)
def test_absurd_position_is_missing_with_a_note(facts_with, changed: dict, word: str) -> None:
    facts = facts_with(**changed)
    assert (facts.latitude_deg, facts.longitude_deg) == (None, None)
    assert any(word in note for note in facts.notes)
    assert any(gap.startswith("position") for gap in facts.missing)


@pytest.mark.parametrize(
    ("key", "value", "field"),
    [
        (0x02, (47.0, 22.0, ODD), "latitude_deg"),
        (0x06, ODD, "altitude_m"),
        (0x11, ODD, "direction_deg"),
        (0x1F, ODD, "position_sigma_m"),
    ],
)
def test_zero_denominator_is_missing_with_a_note(
    save, full_gps, key: int, value: object, field: str
) -> None:
    facts = read_header(zero_denominator(save(gps={**full_gps, key: value})))
    assert getattr(facts, field) is None
    assert any("not a number" in note for note in facts.notes)


def test_null_island_is_kept_and_noted(facts_with) -> None:
    facts = facts_with(t02=(0.0, 0.0, 0.0), t04=(0.0, 0.0, 0.0))
    assert facts.latitude_deg == 0.0
    assert any("without a fix" in note for note in facts.notes)


@pytest.mark.parametrize(
    ("reference", "version", "altitude", "surface"),
    [
        # Exif 2.x: 0 above, 1 below sea level; Exif 3.0: 0/1 ellipsoid, 2/3 sea level.
        (b"\0", b"0232", 412.5, "sea level"),
        (b"\1", b"0232", -412.5, "sea level"),
        (b"\0", b"0300", 412.5, "ellipsoid"),
        (b"\1", b"0300", -412.5, "ellipsoid"),
        (b"\2", b"0300", 412.5, "sea level"),
        (b"\3", b"0300", -412.5, "sea level"),
        (None, b"0300", 412.5, None),
        (b"\7", b"0232", 412.5, None),
    ],
)
def test_altitude_and_its_surface(save, full_gps, reference, version, altitude, surface) -> None:
    gps = {**full_gps, 5: reference}
    if reference is None:
        del gps[5]
    facts = read_header(save(gps=gps, camera={0x9000: version}))
    assert (facts.altitude_m, facts.altitude_reference) == (altitude, surface)


@pytest.mark.parametrize(("height", "reference"), [(9500.0, b"\0"), (600.0, b"\1")])
def test_absurd_altitude(facts_with, height: float, reference: bytes) -> None:
    facts = facts_with(t06=height, t05=reference)
    assert facts.altitude_m is None
    assert any("altitude" in note and "absurd" in note for note in facts.notes)


def test_position_error_of_165_m_is_read_and_noted(facts_with) -> None:
    """A library's test photo carries this value."""
    facts = facts_with(t1F=165.0)
    assert facts.position_sigma_m == 165.0
    assert any("165 m" in note for note in facts.notes)


@pytest.mark.parametrize(
    ("letter", "north"), [("T", "true"), ("M", "magnetic"), ("t", "true"), ("Q", None)]
)
def test_kind_of_north(facts_with, letter: str, north: str | None) -> None:
    facts = facts_with(t10=letter)
    assert (facts.direction_deg, facts.direction_north) == (141.25, north)
    assert any("kind of north" in gap for gap in facts.missing) is (north is None)


@pytest.mark.parametrize(("written", "read"), [(0.0, 0.0), (359.99, 359.99), (360.0, 0.0)])
def test_direction_range(facts_with, written: float, read: float) -> None:
    assert facts_with(t11=written).direction_deg == pytest.approx(read)


def test_direction_beyond_the_circle_is_missing(facts_with) -> None:
    facts = facts_with(t11=361.0)
    assert (facts.direction_deg, facts.direction_north) == (None, None)
    assert any("direction 361" in note for note in facts.notes)
