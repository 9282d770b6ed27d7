"""All wording of the papers, by code. A translation replaces these tables and nothing else.

Lines of work name their source, or say that they are common practice.
"""

from __future__ import annotations

from skyview.photo import capture
from skyview.report.papers.blocks import Step

PRACTICE = "common practice"

FOOT = (
    "Roof edges, ladders, masts, power lines, grounding and lightning: local codes and licensed "
    "people decide."
)

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

CARD_BLANKS = (
    ("Thing", "Distance (m)", "How (laser, tape, paces)", "Seen from"),
    6,
)

JOB_TITLE = "Job sheet"
JOB_MOUNT = "The mount"
JOB_AIM = "The aim"
JOB_PARTS = "Parts"
JOB_CABLE = "Cable and ground"
JOB_WORK = "Order of work"

NFPA = "NFPA 70 (2023)"

JOB_CAUTIONS = {
    "edge": (
        "Fall protection",
        "Anchor and harness, or scaffold, before anything is carried up: from 1.8 m (6 ft) at an "
        "unprotected edge in construction (29 CFR 1926.501), elsewhere as local law says. Ladder "
        "at one to four, tied at the top, a metre above the eaves.",
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
