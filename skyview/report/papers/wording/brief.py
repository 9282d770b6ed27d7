"""Wording of the brief: what to expect of a roof before anybody has been there."""

from __future__ import annotations

from collections.abc import Sequence

from skyview.photo import capture
from skyview.report.figures import bearing, day, number, time_zone
from skyview.report.papers.blocks import Step
from skyview.report.papers.wording.shared import BANDS, counted, sentence, some
from skyview.report.reception_words import listed
from skyview.survey.results import ReceptionWord

TITLE = "Before the visit"
DESCRIPTION = "What to expect of a roof, what to photograph and what to load"
HEADS = ("Station", "Channel", "True", "Compass", "Distance", "Free margin", "At best")
TABLE = "With nothing in the way, the antenna turned to each"
HOPELESS = "What no roof cures."
SECTORS = "Photograph these sectors"
SWEEP = "One full turn at eye height from the likely spot is best; these directions must be in it."
WHOLE_CIRCLE = "Photograph the whole circle, at eye height, from the likely spot."
LANDMARKS = "Landmarks worth a click"
MASTS = "Masts in the table,"
SUN = "The sun"
NO_SUN = "The sun does not rise that day."
VAN = "Load into the van"
LINES = (
    "Power lines and edges",
    "Before anything is carried up: look for power lines from the ground, on every side and at "
    "the drop to the house. Nothing is raised where it could fall on one; fall protection and a "
    "tied ladder come before the first picture.",
)
SUN_HEADS = ("Hour", "True", "Compass", "High", "In the lens towards")


def lead(stations: int, free_sure: int) -> str:
    """How many stations, and how many would be sure with nothing in the way.

    >>> lead(12, 9)
    'Twelve stations are on the list; with nothing in the way nine would be sure.'
    """
    verb = "is" if stations == 1 else "are"
    text = f"{counted(stations, 'station')} {verb} on the list"
    none = "none" if free_sure == 0 else counted(free_sure)
    return sentence(f"{text}; with nothing in the way {none} would be sure")


def for_day(iso: str) -> str:
    """The day of the visit.

    >>> for_day("2026-06-01")
    'For a visit on 1 June 2026'
    """
    return f"For a visit on {day(iso)}"


def hour(of_day: int) -> str:
    """A full hour.

    >>> hour(9)
    '9:00'
    """
    return f"{of_day}:00"


def must(station: str, must_have: bool) -> str:
    """A station's name in the brief's table; an asterisk where it is a must have."""
    return f"{station} *" if must_have else station


def free_word(free: ReceptionWord, hopeless: bool, beyond: bool) -> str:
    """The word with nothing in the way."""
    text = "no roof cures it" if hopeless else str(free)
    return f"{text}, beyond horizon" if beyond and not hopeless else text


def margin_note(height_m: float, known: bool) -> str:
    """What the free margin rests on."""
    height = number(height_m, 1).removesuffix(".0")
    taken = "as the survey says" if known else "no roof is measured yet"
    return (
        f"* must have. Middle of the estimate for an antenna {height} m above the ground "
        f"({taken}), of the gain that planning assumes; half of all estimates lie lower, and "
        "trees and buildings only take away."
    )


def hopeless(stations: Sequence[str]) -> str:
    """Stations that even a free view does not bring."""
    if not stations:
        return "Nothing on the list is out of reach for good."
    return (
        f"{some(stations, 16)}: even with a free view and the antenna turned there, fewer than 2 "
        "chances in 10. Promise nothing."
    )


def sector_head(low: str, high: str) -> str:
    """A sector, true."""
    return f"{low} to {high} true"


def sector_text(low: str, high: str, stations: Sequence[str]) -> str:
    """A sector by compass, and who lies in it."""
    return f"({low} to {high} by compass): {some(stations, 8)}."


def seen_text(true: str, compass: str, distance_km: float) -> str:
    """Where a landmark is looked for."""
    return f"{true} true, {compass} by compass, {number(distance_km, 1)} km."


def masts_text(stations: Sequence[str]) -> str:
    """Transmitters near enough to be seen; where they lie stands in the table of stations."""
    return f"if seen: {some(stations, 3)}."


def landmark_advice(some: bool) -> str:
    """What else makes a landmark."""
    head = "Besides these: any" if some else "Any"
    apart = f"{capture.LANDMARKS_APART_DEG:g}°"
    return (
        f"{head} spire, chimney, water tower or mast that a map shows, {capture.LANDMARKS} or "
        f"more, {apart} or more apart, best some hundred metres off. Look up the heights of their "
        "tops before you go."
    )


def sun_note(zone: str, known: bool) -> str:
    """Which clock the hours are."""
    if known:
        return f"Hours in {time_zone(zone)}. Never look at the sun, nor through the lens at it."
    return (
        "Hours in UTC, since the survey names no time zone (site.time_zone). Never look at the "
        "sun, nor through the lens at it."
    )


def strip_alt(stations: Sequence[tuple[str, float, str]]) -> str:
    """The strip in words."""
    texts = [f"{name} at {bearing(azimuth)}: {free}" for name, azimuth, free in stations]
    return f"Stations by bearing, with nothing in the way: {'; '.join(texts)}."


def strip_caption(unnamed: Sequence[str], sun: bool, shaded: bool) -> str:
    """How to read the strip."""
    text = (
        "Poles: double sure, single likely, dashed doubtful, cut no, dotted unknown, all with "
        "nothing in the way."
    )
    text += " Shaded: to photograph." if shaded else ""
    text += " Rings along the top: the sun by the hour." if sun else ""
    return f"{text} Without room for a name: {some(unnamed)}." if unnamed else text


def van_steps(bands: Sequence[str], weak: bool, sets: int) -> tuple[Step, ...]:
    """What to load, by what the list of stations asks for."""
    named = listed([BANDS[b] for b in bands]) or "the bands of the list"
    steps = [
        Step(f"Antenna for {named}; mast, mount, guys"),
        Step("Coax, connectors, dielectric grease, weather boots"),
        Step("Grounding block, ground conductor, clamps"),
        Step("Sealant, lag screws, 7/16 in (11 mm) wrench, level, drill"),
        Step("Harness and anchor, ladder ties, helmet, gloves"),
        Step("Telephone, full; compass; laser or tape; spirit level; roof card"),
        Step("Receiver or meter for the scan"),
    ]
    if sets > 1:
        steps.insert(2, Step(f"Splitter for {sets} sets"))
    if weak:
        steps.insert(2, Step("Preamplifier, and a filter if a mobile-phone mast is near"))
    return tuple(steps)
