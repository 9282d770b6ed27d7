"""Stations along a strip by bearing, in the manner of the panorama's border."""

from __future__ import annotations

import numpy as np

from skyview.report import frame, ink
from skyview.report.canvas import Canvas, drawing_settings
from skyview.report.frame import Window
from skyview.report.lettering import width_px
from skyview.report.papers.calls import PITCH, draw_calls, hang_calls
from skyview.report.papers.wording import brief as words
from skyview.survey.outlook import Outlook

WIDTH_PX, SCALE = 2000, 1.9
SIDE = 62.0
FEW, MANY = 14, 30
"""Up to so many stations hang on four rails, up to the other on six, more on nine."""


def strip(outlook: Outlook) -> tuple[bytes, tuple[str, ...]]:
    """The strip as a PNG file, and the stations that found no room for their name."""
    rows = [s.row for s in outlook.stations]
    count = len(rows)
    rails = 4 if count <= FEW else 6 if count <= MANY else 9
    with drawing_settings():
        canvas = Canvas(WIDTH_PX, SCALE, "png", "#FFFFFF")
        s = canvas.scale
        left = _cut([r.bearing_deg for r in rows])
        x0, width = SIDE * s, WIDTH_PX - round(1.35 * SIDE * s)
        sun = 30.0 * s if outlook.sun else 0.0
        sky = (rails * PITCH + 34.0) * s + sun
        window = Window(left, left + 360.0, 0.0, 1.0, x0, 4.0, width, round(sky))
        canvas.box(window.box, fill=ink.PAPER, rim=ink.INK, weight=ink.FRAME_LINE, z=0.5)
        _draw_sectors(canvas, window, outlook)
        _draw_sun(canvas, window, outlook)
        low = window.box[3]
        marks = []
        for row in rows:
            x = float(window.x(window.unrolled(row.bearing_deg)))
            half = 4.0 * s
            marks.append((x - half, low - 2.0 * half, x + half, low))
        names = [r.station for r in rows]
        room = (x0 + 4.0, window.y0 + 6.0 * s + sun, window.box[2] - 4.0, low)
        tags = hang_calls(canvas, names, marks, room, rails)
        draw_calls(canvas, names, [st.free for st in outlook.stations], tags)
        for left_px, top, right_px, bottom in marks:
            canvas.shape([(left_px, top), (right_px, top), ((left_px + right_px) / 2, bottom)],
                         fill=ink.INK, z=20.0)  # fmt: skip
        end = frame.draw_border(canvas, window, outlook.declination_deg)
        content = canvas.save(end + 6.0 * s, words.TITLE, "")
    return content, tuple(n for n, tag in zip(names, tags, strict=True) if tag is None)


def _cut(bearings_deg: list[float]) -> float:
    """Where the circle is cut: amid the widest gap, at a multiple of five. [deg]"""
    if not bearings_deg:
        return -180.0
    order = np.sort(np.array(bearings_deg) % 360.0)
    gap = np.diff(np.append(order, order[0] + 360.0))
    widest = int(np.argmax(gap))
    middle = float(order[widest] + gap[widest] / 2.0)
    return round((middle % 360.0) / 5.0) * 5.0 - 360.0


def _draw_sectors(canvas: Canvas, window: Window, outlook: Outlook) -> None:
    """A panel behind each sector to photograph."""
    if outlook.whole_circle:
        return
    for sector in outlook.sectors:
        start = window.unrolled(sector.low_deg)
        end = start + (sector.high_deg - sector.low_deg) % 360.0
        for turn in (-360.0, 0.0):
            low, high = max(start + turn, window.left_deg), min(end + turn, window.right_deg)
            if high > low:
                box = (float(window.x(low)), window.y0 + 1, float(window.x(high)), window.box[3])
                canvas.box(box, fill=ink.RULE, alpha=0.55, z=0.8)


def _draw_sun(canvas: Canvas, window: Window, outlook: Outlook) -> None:
    """The sun's hours along the top: a ring with its hour, where there is room."""
    s = canvas.scale
    style = canvas.style(13.5)
    end = -1e9
    y = window.y0 + 15.0 * s
    turn = np.linspace(0.0, 2.0 * np.pi, 33)
    places = sorted((float(window.x(window.unrolled(h.azimuth_deg))), h.hour) for h in outlook.sun)
    for x, hour in places:
        text = words.hour(hour)
        if x - 8.0 * s < end or x > window.box[2] - 30.0 * s:
            continue
        canvas.line(x + 5.0 * s * np.cos(turn), y + 5.0 * s * np.sin(turn), 1.6, z=5.0)
        canvas.text(x + 8.0 * s, y + 5.0 * s, text, style, colour=ink.INK_2, halo=True, z=6.0)
        end = x + 8.0 * s + width_px(text, style)
