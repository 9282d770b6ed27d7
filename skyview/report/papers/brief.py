"""The brief before the visit: what to expect, what to photograph, what to load."""

from __future__ import annotations

from collections.abc import Iterator

from skyview.place.channels import band_of
from skyview.report.figures import bearing, number
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
from skyview.report.papers.wording import brief as words
from skyview.report.papers.wording import shared
from skyview.survey.outlook import Outlook

MANY = 24
"""From so many stations on the table is set smaller."""

MOST_LANDMARKS = 5


def brief(outlook: Outlook) -> Paper:
    """What to know before anybody climbs."""
    content, unnamed = strip(outlook)
    stations = [s.row.station for s in outlook.stations]
    picture = Picture(
        content,
        words.strip_alt([(s.row.station, s.row.bearing_deg, s.free) for s in outlook.stations]),
        words.strip_caption(unnamed, bool(outlook.sun), not outlook.whole_circle),
        wide=True,
    )
    table = Table(
        words.HEADS,
        tuple(_rows(outlook)),
        frozenset({1, 2, 3, 4, 5}),
        words.TABLE,
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
        Caution(words.LINES[1], words.LINES[0]),
        table,
        Paragraph(words.margin_note(outlook.height_m, outlook.height_known), small=True),
        Paragraph(words.hopeless(hopeless), strong=words.HOPELESS),
        Columns(
            (
                (*_sectors(outlook), *_sun(outlook)),
                (*_landmarks(outlook), Heading(words.VAN), *_van(outlook)),
            )
        ),
    ]  # fmt: skip
    title = outlook.survey.title
    return Paper(
        words.TITLE,
        words.lead(len(stations), sum(s.free == "sure" for s in outlook.stations)),
        tuple(blocks),
        left=title,
        right=words.for_day(outlook.day.isoformat()),
        foot=shared.FOOT,
        type_size="small",
        description=words.DESCRIPTION,
    )


def _rows(outlook: Outlook) -> Iterator[tuple[str, ...]]:
    for s in outlook.stations:
        row, margin = s.row, s.row.margin_db
        yield (
            words.must(row.station, s.must_have),
            str(row.rf_channel),
            bearing(row.bearing_deg),
            bearing(row.magnetic_bearing_deg),
            f"{number(row.distance_km)} km",
            "?" if margin is None else f"{number(margin.p50, sign=True)} dB",
            words.free_word(s.free, s.hopeless, row.beyond_horizon),
        )


def _sectors(outlook: Outlook) -> Iterator[Block]:
    yield Heading(words.SECTORS)
    if outlook.whole_circle:
        yield Paragraph(words.WHOLE_CIRCLE)
        return
    yield Paragraph(words.SWEEP)
    for sector in outlook.sectors:
        compass = [bearing(v - outlook.declination_deg) for v in (sector.low_deg, sector.high_deg)]
        yield Paragraph(
            words.sector_text(compass[0], compass[1], sector.stations),
            strong=words.sector_head(bearing(sector.low_deg), bearing(sector.high_deg)),
        )


def _landmarks(outlook: Outlook) -> Iterator[Block]:
    yield Heading(words.LANDMARKS)
    for seen in [seen for seen in outlook.landmarks if not seen.mast][:MOST_LANDMARKS]:
        compass = bearing(seen.azimuth_deg - outlook.declination_deg)
        yield Paragraph(
            words.seen_text(bearing(seen.azimuth_deg), compass, seen.distance_km), strong=seen.name
        )
    masts = [seen.name for seen in outlook.landmarks if seen.mast]
    if masts:
        yield Paragraph(words.masts_text(masts), strong=words.MASTS)
    yield Paragraph(words.landmark_advice(bool(outlook.landmarks)))


def _sun(outlook: Outlook) -> Iterator[Block]:
    yield Heading(words.SUN)
    yield Paragraph(words.sun_note(outlook.zone, outlook.zone_known), small=True)
    rows = tuple(
        (
            words.hour(h.hour),
            bearing(h.azimuth_deg),
            bearing(h.azimuth_deg - outlook.declination_deg),
            f"{number(h.elevation_deg)}°",
            shared.some(h.before, 2 if len("".join(h.before[:3])) > 18 else 3),
        )
        for h in outlook.sun
    )
    if not rows:
        yield Paragraph(words.NO_SUN)
        return
    yield Table(words.SUN_HEADS, rows, frozenset({1, 2, 3}), "", (1.0, 1.0, 1.3, 0.9, 3.8), True)


def _van(outlook: Outlook) -> Iterator[Block]:
    hopeful = [s for s in outlook.stations if not s.hopeless]
    weak = any(s.free in ("likely", "doubtful") for s in hopeful)
    heard = {str(band_of(s.row.frequency_mhz)) for s in hopeful}
    bands = [band for band in shared.BANDS if band in heard]
    yield Steps(words.van_steps(bands, weak, outlook.survey.receiver.sets))
