"""All wording of the papers, by code. A translation replaces these tables and nothing else.

Lines of work name their source, or say that they are common practice.
"""

from __future__ import annotations

from collections.abc import Sequence

from skyview.photo import capture
from skyview.report.figures import bearing, metres, number
from skyview.report.papers.blocks import Step
from skyview.report.reception_words import cause_text, chances, listed
from skyview.survey.results import Cause, ReceptionWord

PRACTICE = "common practice"

FOOT = (
    "Roof edges, ladders, masts, power lines, grounding and lightning: local codes and licensed "
    "people decide."
)

_COMPASS = (
    "north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest",
)  # fmt: skip
_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip


def compass_word(azimuth_deg: float) -> str:
    """The nearest of eight points of the compass.

    >>> compass_word(352.0), compass_word(97.0)
    ('north', 'east')
    """
    return _COMPASS[round(azimuth_deg / 45.0) % 8]


def counted(number_of: int, thing: str = "") -> str:
    """A number in letters where it is small, with its thing in the right number.

    >>> counted(1, "station"), counted(14, "station"), counted(3)
    ('one station', '14 stations', 'three')
    """
    word = _NUMBERS[number_of] if number_of < len(_NUMBERS) else str(number_of)
    return f"{word} {thing}{'' if number_of == 1 else 's'}" if thing else word


def some(names: Sequence[str], most: int = 12) -> str:
    """The first few of some names.

    >>> some(["QA", "QB", "QC"], 2)
    'QA, QB and 1 more'
    """
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return f"{', '.join(names[:most])}{more}"


def sentence(text: str) -> str:
    """A part of a sentence as one of its own.

    >>> sentence("it is far away")
    'It is far away.'
    """
    return f"{text[:1].upper()}{text[1:]}." if text else ""


CARD_TITLE = "On the roof: what to photograph and measure"
CARD_LEAD = "One side, for gloves. Take the pictures now; mark them later, by the van."

CARD_FIRST = "Before you go up"
CARD_PICTURES = "Pictures"
CARD_DISTANCES = "Distances"
CARD_BEFORE_DOWN = "Before you come down"

CARD_CAUTIONS = {
    "edge": (
        "Roof edge and ladder",
        "Tie the ladder and yourself before you look through the telephone. Stand still when you "
        "look at the screen; walk only when you do not. Not in wind, rain, ice or thunder.",
    ),
    "lines": (
        "Power lines",
        "Look for them first: at the street, at the house, behind the trees. Keep ladder, mast, "
        "antenna and yourself clear of them; 3 m (10 ft) from lines to 50 kV and more above "
        "(29 CFR 1926.1408), 6 m where you do not know. Ask the utility. Touching one kills.",
    ),
}

CARD_STEPS_FIRST = (
    Step("Telephone: clean lens, GPS on, full battery, ordinary camera (no zoom, no wide lens)"),
    Step("Walk round the house: have power lines been looked for on every side?"),
    Step("Compass: away from metal, watch and magnets; draw an eight with it"),
)


def card_steps_pictures() -> tuple[Step, ...]:
    """The order of the pictures, with its figures.

    >>> card_steps_pictures()[0].text.split(",")[0]
    'At the likely spot'
    """
    low, high = capture.FRAMES
    return (
        Step(
            f"At the likely spot, at eye height, turn once round on it: {low} to {high} pictures, "
            f"each showing a third of the last again"
        ),
        Step(
            "Hold the telephone level and turn it about the lens, not at arm’s length; the "
            "horizon near the middle"
        ),
        Step(
            f"Second spot: {capture.SECOND_SPOT_M:g} m or more to the side of the doubtful "
            "direction, not towards it. Once round again, or at least that side"
        ),
        Step(
            "A line of level: sight along a spirit level at eye height and remember what it "
            "meets; or the sea"
        ),
        Step(
            f"Things to find on a map, {capture.LANDMARKS} or more, well apart: spire, chimney, "
            "water tower, mast. One picture each with zoom is welcome"
        ),
        Step("The sun in one picture, its time known, if nothing else can be found"),
    )


CARD_STEPS_DISTANCES = (
    Step("To each tree, wall and roof that stands in the way: laser, tape, or paces"),
    Step("How deep a crown is, how wide; is it in leaf?"),
    Step("The likely spots: from two edges of the roof, and above the ground"),
    Step("The place of the house’s grounding point and the way of the cable"),
)

CARD_STEPS_DOWN = (
    Step("Look through the pictures: sharp, no gap, no finger"),
    Step("Is there a cell mast near? Which way?"),
    Step("Say it to yourself: power lines looked for, yes or no"),
)

CARD_NOTED = "Noted on the roof"
CARD_BLANKS = (
    ("Thing", "Distance (m)", "How (laser, tape, paces)", "Seen from"),
    5,
)

JOB_TITLE = "Job sheet"
JOB_DESCRIPTION = "Where the antenna goes, which way it points, parts and order of work"
JOB_MOUNT = "The mount"
JOB_AIM = "The aim"
JOB_PARTS = "Parts"
JOB_CABLE = "Cable and ground"
JOB_WORK = "Order of work"
JOB_STATIONS = "What should come in"
JOB_LINES_FIRST = (
    "Power lines were not looked for",
    "Nobody has noted that they were, so this sheet names no spot and no aim. Look first, from "
    "the ground and on every side, note it in the survey, and print the sheet anew.",
)
JOB_REFUSED = "This place is refused: settle that before anything is carried up"
JOB_NO_ROOF = "The survey gives no edge of the roof: measure from two of them and note it here."
JOB_NO_AIM = "Turn the antenna while the meter reads the weakest station that must be had."
JOB_NO_THING = "nothing outlined or marked stands near; use a compass away from metal"

NFPA = "NFPA 70 (2023)"

JOB_CAUTIONS = {
    "edge": (
        "Fall protection",
        "Anchor and harness, or scaffold, before anything is carried up: from 1.8 m (6 ft) at an "
        "unprotected edge in construction (29 CFR 1926.501), elsewhere as local law says. Ladder "
        "at one to four, tied at the top, a metre above the eaves (common practice).",
    ),
    "lines": (
        "Power lines",
        "Nobody lifts mast, antenna or ladder where it could fall on a line. Keep at least the "
        "mast’s and antenna’s length and 3 m (10 ft) from lines to 50 kV, 6 m (20 ft) where the "
        "voltage is not known (29 CFR 1926.1408); the utility and local code decide. Touching one "
        "kills.",
    ),
    "weather": (
        "Weather and lightning",
        "Not in wind, rain or frost, and not while thunder is heard. A grounded mast is no "
        "lightning protection.",
    ),
    "ground": (
        "Bonding",
        "Mast and coax are bonded to the building’s grounding electrode system by whoever is "
        "licensed to do so; local code decides.",
    ),
}

JOB_STEPS = (
    Step("Look for power lines again, from where the mast will stand", "29 CFR 1926.1408"),
    Step("Find the rafter; mark its middle; drill so that the lag screws bite in it", PRACTICE),
    Step("Sealant under the mount’s foot and round every screw", PRACTICE),
    Step("Level the mount both ways before the mast goes in", PRACTICE),
    Step("Usual bolts take a 7/16 in (11 mm) wrench; tighten evenly", PRACTICE),
    Step("Mast in, antenna on; guys where the mast is taller than the mount allows", PRACTICE),
    Step("Aim at the thing in view that is named above; then tighten and look again", PRACTICE),
    Step(
        "Connectors: 7/16 in, snug and not forced; no strand of braid at the centre conductor; "
        "dielectric grease",
        PRACTICE,
    ),
    Step("Drip loop below every connection that rain can reach", PRACTICE),
    Step("Cable along the eaves, out of the water’s way, fastened, no sharp bend", PRACTICE),
    Step(
        "Mast bonded to the building’s grounding electrode system: 10 AWG copper, 17 AWG "
        "copper-clad steel, or as local code says, straight and fastened",
        f"{NFPA}, 810.15 and 810.21 (secondary text)",
    ),
    Step(
        "Coax grounding block near the entry, bonded to the same system",
        f"{NFPA}, 810.20 and 810.21 (secondary text)",
    ),
    Step("The conductor’s loop lies clockwise under its screw", PRACTICE),
    Step("Lead-in 0.6 m (2 ft) or more from open power conductors", f"{NFPA}, 810.13"),
    Step("A splitter of as many ways as there are sets; close what is not used", PRACTICE),
    Step("Scan the channels, write the levels down, compare them with this sheet", PRACTICE),
)

SHEET_TITLE = "What your roof can receive"
SHEET_DESCRIPTION = "Which stations this roof can receive, why, and what would help"
AIM_HERE = "the antenna points here"

GROUPS = {
    "promised": "Promised",
    "may_fade": "May fade",
    "not_planned": "Not as planned",
    "not_here": "Not from this roof",
    "cannot_tell": "Cannot tell",
}
"""Headings of the customer's columns. Not as planned: a change may bring it."""

_GROUP_COUNTED = {
    "promised": ("is promised", "are promised"),
    "may_fade": ("may fade", "may fade"),
    "not_planned": ("will not come in as planned", "will not come in as planned"),
    "not_here": ("will not come in from this roof", "will not come in from this roof"),
    "cannot_tell": ("cannot be told yet", "cannot be told yet"),
}

SHEET_NONE = "None."
SHEET_NOTHING_IN_WAY = "nothing of weight stands in its way"
SHEET_WEAK = "its transmitter is too weak for the distance"
SHEET_NO_CURE = "Nothing on this roof cures it."
SHEET_CHANGE = "A change would bring it; ask us."
SHEET_HELP_NONE = "Nothing was found that would help much."
SHEET_NO_PICTURE = "There is no photograph yet, so nothing can be promised."
SHEET_SURE = "How sure we are"
SHEET_SEASON = "Summer and winter"
SHEET_FIGURES = "For those who want the figures: decibels to spare, low, usual and high estimate"
SHEET_FIGURES_NOTE = (
    "Eight estimates in ten lie between low and high. The spread is of the estimate, not of the "
    "weather. Below 0 a station does not come in."
)
SHEET_HEADS = (
    "Station", "Channel", "Direction", "In the way", "Low", "Usual", "High", "Reception",
)  # fmt: skip
SHEET_BARS = "Each bar shows how far that alone pulls the station down."
SHEET_LEFT = "what is left"
SHEET_ENOUGH = "enough for a picture"
SHEET_NOTHING = "nothing"
SHEET_NOT_SEEN = "not photographed"
SHEET_HORIZON = "the horizon"
SHEET_ALL_SURE = "All the stations on your list should come in well."
SHEET_OTHERS_STAY = "Your other stations stay as they are."
SHEET_STRENGTH = (
    "How strong the stations arrive was worked out, not measured: that is the largest doubt. Of "
    "ten stations with 8 chances in 10, expect two to fail."
)
SHEET_ROUGH = (
    "The photographs do not yet tell directions well. Take this sheet as a draft until two things "
    "in them have been found on a map."
)


def asked_for(count: int, asked: bool, groups: dict[str, int]) -> str:
    """How many stations, and how many of them come in.

    >>> asked_for(3, True, {"promised": 2, "may_fade": 1})
    'You asked for three stations. Two are promised and one may fade.'
    """
    head = (
        f"You asked for {counted(count, 'station')}."
        if asked
        else f"You named no station that you must have; here {'is' if count == 1 else 'are'} "
        f"{'the one' if count == 1 else f'all {counted(count)}'} on the list."
    )
    parts = [
        f"{counted(n)} {_GROUP_COUNTED[group][n != 1]}" for group, n in groups.items() if n > 0
    ]
    return f"{head} {sentence(listed(parts))}"


def standing_at(spot: str, height_m: float, aim_deg: float | None, own: bool) -> str:
    """Where the antenna is and which way it points.

    >>> standing_at("ridge", 3.0, 352.0, True)
    'The antenna stands on “ridge”, 3 metres up, and points north.'
    """
    stands = "stands" if own else "would stand"
    text = f"The antenna {stands} on “{spot}”, {number(height_m, 1).removesuffix('.0')} metres up"
    if aim_deg is None:
        return f"{text}, and is taken as turned to each station in turn."
    return f"{text}, and point{'s' if own else 'ed'} {compass_word(aim_deg)}."


def seen_on(day: str | None) -> str:
    """The day of the photograph, and what promises hold for."""
    return f"Seen on {day}; told for trees in leaf" if day else "Told for trees in leaf"


def item_text(
    reception: ReceptionWord, probability: float | None, reasons: Sequence[str], end: str
) -> str:
    """Why a station stands in its column.

    >>> item_text("likely", 0.79, ["the building “block” stands in the way"], "")
    '8 chances in 10: the building “block” stands in the way.'
    """
    if reception == "sure":
        return sentence(f"it should come in, although {reasons[0]}" if reasons else
                        SHEET_NOTHING_IN_WAY)  # fmt: skip
    why = listed(reasons) or SHEET_WEAK
    if reception in ("likely", "doubtful") and probability is not None:
        return f"{chances(probability).capitalize()}: {why}. {end}".strip()
    return f"{sentence(why)} {end}".strip()


def why_heading(station: str) -> str:
    """Over what weakens one station."""
    return f"Why {station} is weak"


def help_heading(station: str) -> str:
    """Over what would help it."""
    return f"What would help {station}"


def circle(path: str, thing: str | None) -> str:
    """What the circle in the crop means, and what the thing does to it."""
    text = "The circle shows the space that its wave needs"
    if thing is None:
        return f"{text}; nothing that was outlined stands in it."
    does = {"blocked": "fills much of it", "through_trees": "grows into it"}
    return f"{text}; {thing} {does.get(path, 'touches it')}."


def left_over(margin_db: float) -> str:
    """How what is left compares with what is needed; no figures.

    >>> left_over(-2.0), left_over(5.0)
    ('not quite enough', 'enough, with little to spare')
    """
    if margin_db < -8.0:
        return "far from enough"
    if margin_db < 0.0:
        return "not enough" if margin_db < -3.0 else "not quite enough"
    return "enough, with little to spare" if margin_db < 10.0 else "enough"


def bars_alt(station: str, left: str, causes: Sequence[str]) -> str:
    """The bars in words."""
    text = f"Bars without units: for {station} what is left is {left}."
    return f"{text} Longest bar first: {', '.join(causes)}." if causes else text


_BAR = {
    "distance": "the distance",
    "terrain": "hills on the way",
    "pattern": "the transmitter",
    "surroundings": "houses and trees around",
    "aim": "the antenna’s direction",
    "band": "the antenna’s elements",
    "polarization": "how the rods lie",
    "line": "cable and splitters",
    "noise": "motors and mains nearby",
    "overload": "the amplifier, overloaded",
}


def bar_text(cause: Cause) -> str:
    """A cause beside its bar.

    >>> bar_text(Cause("line", 4.0)), bar_text(Cause("obstruction", 9.0, "oak", "broadleaf"))
    ('cable and splitters', 'the tree “oak”')
    """
    return _BAR.get(cause.code) or cause_text(cause)


def then(probability: float) -> str:
    """What a cure brings."""
    return f"Then {chances(probability)}."


def overview_alt(stations: Sequence[str], aim_deg: float | None) -> str:
    """The customer's picture in words."""
    text = f"The view from the roof with {some(stations)} where they lie"
    return text + (f"; the antenna points {compass_word(aim_deg)}." if aim_deg is not None else ".")


def overview_caption(unnamed: Sequence[str], outside: Sequence[str], aim_outside: bool) -> str:
    """What the picture does not show."""
    parts = []
    if unnamed:
        parts.append(f"Without room for a name: {some(unnamed, 6)}.")
    if outside:
        parts.append(f"Outside the picture: {some(outside, 6)}.")
    if aim_outside:
        parts.append("The antenna points outside the picture.")
    return " ".join(parts)


def crop_alt(station: str, thing: str | None) -> str:
    """The crop in words."""
    what = f"{thing}, outlined," if thing else "The sky and roofs"
    return f"{sentence(what)[:-1]} where {station} comes from, with the space its wave needs."


def directions_good(sigma_deg: float) -> str:
    """How well directions are known."""
    return (
        f"Directions in the picture are good to about {number(max(sigma_deg, 0.1), 1)} degrees; "
        "the moon is half a degree wide."
    )


def not_seen_behind(things: Sequence[str]) -> str:
    """What no photograph shows."""
    return f"What lies behind {listed(things)} cannot be seen in a photograph."


def season_change(station: str, now: str, then_group: str) -> str:
    """A station whose word changes when the leaves fall."""
    return (
        f"When the leaves fall, {station} moves from “{GROUPS[now].lower()}” to "
        f"“{GROUPS[then_group].lower()}”."
    )


SEASON_SAME = "When the leaves fall, nothing on your list changes."
SEASON_UNKNOWN = "Whether leaves matter cannot be told without a photograph."


def season_cost(thing: str, station: str, decibels: float) -> str:
    """What leaves cost, in words."""
    how = "a little" if decibels < 3.0 else "clearly" if decibels < 10.0 else "strongly"
    return f"In summer the leaves of {thing} weaken {station} {how}."


def direction(azimuth_deg: float) -> str:
    """A direction for the table of figures."""
    return bearing(azimuth_deg)


def in_the_way(name: str, distance_m: float | None) -> str:
    """A thing in the way for the table of figures."""
    return name if distance_m is None else f"{name}, {metres(distance_m)}"


BRIEF_TITLE = "Before the visit"
BRIEF_DESCRIPTION = "What to expect of a roof, what to photograph and what to load"
BRIEF_HEADS = ("Station", "Channel", "True", "Compass", "Distance", "Free margin", "At best")
BRIEF_TABLE = "With nothing in the way, the antenna turned to each"
BRIEF_HOPELESS = "What no roof cures"
BRIEF_SECTORS = "Photograph these sectors"
BRIEF_SWEEP = (
    "One full turn at eye height from the likely spot is best; these directions must be in it."
)
BRIEF_WHOLE_CIRCLE = "Stations lie all round: photograph the whole circle."
BRIEF_LANDMARKS = "Landmarks worth a click"
BRIEF_SUN = "The sun"
BRIEF_NO_SUN = "The sun does not rise that day."
BRIEF_VAN = "Load into the van"
BRIEF_LINES = (
    "Power lines and edges",
    "Before anything is carried up: look for power lines from the ground, on every side and at "
    "the drop to the house. Nothing is raised where it could fall on one; fall protection and a "
    "tied ladder come before the first picture.",
)
SUN_HEADS = ("Hour", "True", "Compass", "High", "In the lens towards")

BANDS = {"uhf": "UHF", "high_vhf": "high VHF", "low_vhf": "low VHF"}


def brief_lead(stations: int, free_sure: int) -> str:
    """How many stations, and how many would be sure with nothing in the way.

    >>> brief_lead(12, 9)
    'Twelve stations are on the list; with nothing in the way nine would be sure.'
    """
    verb = "is" if stations == 1 else "are"
    text = f"{counted(stations, 'station')} {verb} on the list"
    none = "none" if free_sure == 0 else counted(free_sure)
    return sentence(f"{text}; with nothing in the way {none} would be sure")


def for_day(iso: str) -> str:
    """The day of the visit."""
    return f"For a visit on {iso}"


def hour(of_day: int) -> str:
    """A full hour.

    >>> hour(9)
    '9:00'
    """
    return f"{of_day}:00"


def must(station: str, must_have: bool) -> str:
    """A station's name in the brief's table; an asterisk where it must be had."""
    return f"{station} *" if must_have else station


def free_word(free: ReceptionWord, hopeless: bool, beyond: bool) -> str:
    """The word with nothing in the way."""
    text = "no roof cures it" if hopeless else str(free)
    return f"{text}, beyond horizon" if beyond and not hopeless else text


def brief_margin_note(height_m: float, known: bool) -> str:
    """What the free margin rests on."""
    height = number(height_m, 1).removesuffix(".0")
    taken = "as the survey says" if known else "no roof is measured yet"
    return (
        f"* must be had. Middle of the estimate for an antenna {height} m above the ground "
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


def seen_text(true: str, compass: str, distance_km: float, mast: bool) -> str:
    """Where a landmark or a mast is looked for."""
    what = "transmitter’s mast, if it can be seen: " if mast else ""
    return f"{what}{true} true, {compass} by compass, {number(distance_km, 1)} km."


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
        return f"Hours in {zone}. Never look at the sun, nor through the lens at it."
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


def spot_facts(
    spot: str, height_m: float, mast_m: float, lengths: Sequence[tuple[str, float, float]]
) -> tuple[tuple[str, str], ...]:
    """Where the mast stands; ``lengths`` are edges of the roof by side: distance, its sigma."""
    facts = [
        ("Spot", f"“{spot}”"),
        ("Antenna above it", f"{number(height_m, 1)} m"),
        ("Mast without guys up to", f"{number(mast_m, 1)} m"),
    ]
    for side, distance, length in lengths:
        facts.append(
            (
                f"To the edge in the {side}",
                f"{number(distance, 2)} m, measured level (edge {number(length, 1)} m long)",
            )
        )
    return tuple(facts)


def off_the_roof(distance_m: float) -> str:
    """A spot beyond the given edges."""
    return (
        f"The spot lies {number(distance_m, 1)} m outside the roof’s edges as the survey gives "
        "them: check both."
    )


def aim_facts(
    true: str, compass: str, point_at: str | None, range_text: str
) -> tuple[tuple[str, str], ...]:
    """Which way."""
    return (
        ("True", true),
        ("By compass", f"{compass}, away from mast and metal"),
        ("Point it at", point_at or JOB_NO_THING),
        ("May be missed", range_text),
    )


def aim_range(low: str, high: str, anywhere: bool) -> str:
    """How far the aim may be off."""
    if anywhere:
        return "any way round will do"
    return f"{low} to {high} true cost no received station more than 1 dB"


AIM_SET = "As the survey sets it."
AIM_PROPOSED = "The survey sets none: the best for what must be had, else for the most stations."


def antenna_part(bands: Sequence[str], gains: dict[str, float], length_m: float | None) -> str:
    """The antenna's class and its elements by band."""
    named = listed([BANDS[b] for b in bands]) or "the bands of the list"
    text = f"Antenna with elements for {named}"
    told = [f"{BANDS[b]} {gains[b]:g} dBd" for b in BANDS if b in gains]
    if told:
        text += f"; gain {', '.join(told)}"
    return text + (f"; boom {number(length_m, 1)} m" if length_m else "")


def missing_elements(bands: Sequence[str]) -> str:
    """Bands of the list that the survey's antenna is not built for."""
    named = listed([BANDS[b] for b in bands])
    return f"The survey’s antenna names no gain for {named}: stations there count on luck"


def mast_part(height_m: float, guyed: bool) -> str:
    """The mast."""
    text = f"Mast for {number(height_m, 1)} m above the spot, mount, lag screws, sealant"
    return f"{text}; guys and their fixings" if guyed else text


def coax_part(kind: str, length_m: float) -> str:
    """A length of cable and its connectors."""
    return f"{number(length_m, 1)} m of {kind} coax, 2 connectors, weather boots, dielectric grease"


COAX_UNKNOWN = "Coax: the survey names none; measure the way and add 2 m"
SPLITTER_NONE = "No splitter: one set"
PREAMP_ASKED = "Preamplifier at the mast: the budget asks for it ({})"
FILTER_ASKED = "Filter before it: a mobile-phone mast is marked nearby"
GROUND_BLOCK = "Grounding block for the coax; ground conductor 10 AWG copper or as local code says"
GROUND_UNKNOWN = "The survey names no grounding point: find the building’s own before you start."


def preamplifier_part(gain_db: float) -> str:
    """An amplifier that the survey has."""
    return f"Preamplifier, {gain_db:g} dB, and its power supply"


def filter_part(pass_mhz: tuple[float, float] | None) -> str:
    """A filter that the survey has."""
    if pass_mhz is None:
        return "Filter"
    return f"Filter that passes {pass_mhz[0]:g} to {pass_mhz[1]:g} MHz"


def other_part(kind: str) -> str:
    """A transformer, attenuator or splitter up in the line."""
    return {"transformer": "Matching transformer"}.get(kind, kind.capitalize())


def splitter_part(ways: int, sets: int) -> str:
    """The splitter at the sets."""
    if ways < sets:
        return f"Splitter: the survey has {ways} ways for {sets} sets; take one of {sets} ways"
    if ways == 1:
        return SPLITTER_NONE
    spare = f"; close {ways - sets} with 75 ohm" if ways > sets else ""
    return f"Splitter of {ways} ways for {sets} set{'' if sets == 1 else 's'}{spare}"


def ground_text(straight_m: float, reach_m: float | None) -> str:
    """How far the conductor runs."""
    text = (
        f"From the mast’s foot to the grounding point {number(straight_m, 1)} m in a straight "
        "line; the conductor runs farther."
    )
    return text if reach_m is None else f"{text} The survey allows {number(reach_m, 1)} m."


CABLE_ROUTE = (
    "Route: down from the antenna, drip loop, along the eaves out of the water’s way, drip loop, "
    "grounding block where it enters, then inside to the splitter. 0.6 m (2 ft) from open power "
    "conductors."
)
CABLE_BLANK = "Way of the cable, as agreed:"
JOB_HEADS = ("Station", "Channel", "Bearing", "Reception", "Scan: level", "Scan: C/N or MER")


def job_lead(spot: str, height_m: float, aim: str | None) -> str:
    """The job in a sentence."""
    text = f"Antenna {number(height_m, 1)} m above “{spot}”"
    return f"{text}, {aim}." if aim else f"{text}."


def aim_lead(true: str, compass: str) -> str:
    """The aim in the lead."""
    return f"aimed at {true} true, {compass} by compass"
