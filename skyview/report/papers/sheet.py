"""The customer's sheet: which stations, why not, what would help, how sure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from skyview.report.figures import day, number
from skyview.report.papers.blocks import (
    Bar,
    Bars,
    Block,
    Columns,
    Fill,
    Heading,
    Item,
    Items,
    Paper,
    Paragraph,
    Picture,
    Table,
)
from skyview.report.papers.views import crop, overview
from skyview.report.papers.wording import shared
from skyview.report.papers.wording import sheet as words
from skyview.report.reception_words import (
    cure_text,
    customer_reasons,
    customer_sentence,
    thing,
)
from skyview.survey.budget.words import LIKELY
from skyview.survey.handover import Handover
from skyview.survey.losses import CLEAR_DB
from skyview.survey.results import Cause, PathRow, Plate, Why

MOST_TOLD = 9
"""With more stations each column names them without their reasons."""

LONGEST_NAME = 20
"""Longer names of things are shortened where the table is long."""

MOST_CURES = 3
MOST_BARS = 4
BAR_DB = 1.0
LEAVES_DB = 1.0
ROUGH_DEG = 3.0
"""A picture whose directions are worse makes the sheet a draft."""


def sheet(told: Handover, plate: Plate | None) -> Paper:
    """The customer's sheet; ``plate`` is the picture of the view, of the weakest station if any."""
    groups = _groups(told)
    counts = {name: len(whys) for name, whys in groups.items()}
    lead = [
        words.asked_for(len(told.whys), told.asked, counts),
        words.standing_at(told.spot, told.height_m, _aim(told), told.antenna is not None),
    ]
    if plate is None:
        lead.append(words.NO_PICTURE)
    blocks: list[Block] = []
    if plate is not None:
        blocks.append(_overview(told, plate))
    blocks += _columns(groups, len(told.whys))
    if told.weakest is not None:
        blocks += _why(told.weakest, plate)
    blocks.append(Columns((tuple(_help(told)), tuple(_sure(told, plate)))))
    blocks += _figures(told)
    taken = plate.taken if plate is not None else None
    return Paper(
        words.TITLE,
        " ".join(lead),
        tuple(blocks),
        left=told.survey.title,
        right=shared.seen_on(day(taken)),
        foot=shared.FOOT,
        description=words.DESCRIPTION,
    )


def _aim(told: Handover) -> float | None:
    return None if told.antenna is None else told.antenna.aim_true_deg


def _group(why: Why, reception: str | None = None) -> str:
    """Which column a station stands in, by its own word or another."""
    word = reception or why.row.reception
    if word == "sure":
        return "promised"
    if word in ("likely", "doubtful"):
        return "may_fade"
    if word == "unknown":
        return "cannot_tell"
    return "not_here" if _incurable(why) else "not_planned"


def _incurable(why: Why) -> bool:
    """Whether cures were tried and none was found that makes it likely."""
    return any(cure.code == "none_on_this_roof" for cure in why.row.cures)


def _helped(why: Why) -> bool:
    """Whether a single change makes it likely."""
    return any(c.probability >= LIKELY and c.code != "none_on_this_roof" for c in why.row.cures)


def _groups(told: Handover) -> dict[str, list[Why]]:
    found: dict[str, list[Why]] = {name: [] for name in words.GROUPS}
    for why in told.whys:
        found[_group(why)].append(why)
    return found


def _overview(told: Handover, plate: Plate) -> Picture:
    names = [why.row.station for why in told.whys]
    aim = _aim(told)
    made = overview(plate, names, aim)
    whole = plate.right_deg - plate.left_deg
    beyond = aim is not None and (aim - plate.left_deg) % 360.0 > whole
    shown = [n for n in names if n not in made.outside]
    return Picture(
        made.content,
        words.overview_alt(shown or names, aim),
        words.overview_caption(made.unnamed, made.outside, beyond),
        wide=True,
    )


def _columns(groups: dict[str, list[Why]], count: int) -> Iterator[Block]:
    """The stations by group, at most three columns side by side."""
    always = ("promised",)
    kept = [name for name, whys in groups.items() if whys or name in always]
    per_line = 4 if len(kept) == 4 else 3
    for start in range(0, len(kept), per_line):
        yield Columns(
            tuple(
                (_listed(name, groups[name], count > MOST_TOLD),)
                for name in kept[start : start + per_line]
            )
        )


def _listed(name: str, whys: Sequence[Why], short: bool) -> Items:
    items = []
    if short:
        for word in dict.fromkeys(why.row.reception for why in whys):
            named = [why.row.station for why in whys if why.row.reception == word]
            items.append(Item(word, shared.some(named), word))
    else:
        for why in sorted(whys, key=lambda w: -(w.row.reception_probability or 0.0)):
            row = why.row
            told = ""
            if name in ("not_planned", "not_here"):
                told = words.CHANGE if _helped(why) else ""
                told = words.NO_CURE if _incurable(why) else told
            text = words.item_text(
                row.reception, row.reception_probability, customer_reasons(why), told
            )
            items.append(Item(row.station, text, row.reception))
    return Items(words.GROUPS[name], tuple(items), words.NONE)


def _why(why: Why, plate: Plate | None) -> Iterator[Block]:
    """Why one station is weak: what stands there, and the bars."""
    row = why.row
    standing = _in_the_way(row)
    name = None if standing is None else thing(standing, why.kinds.get(standing))
    cut = None if plate is None else crop(plate, row)
    text: list[Block] = [
        Heading(words.why_heading(row.station), plain=True),
        Paragraph(customer_sentence(why)),
    ]
    if cut is not None and (plate is not None and plate.fresnel is not None):
        text.append(Paragraph(words.circle(row.path, name)))
    bars = _bars(why)
    if bars is not None:
        text += [Paragraph(words.BARS, small=True), bars]
    yield Heading("")
    if cut is None:
        yield from text
    else:
        picture = Picture(cut, words.crop_alt(row.station, name))
        yield Columns(((picture,), tuple(text)), shares=(1.0, 2.2))


def _bars(why: Why) -> Bars | None:
    """Each cause from what is left to what there would be without it: causes need not add up."""
    margin = why.row.margin_db
    if margin is None:
        return None
    causes = [c for c in why.causes if c.code != "foliage" and c.db >= BAR_DB][:MOST_BARS]
    ends = [margin.p50 + c.db for c in causes]
    low, high = min([margin.p50, 0.0]), max([margin.p50, 0.0, *ends])
    air = 0.06 * max(high - low, 6.0)
    low, high = low - air, max(high, low + 6.0) + air

    def at(value: float) -> float:
        return (value - low) / (high - low)

    left = words.left_over(margin.p50)
    bars = [
        Bar(words.bar_text(c), at(margin.p50), at(end), _fill(c))
        for c, end in zip(causes, ends, strict=True)
    ]
    bars.append(Bar(words.LEFT, at(margin.p50), at(margin.p50), "mark", left))
    alt = words.bars_alt(why.row.station, left, [words.bar_text(c) for c in causes])
    return Bars(tuple(bars), at(0.0), words.ENOUGH, alt)


def _fill(cause: Cause) -> Fill:
    if cause.code == "obstruction":
        return "hatched"
    return "full" if cause.code in ("distance", "terrain", "pattern", "surroundings") else "dotted"


def _help(told: Handover) -> Iterator[Block]:
    """What would help the weakest, and what it costs others; then the seasons."""
    if told.weakest is None:
        yield Heading(words.SEASON)
    else:
        row = told.weakest.row
        yield Heading(words.help_heading(row.station))
        for cure in row.cures[:MOST_CURES]:
            head, _, rest = cure_text(cure).partition(". ")
            end = "" if head.endswith(".") else "."
            if cure.code == "none_on_this_roof":
                yield Paragraph(rest, strong=f"{head}{end}")
                continue
            stays = "" if cure.costs else f" {words.OTHERS_STAY}"
            text = f"{rest} {words.then(cure.probability)}{stays}".strip()
            yield Paragraph(text, strong=f"{head}{end}")
        if not row.cures:
            yield Paragraph(words.HELP_NONE)
        yield Heading(words.SEASON, level=3)
    yield from _season(told)


def _season(told: Handover) -> Iterator[Block]:
    known = [why for why in told.whys if why.row.reception != "unknown"]
    if not known:
        yield Paragraph(words.SEASON_UNKNOWN)
        return
    costs = [
        (cause.db, why, tree)
        for why in known
        for cause in why.causes
        if cause.code == "foliage" and cause.db >= LEAVES_DB
        for tree in [_tree(why)]
        if tree is not None
    ]
    for decibels, why, tree in sorted(costs, key=lambda cost: -cost[0])[:3]:
        yield Paragraph(words.season_cost(tree, why.row.station, decibels))
    moved = [why for why in known if _group(why) != _group(why, why.other_leaf)]
    for why in moved[:4]:
        yield Paragraph(
            words.season_change(why.row.station, _group(why), _group(why, why.other_leaf))
        )
    if not moved:
        yield Paragraph(words.SEASON_SAME)


def _tree(why: Why) -> str | None:
    """The costliest leafy tree of a station."""
    leafy = ("broadleaf", "tree")
    names = [c for c in why.causes if c.code == "obstruction" and c.kind in leafy]
    return thing(str(names[0].obstruction), names[0].kind) if names else None


def _sure(told: Handover, plate: Plate | None) -> Iterator[Block]:
    yield Heading(words.SURE)
    rows = [why.row for why in told.whys if why.row.reception != "unknown"]
    if plate is not None and rows:
        sigma = float(np.median([row.bearing_sigma_deg for row in rows]))
        if plate.azimuth_sigma_deg > ROUGH_DEG:
            yield Paragraph(words.ROUGH)
        else:
            yield Paragraph(words.directions_good(sigma))
    yield Paragraph(words.STRENGTH)
    behind = [
        thing(row.obstruction, told.whys[0].kinds.get(row.obstruction))
        for row in rows
        if row.obstruction is not None and (row.unseen_behind or row.path == "blocked")
    ]
    if behind:
        yield Paragraph(words.not_seen_behind(list(dict.fromkeys(behind))[:3]))


def _figures(told: Handover) -> Iterator[Block]:
    """The one place with decibels, at the end."""
    rows = []
    for why in told.whys:
        row, margin = why.row, why.row.margin_db
        figures = ("?",) * 3 if margin is None else (margin.p10, margin.p50, margin.p90)
        cells = [v if isinstance(v, str) else number(v, sign=True) for v in figures]
        rows.append(
            (
                row.station,
                str(row.rf_channel),
                words.direction(row.bearing_deg),
                _standing(why, told),
                *cells,
                row.reception,
            )
        )
    longest = max([len(row[0]) for row in rows], default=0)
    widths = (min(max(2.2, 0.19 * longest), 4.0), 1.5, 1.7, 5.0, 1.2, 1.2, 1.2, 2.0)
    table = Table(
        words.HEADS,
        tuple(rows),
        frozenset({1, 2, 4, 5, 6}),
        words.FIGURES,
        widths,
        tight=len(rows) > MOST_TOLD,
    )
    yield Heading("")
    yield table
    yield Paragraph(words.FIGURES_NOTE, small=True)


def _standing(why: Why, told: Handover) -> str:
    row = why.row
    if row.path == "not_seen":
        return words.NOT_SEEN
    name = _in_the_way(row)
    if name is not None:
        distance = _distance_m(name, told)
        if len(told.whys) > MOST_TOLD and len(name) > LONGEST_NAME:
            name = f"{name[: LONGEST_NAME - 5]}…{name[-4:]}"
        return words.in_the_way(name, distance)
    return words.HORIZON if row.beyond_horizon else words.NOTHING


def _in_the_way(row: PathRow) -> str | None:
    """The costliest thing, where it or all together cost more than a clear path may."""
    if row.obstruction is None:
        return None
    most = max(row.obstruction_loss_db, row.shares_db[row.obstruction])
    return row.obstruction if most > CLEAR_DB else None


def _distance_m(name: str, told: Handover) -> float | None:
    screens = told.found.screens.get(name)
    if not screens or not screens[0].is_placed:
        return None
    gap = screens[0].screen.foot_m - told.found.scene.antenna_m[0][:2]
    return float(np.hypot(*gap))
