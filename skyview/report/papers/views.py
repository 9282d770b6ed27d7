"""The customer's pictures: the view with the chosen antenna, and what stands in one way."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from PIL import Image

from skyview.angles import Array
from skyview.report import frame, ink, silhouettes
from skyview.report.canvas import Canvas, drawing_settings
from skyview.report.frame import Window
from skyview.report.lettering import width_px
from skyview.report.marks import draw_mark
from skyview.report.papers.calls import PITCH, draw_calls, hang_calls
from skyview.report.papers.wording import shared
from skyview.report.papers.wording import sheet as words
from skyview.report.stations import pin_stations
from skyview.survey.results import PathRow, Plate

WIDTH_PX, SCALE = 2000, 2.15
"""The text's width at 280 dots to the inch; letters as large as those of the text."""

CROP_PX, CROP_SCALE = 760, 2.4
CROP_RATIO = 0.82
"""Height of the crop over its width."""

LEAST_SPAN_DEG, ASIDE_DEG = 75.0, 9.0
LOWEST_DEG = -7.0
RAILS = 3
WHITE = "#FFFFFF"
MATTERS_DB = 1.0
"""What costs a station less is not outlined in the overview."""

_JPEG_QUALITY = 88


@dataclass(frozen=True)
class View:
    """A picture, and what it could not show."""

    content: bytes
    """A JPEG file."""
    unnamed: tuple[str, ...]
    """Stations in the picture without room for their name."""
    outside: tuple[str, ...]
    """Stations whose direction the picture does not show."""


def overview(plate: Plate, chosen: Sequence[str], aim_deg: float | None) -> View:
    """The part of the plate that holds the ``chosen`` stations and the aim."""
    rows = [row for row in plate.rows if row.station in chosen]
    left, right = span_deg(plate, [r.bearing_deg for r in rows], aim_deg)
    things = {n for r in rows for n, db in r.shares_db.items() if db >= MATTERS_DB}
    shapes = tuple(s for s in plate.silhouettes if s.obstruction in things)
    per_deg = WIDTH_PX / (right - left)
    tags_deg = (RAILS * PITCH + 30.0) * SCALE / per_deg
    marks = [r.arrival_elevation_deg for r in rows]
    tops = [_top_within(s.rings_deg[0], left, right) for s in shapes]
    low = max(plate.bottom_deg, LOWEST_DEG)
    high = min(plate.top_deg, max([*marks, 2.0]) + tags_deg + 3.0)
    high = min(plate.top_deg, max([high, *(t + 1.5 for t in tops)]), low + 0.42 * (right - left))
    part = replace(plate, bottom_deg=low, top_deg=high, silhouettes=shapes, selected=None)
    height = max(round((high - low) * per_deg), 40)
    window = Window(left, right, low, high, 2.0, 2.0, WIDTH_PX - 4, height)
    with drawing_settings():
        canvas = Canvas(WIDTH_PX, SCALE, "png", WHITE)
        inside = [r for r in rows if _held(window, plate, r.bearing_deg)]
        frame.draw_photograph(canvas, window, part)
        silhouettes.draw_outlines(canvas, window, part)
        pins = pin_stations(canvas, window, inside)
        names = [r.station for r in inside]
        room = (14.0, window.y0 + 7 * SCALE, WIDTH_PX - 14.0, window.box[3])
        rails = max(1, min(RAILS, int(0.6 * height // (PITCH * SCALE))))
        tags = hang_calls(canvas, names, [pin.box for pin in pins], room, rails)
        draw_calls(canvas, names, [r.reception for r in inside], tags)
        for pin in pins:
            draw_mark(canvas, pin.x, pin.y, pin.row.path, beyond=pin.row.beyond_horizon)
        low_px = _draw_below(canvas, window, plate, aim_deg)
        content = _as_jpeg(canvas.save(low_px, words.TITLE, ""))
    missing = tuple(n for n, tag in zip(names, tags, strict=True) if tag is None)
    return View(content, missing, tuple(r.station for r in rows if r.station not in names))


def _top_within(ring: Array, left: float, right: float) -> float:
    aside = (ring[:, 0] - left) % 360.0
    shown = ring[aside <= right - left, 1]
    return float(shown.max()) if shown.size else -90.0


def _held(window: Window, plate: Plate, azimuth_deg: float) -> bool:
    turned = (azimuth_deg - plate.left_deg) % 360.0
    return window.holds(azimuth_deg) and turned <= plate.right_deg - plate.left_deg + 1e-9


def span_deg(
    plate: Plate, bearings_deg: Sequence[float], aim_deg: float | None
) -> tuple[float, float]:
    """The narrowest part of the plate with all bearings that it shows and the aim, and air."""
    whole = plate.right_deg - plate.left_deg
    wanted = [*bearings_deg, *([] if aim_deg is None else [aim_deg])]
    turned = np.sort((np.array(wanted, float) - plate.left_deg) % 360.0)
    turned = turned[turned <= whole]
    if turned.size == 0:
        return plate.left_deg, plate.right_deg
    closed = whole >= 360.0 - 1e-6
    start, end = float(turned[0]), float(turned[-1])
    if closed:
        gaps = np.diff(np.append(turned, turned[0] + 360.0))
        widest = int(np.argmax(gaps))
        start = float(turned[(widest + 1) % turned.size])
        end = start + 360.0 - float(gaps[widest])
    air = max(ASIDE_DEG, (LEAST_SPAN_DEG - (end - start)) / 2.0)
    start, end = start - air, end + air
    if closed:
        end = min(end, start + 360.0)
    else:
        start, end = max(0.0, start), min(whole, end)
    left = plate.left_deg + start
    return left, left + (end - start)


def _draw_below(canvas: Canvas, window: Window, plate: Plate, aim_deg: float | None) -> float:
    """Compass words under the picture and the pencil's pointer to where the antenna looks."""
    s = canvas.scale
    low = window.box[3]
    taken: list[tuple[float, float]] = []
    if aim_deg is not None and _held(window, plate, aim_deg):
        x = float(window.x(window.unrolled(aim_deg)))
        style = canvas.style(17.0, "serif", bold=True)
        wide = width_px(words.AIM_HERE, style)
        canvas.shape(
            [(x - 9 * s, low + 19 * s), (x + 9 * s, low + 19 * s), (x, low + 3 * s)],
            fill=ink.PENCIL,
        )
        right = x + 14 * s + wide < window.box[2]
        at = x + 14 * s if right else x - 14 * s
        canvas.text(
            at, low + 20 * s, words.AIM_HERE, style, colour=ink.PENCIL,
            ha="left" if right else "right",
        )  # fmt: skip
        taken.append((at - (0 if right else wide) - 20 * s, at + (wide if right else 0) + 20 * s))
        taken.append((x - 20 * s, x + 20 * s))
    style = canvas.style(17.0, "serif")
    first = int(np.ceil(window.left_deg / 45.0))
    for step in range(first, int(np.floor(window.right_deg / 45.0)) + 1):
        x = float(window.x(45.0 * step))
        canvas.line((x, x), (low, low + 7 * s), 1.6)
        word = shared.compass_word(45.0 * step)
        half = width_px(word, style) / 2
        at = min(max(x, window.box[0] + half), window.box[2] - half)
        if all(at + half < a or at - half > b for a, b in taken):
            canvas.text(at, low + 22 * s, word, style, ha="center")
            taken.append((at - half - 6 * s, at + half + 6 * s))
    return low + 30 * s


def crop(plate: Plate, row: PathRow) -> bytes | None:
    """What stands in the way of one station, its outline in pencil; None where no picture shows
    that direction. A JPEG file."""
    whole = plate.right_deg - plate.left_deg
    turned = (row.bearing_deg - plate.left_deg) % 360.0
    if turned > whole or not plate.bottom_deg < row.arrival_elevation_deg < plate.top_deg:
        return None
    shape = next((s for s in plate.silhouettes if s.obstruction == row.obstruction), None)
    left, right, bottom, top = _crop_box(row, None if shape is None else shape.rings_deg[0], plate)
    part = replace(
        plate, left_deg=plate.left_deg, bottom_deg=bottom, top_deg=top,
        selected=row.station, silhouettes=() if shape is None else (shape,),
    )  # fmt: skip
    height = round(CROP_PX * (top - bottom) / (right - left))
    window = Window(left, right, bottom, top, 2.0, 2.0, CROP_PX - 4, height)
    with drawing_settings():
        canvas = Canvas(CROP_PX, CROP_SCALE, "png", WHITE)
        frame.draw_photograph(canvas, window, part)
        silhouettes.draw_outlines(canvas, window, part)
        if plate.fresnel is not None:
            for points in silhouettes.zone_shapes(window, plate.fresnel):
                canvas.shape(points, fill=ink.PAPER, alpha=0.34, clip=window.box, z=11.0)
                canvas.line(points[:, 0], points[:, 1], ink.ZONE, case=1.6, clip=window.box, z=11.5)
        (pin,) = pin_stations(canvas, window, [row])
        draw_mark(canvas, pin.x, pin.y, row.path, beyond=row.beyond_horizon)
        return _as_jpeg(canvas.save(height + 4, row.station, ""))


def _crop_box(row: PathRow, ring: Array | None, plate: Plate) -> tuple[float, float, float, float]:
    """Left, right, bottom, top of the crop: the station amid what stands there. [deg]"""
    zone = plate.fresnel.radius_deg if plate.fresnel is not None else 1.0
    wide, middle, centre_up = max(18.0, 5.0 * zone), row.bearing_deg, row.arrival_elevation_deg
    if ring is not None:
        aside = (ring[:, 0] - row.bearing_deg + 180.0) % 360.0 - 180.0
        near_left, near_right = max(float(aside.min()), -25.0), min(float(aside.max()), 25.0)
        low, high = min(near_left, -2.0 * zone, -3.0), max(near_right, 2.0 * zone, 3.0)
        tall = max(float(ring[:, 1].max()), row.arrival_elevation_deg + 2.0 * zone)
        tall -= max(plate.bottom_deg, -6.0)
        wide = min(max(high - low + 5.0, 1.1 * tall / CROP_RATIO, 16.0), 56.0)
        middle += (low + high) / 2.0
        centre_up = max(plate.bottom_deg, -6.0) + 0.5 * wide * CROP_RATIO
    tall = min(wide * CROP_RATIO, plate.top_deg - plate.bottom_deg)
    bottom = min(max(centre_up - tall / 2.0, plate.bottom_deg), plate.top_deg - tall)
    left = middle - wide / 2.0
    return left, left + wide, bottom, bottom + tall


def _as_jpeg(png: bytes) -> bytes:
    out = io.BytesIO()
    picture = Image.open(io.BytesIO(png)).convert("RGB")
    picture.save(out, "JPEG", quality=_JPEG_QUALITY, optimize=True)
    return out.getvalue()
