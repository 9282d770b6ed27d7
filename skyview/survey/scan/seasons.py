"""Whether trees were in leaf on the day of a scan, and when to look again."""

from __future__ import annotations

from datetime import date, datetime

from skyview.survey.scene import Leaf

TROPICS_DEG = 23.5
"""Nearer to the equator leaves do not follow the sun's year."""

_BARE = ((11, 20), (3, 31))
_LEAFY = ((5, 20), (10, 10))
"""Days between which broadleaves of middle northern latitudes are bare or in full leaf: common
practice, no source; half a year later in the south."""

AGAIN = (6, 15)
"""Day to look again once the leaves are out, north; half a year later in the south."""


def leaf_on(taken: str | None, latitude_deg: float) -> Leaf | None:
    """In leaf, out of leaf, or None where the day does not tell.

    >>> leaf_on("2026-01-20", 45.0), leaf_on("2026-01-20", -35.0), leaf_on("2026-04-20", 45.0)
    ('out', 'in', None)
    """
    if taken is None or abs(latitude_deg) < TROPICS_DEG:
        return None
    when = datetime.fromisoformat(taken)
    month = when.month if latitude_deg > 0.0 else (when.month + 5) % 12 + 1
    day = (month, when.day)
    if _LEAFY[0] <= day <= _LEAFY[1]:
        return "in"
    return "out" if day >= _BARE[0] or day <= _BARE[1] else None


def again_on(taken: str | None, latitude_deg: float) -> date | None:
    """The next day after ``taken`` on which leaves are surely out; None where no day tells.

    >>> again_on("2026-01-20T10:00:00", 45.0).isoformat(), again_on("2026-08-01", -35.0).isoformat()
    ('2026-06-15', '2026-12-15')
    """
    if taken is None or abs(latitude_deg) < TROPICS_DEG:
        return None
    when = datetime.fromisoformat(taken).date()
    month = AGAIN[0] if latitude_deg > 0.0 else AGAIN[0] + 6
    here = date(when.year, month, AGAIN[1])
    return here if here > when else date(when.year + 1, month, AGAIN[1])
