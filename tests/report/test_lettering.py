"""Letters that can be drawn, widths, shortening."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from skyview.report.canvas import Canvas, drawing_settings
from skyview.report.lettering import Style, printable, shortened, width_px, wrapped

STYLE = Style(16.0)


@given(st.text(max_size=40))
@settings(max_examples=60, deadline=None)
def test_any_text_can_be_measured_on_one_line(text: str) -> None:
    shown = printable(text, STYLE)
    assert not set(shown) & set("\n\r\t\x00\x1b")
    assert width_px(text, STYLE) >= 0.0


def test_letters_without_a_type_face_become_boxes() -> None:
    assert printable("Q\U00013000R", STYLE) == "Q□R"
    assert printable("tab\tand\nline", STYLE) == "tab and line"


@given(st.text(st.characters(codec="latin-1"), max_size=60), st.floats(15.0, 300.0))
@settings(max_examples=60, deadline=None)
def test_shortened_text_fits(text: str, room: float) -> None:
    short = shortened(text, STYLE, room)
    assert width_px(short, STYLE) <= max(room, width_px("…", STYLE))


@given(st.text(st.characters(codec="latin-1"), max_size=120), st.floats(40.0, 300.0))
@settings(max_examples=60, deadline=None)
def test_wrapped_lines_fit(text: str, room: float) -> None:
    assert all(width_px(line, STYLE) <= room for line in wrapped(text, STYLE, room))


@pytest.mark.parametrize("style", [STYLE, Style(16.0, "serif", True), Style(20.0, bold=True)])
def test_measured_width_is_the_drawn_width(style: Style) -> None:
    """What labels are placed by is what the raster shows, to two px in a long line."""
    text = "Keep mast, antenna, ladder and yourself clear of them, through trees"
    with drawing_settings():
        canvas = Canvas(1200, 1.0, "png")
        canvas.text(0.0, 20.0, text, style)
        canvas.save(40.0, "t", "d")
        (drawn,) = canvas._axes.texts
        extent = drawn.get_window_extent()
    assert extent.width == pytest.approx(width_px(text, style), abs=2.0)
