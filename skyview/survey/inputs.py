"""What a view's calibration rests on: its day, the declination, the views it shares marks with."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from skyview.place.declination import Declination, decimal_year, declination
from skyview.survey.models import Survey, View


def day_of(view: View | None) -> date:
    """The day a view was taken, else today."""
    if view is not None and view.taken:
        return datetime.fromisoformat(view.taken).date()
    return datetime.now(UTC).date()


def declination_of(survey: Survey, view: View | None = None) -> Declination:
    """Declination at the site on the view's day, else on that of the first dated view."""
    dated = view or next((v for v in survey.views if v.taken), None)
    site = survey.site
    return declination(
        site.latitude_deg,
        site.longitude_deg,
        site.ground_amsl_m or 0.0,
        decimal_year(day_of(dated)),
    )


def moment_of(survey: Survey, view: View) -> datetime | None:
    """When a view was taken, with its offset from UTC; None where that is not known.

    A time without an offset is in the site's time zone.
    """
    if view.taken is None:
        return None
    moment = datetime.fromisoformat(view.taken)
    if moment.tzinfo is None and survey.site.time_zone:
        try:
            moment = moment.replace(tzinfo=ZoneInfo(survey.site.time_zone))
        except (ZoneInfoNotFoundError, ValueError, OSError):
            return None
    return moment if moment.tzinfo is not None else None


def joined_views(survey: Survey, view: View) -> list[View]:
    """The view and those that share landmarks, masts or ties with it, directly or by others.

    They are solved together, because they share those things' errors. The view comes first.
    """
    things: dict[str, set[str]] = {v.id: set() for v in survey.views}
    by_id = {mark.id: mark for mark in survey.marks}
    for mark in survey.marks:
        if mark.kind == "landmark":
            things[mark.view].add(f"landmark {mark.landmark}")
        elif mark.kind == "station":
            things[mark.view].add(f"station {mark.station}")
        elif mark.kind == "tie" and mark.other in by_id:
            tie = f"tie {' '.join(sorted((mark.id, mark.other)))}"
            things[mark.view].add(tie)
            things[by_id[mark.other].view].add(tie)
    found, shared = [view.id], set(things[view.id])
    grown = True
    while grown:
        near = [n for n, own in things.items() if n not in found and own & shared]
        found += near
        shared = shared.union(*(things[n] for n in near))
        grown = bool(near)
    rank = {name: place for place, name in enumerate(found)}
    return sorted((v for v in survey.views if v.id in rank), key=lambda v: rank[v.id])


def calibration_inputs(survey: Survey, view: View) -> dict[str, object]:
    """All that a calibration of this view rests on."""
    views = joined_views(survey, view)
    names = {v.id for v in views}
    marks = [m for m in survey.marks if m.view in names]
    landmarks = {m.landmark for m in marks}
    stations = {m.station for m in marks if m.station}
    in_frames = [v for v in views if any(m.frame and m.view == v.id for m in marks)]
    spread = [v.frames_sigma_deg for v in views]
    inputs: dict[str, object] = {
        "site": survey.site.model_dump(
            include={
                "latitude_deg",
                "longitude_deg",
                "position_sigma_m",
                "ground_amsl_m",
                "time_zone",
            }
        ),
        "views": [
            v.model_dump(
                exclude={
                    "calibration",
                    "photo",
                    "spot",
                    "leaf",
                    "frames",
                    "frames_yaw_deg",
                    "frames_sigma_deg",
                }
            )
            for v in views
        ],
        "swept": [not v.frames for v in views],
        "marks": [m.model_dump() for m in marks],
        "landmarks": [t.model_dump() for t in survey.landmarks if t.id in landmarks],
        "stations": [
            s.model_dump(include={"id", "latitude_deg", "longitude_deg", "antenna_amsl_m"})
            for s in survey.stations
            if s.id in stations
        ],
    }
    # Only where there are any: what was calibrated before frames were known stays fresh.
    if in_frames:
        inputs["frames"] = [
            v.model_dump(include={"id", "frames", "frames_yaw_deg"}) for v in in_frames
        ]
    if any(spread):
        inputs["frames_sigma_deg"] = spread
    return inputs


def digest_of(survey: Survey, view: View) -> str:
    """A short digest of the calibration's inputs, so that a stale one is noticed."""
    text = json.dumps(calibration_inputs(survey, view), sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
