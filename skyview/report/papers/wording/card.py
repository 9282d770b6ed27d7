"""Wording of the roof card: what to photograph and measure."""

from __future__ import annotations

from skyview.photo import capture
from skyview.report.papers.blocks import Step

TITLE = "On the roof: what to photograph and measure"
LEAD = "One side, for gloves. Take the pictures now; mark them later, by the van."

FIRST = "Before you go up"
PICTURES = "Pictures"
DISTANCES = "Distances"
BEFORE_DOWN = "Before you come down"

CAUTIONS = {
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

STEPS_FIRST = (
    Step("Telephone: clean lens, GPS on, full battery, ordinary camera (no zoom, no wide lens)"),
    Step("Walk round the house: have power lines been looked for on every side?"),
    Step("Compass: away from metal, watch and magnets; draw an eight with it"),
)


def steps_pictures() -> tuple[Step, ...]:
    """The order of the pictures, with its figures.

    >>> steps_pictures()[0].text.split(",")[0]
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


STEPS_DISTANCES = (
    Step("To each tree, wall and roof that stands in the way: laser, tape, or paces"),
    Step("How deep a crown is, how wide; is it in leaf?"),
    Step("The likely spots: from two edges of the roof, and above the ground"),
    Step("The place of the house’s grounding point and the way of the cable"),
)

STEPS_DOWN = (
    Step("Look through the pictures: sharp, no gap, no finger"),
    Step("Mobile-phone mast near? Which way?"),
    Step("Say it to yourself: power lines looked for, yes or no"),
)

NOTED = "Noted on the roof"
BLANKS = (
    ("Thing", "Distance (m)", "How (laser, tape, paces)", "Seen from"),
    5,
)
