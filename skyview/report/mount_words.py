"""What is said about places on the roof, about distances and about what would tell them."""

from __future__ import annotations

import math

from skyview.survey.baselines import LONGEST_STEP_M, Advice
from skyview.survey.carried import Carried
from skyview.survey.distances import Ranging, Source
from skyview.survey.refusals import Refusal

WHO_DECIDES = "The utility and the local code decide what distance a line needs."


def refusal_sentence(refusal: Refusal) -> str:
    """Why a place is refused, with its distances.

    >>> refusal_sentence(Refusal("mast", mast_m=4.0, needed_m=3.0))
    'a mast of 4.0 m needs guys: the limit without is 3.0 m'
    """
    r = refusal
    if r.code == "line_unknown":
        return (
            f"nobody knows where the power line {r.thing} runs, so it counts as within reach: "
            f"give its line_enu_m. {WHO_DECIDES}"
        )
    if r.code == "line":
        return _line_sentence(r)
    if r.code == "keep_out":
        return "it lies in a strip to keep out of"
    if r.code == "mast":
        return f"a mast of {r.mast_m:.1f} m needs guys: the limit without is {r.needed_m:.1f} m"
    return (
        f"the grounding point is {r.distance_m:.1f} m away in a straight line, the conductor "
        f"reaches {r.needed_m:.1f} m"
    )


def _line_sentence(r: Refusal) -> str:
    far = f"the power line {r.thing} runs {r.distance_m:.1f} m away"
    least = f"as near as {r.least_m:.1f} m within what is known"
    if r.needed_m is None or math.isinf(r.needed_m):
        return f"{far}, {least}; for its voltage only its owner can name a distance. {WHO_DECIDES}"
    mast, antenna = r.mast_m or 0.0, r.antenna_m or 0.0
    voltage = "an unknown voltage" if r.voltage_kv is None else f"{r.voltage_kv:g} kV"
    return (
        f"{far}, {least}; {mast:.1f} m of mast, {antenna:.1f} m of antenna and "
        f"{r.needed_m - mast - antenna:.1f} m for {voltage} (29 CFR 1926.1408) make "
        f"{r.needed_m:.1f} m. {WHO_DECIDES}"
    )


def range_text(source: Source) -> str:
    """A distance with its interval.

    >>> range_text(Source("laser", 20.0, 0.5, 19.0, 21.0))
    '20.0 m (19.0 to 21.0)'
    """
    if not math.isfinite(source.distance_m):
        return f"farther than {source.low_m:.0f} m"
    if not math.isfinite(source.high_m):
        return f"about {source.distance_m:.0f} m ({source.low_m:.0f} or more)"
    places = 1 if source.distance_m < 100.0 else 0
    d, low, high = (round(v, places) for v in (source.distance_m, source.low_m, source.high_m))
    return f"{d:.{places}f} m ({low:.{places}f} to {high:.{places}f})"


def advice_sentence(thing: str, advice: Advice) -> str:
    """What would tell a distance that the views cannot."""
    if advice.sigma_share is None:
        text = f"the views cannot tell how far away {thing} is"
    else:
        share = 100.0 * advice.sigma_share
        text = f"the views tell the distance of {thing} only to ±{share:.0f} %"
    if advice.spot is not None and advice.spot_sigma_share is not None:
        share = 100.0 * advice.spot_sigma_share
        return f"{text}; a view from {advice.spot} would tell it to ±{share:.0f} %"
    if advice.step_m is not None:
        return f"{text}; a view {advice.step_m:.0f} m square to the line of sight would"
    return f"{text}, nor would a step of {LONGEST_STEP_M:.0f} m: take it from a map"


def ranging_notes(found: Ranging) -> list[str]:
    """What is doubtful about one obstruction's distance, each a sentence."""
    notes = [
        f"{one} and {other} contradict each other about {found.obstruction}: measure again, or "
        "look whether they mean the same thing"
        for one, other in found.conflicts
    ]
    if found.misfit:
        notes.append(
            f"the outlines of {found.obstruction} do not fit one body: one view may show another "
            "thing, or less of it"
        )
    if found.advice is not None:
        notes.append(advice_sentence(found.obstruction, found.advice))
    return notes


_SENTENCES = {
    "spots_heading": "What comes in, by spot and height",
    "spots_key": (
        "Each profile: height from the lowest tried to the highest, chance of reception upwards; "
        "dotted lines where it is likely and sure. Large and red: the best place."
    ),
    "refused_word": "refused",
    "unknown_word": "not known",
    "roof_heading": "The roof from above",
    "roof_coarse": "The roof from above, coarse",
    "roof_key": "Expected number of stations",
    "roof_signs": (
        "Crossed: refused, too near a power line or beyond a limit. Ringed: the most, what must "
        "be had counted three times. A place that is not crossed may still be dangerous."
    ),
    "ground_point": "grounding point",
    "carried_gaps": "Gap between the upper edges, root mean square",
    "carried_caption": (
        "A gap comes from a wrong distance, from an outline drawn another way, or from a thing "
        "that is deep for its distance: every outline is carried as one flat upright shape."
    ),
}


def sentence(code: str) -> str:
    """A fixed sentence of the sheets about places on the roof.

    >>> sentence("carried_gaps")[:3]
    'Gap'
    """
    return _SENTENCES[code]


def carried_heading(source: str, target: str) -> str:
    """Heading of the sheet that carries outlines over.

    >>> carried_heading("sweep", "gable")
    'Outlines of “sweep” carried to where “gable” was taken'
    """
    return f"Outlines of “{source}” carried to where “{target}” was taken"


def carried_reading(source: str, target: str) -> str:
    """How to read that sheet."""
    return (
        f"Thick and red: where what was outlined in “{source}” should stand in this photograph, "
        f"if its distance is right. Thin and dark: as it was outlined in “{target}” itself."
    )


def gap_text(thing: Carried) -> str:
    """One thing's gap.

    >>> empty = ()
    >>> gap_text(Carried("oak", "broadleaf", 20.0, empty, empty, 0.58, False))
    'oak, 20 m: 0.6°'
    """
    name = f"{thing.obstruction}, {thing.distance_m:.0f} m"
    if thing.gap_deg is None:
        return f"{name}: not outlined here, or no edge in common"
    near = ", a crown so near is no flat shape" if thing.too_near else ""
    return f"{name}: {thing.gap_deg:.1f}°{near}"
