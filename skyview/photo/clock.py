"""When the photo was taken: local clock, offset from UTC, and the GPS clock that checks both."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from PIL import ExifTags

from skyview.photo.exif import Tags, number, text

_AGREES = timedelta(minutes=15)
"""A phone may stamp the last fix it had, some minutes before the picture."""

_FRESH = timedelta(minutes=2)
"""A stamp this close to a usual offset is fresh enough to tell the offset."""

_ODD_OFFSETS = (5.75, 8.75, 12.75)
"""Offsets from UTC in hours, in use and neither whole nor half hours."""

_LARGEST_OFFSET = timedelta(hours=14)
_DATE = re.compile(r"(\d{4})[:\-/.](\d\d)[:\-/.](\d\d)")
_MOMENT = re.compile(_DATE.pattern + r"[ T](\d\d):(\d\d):(\d\d)")
_OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)")
_EARLIEST_YEAR = 1990

_CLOCKS = (
    (ExifTags.Base.DateTimeOriginal, ExifTags.Base.OffsetTimeOriginal, None),
    (ExifTags.Base.DateTimeDigitized, ExifTags.Base.OffsetTimeDigitized, "of digitising"),
    (ExifTags.Base.DateTime, ExifTags.Base.OffsetTime, "of the last change"),
)


@dataclass(frozen=True)
class Clock:
    """The moment of the picture."""

    taken: str | None
    """ISO 8601, with the offset where it is known."""
    utc_offset: str | None
    """'+hh:mm' east of Greenwich, summer time included."""
    time_note: str | None
    """What is doubtful about the two; None where nothing is."""


def clock(tags: Tags) -> Clock:
    """Moment and offset, the offset told by the GPS clock where the tags leave it out.

    The local clock is kept as written even where the GPS clock contradicts it: ``time_note``
    then says by how much, in whole hours where it is a slip of the zone.
    """
    local, offset, source = _local(tags)
    gps = _gps_utc(tags)
    if local is None:
        if gps is None:
            return Clock(None, None, None)
        note = "The local clock is missing; the time is that of the GPS."
        return Clock(_iso(gps), "+00:00", note)
    notes = [f"The time is that {source}, not of the exposure."] if source else []
    if offset is None and gps is not None:
        offset = _usual_offset(local - gps.replace(tzinfo=None))
        if offset is None:
            notes.append(
                f"The offset from UTC is not told: local clock {local:%H:%M:%S}, "
                f"GPS {gps:%H:%M:%S} UTC."
            )
        else:
            notes.append("The offset from UTC follows from the GPS clock.")
    elif offset is not None and gps is not None:
        notes.extend(_slip(local - offset - gps.replace(tzinfo=None), gps))
    moment = local if offset is None else local.replace(tzinfo=timezone(offset))
    return Clock(
        _iso(moment), None if offset is None else _offset_text(offset), " ".join(notes) or None
    )


def _iso(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds" if moment.microsecond else "seconds")


def _offset_text(offset: timedelta) -> str:
    minutes = round(offset.total_seconds() / 60.0)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _local(tags: Tags) -> tuple[datetime | None, timedelta | None, str | None]:
    for when_key, offset_key, source in _CLOCKS:
        directory = tags.main if when_key == ExifTags.Base.DateTime else tags.camera
        written = text(directory.get(when_key))
        if not written.strip(" :0-"):
            continue
        moment = _moment(written)
        if moment is None:
            tags.notes.append(f"The time {written[:24]!r} in the photo is no date and time.")
            continue
        if source is None:
            moment += _fraction(tags.camera.get(ExifTags.Base.SubsecTimeOriginal))
        return moment, _offset(tags, offset_key), source
    return None, None, None


def _moment(written: str) -> datetime | None:
    match = _MOMENT.match(written)
    try:
        moment = datetime(*(int(part) for part in match.groups())) if match else None  # type: ignore[arg-type]
    except ValueError:
        return None
    return moment if moment is not None and moment.year >= _EARLIEST_YEAR else None


def _fraction(value: Any) -> timedelta:
    digits = text(value)
    if not re.fullmatch(r"[0-9]{1,9}", digits):
        return timedelta()
    return timedelta(milliseconds=int(float(f"0.{digits}") * 1000.0))


def _offset(tags: Tags, key: int) -> timedelta | None:
    written = text(tags.camera.get(key))
    if not written.strip(" :"):
        return None
    if written == "Z":
        return timedelta()
    match = _OFFSET.fullmatch(written)
    if match:
        sign, hours, minutes = match.groups()
        offset = timedelta(hours=int(hours), minutes=int(minutes))
        if offset <= _LARGEST_OFFSET and int(minutes) < 60:
            return -offset if sign == "-" else offset
    tags.notes.append(f"The offset {written[:12]!r} in the photo is no offset from UTC.")
    return None


def _gps_utc(tags: Tags) -> datetime | None:
    day = _DATE.match(text(tags.gps.get(0x1D)))
    stamp = tags.gps.get(7)
    if day is None or not isinstance(stamp, tuple | list) or len(stamp) != 3:
        return None
    parts = [number(part) for part in stamp]
    try:
        midnight = datetime(*(int(part) for part in day.groups()), tzinfo=UTC)  # type: ignore[arg-type, misc]
    except ValueError:
        return None
    if any(part is None or part < 0.0 for part in parts) or midnight.year < _EARLIEST_YEAR:
        return None
    hours, minutes, seconds = (part or 0.0 for part in parts)
    if hours >= 24.0 or minutes >= 60.0 or seconds > 60.0:
        tags.notes.append("The GPS time in the photo is absurd; it is left out.")
        return None
    return midnight + timedelta(hours=hours, minutes=minutes, seconds=int(seconds))


def _usual_offset(difference: timedelta) -> timedelta | None:
    quarters = round(difference / timedelta(minutes=15))
    offset = timedelta(minutes=15 * quarters)
    usual = quarters % 2 == 0 or quarters / 4.0 in _ODD_OFFSETS
    near = abs(difference - offset) <= _FRESH and abs(offset) <= _LARGEST_OFFSET
    return offset if usual and near else None


def _slip(ahead: timedelta, gps: datetime) -> list[str]:
    if abs(ahead) < _AGREES:
        return []
    way = "ahead of" if ahead > timedelta() else "behind"
    hours = round(ahead / timedelta(hours=1))
    stamp = f"the GPS clock ({gps:%Y-%m-%d %H:%M:%S} UTC)"
    if hours and abs(ahead - timedelta(hours=hours)) < _AGREES:
        unit = "hour" if abs(hours) == 1 else "hours"
        return [
            f"Local time and offset are {abs(hours)} {unit} {way} {stamp}: "
            "check the time zone and summer time."
        ]
    minutes = round(abs(ahead).total_seconds() / 60.0)
    return [f"Local time and offset are {minutes} minutes {way} {stamp}: check the clock."]
