"""Figures as people read them: rounded, signed, with their unit.

A minus sign is the typographic one; tables for other programs use the plain hyphen.
"""

from __future__ import annotations

import re
from datetime import datetime


def number(value: float, digits: int = 0, sign: bool = False) -> str:
    """A figure with the typographic minus and never "minus zero".

    >>> number(-4.26, 1), number(-0.01, 1), number(3, sign=True)
    ('−4.3', '0.0', '+3')
    """
    rounded = round(value, digits) + 0.0
    text = f"{rounded:+.{digits}f}" if sign and rounded != 0 else f"{rounded:.{digits}f}"
    return text.replace("-", "−")


def bearing(degrees: float, digits: int = 0) -> str:
    """An azimuth in 0..360 with its degree sign.

    >>> bearing(359.97, 1), bearing(-10)
    ('0.0°', '350°')
    """
    return f"{round(degrees % 360.0, digits) % 360.0:.{digits}f}°"


def elevation(degrees: float) -> str:
    """An elevation on the scale, whole degrees, with its sign.

    >>> elevation(10), elevation(-10), elevation(0)
    ('+10°', '−10°', '0°')
    """
    return f"{number(degrees, sign=True)}°"


def metres(value_m: float) -> str:
    """A length: whole metres from 10 m on, tenths below.

    >>> metres(8.43), metres(118.6)
    ('8.4 m', '119 m')
    """
    return f"{number(value_m, 0 if abs(value_m) >= 9.95 else 1)} m"


def spread(sigma_deg: float) -> str:
    """One sigma as people say it, at least a hundredth of a degree.

    >>> spread(0.62), spread(0.041)
    ('±0.6°', '±0.04°')
    """
    return f"±{sigma_deg:.1f}°" if sigma_deg >= 0.095 else f"±{max(sigma_deg, 0.01):.2f}°"


def day(taken: str | None) -> str | None:
    """The day of an ISO 8601 moment as people write it.

    >>> day("2026-06-01T14:05:00+00:00")
    '1 June 2026'
    """
    if taken is None:
        return None
    when = datetime.fromisoformat(taken)
    months = "January February March April May June July August September October November December"
    return f"{when.day} {months.split()[when.month - 1]} {when.year}"


def time_zone(name: str) -> str:
    """A time zone as people read it: fixed ones by their offset from UTC, others by their name.

    Names as in ``Etc/GMT+8`` count west of Greenwich as positive, against all custom.

    >>> time_zone("Etc/GMT+8"), time_zone("Etc/GMT-10"), time_zone("Europe/Oslo")
    ('UTC−8', 'UTC+10', 'Europe/Oslo')
    """
    fixed = re.fullmatch(r"(?:Etc/)?GMT([+-]?\d+)", name)
    if fixed is None:
        return name
    hours = -int(fixed[1])
    return f"UTC{number(hours, sign=True)}" if hours else "UTC"
