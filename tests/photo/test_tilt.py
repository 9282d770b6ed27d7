from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ExifTags

from skyview.photo.facts import read_header
from skyview.photo.tilt import gravity_in_note, tilt_from_gravity

TEST_VECTOR = (-0.6483164083, 0.002264119004, -0.7500767578)
"""Vector of a metadata library's test file for a 2016 phone photo; pitch and roll computed from
the axes by hand (not measured)."""


def test_vector_of_the_library_photo() -> None:
    tilt = tilt_from_gravity(TEST_VECTOR, 1)
    assert tilt is not None
    assert tilt.pitch_deg == pytest.approx(-49.162, abs=0.01)
    assert tilt.roll_deg == pytest.approx(-0.2, abs=0.01)


@pytest.mark.parametrize(
    ("gravity", "orientation"),
    [
        ((-1.0, 0.0, 0.0), 1),
        ((1.0, 0.0, 0.0), 3),
        ((0.0, -1.0, 0.0), 6),
        ((0.0, 1.0, 0.0), 8),
    ],
)
def test_level_phone_in_each_way_of_holding_it(gravity, orientation: int) -> None:
    tilt = tilt_from_gravity(gravity, orientation)
    assert tilt is not None
    assert (tilt.pitch_deg, tilt.roll_deg) == (0.0, 0.0)


@given(
    pitch=st.floats(-80.0, 80.0),
    roll=st.floats(-170.0, 170.0),
    orientation=st.sampled_from([1, 3, 6, 8]),
)
def test_tilt_of_a_built_gravity_vector(pitch: float, roll: float, orientation: int) -> None:
    """World up seen in picture axes (right, up, back) of a camera with this pitch and roll."""
    p, r = math.radians(pitch), math.radians(roll)
    # Pose matrix of the contract: right = cos r r0 - sin r u0, up = sin r r0 + cos r u0.
    right, up, forward = -math.sin(r) * math.cos(p), math.cos(r) * math.cos(p), math.sin(p)
    axes = {
        1: (up, -right),
        3: (-up, right),
        6: (right, up),
        8: (-right, -up),
    }[orientation]
    gravity = (-axes[0], -axes[1], forward)
    tilt = tilt_from_gravity(gravity, orientation)
    assert tilt is not None
    assert tilt.pitch_deg == pytest.approx(pitch, abs=0.01)
    assert tilt.roll_deg == pytest.approx(roll, abs=0.01)


@pytest.mark.parametrize(
    ("vector", "orientation"),
    [
        ((-1.0, 0.0, 0.0), 2),
        ((-1.5, 0.0, 0.0), 1),
        ((-0.5, 0.0, 0.0), 1),
        ((0.01, 0.01, -1.0), 1),
    ],
)
def test_no_tilt_from_mirrored_shaken_or_straight_down(vector, orientation: int) -> None:
    assert tilt_from_gravity(vector, orientation) is None


@pytest.mark.parametrize("order", [">", "<"])
def test_vector_is_found_in_a_note(note_with, order: str) -> None:
    assert gravity_in_note(note_with(TEST_VECTOR, order)) == pytest.approx(TEST_VECTOR, abs=1e-8)


@given(st.binary(max_size=80))
def test_other_notes_give_nothing(note: bytes) -> None:
    assert gravity_in_note(note[:12] + b"XX" + note) is None
    assert gravity_in_note(note[:12].ljust(12) + b"MM" + note[:1]) is None


@pytest.mark.parametrize("length", range(0, 56, 5))
def test_note_cut_short_gives_nothing(note_with, length: int) -> None:
    assert gravity_in_note(note_with(TEST_VECTOR)[:length]) is None


def test_note_with_zero_denominator_gives_nothing(note_with) -> None:
    note = note_with(TEST_VECTOR).replace((10**8).to_bytes(4, "big"), bytes(4))
    assert gravity_in_note(note) is None


def test_tilt_in_the_facts_of_a_photo(save, note_with) -> None:
    camera = {ExifTags.Base.MakerNote: note_with((0.0, -0.9848, 0.1736))}
    facts = read_header(save(camera=camera, main={ExifTags.Base.Orientation: 6}))
    assert facts.tilt is not None
    assert facts.tilt.pitch_deg == pytest.approx(10.0, abs=0.01)
    assert facts.tilt.roll_deg == 0.0
    assert any("derived" in note for note in facts.notes)
