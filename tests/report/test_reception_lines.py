"""The lines of reception: told apart by their shape alone."""

from __future__ import annotations

import io
from typing import get_args
from xml.etree import ElementTree

import pytest

from skyview.report.canvas import Canvas, drawing_settings
from skyview.report.reception_lines import draw_reception
from skyview.survey.results import ReceptionWord

SVG = "{http://www.w3.org/2000/svg}"


def strokes(reception: ReceptionWord, points: list[tuple[float, float]]) -> list[tuple[str, str]]:
    """Path and style of every stroke of one line, seams left out."""
    with drawing_settings():
        canvas = Canvas(400, 1.0, "svg")
        draw_reception(canvas, points, reception)
        content = canvas.save(300, "t", "d")
    root = ElementTree.parse(io.BytesIO(content)).getroot()
    found = [(p.get("d", ""), p.get("style", "")) for p in root.iter(f"{SVG}path")]
    return [(d, style) for d, style in found if "stroke:" in style and "#fcfaf4" not in style]


POLE = [(100.0, 200.0), (100.0, 20.0)]


def test_each_word_has_its_own_shape() -> None:
    found = {word: strokes(word, POLE) for word in get_args(ReceptionWord)}
    assert {word: len(lines) for word, lines in found.items()} == {
        "sure": 2,
        "likely": 1,
        "doubtful": 1,
        "no": 4,
        "unknown": 1,
    }
    dashed = {word for word, lines in found.items() if "stroke-dasharray" in lines[0][1]}
    assert dashed == {"doubtful", "unknown"}
    assert "stroke-linecap: round" in found["unknown"][0][1]


@pytest.mark.parametrize("reception", get_args(ReceptionWord))
@pytest.mark.parametrize(
    "points", [POLE, [(50.0, 200.0), (50.0, 60.0), (90.0, 20.0)], [(10.0, 5.0), (60.0, 5.0)]]
)
def test_any_pole_can_be_drawn(reception: ReceptionWord, points: list[tuple[float, float]]) -> None:
    assert strokes(reception, points)
