"""The installer's sheet: where, which way, with what, in which order."""

from __future__ import annotations

from collections.abc import Iterator

from skyview.place.channels import band_of
from skyview.report.figures import bearing, day
from skyview.report.mount_words import refusal_sentence
from skyview.report.papers.blocks import (
    Block,
    Caution,
    Columns,
    Facts,
    Heading,
    Paper,
    Paragraph,
    Step,
    Steps,
    Table,
)
from skyview.report.papers.wording import job as words
from skyview.report.papers.wording import shared
from skyview.report.reception_words import listed
from skyview.report.spot_words import pointer_text
from skyview.survey.models import Coax, Filter, Preamplifier
from skyview.survey.work import Work

MOST_STATIONS = 14
"""More are left to the customer's sheet; what must be had comes first."""


def job(work: Work) -> Paper:
    """The job sheet of one antenna."""
    told = work.told
    named = told.survey.limits.lines_checked
    top: list[Block] = []
    if not named:
        top.append(Caution(words.LINES_FIRST[1], words.LINES_FIRST[0]))
    elif work.refused is not None:
        reason = shared.sentence(refusal_sentence(work.refused).rstrip("."))
        top.append(Caution(reason, words.REFUSED))
    cautions = {name: Caution(text, head) for name, (head, text) in words.CAUTIONS.items()}
    left: list[Block] = [cautions["edge"], *(_mount(work) if named else ())]
    right: list[Block] = [cautions["lines"], *(_aim(work) if named else ())]
    blocks: list[Block] = [
        *top,
        Columns((tuple(left), tuple(right))),
        Columns(
            (
                (Heading(words.PARTS), Steps(tuple(_parts(work)))),
                (Heading(words.CABLE), *_cable(work), cautions["ground"]),
            )
        ),
        Heading(words.WORK),
        cautions["weather"],
        *_order(),
        *_stations(work),
    ]
    aim = None if work.aim is None else words.aim_lead(*_angles(work))
    lead = words.lead(told.spot, told.height_m, aim) if named else ""
    taken = next((v.taken for v in told.survey.views if v.taken), None)
    return Paper(
        words.TITLE,
        lead,
        tuple(blocks),
        left=told.survey.title,
        right=shared.seen_on(day(taken)) if taken else "",
        foot=shared.FOOT,
        type_size="small",
        description=words.DESCRIPTION,
    )


def _angles(work: Work) -> tuple[str, str]:
    assert work.aim is not None
    return bearing(work.aim.aim_true_deg), bearing(work.aim.aim_magnetic_deg)


def _mount(work: Work) -> Iterator[Block]:
    told = work.told
    yield Heading(words.MOUNT)
    edges = () if work.edges is None else work.edges.edges
    lengths = [(shared.compass_word(e.azimuth_deg), e.distance_m, e.length_m) for e in edges]
    limit = told.survey.limits.unguyed_mast_m
    yield Facts(words.spot_facts(told.spot, told.height_m, limit, lengths))
    if work.edges is None:
        yield Paragraph(words.NO_ROOF, small=True)
    elif work.edges.outside_m > 0.0:
        yield Paragraph(words.off_the_roof(work.edges.outside_m))


def _aim(work: Work) -> Iterator[Block]:
    yield Heading(words.AIM)
    row = work.aim
    if row is None:
        yield Paragraph(words.NO_AIM)
        return
    anywhere = (row.low_deg, row.high_deg) == (0.0, 360.0)
    far = words.aim_range(bearing(row.low_deg), bearing(row.high_deg), anywhere)
    yield Facts(words.aim_facts(*_angles(work), pointer_text(row.point_at), far))
    origin = words.AIM_SET if row.purpose == "as_set" else words.AIM_PROPOSED
    yield Paragraph(origin, small=True)


def _parts(work: Work) -> Iterator[Step]:
    """What to carry up, from the survey's antenna, line and sets."""
    told, antenna = work.told, work.told.antenna
    wanted = [s for s in told.found.scene.stations if s.role == "wanted"]
    frequency = dict(
        zip(told.found.scene.signals.ids, told.found.scene.signals.frequency_mhz, strict=True)
    )
    heard = {str(band_of(float(frequency[s.id]))) for s in wanted}
    bands = [b for b in shared.BANDS if b in heard]
    gains = {} if antenna is None else {str(b): g for b, g in (antenna.gain_dbd or {}).items()}
    built = [b for b in bands if b in gains] if gains else bands
    length = None if antenna is None else antenna.length_m
    yield Step(words.antenna_part(built, gains, length))
    without = [b for b in bands if gains and b not in gains]
    if without:
        yield Step(words.missing_elements(without))
    yield Step(words.mast_part(told.height_m, told.height_m > told.survey.limits.unguyed_mast_m))
    parts = [] if antenna is None else antenna.downlead
    for part in parts:
        if isinstance(part, Coax):
            yield Step(words.coax_part(part.type, part.length_m))
        elif isinstance(part, Preamplifier):
            yield Step(words.preamplifier_part(part.gain_db))
        elif isinstance(part, Filter):
            yield Step(words.filter_part(part.pass_mhz))
        else:
            yield Step(words.other_part(part.kind))
    if not any(isinstance(part, Coax) for part in parts):
        yield Step(words.COAX_UNKNOWN)
    if work.preamplifier_for:
        yield Step(words.PREAMP_ASKED.format(listed(work.preamplifier_for)))
        if work.filter_too:
            yield Step(words.FILTER_ASKED)
    receiver = told.survey.receiver
    yield Step(words.splitter_part(receiver.splitter_ways, receiver.sets))
    yield Step(words.GROUND_BLOCK)


def _cable(work: Work) -> Iterator[Block]:
    yield Paragraph(words.CABLE_ROUTE)
    if work.ground_m is None:
        yield Paragraph(words.GROUND_UNKNOWN)
    else:
        reach = work.told.survey.limits.ground_reach_m
        yield Paragraph(words.ground_text(work.ground_m, reach))
    yield Table((words.CABLE_BLANK,), (("",), ("",)))


def _order() -> Iterator[Block]:
    half = (len(words.STEPS) + 1) // 2
    yield Columns(
        ((Steps(words.STEPS[:half]),), (Steps(words.STEPS[half:]),)),
    )


def _stations(work: Work) -> Iterator[Block]:
    """What the scan should show, with room to write it down."""
    first = [why.row for why in work.told.whys]
    rows = [
        (
            row.station,
            str(row.rf_channel),
            bearing(row.bearing_deg),
            str(row.reception),
            "",
            "",
        )
        for row in first[:MOST_STATIONS]
    ]
    yield Table(
        words.HEADS, tuple(rows), frozenset({1, 2}), words.STATIONS,
        (2.2, 1.2, 1.3, 2.0, 2.4, 2.6),
    )  # fmt: skip
