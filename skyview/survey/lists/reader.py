"""A list of stations or landmarks: the file at once, or one sentence why not."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from skyview.errors import InputError
from skyview.place.channels import channels_of
from skyview.survey.lists.columns import Layout
from skyview.survey.lists.geojson import features_of
from skyview.survey.lists.identity import name_each
from skyview.survey.lists.reading import (
    LandmarkReading,
    Notes,
    Record,
    Rejected,
    StationReading,
)
from skyview.survey.lists.rows import (
    GroundAmslOf,
    RefusedError,
    Row,
    height_amsl_m,
    place_of,
    texts_of,
)
from skyview.survey.lists.spellings import Kind
from skyview.survey.lists.stations import station_of
from skyview.survey.lists.table import fitted, table_of, text_of
from skyview.survey.lists.values import shown

_NUMBERS = (
    *("erp", "eirp", "haat", "antenna_amsl", "antenna_agl", "ground_amsl", "frequency"),
    *("required_cn", "top_amsl", "top_agl", "sigma", "strength", "cn"),
)
_ONE_MARK = re.compile(r"[+-]?(\d+)([.,])(\d+)(?![.,\d])")


def read_station_list(
    path: str | Path,
    *,
    plan: str,
    columns: str | None = None,
    strict: bool = False,
    ground_amsl_of: GroundAmslOf | None = None,
) -> StationReading:
    """Stations from delimited text or GeoJSON points.

    ``plan`` names the channel plan of the RF channels. ``columns`` names the columns in order
    for a list without headers, "-" for one to leave aside. ``ground_amsl_of`` gives the ground
    under a height above ground where the list has no column for it. Rows that cannot be used
    are listed in ``rejected``; with ``strict`` the first of them refuses the file.

    Raises InputError, one sentence, for a file that is no list, lacks a column that stations
    need or has no usable row; StorageError where the file system refuses.
    """
    channels_of(plan)

    def record_of(row: Row) -> Record:
        return station_of(row, plan, ground_amsl_of)

    source = source_of(path, "stations", columns)
    _need_place(source.layout, path)
    _need_channel(source.layout, path)
    _need_height(source.layout, path, ground_amsl_of is not None)
    records, rejected = records_of(source, path, strict, record_of)
    name_each(records, "S", source.notes)
    return StationReading(*told_of(source, records, rejected), records)


def read_landmark_list(
    path: str | Path,
    *,
    columns: str | None = None,
    strict: bool = False,
    ground_amsl_of: GroundAmslOf | None = None,
) -> LandmarkReading:
    """Landmarks from delimited text or GeoJSON points, as ``read_station_list``.

    The top's height above sea level and the place's sigma are None where they are not given. A
    height that does not say what it is above is left out, and that is said.
    """

    def record_of(row: Row) -> Record:
        return _landmark_of(row, ground_amsl_of)

    source = source_of(path, "landmarks", columns)
    _need_place(source.layout, path)
    records, rejected = records_of(source, path, strict, record_of)
    name_each(records, "L", source.notes)
    for record in records:
        del record["name"]
    return LandmarkReading(*told_of(source, records, rejected), records)


@dataclass(frozen=True)
class Source:
    """One list's rows, before any of them is read."""

    layout: Layout
    width: int
    rows: list[tuple[int, list[str]]]
    rejected: list[Rejected]
    format: str
    decimal_comma: bool
    notes: Notes
    warnings: Notes

    @property
    def rows_read(self) -> int:
        return len(self.rows) + len(self.rejected)


def source_of(path: str | Path, kind: Kind, columns: str | None) -> Source:
    notes = Notes()
    text, encoding = text_of(path, notes)
    opening = text.lstrip()[:1]
    if opening in ("{", "["):
        layout, rows, rejected = features_of(text, kind, path, notes)
        width, form, decimal_comma = len(rows[0][1]), "GeoJSON", False
    elif opening == "<":
        raise InputError("the file is a web page or XML", path, mend="save the list as CSV text")
    else:
        table = table_of(text, kind, columns, path, notes)
        layout, rows, width = table.layout, table.rows, table.width
        rejected = [Rejected(line, "row", reason) for line, reason in table.broken]
        form = f"CSV, {table.name}, {encoding}"
        decimal_comma = _decimal_comma(rows, layout, table.delimiter == ",")
        if decimal_comma:
            notes.add("commas in numbers read as decimal signs")
    for sentence in layout.notes:
        notes.add(sentence)
    if layout.ignored:
        notes.add("columns left aside: " + ", ".join(shown(name) for name in layout.ignored))
    return Source(layout, width, rows, rejected, form, decimal_comma, notes, Notes())


def _decimal_comma(rows: list[tuple[int, list[str]]], layout: Layout, comma_delimits: bool) -> bool:
    """Whether the list writes decimal commas, told by all its numbers together.

    A comma that cannot part thousands settles it. Commas before three digits settle it only
    where no number has a point and the comma does not part the columns.
    """
    indices = [layout.columns[name].index for name in _NUMBERS if name in layout.columns]
    places = [
        layout.columns[name].index for name in ("latitude", "longitude") if name in layout.columns
    ]
    commas = points = False
    for _, cells in rows:
        for index in (*places, *indices):
            mark = _ONE_MARK.match(cells[index].strip()) if index < len(cells) else None
            if mark is None:
                continue
            if mark[2] == ".":
                points = True
            elif index in places or len(mark[3]) != 3 or len(mark[1]) > 3:
                return True
            else:
                commas = True
    return commas and not points and not comma_delimits


def told_of(
    source: Source, used: list[Record], rejected: list[Rejected]
) -> tuple[str, int, int, list[Rejected], list[str], list[str]]:
    """What every `ListReading` begins with."""
    return (
        source.format,
        source.rows_read,
        len(used),
        rejected,
        source.notes.sentences(),
        source.warnings.sentences(),
    )


def records_of(
    source: Source, path: str | Path, strict: bool, record_of: Callable[[Row], Record]
) -> tuple[list[Record], list[Rejected]]:
    records: list[Record] = []
    rejected = list(source.rejected)
    for line, cells in source.rows:
        notes, warnings = Notes(), Notes()
        try:
            records.append(record_of(_row(source, line, cells, notes, warnings)))
        except RefusedError as refused:
            rejected.append(Rejected(line, refused.field, refused.reason))
            continue
        source.notes.merge(notes)
        source.warnings.merge(warnings)
    rejected.sort(key=lambda row: row.line)
    if rejected and (strict or not records):
        first = rejected[0]
        word = "feature" if source.format == "GeoJSON" else "line"
        lead = "" if records else f"none of {source.rows_read} rows can be used; the first, "
        raise InputError(
            f"{lead}{word} {first.line}: {first.reason}",
            path,
            first.field,
            "mend the row, or read the list without --strict" if records else None,
        )
    return records, rejected


def _row(source: Source, line: int, cells: list[str], notes: Notes, warnings: Notes) -> Row:
    cells = fitted(cells, source.width)
    if len(cells) > source.width:
        raise RefusedError(
            "row",
            f"the row has {len(cells)} values for {source.width} columns; a cell that holds the "
            "delimiter needs quotation marks",
        )
    texts = texts_of(source.layout, cells)
    return Row(source.layout, texts, line, source.decimal_comma, notes, warnings)


def _landmark_of(row: Row, ground_amsl_of: GroundAmslOf | None) -> Record:
    place = place_of(row)
    top = height_amsl_m(row, place, "top_amsl", "top_agl", ground_amsl_of)
    sigma = row.length_m("sigma", "sigma_m")
    if sigma is not None and sigma < 0:
        raise RefusedError("sigma_m", f"{sigma:g} m is negative")
    for quantity in ("height_unstated", "elevation_unstated"):
        if top is None and row.text(quantity):
            row.notes.add(
                f"{row.header(quantity)} does not say what it is above and is left out; head it "
                "top_amsl_m or top_agl_m"
            )
    return {
        "id": row.words("id", 1000),
        "name": row.words("name", 1000),
        "latitude_deg": place[0],
        "longitude_deg": place[1],
        "top_amsl_m": top,
        "sigma_m": sigma,
    }


def _need_place(layout: Layout, path: str | Path) -> None:
    for axis in ("latitude", "longitude"):
        if axis not in layout.columns and "position" not in layout.columns:
            raise InputError(
                f"no column gives the {axis}",
                path,
                f"{axis}_deg",
                f"head it {axis}_deg, or name the columns with --columns",
            )


def _need_channel(layout: Layout, path: str | Path) -> None:
    if not {"rf_channel", "frequency"} & layout.columns.keys():
        virtual = "virtual_channel" in layout.columns
        raise InputError(
            "only virtual channels are given" if virtual else "no column gives the RF channel",
            path,
            "rf_channel",
            "add a column rf_channel or frequency_mhz",
        )


def _need_height(layout: Layout, path: str | Path, terrain: bool) -> None:
    known = layout.columns
    if "antenna_amsl" in known or ("antenna_agl" in known and ("ground_amsl" in known or terrain)):
        return
    mend = "add antenna_amsl_m, or antenna_agl_m and ground_amsl_m"
    if "antenna_agl" in known:
        what = "the heights are above ground, and no column gives the ground above sea level"
        mend = "add ground_amsl_m"
    elif "height_unstated" in known or "elevation_unstated" in known:
        column = known.get("height_unstated") or known["elevation_unstated"]
        what = f"column {shown(column.header)} does not say what the height is above"
        mend = "head it antenna_amsl_m, antenna_agl_m or haat_m"
    elif "haat" in known:
        what = "heights above average terrain alone do not tell the height above sea level"
    else:
        what = "no column gives the antenna's height above sea level"
    raise InputError(what, path, "antenna_amsl_m", mend)
