from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from PIL import ExifTags

from skyview.photo.facts import PhotoFacts, read_header

UTC_NOON = {0x07: (12.0, 5.0, 0.0), 0x1D: "2026:06:01"}


def facts_at(save, local: str | None, offset: str | None = None, gps=UTC_NOON) -> PhotoFacts:
    camera = {}
    if local:
        camera[ExifTags.Base.DateTimeOriginal] = local
    if offset:
        camera[ExifTags.Base.OffsetTimeOriginal] = offset
    return read_header(save(camera=camera, gps=gps))


@pytest.mark.parametrize(
    ("offset", "utc_offset"),
    [("+02:00", "+02:00"), ("-0530", "-05:30"), ("Z", "+00:00"), ("+14:00", "+14:00")],
)
def test_offset_as_written(save, offset: str, utc_offset: str) -> None:
    facts = facts_at(save, "2026:06:01 14:05:00", offset, gps={})
    assert facts.utc_offset == utc_offset
    assert facts.taken == f"2026-06-01T14:05:00{utc_offset}"
    assert facts.time_note is None


@pytest.mark.parametrize("offset", ["+25:00", "+02:75", "summer", "0200"])
def test_broken_offset_is_missing_with_a_note(save, offset: str) -> None:
    facts = facts_at(save, "2026:06:01 14:05:00", offset, gps={})
    assert (facts.utc_offset, facts.taken) == (None, "2026-06-01T14:05:00")
    assert any("no offset from UTC" in note for note in facts.notes)
    assert any(gap.startswith("offset from UTC") for gap in facts.missing)


@pytest.mark.parametrize("digits", ["5", "50", "500", "500000"])
def test_fractions_of_a_second(save, digits: str) -> None:
    camera = {
        ExifTags.Base.DateTimeOriginal: "2026:06:01 14:05:00",
        ExifTags.Base.SubsecTimeOriginal: digits,
    }
    assert read_header(save(camera=camera)).taken == "2026-06-01T14:05:00.500"


@pytest.mark.parametrize("local", ["0000:00:00 00:00:00", "    :  :     :  :  "])
def test_blank_clock_is_silently_missing(save, local: str) -> None:
    facts = facts_at(save, local, gps={})
    assert facts.taken is None
    assert not any("date" in note for note in facts.notes)


@pytest.mark.parametrize("local", ["2026:13:01 14:05:00", "yesterday", "1904:01:01 00:00:00"])
def test_absurd_clock_is_missing_with_a_note(save, local: str) -> None:
    facts = facts_at(save, local, gps={})
    assert facts.taken is None
    assert any("no date and time" in note for note in facts.notes)


def test_clock_that_agrees_with_gps_is_not_remarked(save) -> None:
    assert facts_at(save, "2026:06:01 14:09:30", "+02:00").time_note is None


@pytest.mark.parametrize(
    ("local", "slip"),
    [
        ("2026:06:01 15:05:00", "1 hour ahead of"),
        ("2026:06:01 13:08:00", "1 hour behind"),
        ("2026:06:01 20:05:00", "6 hours ahead of"),
        ("2026:05:31 14:05:00", "24 hours behind"),
        ("2026:06:01 14:35:00", "30 minutes ahead of"),
    ],
)
def test_slips_against_gps(save, local: str, slip: str) -> None:
    facts = facts_at(save, local, "+02:00")
    assert facts.time_note is not None
    assert slip in facts.time_note
    assert facts.taken is not None
    assert datetime.fromisoformat(facts.taken).utcoffset() == timedelta(hours=2)


@pytest.mark.parametrize(
    ("local", "utc_offset"),
    [
        ("2026:06:01 14:05:40", "+02:00"),
        ("2026:06:01 17:35:00", "+05:30"),
        ("2026:06:01 17:50:00", "+05:45"),
        ("2026:06:01 02:05:00", "-10:00"),
        ("2026:06:02 01:05:00", "+13:00"),
    ],
)
def test_gps_tells_the_offset_that_the_tags_leave_out(save, local: str, utc_offset: str) -> None:
    facts = facts_at(save, local)
    assert facts.utc_offset == utc_offset
    assert facts.time_note == "The offset from UTC follows from the GPS clock."


@pytest.mark.parametrize("local", ["2026:06:01 14:20:00", "2026:06:01 14:11:00"])
def test_stale_gps_tells_no_offset(save, local: str) -> None:
    facts = facts_at(save, local)
    assert facts.utc_offset is None
    assert "not told" in (facts.time_note or "")


def test_gps_alone_gives_the_moment(save) -> None:
    facts = facts_at(save, None)
    assert (facts.taken, facts.utc_offset) == ("2026-06-01T12:05:00+00:00", "+00:00")


@pytest.mark.parametrize(
    "gps", [{0x07: (25.0, 0.0, 0.0), 0x1D: "2026:06:01"}, {0x07: (12.0, 0.0, 0.0), 0x1D: "x"}]
)
def test_absurd_gps_clock_is_left_out(save, gps: dict) -> None:
    assert facts_at(save, None, gps=gps).taken is None


def test_time_of_last_change_is_a_stand_in_that_says_so(save) -> None:
    facts = read_header(save(main={ExifTags.Base.DateTime: "2026:06:01 14:05:00"}))
    assert facts.taken == "2026-06-01T14:05:00"
    assert "last change" in (facts.time_note or "")
