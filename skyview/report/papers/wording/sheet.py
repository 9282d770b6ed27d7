"""Wording of the customer's sheet: what comes in, why not, what would help."""

from __future__ import annotations

from collections.abc import Sequence

from skyview.report.figures import bearing, metres, number
from skyview.report.papers.wording.shared import compass_word, counted, sentence, some
from skyview.report.reception_words import cause_text, chances, listed
from skyview.survey.results import Cause, ReceptionWord

TITLE = "What your roof can receive"
DESCRIPTION = "Which stations this roof can receive, why, and what would help"
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

NONE = "None."
NOTHING_IN_WAY = "nothing of weight stands in its way"
WEAK = "its transmitter is too weak for the distance"
NO_CURE = "Nothing on this roof cures it."
CHANGE = "A change would bring it; ask us."
HELP_NONE = "Nothing was found that would help much."
NO_PICTURE = "There is no photograph yet, so nothing can be promised."
SURE = "How sure we are"
SEASON = "Summer and winter"
FIGURES = "For those who want the figures: decibels to spare, low, usual and high estimate"
FIGURES_NOTE = (
    "Eight estimates in ten lie between low and high. The spread is of the estimate, not of the "
    "weather. Below 0 a station does not come in."
)
HEADS = (
    "Station", "Channel", "Direction", "In the way", "Low", "Usual", "High", "Reception",
)  # fmt: skip
BARS = "Each bar shows how far that alone pulls the station down."
LEFT = "what is left"
ENOUGH = "enough for a picture"
NOTHING = "nothing"
NOT_SEEN = "not photographed"
HORIZON = "the horizon"

OTHERS_STAY = "Your other stations stay as they are."
STRENGTH = (
    "How strong the stations arrive was worked out, not measured: that is the largest doubt. Of "
    "ten stations with 8 chances in 10, expect two to fail."
)
ROUGH = (
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


def item_text(
    reception: ReceptionWord, probability: float | None, reasons: Sequence[str], end: str
) -> str:
    """Why a station stands in its column.

    >>> item_text("likely", 0.79, ["the building “block” stands in the way"], "")
    '8 chances in 10: the building “block” stands in the way.'
    """
    if reception == "sure":
        return sentence(f"it should come in, although {reasons[0]}" if reasons else
                        NOTHING_IN_WAY)  # fmt: skip
    why = listed(reasons) or WEAK
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
        return f"{text}; nothing that was outlined takes much of it."
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
