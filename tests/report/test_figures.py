"""Figures as people read them; fixed time zones against the offsets that the computer keeps."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest

from skyview.report.figures import time_zone

FIXED = sorted(name for name in available_timezones() if name.rpartition("/")[2][:4] in
               ("GMT0", "GMT+", "GMT-"))  # fmt: skip


@pytest.mark.parametrize("name", FIXED)
def test_a_fixed_zone_is_told_by_its_offset(name: str) -> None:
    offset = datetime(2026, 6, 1, tzinfo=ZoneInfo(name)).utcoffset()
    sign, _, hours = time_zone(name).replace("−", "-").partition("UTC")
    assert sign == ""
    assert timedelta(hours=int(hours or 0)) == offset


@pytest.mark.parametrize("name", ["UTC", "Europe/Oslo", "Pacific/Auckland", "EST", "Etc/Zulu"])
def test_a_named_zone_keeps_its_name(name: str) -> None:
    assert time_zone(name) == name


def test_west_of_greenwich_has_the_typographic_minus() -> None:
    assert time_zone("Etc/GMT+8") == "UTC−8"
