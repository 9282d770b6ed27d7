"""A survey with the stations of another list, everything else as it was."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from skyview.survey.cameras import digest_of, solve
from skyview.survey.lists.merging import updated
from skyview.survey.lists.reading import Record
from skyview.survey.models import Survey, validate


def relisted(survey: Survey, records: Sequence[Record], others: bool) -> Survey:
    """The survey with the stations of these records, a copy.

    A station that the survey has already takes what its record tells and keeps the rest, as
    ``must_have``. One that no record names is left out, unless ``others`` keeps those. A view
    whose marks name a station that is left out keeps the pose that it had.

    Raises InputError where the new stations break the survey's rules.
    """
    data = survey.model_dump(exclude_unset=True)
    stations = updated({s["id"]: s for s in data.get("stations", [])}, records)
    named = {record["id"] for record in records}
    gone = set() if others else set(stations) - named
    data["stations"] = [station for name, station in stations.items() if name not in gone]
    if gone:
        _forget(survey, data, gone)
    new = validate(data)
    return new if survey.folder is None else new.kept_in(survey.folder)


def _forget(survey: Survey, data: dict[str, Any], gone: set[str]) -> None:
    """Take out what names stations that are gone, from the plain data of a survey."""
    data["promises"] = [p for p in data.get("promises", []) if p["station"] not in gone]
    lost = {mark.id for mark in survey.marks if mark.station in gone}
    if not lost:
        return
    for view, plain in zip(survey.views, data["views"], strict=True):
        pose = view.calibration
        if pose is None or (pose.digest and pose.digest != digest_of(survey, view)):
            pose, _ = solve(survey, view)
        # Without a digest it is taken as it is, whatever becomes of the marks.
        plain["calibration"] = pose.model_copy(update={"digest": ""}).model_dump()
    size = 0
    while len(lost) > size:
        size = len(lost)
        lost |= {mark.id for mark in survey.marks if mark.other in lost}
    data["marks"] = [mark for mark in data["marks"] if mark["id"] not in lost]
