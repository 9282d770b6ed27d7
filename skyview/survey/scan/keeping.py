"""Scans kept in the survey with their dates, and the site's own correction taken from one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from skyview.errors import InputError
from skyview.survey.json_text import plain
from skyview.survey.lists.scans import major_part
from skyview.survey.models import Survey, validate
from skyview.survey.scan.answer import ScanAnswer


def rf_of_virtual(survey: Survey) -> dict[str, int]:
    """RF channel by the major part of the virtual channel of the survey's wanted stations."""
    found: dict[str, int] = {}
    for station in survey.stations:
        if station.virtual_channel is not None and station.role == "wanted":
            found.setdefault(major_part(station.virtual_channel), station.rf_channel)
    return found


def with_scan(survey: Survey, scan: Mapping[str, Any]) -> tuple[Survey, int, bool]:
    """The survey with one more scan, its number, and whether it took an older one's place.

    A scan of the same moment, antenna and place replaces what was kept of it. InputError where it
    is not valid.
    """
    data = plain(survey)
    kept = data.setdefault("scans", [])
    mine = _name_of(scan)
    number = next((i for i, old in enumerate(kept) if _name_of(old) == mine), len(kept))
    replaced = number < len(kept)
    kept[number : number + 1] = [dict(scan)]
    return validate(data), number, replaced


def _name_of(scan: Mapping[str, Any]) -> tuple[Any, ...]:
    return scan.get("taken"), scan.get("antenna"), scan.get("at", "set")


def with_missing(rows: Sequence[Mapping[str, Any]], survey: Survey) -> list[dict[str, Any]]:
    """The rows and one, not received, for each wanted station's channel that they leave out."""
    found = [dict(row) for row in rows]
    told = {row["rf_channel"] for row in found}
    for station in survey.stations:
        if station.role == "wanted" and station.rf_channel not in told:
            told.add(station.rf_channel)
            found.append({"rf_channel": station.rf_channel, "received": False})
    return found


def with_offset(survey: Survey, answer: ScanAnswer) -> Survey:
    """The survey with the scan's common offset as the site's own correction.

    InputError where the scan tells none, or the line was not cleared.
    """
    if answer.offset_db is None:
        raise InputError(
            "the scan tells no offset: it holds no strength in dBm",
            field="site.field_offset_db",
            mend="measure with a meter that reads dBm, dBuV or dBmV",
        )
    if not answer.line_cleared:
        raise InputError(
            "the line is not cleared, and a bad connector leaves the same levels as a weak field",
            field="site.field_offset_db",
            mend="measure the same channels at the antenna's terminals, or over a short cable of "
            "known loss in place of the line, and read that in with --at terminals; or say "
            "--line-cleared where that was done",
        )
    data = plain(survey)
    data["site"]["field_offset_db"] = round(answer.offset_db, 1)
    return validate(data)
