"""What is missing in a valid survey and what to do next, in the order of the work.

Each finding is one sentence and, where there is one, a command that mends it. Looking for power
lines comes first: it is done before anything is carried onto a roof.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from skyview.errors import InputError, SkyviewError
from skyview.photo.facts import read_header
from skyview.place.channels import channels_of, probably_virtual
from skyview.survey.cameras import camera_of, digest_of
from skyview.survey.check_budget import budget_findings
from skyview.survey.check_places import place_findings
from skyview.survey.finding import Command, Finding, some
from skyview.survey.models import Survey, View
from skyview.survey.places import doubtful_places
from skyview.survey.screens import screens_of
from skyview.survey.storage import photo_path

FEW_MARKS = 2
"""Fewer marks than this leave yaw or scale to what was known before."""

_GIVE_AZIMUTH = frozenset({"landmark", "bearing", "sun", "shadow", "station", "tie"})


def check(survey: Survey, folder: str | Path) -> list[Finding]:
    """What to do next with this survey, which lies in ``folder``: an empty list when nothing.

    Reads the headers of the photographs; raises nothing that a valid survey can cause.
    """
    command = Command(folder)
    return [
        *_safety(survey, command),
        *place_findings(survey, command),
        *_spots(survey, command),
        *_views(survey, folder, command),
        *_site(survey, command),
        *_stations(survey, command),
        *_obstructions(survey, command),
        *budget_findings(survey, command),
        *_geometry(survey),
    ]


def _first_spot(survey: Survey) -> str:
    return shlex.quote(survey.spots[0].id) if survey.spots else "ID"


def _safety(survey: Survey, command: Command) -> Iterator[Finding]:
    if not survey.limits.lines_checked:
        yield Finding(
            "missing",
            "limits.lines_checked",
            "Nobody has noted that power lines were looked for; do that before anything else, "
            "and keep every mast and ladder clear of them as the local code says.",
            command.set("limits.lines_checked", "yes"),
        )


def _spots(survey: Survey, command: Command) -> Iterator[Finding]:
    if not survey.spots:
        yield Finding(
            "missing",
            "spots",
            "There is no spot where an antenna may stand.",
            command.add("spots", '{"id": "ID", "enu_m": [EAST, NORTH, UP], "heights_m": [1.5]}'),
        )


def _views(survey: Survey, folder: str | Path, command: Command) -> Iterator[Finding]:
    if not survey.views:
        yield Finding(
            "missing",
            "views",
            "There is no photograph of the view.",
            f"skyview photo FILE --into {command.folder} --spot {_first_spot(survey)}",
        )
    for view in survey.views:
        yield from _photo(view, folder, command)
        yield from _marks(survey, view, command)


def _photo(view: View, folder: str | Path, command: Command) -> Iterator[Finding]:
    field = f"views.{view.id}.photo"
    try:
        path = photo_path(folder, view)
        if not path.exists():
            yield Finding(
                "missing",
                field,
                f"The photograph {view.photo} of view {view.id} is not in the survey's folder.",
                command.set(field, "photos/NAME.jpg"),
            )
            return
        facts = read_header(path)
    except (SkyviewError, OSError) as error:
        message = error.message if isinstance(error, SkyviewError) else str(error.strerror)
        yield Finding(
            "missing",
            field,
            f"The photograph {view.photo} of view {view.id} cannot be used: {message}.",
            command.set(field, "photos/NAME.jpg"),
        )
        return
    size = (facts.width_px, facts.height_px)
    if size != view.size_px:
        yield Finding(
            "warning",
            f"views.{view.id}.size_px",
            f"The photograph {view.photo} is {size[0]} x {size[1]} px upright, but view {view.id} "
            f"says {view.size_px[0]} x {view.size_px[1]}; marks and outlines may lie wrong.",
            command.set(f"views.{view.id}.size_px", f"[{size[0]}, {size[1]}]"),
        )


def _marks(survey: Survey, view: View, command: Command) -> Iterator[Finding]:
    marks = [mark for mark in survey.marks if mark.view == view.id]
    add = f"skyview mark point {command.folder} {shlex.quote(view.id)} X Y --landmark ID"
    if not marks:
        sentence = f"View {view.id} has no marks: nothing ties its pixels to compass directions."
        yield Finding("missing", "marks", sentence, add)
    elif not any(mark.kind in _GIVE_AZIMUTH for mark in marks):
        sentence = f"No mark of view {view.id} tells its azimuth; level and plumb marks do not."
        yield Finding("missing", "marks", sentence, add)
    elif len(marks) < FEW_MARKS:
        sentence = f"View {view.id} has one mark; a second far from it would fix the scale too."
        yield Finding("warning", "marks", sentence, add)
    if view.taken is None and any(mark.kind in ("sun", "shadow") for mark in marks):
        yield Finding(
            "missing",
            f"views.{view.id}.taken",
            f"View {view.id} has marks by the sun but no time at which it was taken.",
            command.set(f"views.{view.id}.taken", "2026-06-01T14:05:00+00:00"),
        )
    frames = {frame.file for frame in view.frames}
    for mark in marks:
        if mark.frame is not None and mark.frame not in frames:
            yield Finding(
                "warning",
                f"marks.{mark.id}.frame",
                f"Mark {mark.id} names the frame {mark.frame}, which view {view.id} does not have.",
                command.set(f"marks.{mark.id}.frame", "FILE"),
            )
    digest = view.calibration.digest if view.calibration else ""
    if digest and digest != digest_of(survey, view):
        yield Finding(
            "warning",
            f"views.{view.id}.calibration",
            f"View {view.id} or its marks changed since it was calibrated.",
            f"skyview calibrate {command.folder} {shlex.quote(view.id)}",
        )
    if marks and view.calibration is None:
        yield Finding(
            "missing",
            f"views.{view.id}.calibration",
            f"View {view.id} is not calibrated yet.",
            f"skyview calibrate {command.folder}",
        )


def _site(survey: Survey, command: Command) -> Iterator[Finding]:
    for field, sentence in doubtful_places(survey):
        yield Finding(
            "warning",
            field,
            sentence[0].upper() + sentence[1:] + ("" if sentence.endswith("?") else "."),
            command.set(field, "DEGREES"),
        )
    if survey.site.ground_amsl_m is None:
        yield Finding(
            "warning",
            "site.ground_amsl_m",
            "How high the ground lies above the sea is not known; elevations of near stations "
            "and landmarks are uncertain without it.",
            command.set("site.ground_amsl_m", "METRES"),
        )
    zone = survey.site.time_zone
    if zone is not None and not _is_time_zone(zone):
        yield Finding(
            "warning",
            "site.time_zone",
            f"The time zone {zone} is not known on this computer.",
            command.set("site.time_zone", "UTC"),
        )


def _is_time_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def _stations(survey: Survey, command: Command) -> Iterator[Finding]:
    if not survey.stations:
        yield Finding(
            "missing",
            "stations",
            "There are no stations.",
            f"skyview stations {command.folder} LIST.csv",
        )
    plan = survey.site.channel_plan
    known = frozenset(channels_of(plan))
    by_channel: dict[int, list[str]] = {}
    for station in survey.stations:
        by_channel.setdefault(station.rf_channel, []).append(station.id)
    for channel, ids in by_channel.items():
        field = f"stations.{ids[0]}.rf_channel"
        mend = command.set(field, "CHANNEL")
        if bool(probably_virtual(plan, channel)):
            sentence = (
                f"Channel {channel} of {some(ids)} is probably a virtual channel; "
                "the RF channel is the one on the air."
            )
            yield Finding("warning", field, sentence, mend)
        elif channel not in known:
            sentence = f"Channel {channel} of {some(ids)} is not in the plan {plan}."
            yield Finding("warning", field, sentence, mend)


def _obstructions(survey: Survey, command: Command) -> Iterator[Finding]:
    if not survey.obstructions:
        yield Finding(
            "note",
            "obstructions",
            "No obstruction is marked: every path will count as clear of trees and walls.",
            command.outline("ID", "--kind tree --distance METRES "),
        )
    seen_in, distant = _views_of(survey), []
    for thing in survey.obstructions:
        name, hazard = f"obstructions.{thing.id}", thing.kind == "power_line"
        if hazard and thing.line_enu_m is None:
            yield Finding(
                "missing",
                f"{name}.line_enu_m",
                f"Where the power line {thing.id} runs is not known; treat it as within reach.",
                command.set(f"{name}.line_enu_m", "[[EAST, NORTH, UP], [EAST, NORTH, UP]]"),
            )
        if hazard:
            continue
        views = seen_in.get(thing.id, set())
        placed = thing.enu_m is not None or len(views) > 1
        if thing.distance_m is None and thing.enu_m is None and placed:
            yield Finding(
                "note",
                f"{name}.distance_m",
                f"The distance of {thing.id} is not known: its views place it, roughly.",
                f"skyview mark distance {command.folder} {shlex.quote(thing.id)} --keep",
            )
        if thing.distance_m is None and not placed:
            distant.append(thing.id)
        elif thing.distance_from is None and thing.enu_m is None and thing.distance_m is not None:
            yield Finding(
                "warning",
                f"{name}.distance_from",
                f"From which view the distance of {thing.id} counts is not known.",
                command.set(f"{name}.distance_from", min(views, default="VIEW")),
            )
        if not views:
            yield Finding(
                "missing",
                "outlines",
                f"The obstruction {thing.id} has no outline in any view.",
                command.outline(shlex.quote(thing.id)),
            )
    if distant:
        field = f"obstructions.{distant[0]}.distance_m"
        sentence = f"The distance of {some(distant)} is not known."
        yield Finding("missing", field, sentence, command.set(field, "METRES"))


def _geometry(survey: Survey) -> Iterator[Finding]:
    """What the geometry refuses: the sentence that an assessment would end with."""
    try:
        screens_of(survey, {view.id: camera_of(survey, view) for view in survey.views})
    except InputError as error:
        sentence = error.message[0].upper() + error.message[1:] + "."
        yield Finding("missing", error.field or "views", sentence, error.mend)


def _views_of(survey: Survey) -> dict[str, set[str]]:
    """For each obstruction the views that it is outlined in."""
    views: dict[str, set[str]] = {}
    for outline in survey.outlines:
        views.setdefault(outline.obstruction, set()).add(outline.view)
    return views
