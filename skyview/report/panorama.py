"""The annotated picture of one view: the plate, its frame, its stations, its legend."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import BinaryIO, get_args

from skyview.errors import InputError
from skyview.files import write_whole
from skyview.report import chips, frame, ink, legend, names, silhouettes, stations, words
from skyview.report.canvas import Canvas, FileFormat, drawing_settings
from skyview.report.frame import Window
from skyview.report.lettering import shortened, width_px
from skyview.survey.results import PathRow, Plate

SIDE_MARGIN = 62.0
_NARROWEST_PX_PER_DEG = 5.4
_SIDE_LEGEND = 520.0
_TALLEST_BESIDE_LEGEND = 0.5
_TALLEST = 1.6
_WIDTHS_PX = (480, 12_000)


def draw_plate(
    plate: Plate,
    path: Path | BinaryIO,
    *,
    file_format: str | None = None,
    width_px: int = 2200,
) -> None:
    """Draws the picture of one view as PNG, SVG or PDF into a file or an open binary stream.

    ``file_format`` is "png", "svg" or "pdf"; where it is None the file's name tells. The picture
    is ``width_px`` wide [px, 1 px is 0.72 pt]; its height follows from what it shows. A wide
    plate on a narrow sheet is cut into strips, one under the other. Drawing the same plate again
    gives the same bytes.

    Raises InputError for an unknown format or a width outside 480..12000, StorageError where the
    file cannot be written.
    """
    title, text = words.heading(plate), words.description(plate)
    write_sheet(path, file_format, width_px, title, text, lambda canvas: _draw(canvas, plate))


def write_sheet(
    path: Path | BinaryIO,
    file_format: str | None,
    width_px: int,
    title: str,
    description: str,
    draw: Callable[[Canvas], float],
) -> None:
    """Draws a sheet into a file or an open binary stream; ``draw`` gives back its height. [px]

    Format, width and errors raised as in `draw_plate`.
    """
    form = _format_of(path, file_format)
    if not _WIDTHS_PX[0] <= width_px <= _WIDTHS_PX[1]:
        raise InputError(
            f"a picture {width_px} px wide cannot be drawn",
            field="width",
            mend=f"choose {_WIDTHS_PX[0]} to {_WIDTHS_PX[1]} px",
        )
    with drawing_settings():
        canvas = Canvas(width_px, ink.scale_for(width_px), form)
        height = draw(canvas)
        content = canvas.save(height, title, description)
    if not isinstance(path, Path):
        path.write(content)
        return
    write_whole(path, content, "the picture cannot be written")


def _format_of(path: Path | BinaryIO, file_format: str | None) -> FileFormat:
    asked = file_format or (path.suffix[1:] if isinstance(path, Path) else "")
    known: FileFormat
    for known in get_args(FileFormat):
        if asked.lower() == known:
            return known
    raise InputError(
        f"pictures are not drawn as {asked!r}",
        file=path if isinstance(path, Path) else None,
        mend="end the file's name in .png, .svg or .pdf",
    )


def _draw(canvas: Canvas, plate: Plate) -> float:
    """Everything on the sheet, from top to bottom; its height. [px]"""
    s = canvas.scale
    x, room = SIDE_MARGIN * s, canvas.width - 2 * SIDE_MARGIN * s
    windows = windows_of(canvas, plate, x, room)
    beside = room - windows[0].width >= _SIDE_LEGEND * s
    inside, left, right = sorted_rows(windows, plate.rows)
    outside = len(left) + len(right)
    top = _draw_header(canvas, plate, x, room, len(plate.rows) - outside, outside)
    y = top
    untagged: list[PathRow] = []
    for index, window in enumerate(windows):
        edge_rows = {
            "left": left if index == 0 else [],
            "right": right if index == len(windows) - 1 else [],
        }
        y, missing = _draw_strip(canvas, plate, replace(window, y0=y), inside[index], edge_rows)
        untagged += missing["tag"]
        left = missing["left"] if index == 0 else left
        right = missing["right"] if index == len(windows) - 1 else right
        y += 14 * s
    if beside:
        at = x + windows[0].width + (SIDE_MARGIN + 20) * s
        side_end = legend.draw_legend(canvas, at, top, canvas.width - at - 20 * s, plate)
        y = max(y, side_end)
    y = _draw_lists(canvas, plate, x, y, room, {"tag": untagged, "left": left, "right": right})
    if not beside:
        y += 12 * s
        canvas.line((x, x + room), (y, y), 1.4)
        y = legend.draw_legend(canvas, x, y + 12 * s, room, plate)
    return _draw_foot(canvas, plate, x, y + 8 * s, room) + 20 * s


def windows_of(canvas: Canvas, plate: Plate, x: float, room: float) -> list[Window]:
    """The strips of the plate, each at y 0, with one scale for both angles."""
    s = canvas.scale
    span, rise = plate.right_deg - plate.left_deg, plate.top_deg - plate.bottom_deg
    count = max(1, math.ceil(span * _NARROWEST_PX_PER_DEG * s / room))
    each = span / count
    scale = min(room / each, _TALLEST * canvas.width / rise)
    beside = _TALLEST_BESIDE_LEGEND * canvas.width / rise
    if count == 1 and room - each * beside >= (_SIDE_LEGEND + SIDE_MARGIN) * s:
        scale = min(scale, beside)
    width, height = max(1, round(each * scale)), max(1, round(rise * scale))
    return [
        Window(
            plate.left_deg + each * i,
            plate.left_deg + each * (i + 1),
            plate.bottom_deg,
            plate.top_deg,
            round(x),
            0.0,
            width,
            height,
        )
        for i in range(count)
    ]


def sorted_rows(
    windows: Sequence[Window], rows: Sequence[PathRow]
) -> tuple[list[list[PathRow]], list[PathRow], list[PathRow]]:
    """The stations of each window, and those beyond the left and the right edge, nearest first."""
    inside: list[list[PathRow]] = [[] for _ in windows]
    outside: dict[chips.Edge, list[PathRow]] = {"left": [], "right": []}
    for row in rows:
        home = next((i for i, w in enumerate(windows) if w.holds(row.bearing_deg)), None)
        if home is None:
            outside[chips.nearest_edge(windows[0], windows[-1], row.bearing_deg)].append(row)
        else:
            inside[home].append(row)
    first, last = windows[0].left_deg, windows[-1].right_deg
    outside["left"].sort(key=lambda row: (first - row.bearing_deg) % 360.0)
    outside["right"].sort(key=lambda row: (row.bearing_deg - last) % 360.0)
    return inside, outside["left"], outside["right"]


def _draw_header(
    canvas: Canvas, plate: Plate, x: float, room: float, inside: int, outside: int
) -> float:
    """Title and subtitle, with the survey's title and the count opposite; their end's y."""
    s = canvas.scale
    small = canvas.style(ink.SUBTITLE)
    title = canvas.style(ink.TITLE, "serif", bold=True)
    name = canvas.style(ink.LEGEND_HEAD, bold=True)
    count = words.counted(inside, outside)
    subtitle = words.subtitle(plate)
    right = x + room
    wide = (
        width_px(subtitle, small) + width_px(count, small) + 40 * s <= room
        and width_px(words.heading(plate), title) + width_px(plate.title, name) + 40 * s <= room
    )
    if wide:
        canvas.text(x, 56 * s, words.heading(plate), title)
        canvas.text(right, 56 * s, plate.title, name, ha="right")
        canvas.text(x, 88 * s, subtitle, small, colour=ink.INK_2)
        canvas.text(right, 88 * s, count, small, colour=ink.INK_2, ha="right")
        return 110 * s
    canvas.text(x, 32 * s, shortened(plate.title, name, room), name)
    y = legend.draw_paragraph(canvas, x, 34 * s, room, words.heading(plate), title, ink.INK)
    y = legend.draw_paragraph(canvas, x, y - 6 * s, room, subtitle, small)
    canvas.text(x, y + 16 * s, count, small, colour=ink.INK_2)
    return y + 36 * s


def _draw_strip(
    canvas: Canvas,
    plate: Plate,
    window: Window,
    rows: Sequence[PathRow],
    edge_rows: dict[str, list[PathRow]],
) -> tuple[float, dict[str, list[PathRow]]]:
    """One window with all that belongs to it; its lower end, and who found no place."""
    pennant = frame.pennant_box(canvas, window)
    marks = [pin.box for pin in stations.pin_stations(canvas, window, rows)]
    marks += [pennant] if pennant else []
    planned = [
        chips.plan_chip(canvas, window, "left", edge_rows["left"], marks),
        chips.plan_chip(canvas, window, "right", edge_rows["right"], marks),
    ]
    plan = stations.plan_tags(
        canvas,
        window,
        rows,
        plate.selected,
        [chip.box for chip in planned if chip],
        silhouettes.shapes_in(window, plate) + silhouettes.zone_shapes(window, plate.fresnel),
    )
    down = plan.headroom
    window, plan = replace(window, y0=window.y0 + down), stations.moved(plan, down)
    shown = [replace(chip, box=chips.lowered(chip.box, down)) for chip in planned if chip]
    _draw_window(canvas, plate, window, plan, shown)
    low = frame.draw_border(canvas, window, plate.declination_deg)
    missing = {"tag": plan.untagged()}
    for edge, chip in zip(("left", "right"), planned, strict=True):
        missing[edge] = edge_rows[edge][len(chip.rows) :] if chip else edge_rows[edge]
    return low, missing


def _draw_window(
    canvas: Canvas,
    plate: Plate,
    window: Window,
    plan: stations.Plan,
    shown: Sequence[chips.Chip],
) -> None:
    """All that lies on the photograph; each thing keeps off what was laid before it."""
    frame.draw_photograph(canvas, window, plate)
    silhouettes.draw_outlines(canvas, window, plate)
    frame.draw_north(canvas, window)
    for chip in shown:
        chips.draw_chip(canvas, chip)
    shapes = silhouettes.shapes_in(window, plate)
    stations.draw_stations(canvas, window, plan, plate.selected, shapes)
    taken = plan.boxes() + [chip.box for chip in shown]
    pennant = frame.pennant_box(canvas, window)
    zone = silhouettes.draw_zone(canvas, window, plate.fresnel) if plate.fresnel else None
    taken += [box for box in (pennant, zone) if box]
    level = frame.draw_level(canvas, window, plate, taken)
    frame.draw_terrain(canvas, window, plate)
    taken += [level] if level else []
    taken += names.draw_names(canvas, window, plate, taken, plan.poles())
    frame.draw_crosses(canvas, window, taken)
    frame.draw_elevations(canvas, window)


def _draw_lists(
    canvas: Canvas, plate: Plate, x: float, y: float, room: float, lists: dict[str, list[PathRow]]
) -> float:
    """The chosen station's sentence, and the stations that found no place; their end's y."""
    chosen = next((row for row in plate.rows if row.station == plate.selected), None)
    if chosen is not None:
        style = canvas.style(ink.LEGEND_WORD, "serif")
        text = words.chosen_sentence(chosen)
        y = legend.draw_paragraph(canvas, x, y, room, text, style, ink.INK)
    y = legend.draw_list(canvas, x, y, room, "untagged", lists["tag"])
    y = legend.draw_list(canvas, x, y, room, "outside_left", lists["left"])
    return legend.draw_list(canvas, x, y, room, "outside_right", lists["right"])


def _draw_foot(canvas: Canvas, plate: Plate, x: float, y: float, room: float) -> float:
    """Captions and cautions; their end's y."""
    style = canvas.style(ink.LEGEND_TEXT, "serif", italic=True)
    texts = [words.outlines_caption(plate.above_camera_m), words.sentence("whole_way")]
    y = legend.draw_paragraph(canvas, x, y, room, " ".join(texts), style)
    lines = [line.obstruction for line in plate.silhouettes if line.kind == "power_line"]
    if not lines and not plate.lines_checked:
        caution = canvas.style(ink.LEGEND_TEXT, "serif", bold=True)
        text = words.sentence("lines_unchecked")
        y = legend.draw_paragraph(canvas, x, y, room, text, caution, ink.INK)
    if lines:
        caution = canvas.style(ink.LEGEND_TEXT, "serif", bold=True)
        text = words.power_line_caution(list(dict.fromkeys(lines)))
        y = legend.draw_paragraph(canvas, x, y, room, text, caution, ink.INK)
    return y
