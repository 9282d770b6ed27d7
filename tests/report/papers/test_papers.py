"""Brief, card, sheet and job: what they say, that it stays on the page, and the form they have.

The form is checked by the typst library, which refuses to write PDF/UA-1 (ISO 14289-1) where a
picture has no text alternative or a heading's order is wrong, and by the marks that the standard
asks for in the file.
"""

from __future__ import annotations

import re
from datetime import date
from html.parser import HTMLParser
from typing import Any

import pytest
from paper_cases import sample, with_some, with_stations, without
from paper_reading import DAY, overflowing, pages_of, papers_of, survey_of, text_of

from skyview.report.papers.blocks import Paper, Paragraph, Picture, pictures_in
from skyview.report.papers.brief import brief
from skyview.report.papers.card import card
from skyview.report.papers.page import html_of
from skyview.report.papers.typeset import pdf_of
from skyview.survey.outlook import outlook_of

SAID = {
    "brief": [
        "nine would be sure", "What no roof cures", "Photograph the whole circle",
        "water_tower 168° true, 147° by compass", "12:00 357° 335° 29°", "Hours in UTC−8.",
        "Load into the van", "Antenna for UHF, high VHF and low VHF", "Splitter for 3 sets",
        "look for power lines",
    ],
    "sheet": [
        "What your roof can receive", "You asked for three stations", "Promised", "May fade",
        "The antenna stands on “chimney”, 3 metres up, and points north", "Why QPEL is weak",
        "the building “apartments” stands in the way", "What would help QPEL",
        "Your other stations stay as they are", "When the leaves fall", "How sure we are",
        "low, usual and high estimate", "apartments, 13",
    ],
    "job": [
        "352° true, 330° by compass", "right of block_corner_w",
        "28 m of RG-59 coax, 2 connectors", "Splitter of 4 ways for 3 sets",
        "Preamplifier at the mast", "Filter before it", "Find the rafter", "common practice",
        "29 CFR 1926.501", "NFPA 70", "clockwise under its screw", "drip loop", "Fall protection",
        "level the mount both ways", "sealant under the mount", "7/16 in", "10 AWG",
    ],
}  # fmt: skip
"""What the sample's papers say; figures are those of ``paths``, ``why`` and ``aim``."""


@pytest.mark.parametrize("kind", SAID)
@pytest.mark.parametrize("size", ["a4", "us-letter"])
def test_paper_says_all_on_its_page(papers: dict[str, Paper], kind: str, size: Any) -> None:
    pdf = pdf_of(papers[kind], size)
    text = text_of(pdf).lower()
    missing = [said for said in SAID[kind] if said.lower() not in text]
    assert missing == []
    assert overflowing(pdf) == []
    assert pages_of(pdf) <= 2


DAYS = {"midsummer": date(2026, 12, 21), "midwinter": date(2026, 6, 21)}


def farther_south(degrees: float) -> dict[str, Any]:
    """The sample with its house, landmarks and stations moved along."""
    data = sample()
    for place in [data["site"], *data["landmarks"], *data["stations"]]:
        place["latitude_deg"] -= degrees
    return data


@pytest.mark.parametrize("south_deg", [0.0, 31.0], ids=["temperate", "polar"])
@pytest.mark.parametrize("day", DAYS)
@pytest.mark.parametrize("size", ["a4", "us-letter"])
def test_brief_fills_one_page_in_every_season(south_deg: float, day: str, size: Any) -> None:
    outlook = outlook_of(survey_of(farther_south(south_deg)), DAYS[day])
    pdf = pdf_of(brief(outlook), size)
    assert pages_of(pdf) == 1
    assert overflowing(pdf) == []
    text = text_of(pdf)
    assert all(f" {hour.hour}:00 " in text for hour in outlook.sun)
    assert "Receiver or meter for the scan" in text


def test_brief_names_masts_but_not_where_the_table_has_them() -> None:
    text = text_of(pdf_of(brief(outlook_of(survey_of(sample()), DAY))))
    assert "Masts in the table, if seen: QHES, QWRA, QSKA and 2 more." in text
    assert text.count("147° by compass") == 1


def test_sheet_keeps_decibels_for_the_table(papers: dict[str, Paper]) -> None:
    text = text_of(pdf_of(papers["sheet"]))
    before, _, after = text.partition("For those who want the figures")
    assert not re.search(r"\bdB\b|decibel", before)
    assert "decibels to spare" in after


def test_no_paper_says_safe(papers: dict[str, Paper]) -> None:
    for paper in [*papers.values(), card()]:
        assert not re.search(r"\bsafe(ly|ty)?\b", text_of(pdf_of(paper)), re.IGNORECASE)


@pytest.mark.parametrize("size", ["a4", "us-letter"])
def test_card_fills_one_side(size: Any) -> None:
    pdf = pdf_of(card(), size)
    text = text_of(pdf)
    assert pages_of(pdf) == 1
    assert overflowing(pdf) == []
    for said in ("eye height", "3 m or more to the side of the doubtful direction", "spirit level",
                 "laser, tape, or paces", "power lines", "by the van"):  # fmt: skip
        assert said in text


CASES = {
    "three stations": with_stations(3, 3, few_things=True),
    "sixty with long names, none must be had": with_stations(60, 0, longest=True, few_things=True),
    "eight of twelve must be had, long names": with_stations(12, 8, longest=True, few_things=True),
    "no photo": without(sample(), "views"),
    "no antenna, none must be had": without(sample(), "antennas", "must"),
}


FEW = ("QVEL", "QPEL", "QIVE", "QSKA")
LONG_RUNS = ("eight of twelve must be had, long names", "no antenna, none must be had")
"""Tried in long runs alone: what is odd in them, others have too."""


@pytest.mark.parametrize(
    "case",
    [pytest.param(c, marks=[pytest.mark.slow] if c in LONG_RUNS else []) for c in CASES],
)
def test_nothing_leaves_the_page(case: str) -> None:
    for kind, paper in papers_of(CASES[case]).items():
        for size in ("a4", "us-letter"):
            pdf = pdf_of(paper, size)  # type: ignore[arg-type]
            assert overflowing(pdf) == [], (kind, size)
            assert pages_of(pdf) <= (3 if kind == "brief" else 2), (kind, size)
        assert CASES[case]["title"] in text_of(pdf)


def test_without_a_photo_nothing_is_promised() -> None:
    text = text_of(pdf_of(papers_of(CASES["no photo"])["sheet"]))
    assert "nothing can be promised" in text
    assert "Three cannot be told yet" in text


def test_spot_and_aim_are_kept_back_until_lines_were_looked_for() -> None:
    data = with_some(*FEW)
    data["limits"]["lines_checked"] = False
    text = text_of(pdf_of(papers_of(data)["job"]))
    assert "Power lines were not looked for" in text
    assert "352°" not in text.partition("Order of work")[0]
    assert "“chimney”" not in text


def test_refused_place_is_said_first() -> None:
    data = with_some(*FEW)
    data["antennas"][0]["spot"] = "ridge"
    text = text_of(pdf_of(papers_of(data)["job"]))
    assert "This place is refused" in text.partition("Fall protection")[0]


def test_pdf_is_ua_1_with_embedded_fonts(papers: dict[str, Paper]) -> None:
    for paper in papers.values():
        pdf = pdf_of(paper)
        assert re.search(rb"pdfuaid:part[^0-9]{1,2}1", pdf)
        assert b"/MarkInfo" in pdf
        assert b"/StructTreeRoot" in pdf
        assert b"/FontFile" in pdf
        assert all(picture.alt for picture in pictures_in(paper.blocks))


def test_picture_without_words_is_refused() -> None:
    bare = Paper("A", "", (Picture(_png(), ""),))
    with pytest.raises(Exception, match="alt"):
        pdf_of(bare)


def _png() -> bytes:
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (4, 4)).save(out, "PNG")
    return out.getvalue()


HOSTILE = '#eval("1+1") $x$ *b* <script>alert(1)</script> \\ @a {{ 7*7 }} [c] // "q"'


def test_what_was_typed_appears_letter_by_letter() -> None:
    paper = Paper(HOSTILE, HOSTILE, (Paragraph(HOSTILE, strong=HOSTILE),), left=HOSTILE)
    assert text_of(pdf_of(paper)).count("".join(HOSTILE.split())) == 0
    squeezed = text_of(pdf_of(paper)).replace(" ", "")
    assert squeezed.count(HOSTILE.replace(" ", "")) >= 4
    page = html_of(paper)
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


class _Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.sources: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.sources += [v or "" for k, v in attrs if k in ("src", "href", "action", "srcset")]


def test_page_holds_everything_it_shows(papers: dict[str, Paper]) -> None:
    for paper in [*papers.values(), card()]:
        page = html_of(paper)
        links = _Links()
        links.feed(page)
        assert all(source.startswith("data:image/") for source in links.sources)
        assert not links.tags & {"script", "link", "iframe", "object", "video", "audio"}
        assert "url(http" not in page
        assert "@import" not in page
        assert "default-src 'none'" in page


def test_not_from_this_roof_is_said_only_where_cures_were_tried() -> None:
    data = with_some("QOST", "QIVE", "QVEL")
    for station in data["stations"]:
        station["must_have"] = station["id"] in ("QOST", "QIVE")
    text = text_of(pdf_of(papers_of(data)["sheet"]))
    planned, _, here = text.partition("Why Q")[0].partition("Not from this roof")
    assert "QOST" in here
    assert "Nothing on this roof cures it" in here
    assert "QIVE" in planned.partition("Not as planned")[2]
