"""Papers from plain surveys, and what their PDFs hold."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pypdfium2
from paper_cases import SAMPLE

from skyview.report.papers.brief import brief
from skyview.report.papers.job import job
from skyview.report.papers.sheet import sheet
from skyview.survey.handover import handover_of
from skyview.survey.models import Survey, validate
from skyview.survey.outlook import outlook_of
from skyview.survey.plates import plate_of
from skyview.survey.work import work_of

DAY = date(2026, 6, 1)


def survey_of(data: dict[str, Any]) -> Survey:
    """A survey whose pictures are the samples."""
    for view in data.get("views", []):
        view["photo"] = Path(view["photo"]).name
    return validate(data)


def papers_of(data: dict[str, Any]) -> dict[str, Any]:
    """Brief, sheet and job of a survey."""
    survey = survey_of(data)
    told = handover_of(survey)
    plate = None
    if survey.views:
        weakest = told.weakest.row.station if told.weakest else None
        plate = plate_of(survey, SAMPLE.parent, told.found, station=weakest)
    return {
        "brief": brief(outlook_of(survey, DAY)),
        "sheet": sheet(told, plate),
        "job": job(work_of(told)),
    }


def text_of(pdf: bytes) -> str:
    """All text of a PDF, spaces and line ends as one blank."""
    document = pypdfium2.PdfDocument(pdf)
    pages = [page.get_textpage().get_text_bounded() for page in document]
    text = " ".join(" ".join(pages).replace("\u200b", "").split())
    document.close()
    return text


def pages_of(pdf: bytes) -> int:
    """How many pages a PDF has."""
    document = pypdfium2.PdfDocument(pdf)
    count = len(document)
    document.close()
    return count


def overflowing(pdf: bytes, side_mm: float = 14.0) -> list[str]:
    """Pieces of text that leave the margins of their page."""
    document = pypdfium2.PdfDocument(pdf)
    found = []
    room = side_mm / 25.4 * 72.0
    for page in document:
        width, height = page.get_size()
        words = page.get_textpage()
        letters = words.get_text_range()
        for index in range(words.count_chars()):
            letter = letters[index : index + 1]
            if not letter.strip() or letter == "\u200b":
                continue
            left, bottom, right, top = words.get_charbox(index)
            if left < room or right > width - room or bottom < 10.0 or top > height - 10.0:
                found.append(letters[max(index - 8, 0) : index + 1])
    document.close()
    return found
