"""All wording about a scan: what agrees, what probably is wrong, which test comes next.

Other code asks by code and gets words.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from skyview.report.figures import bearing, day, number
from skyview.report.reception_words import chances
from skyview.survey.scan.answer import Finding, ScanAnswer, StationScan

_BANDS = {"low_vhf": "the low VHF band", "high_vhf": "the high VHF band", "uhf": "the UHF band"}

_LINE_TEST = (
    "Measure the same channels at the antenna's terminals, or put a short cable of known loss in "
    "place of the line, and read that in with --at terminals: if the levels come back there, look "
    "at connectors, splitter and preamplifier one by one; if they stay low, the field is low."
)

_CAUSE = {
    "none": "Nothing stands out: the differences are within what a prediction may miss.",
    "agrees": "within what the prediction may miss",
    "line": "All stations are low: the line, a connector, the splitter or the preamplifier.",
    "band": "One band is low: its elements, the transformer or a filter.",
    "aim": "The stations on one side are low: the antenna points another way than planned.",
    "one_low": (
        "One station is low: its outline or the distance of what stands there, or the station's "
        "own data."
    ),
    "co_channel": "Another transmitter on the same channel disturbs it.",
    "multipath": "Strength is there but the quality is poor: echoes.",
    "overload": "Strong but unsteady: something is overloaded.",
    "foliage": "What lost strength since the trees were bare lies behind leaves.",
    "not_predicted": "It comes in although its own path should not bring it.",
    "other_station": "The set shows another station's number on this channel.",
    "not_listed": "The survey lists no station on this channel.",
    "cannot_tell": "Several causes would leave the same pattern.",
}

_SHORT = {
    "none": "nothing stands out",
    "agrees": "agrees",
    "line": "the line",
    "band": "one band",
    "aim": "the aim",
    "one_low": "one station",
    "co_channel": "another transmitter on the channel",
    "multipath": "echoes",
    "overload": "overload",
    "foliage": "leaves",
    "not_predicted": "not predicted",
    "other_station": "another station",
    "not_listed": "not listed",
    "cannot_tell": "cannot tell",
}

_TEST = {
    "none": "None.",
    "agrees": "None.",
    "line": _LINE_TEST,
    "band": (
        "Measure one channel of this band at the antenna's terminals, past the transformer, then "
        "with the transformer changed; look whether its elements are whole and opened, and whether "
        "a filter takes the band."
    ),
    "aim": (
        "Compare the antenna's bearing with the plan at a landmark, then turn it a few degrees "
        "either way and watch the weak side's carrier to noise."
    ),
    "one_low": (
        "Look along its bearing for something that was not outlined, measure the distance of what "
        "was, and check its power and channel in the station list; a scan from another spot tells "
        "whether it is the path."
    ),
    "co_channel": (
        "Scan again in the early morning and by night: if it changes while its neighbours do not, "
        "turn the antenna so that the other transmitter falls into a null."
    ),
    "multipath": (
        "Move the antenna by half a metre to a metre sideways and in height and watch the carrier "
        "to noise, not the strength."
    ),
    "overload": (
        "Put a 10 dB attenuator before the amplifier, or take it out: if the quality rises, fit a "
        "filter or less gain."
    ),
    "foliage": (
        "Raise the antenna over the crown or shift it aside, and compare; scan again when the "
        "leaves have fallen."
    ),
    "not_predicted": (
        "See which station the set names on this channel; then turn the antenna: a reflection or "
        "another transmitter is best at another bearing than the station's."
    ),
    "other_station": "Find the station that the set names, and put it in the station list.",
    "not_listed": "Note what the set names on this channel, and add it to the station list.",
    "cannot_tell": (
        "Read strength in dBm and carrier to noise of all channels with a meter at the antenna's "
        "terminals: that parts the line from the field, and the list of causes gets short."
    ),
}

_SENTENCES = {
    "likely": "What it may be",
    "likely_else": "What else it may be",
    "offset_line": (
        "It becomes the site's own correction only once the line is cleared, since a bad connector "
        "leaves the same low levels."
    ),
    "offset_small": "That is no more than chance leaves: there is nothing to take over.",
    "offset_ready": "The line is cleared: take it over with --use-offset.",
    "offset_taken": "It is now the site's own correction (site.field_offset_db).",
    "scale_unknown": (
        "The set's own scale has no known zero: only the pattern of its readings was used, and no "
        "offset can be told."
    ),
}


def sentence(code: str) -> str:
    """The text with this code.

    >>> sentence("likely")
    'What it may be'
    """
    return _SENTENCES[code]


def cause_text(code: str) -> str:
    """A cause in a sentence, for the whole scan or for one row."""
    return _CAUSE[code]


def next_test(code: str) -> str:
    """The next test to make."""
    return _TEST[code]


def on_the_roof(code: str) -> bool:
    """Whether the next test leads onto the roof, so that its cautions belong beside it."""
    return code in ("line", "band", "aim", "multipath", "overload", "foliage", "cannot_tell")


def finding_text(finding: Finding) -> str:
    """A finding in a sentence, with what it means and how likely it is.

    >>> finding_text(Finding("band", 0.9, band="uhf", size_db=14.2))
    'One band is low: its elements, the transformer or a filter. It is the UHF band, by about
    14 dB; 9 chances in 10.'
    """
    text = _CAUSE[finding.code]
    if finding.code in ("none", "cannot_tell"):
        return text
    about = []
    if finding.station is not None:
        about.append(f"It is {finding.station}")
    if finding.band is not None:
        about.append(f"It is {_BANDS[finding.band]}")
    if finding.size_db is not None:
        lead = "by" if about else "By"
        about.append(f"{lead} about {number(finding.size_db)} dB")
    if finding.turn_deg is not None:
        way = "right" if finding.turn_deg > 0.0 else "left"
        about.append(f"It seems to point about {number(abs(finding.turn_deg))}° too far {way}")
    told = ", ".join(about)
    said = chances(finding.probability)
    return f"{text} {told}; {said}." if told else f"{text} {said[0].upper()}{said[1:]}."


def short_cause(code: str) -> str:
    """A cause in a word or two, for a column.

    >>> short_cause("multipath")
    'echoes'
    """
    return _SHORT[code]


def short_text(finding: Finding) -> str:
    """A finding in a few words, for a list.

    >>> short_text(Finding("one_low", 0.2, station="QALD"))
    'one station: QALD'
    """
    word = short_cause(finding.code)
    subject = finding.station or (_BANDS[finding.band] if finding.band else "")
    return f"{word}: {subject}" if subject else word


def offset_text(answer: ScanAnswer, taken: bool = False) -> list[str]:
    """What all stations have in common, and whether it may be taken over; a line each."""
    if answer.offset_db is None or answer.offset_sigma_db is None:
        return [_SENTENCES["scale_unknown"]]
    lines = [
        f"In common: {number(answer.offset_db, sign=True)} dB over the bare prediction, ±"
        f"{number(answer.offset_sigma_db)} dB."
    ]
    if taken:
        return [*lines, _SENTENCES["offset_taken"]]
    if answer.line_cleared:
        return [*lines, _SENTENCES["offset_ready"]]
    if abs(answer.offset_db) < answer.offset_sigma_db:
        return [*lines, _SENTENCES["offset_small"]]
    told = answer.finding.code == "line"
    return [*lines, _SENTENCES["offset_line"], *([] if told else [_LINE_TEST])]


def again_text(answer: ScanAnswer) -> str | None:
    """The day to scan again, where leaves are to come; None where none is needed.

    The choice of the day is common practice, no source.
    """
    if answer.again_on is None:
        return None
    when = day(answer.again_on)
    return f"Trees in the way were bare: scan again once they are in leaf, on {when} or later."


def row_record(row: StationScan) -> dict[str, Any]:
    """A row as JSON has it, with its cause in words and the next test."""
    return {
        **asdict(row),
        "cause_text": cause_text(row.cause),
        "next_test": None if row.cause == "agrees" else next_test(row.cause),
    }


def finding_record(finding: Finding) -> dict[str, Any]:
    """A finding as JSON has it."""
    return {**asdict(finding), "text": finding_text(finding), "next_test": next_test(finding.code)}


def aimed_text(aim_deg: float, finding: Finding) -> str | None:
    """Where the antenna seems to point; None where the finding does not speak of it.

    >>> aimed_text(350.0, Finding("aim", 0.9, turn_deg=40.0))
    'That would be 30° true instead of 350°.'
    """
    if finding.turn_deg is None:
        return None
    return (
        f"That would be {bearing(aim_deg + finding.turn_deg)} true instead of {bearing(aim_deg)}."
    )
