"""Wording of the job sheet. Lines of work name their source, or say common practice."""

from __future__ import annotations

from collections.abc import Sequence

from skyview.report.figures import number
from skyview.report.papers.blocks import Step
from skyview.report.papers.wording.shared import BANDS, PRACTICE
from skyview.report.reception_words import listed

TITLE = "Job sheet"
DESCRIPTION = "Where the antenna goes, which way it points, parts and order of work"
MOUNT = "The mount"
AIM = "The aim"
PARTS = "Parts"
CABLE = "Cable and ground"
WORK = "Order of work"
STATIONS = "What should come in"
LINES_FIRST = (
    "Power lines were not looked for",
    "Nobody has noted that they were, so this sheet names no spot and no aim. Look first, from "
    "the ground and on every side, note it in the survey, and print the sheet anew.",
)
REFUSED = "This place is refused: settle that before anything is carried up"
NO_ROOF = "The survey gives no edge of the roof: measure from two of them and note it here."
NO_AIM = "Turn the antenna while the meter reads the weakest station that must be had."
NO_THING = "nothing outlined or marked stands near; use a compass away from metal"

NFPA = "NFPA 70 (2023)"

CAUTIONS = {
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

STEPS = (
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
        ("Point it at", point_at or NO_THING),
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
    """A length of cable and its connectors.

    >>> coax_part("rg59", 28.0)
    '28 m of RG-59 coax, 2 connectors, weather boots, dielectric grease'
    """
    length, name = number(length_m, 1).removesuffix(".0"), kind.upper().replace("RG", "RG-")
    return f"{length} m of {name} coax, 2 connectors, weather boots, dielectric grease"


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
HEADS = ("Station", "Channel", "Bearing", "Reception", "Scan: level", "Scan: C/N or MER")


def lead(spot: str, height_m: float, aim: str | None) -> str:
    """The job in a sentence."""
    text = f"Antenna {number(height_m, 1)} m above “{spot}”"
    return f"{text}, {aim}." if aim else f"{text}."


def aim_lead(true: str, compass: str) -> str:
    """The aim in the lead."""
    return f"aimed at {true} true, {compass} by compass"
