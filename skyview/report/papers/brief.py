"""The brief before the visit: what to expect, what to photograph, what to load."""

from __future__ import annotations

from collections.abc import Iterator

from skyview.place.channels import band_of
from skyview.report.figures import bearing, number
from skyview.report.papers import wording
from skyview.report.papers.blocks import (
    Block,
    Caution,
    Columns,
    Heading,
    Paper,
    Paragraph,
    Picture,
    Steps,
    Table,
)
from skyview.report.papers.strip import strip
from skyview.survey.outlook import Outlook

MANY = 24
"""From so many stations on the table is set smaller."""


def brief(outlook: Outlook) -> Paper:
    """What to know before anybody climbs."""
    content, unnamed = strip(outlook)
    stations = [s.row.station for s in outlook.stations]
    picture = Picture(
        content,
        wording.strip_alt([(s.row.station, s.row.bearing_deg, s.free) for s in outlook.stations]),
        wording.strip_caption(unnamed, bool(outlook.sun), not outlook.whole_circle),
        wide=True,
    )
    table = Table(
        wording.BRIEF_HEADS,
        tuple(_rows(outlook)),
        frozenset({1, 2, 3, 4, 5}),
        wording.BRIEF_TABLE,
        (
            min(max(2.3, 0.19 * max(map(len, stations), default=0)), 4.0),
            1.3,
            1.3,
            1.5,
            1.6,
            2.0,
            2.6,
        ),
        tight=len(stations) > MANY,
    )
    hopeless = [s.row.station for s in outlook.stations if s.hopeless]
    blocks: list[Block] = [
        picture,
        Caution(wording.BRIEF_LINES[1], wording.BRIEF_LINES[0]),
        table,
        Paragraph(wording.brief_margin_note(outlook.height_m, outlook.height_known), small=True),
        Columns(
            (
                (Heading(wording.BRIEF_HOPELESS), Paragraph(wording.hopeless(hopeless)),
                 *_sectors(outlook), *_landmarks(outlook)),
                (*_sun(outlook), Heading(wording.BRIEF_VAN), *_van(outlook)),
            )
        ),
    ]  # fmt: skip
    title = outlook.survey.title
    return Paper(
        wording.BRIEF_TITLE,
        wording.brief_lead(len(stations), sum(s.free == "sure" for s in outlook.stations)),
        tuple(blocks),
        left=title,
        right=wording.for_day(outlook.day.isoformat()),
        foot=wording.FOOT,
        type_size="small",
        description=wording.BRIEF_DESCRIPTION,
    )


def _rows(outlook: Outlook) -> Iterator[tuple[str, ...]]:
    for s in outlook.stations:
        row, margin = s.row, s.row.margin_db
        yield (
            wording.must(row.station, s.must_have),
            str(row.rf_channel),
            bearing(row.bearing_deg),
            bearing(row.magnetic_bearing_deg),
            f"{number(row.distance_km)} km",
            "?" if margin is None else f"{number(margin.p50, sign=True)} dB",
            wording.free_word(s.free, s.hopeless, row.beyond_horizon),
        )


def _sectors(outlook: Outlook) -> Iterator[Block]:
    yield Heading(wording.BRIEF_SECTORS)
    yield Paragraph(wording.BRIEF_SWEEP)
    if outlook.whole_circle:
        yield Paragraph(wording.BRIEF_WHOLE_CIRCLE)
        return
    for sector in outlook.sectors:
        compass = [bearing(v - outlook.declination_deg) for v in (sector.low_deg, sector.high_deg)]
        yield Paragraph(
            wording.sector_text(compass[0], compass[1], sector.stations),
            strong=wording.sector_head(bearing(sector.low_deg), bearing(sector.high_deg)),
        )


def _landmarks(outlook: Outlook) -> Iterator[Block]:
    yield Heading(wording.BRIEF_LANDMARKS)
    for seen in outlook.landmarks[:8]:
        compass = bearing(seen.azimuth_deg - outlook.declination_deg)
        yield Paragraph(
            wording.seen_text(bearing(seen.azimuth_deg), compass, seen.distance_km, seen.mast),
            strong=seen.name,
        )
    yield Paragraph(wording.landmark_advice(bool(outlook.landmarks)))


def _sun(outlook: Outlook) -> Iterator[Block]:
    yield Heading(wording.BRIEF_SUN)
    yield Paragraph(wording.sun_note(outlook.zone, outlook.zone_known), small=True)
    rows = tuple(
        (
            wording.hour(h.hour),
            bearing(h.azimuth_deg),
            bearing(h.azimuth_deg - outlook.declination_deg),
            f"{number(h.elevation_deg)}°",
            wording.some(h.before, 2 if len("".join(h.before[:3])) > 18 else 3),
        )
        for h in outlook.sun
    )
    if not rows:
        yield Paragraph(wording.BRIEF_NO_SUN)
        return
    yield Table(wording.SUN_HEADS, rows, frozenset({1, 2, 3}), "", (1.2, 1.2, 1.4, 1.2, 3.0), True)


def _van(outlook: Outlook) -> Iterator[Block]:
    hopeful = [s for s in outlook.stations if not s.hopeless]
    weak = any(s.free in ("likely", "doubtful") for s in hopeful)
    heard = {str(band_of(s.row.frequency_mhz)) for s in hopeful}
    bands = [band for band in wording.BANDS if band in heard]
    yield Steps(wording.van_steps(bands, weak, outlook.survey.receiver.sets))
