"""All wording about reception: whether a station comes in, why not, what would help, what to mind.

Sentences for customers carry no decibels. Other code asks by code and gets words.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

from skyview.report.figures import bearing, number
from skyview.report.words import TREE_KINDS, kind_word
from skyview.survey.results import Cause, Cure, Margin, PathRow, ReceptionWord, Why

RECEPTION_WORDS: tuple[ReceptionWord, ...] = get_args(ReceptionWord)

NAMED_DB = 3.0
"""A cause that costs less is not named in a customer's sentence."""

_MEANING: dict[ReceptionWord, str] = {
    "sure": "9 chances in 10 or more",
    "likely": "6 to 9 in 10",
    "doubtful": "2 to 6 in 10",
    "no": "less than 2 in 10",
    "unknown": "not seen or not known",
}

_OPENING: dict[ReceptionWord, str] = {
    "sure": "should come in well",
    "likely": "will probably come in",
    "doubtful": "may or may not come in",
    "no": "will most likely not come in",
    "unknown": "cannot be told yet",
}

_REASON = {
    "distance": "it is far away",
    "terrain": "hills or the curve of the earth stand between",
    "pattern": "its transmitter sends little this way",
    "surroundings": "houses and trees nearby weaken it, and no picture shows that direction",
    "aim": "the antenna points another way",
    "band": "the antenna is not built for its channel",
    "polarization": "its wave does not swing the way the antenna's rods lie",
    "line": "too much is lost in the cable",
    "noise": "motors and mains devices nearby drown it",
    "overload": "other stations are so strong that they choke the amplifier",
}

_CAUSE = {
    "distance": "distance and the curve of the earth",
    "terrain": "hills on the way and the curve of the earth",
    "pattern": "the transmitter sends less this way",
    "surroundings": "buildings and trees that no picture shows",
    "foliage": "of that, the leaves alone",
    "aim": "the antenna points another way",
    "band": "the antenna has no elements for this band",
    "polarization": "the antenna lies the other way than the wave swings",
    "line": "cable and splitters, with any amplifier's help",
    "noise": "man-made noise",
    "overload": "the preamplifier is overloaded",
}

_MISSING = {
    "role": "the survey lists it as a station that only disturbs others",
    "power": "its power is not known",
    "threshold": "how much its system needs is not known",
    "view": "no picture shows that direction",
}

_CAUTION = {
    "roof": (
        "Keep away from the roof's edge, tie yourself and the ladder, and keep mast, antenna and "
        "ladder clear of power lines."
    ),
    "guys": (
        "So tall a mast needs guys and fixings made for it: leave that to someone licensed, and "
        "follow the local code."
    ),
    "tree_work": "Tree work is for trained people, near a power line for licensed ones only.",
    "neighbour": "It is the neighbour's tree: nothing is cut without a written yes.",
    "public": "It is a public tree: nothing is cut without the authority's permit.",
    "whose_tree": "Ask first whose tree it is, and whether it may be cut.",
    "cellular": (
        "A mobile-phone mast is marked nearby: a filter goes before the preamplifier, and its loss "
        "is counted here."
    ),
}

_JOINED = {
    "separate": "with a downlead of its own",
    "hybrid": "joined to the first by a combiner for one band",
    "diplexer": "joined to the first by a UHF/VHF diplexer",
}

_PART = {
    "reaim": "turn the antenna",
    "two_antennas": "add a second antenna with a downlead of its own",
    "larger_antenna": "fit a larger antenna",
    "vhf_elements": "fit an antenna with VHF elements",
    "uhf_elements": "fit an antenna with UHF elements",
    "cable": "lay better cable",
    "preamplifier": "add a preamplifier at the mast",
}

_SENTENCES = {
    "promises": "Promises are given for trees in leaf.",
    "no_causes": "Nothing costs it half a decibel or more.",
    "no_cures": "Nothing was found that would help by a decibel or more.",
    "cures_head": "What would help, the most for its effort first",
    "causes_head": "What weakens it",
    "none_short": "nothing on this roof cures it",
}


def sentence(code: str) -> str:
    """The text with this code.

    >>> sentence("promises")
    'Promises are given for trees in leaf.'
    """
    return _SENTENCES[code]


def reception_word(reception: ReceptionWord) -> str:
    """A reception word as people read it.

    >>> reception_word("sure")
    'sure'
    """
    return reception


def reception_meaning(reception: ReceptionWord) -> str:
    """What a reception word means, in a few words."""
    return _MEANING[reception]


def margin_cell(margin: Margin | None) -> str:
    """The middle of a margin and half the width of its spread, for a table. [dB]

    >>> margin_cell(Margin(-18.2, -4.1, 9.7)), margin_cell(None)
    ('-4 ±14', '?')
    """
    if margin is None:
        return "?"
    middle = round(margin.p50)
    return f"{middle:{'+' if middle else ''}d} ±{round((margin.p90 - margin.p10) / 2.0)}"


def chances(probability: float) -> str:
    """A probability as people say it.

    >>> chances(0.83), chances(0.999), chances(0.0)
    ('8 chances in 10', 'more than 19 chances in 20', 'less than 1 chance in 20')
    """
    if probability >= 0.95:
        return "more than 19 chances in 20"
    if probability < 0.05:
        return "less than 1 chance in 20"
    tenths = min(max(round(10.0 * probability), 1), 9)
    return f"{tenths} chance{'' if tenths == 1 else 's'} in 10"


def thing(name: str, kind: str | None) -> str:
    """An obstruction as people call it.

    >>> thing("oak", "broadleaf"), thing("spruce_east", "conifer"), thing("no 7", "building")
    ('the tree “oak”', 'the tree “spruce_east”', 'the building “no 7”')
    """
    if kind is None:
        return f"“{name}”"
    return f"the {'tree' if kind in TREE_KINDS else kind_word(kind)} “{name}”"


def customer_sentence(why: Why) -> str:
    """One plain sentence: whether the station comes in and the one or two main reasons."""
    row = why.row
    text = f"{row.station} {_OPENING[row.reception]}"
    reasons = customer_reasons(why)
    if row.reception == "unknown":
        return f"Whether {row.station} comes in {_OPENING['unknown']}: {listed(reasons)}."
    if row.reception == "sure":
        return f"{text}{f', although {listed(reasons[:1])}' if reasons else ''}."
    if row.reception == "likely":
        return f"{text}, but not for certain{f': {listed(reasons)}' if reasons else ''}."
    if reasons:
        text += f": {listed(reasons)}"
    elif row.margin_db is not None:
        text += ": its transmitter is too weak for the distance"
    if any(cure.code == "none_on_this_roof" for cure in row.cures):
        text += f", and {sentence('none_short')}"
    return f"{text}."


def customer_reasons(why: Why) -> list[str]:
    """The one or two main reasons, or what is not known, each a part of a sentence."""
    if why.row.reception == "unknown":
        return [_MISSING[code] for code in why.missing]
    return [_reason(cause, why.row) for cause in _main(why)]


def standing(why: Why) -> list[str]:
    """Word, chances and margin, the other season, what is not known: a line each."""
    row, margin = why.row, why.row.margin_db
    season = {"in": "in leaf", "out": "out of leaf"}
    text = f"Trees {season[why.leaf]}: {row.reception}"
    if row.reception != "unknown" and row.reception_probability is not None:
        text += f", {chances(row.reception_probability)}"
    if margin is not None:
        text += (
            f"; margin {signed(margin.p50)} dB, eight estimates in ten between "
            f"{signed(margin.p10)} and {signed(margin.p90)}"
        )
    other = f"Trees {season['out' if why.leaf == 'in' else 'in']}: {why.other_leaf}"
    if why.other_leaf != "unknown" and why.other_leaf_probability is not None:
        other += f", {chances(why.other_leaf_probability)}"
    return [f"{text}.", f"{other}. {sentence('promises')}"]


def signed(decibels: float) -> str:
    """Whole decibels with their sign.

    >>> signed(-4.2), signed(0.1), signed(12.7)
    ('−4', '0', '+13')
    """
    return number(decibels, sign=True)


def _main(why: Why) -> list[Cause]:
    """The two causes worth a word, the costliest first; leaves belong to their tree.

    Distance weakens every station: it leads only where all else together would not be enough,
    and otherwise comes after what can be changed.
    """
    named = [c for c in why.causes if c.db >= NAMED_DB and c.code not in ("foliage", "distance")]
    far = [c for c in why.causes if c.db >= NAMED_DB and c.code == "distance"]
    margin = why.row.margin_db
    enough = margin is not None and margin.p50 + sum(c.db for c in named) >= 0.0
    return (named + far if enough else far + named)[:2]


def _reason(cause: Cause, row: PathRow) -> str:
    if cause.code == "distance" and row.beyond_horizon:
        return "it lies far away, beyond the curve of the earth"
    if cause.code == "obstruction" and cause.obstruction is not None:
        name = thing(cause.obstruction, cause.kind)
        if cause.kind in TREE_KINDS:
            return f"it has to come through {name}"
        return f"{name} stands in the way"
    if cause.code == "interference":
        where = "on the same channel" if cause.on_channel else "on the next channel"
        return f"{cause.station} {where} disturbs it"
    return _REASON[cause.code]


def cause_text(cause: Cause) -> str:
    """A cause in a few words, for a list with decibels beside it.

    >>> cause_text(Cause("obstruction", 9.0, "oak", "broadleaf"))
    'the tree “oak”'
    >>> cause_text(Cause("interference", 4.0, station="QDUN", on_channel=False))
    'QDUN on the next channel'
    """
    if cause.code == "obstruction" and cause.obstruction is not None:
        return thing(cause.obstruction, cause.kind)
    if cause.code == "interference":
        return f"{cause.station} on the {'same' if cause.on_channel else 'next'} channel"
    return _CAUSE[cause.code]


def cure_text(cure: Cure) -> str:
    """A cure in one to three sentences: what to do, whom it costs what, what to mind.

    The cautions of all roof work are left to `caution`.

    >>> cure_text(Cure("raise", 7.9, 0.7, amount=2.0, thing="ridge", cautions=("roof",)))
    'Raise the antenna by 2 m.'
    """
    parts = [cure_action(cure), *_costs(cure)]
    parts += [caution(code) for code in cure.cautions if code != "roof"]
    return " ".join(parts)


def cure_action(cure: Cure) -> str:
    """What to do, in a sentence.

    >>> cure_action(Cure("reaim", 5.0, 0.8, amount=352.3))
    'Turn the antenna to 352° true.'
    """
    amount, name = cure.amount or 0.0, cure.thing
    match cure.code:
        case "raise":
            return f"Raise the antenna by {amount:g} m."
        case "another_spot":
            return f"Put the antenna {amount:g} m above the spot “{name}”."
        case "reaim":
            return f"Turn the antenna to {bearing(amount)} true."
        case "best_aim":
            return (
                f"Turn the antenna to {bearing(amount)} true, where it serves this roof's stations "
                "best."
            )
        case "two_antennas":
            return f"Add a second antenna aimed at this station, {_JOINED[name or 'separate']}."
        case "fell":
            return f"Have the tree “{name}” felled; what stands behind it was not seen."
        case "trim":
            return f"Have {amount:g} m taken off the top of the tree “{name}”."
        case "no_preamplifier":
            return "Take the preamplifier out: here it does more harm than good."
        case "filter":
            return "Put a filter before the preamplifier that keeps the other band out."
        case "together":
            return f"All of this together: {listed(_plan(cure))}."
        case "none_on_this_roof":
            return "Nothing on this roof makes it likely."
        case _:
            return f"{_PART[cure.code][0].upper()}{_PART[cure.code][1:]}."


def _plan(cure: Cure) -> list[str]:
    amount = cure.amount or 0.0
    moves = {
        "raise": f"raise the antenna by {amount:g} m",
        "another_spot": f"put the antenna {amount:g} m above the spot “{cure.thing}”",
    }
    return [moves.get(part) or _PART[part] for part in cure.parts]


def _costs(cure: Cure) -> list[str]:
    """What the cure does to other stations, a sentence a word."""
    texts = []
    for reception in ("no", "doubtful"):
        hit = [cost.station for cost in cure.costs if cost.reception == reception]
        if hit:
            texts.append(f"With it {_some(hit)} {_OPENING[reception]}.")
    if cure.costs and not texts:
        texts.append(f"{_some([c.station for c in cure.costs])} would get weaker.")
    return texts


def _some(names: Sequence[str], most: int = 4) -> str:
    """The first few of some names.

    >>> _some(["QA", "QB", "QC", "QD", "QE", "QF"])
    'QA, QB, QC, QD and 2 more'
    """
    more = [f"{len(names) - most} more"] if len(names) > most else []
    return listed([*names[:most], *more])


def caution(code: str) -> str:
    """A caution by its code."""
    return _CAUTION[code]


def listed(texts: Sequence[str]) -> str:
    """A list in words.

    >>> listed(["one", "two", "three"])
    'one, two and three'
    """
    if len(texts) < 2:
        return "".join(texts)
    return f"{', '.join(texts[:-1])} and {texts[-1]}"
