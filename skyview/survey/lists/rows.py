"""One row of cells by quantity: its texts, heights and place, or the reason why it is refused."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from skyview.survey.lists import values
from skyview.survey.lists.columns import Column, Layout
from skyview.survey.lists.positions import (
    LATITUDE,
    LONGITUDE,
    Axis,
    angle_deg_from,
    angle_deg_from_cells,
    both_deg_from,
)
from skyview.survey.lists.reading import Notes
from skyview.survey.lists.spellings import FEET, HEMISPHERES
from skyview.survey.lists.values import UnreadableError, shown

GroundAmslOf = Callable[[float, float], float | None]
"""Height of the ground above sea level [m] at a latitude and longitude [deg], None unknown."""

LOWEST_AMSL_M, HIGHEST_AMSL_M = -500.0, 12_000.0
"""The heights that a survey file takes."""


class RefusedError(ValueError):
    """A row that cannot be used: the field that stands in the way, and the reason."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(field, reason)
        self.field = field
        self.reason = reason


@contextmanager
def refusing(field: str) -> Iterator[None]:
    """Turns an unreadable cell into a refused row that names the field."""
    try:
        yield
    except UnreadableError as trouble:
        raise RefusedError(field, str(trouble)) from None


@dataclass(frozen=True)
class Row:
    """The texts of one row by quantity, and where to note what is assumed of them."""

    layout: Layout
    texts: dict[str, str]
    line: int
    decimal_comma: bool
    notes: Notes
    warnings: Notes

    def header(self, quantity: str) -> str:
        """The header of a quantity's column as it is quoted in a sentence."""
        return shown(self.layout.columns[quantity].header)

    def unit(self, quantity: str) -> str:
        """The unit of a quantity's column, "" where none is said."""
        column: Column | None = self.layout.columns.get(quantity)
        return "" if column is None else column.unit

    def text(self, quantity: str) -> str:
        """The cell of a quantity, "" where it says nothing."""
        return self.texts.get(quantity, "")

    def words(self, quantity: str, longest: int) -> str | None:
        """The cell as text without control characters, None where it says nothing."""
        text = clean(self.text(quantity))
        if len(text) > longest:
            self.notes.add(f"{self.header(quantity)} cut to {longest} letters", self.line)
        return text[:longest].strip() or None

    def length_m(self, quantity: str, field: str) -> float | None:
        """The cell as a height, feet converted. [m]"""
        text, unit = self.text(quantity), self.unit(quantity)
        if not text:
            return None
        with refusing(field):
            length = values.length_m_from(text, unit, self.decimal_comma)
            if (values.number_and_unit(text, self.decimal_comma)[1].casefold() or unit) in FEET:
                self.notes.add(f"{self.header(quantity)} converted from feet to metres")
        return length


def texts_of(layout: Layout, cells: Sequence[str]) -> dict[str, str]:
    """The cells that say something, by quantity.

    An apostrophe that guards a text against being taken for a formula is dropped.
    """
    texts = {}
    for quantity, column in layout.columns.items():
        text = cells[column.index].strip() if column.index < len(cells) else ""
        if text[:1] == "'" and text[1:2] in ("=", "+", "-", "@"):
            text = text[1:]
        if text and not values.is_blank(text):
            texts[quantity] = text
    return texts


def clean(text: str) -> str:
    """Text without control characters, its blanks single.

    >>> clean(" a\\x07  b ")
    'a b'
    """
    if not text.isprintable():
        text = "".join(letter if letter.isprintable() else " " for letter in text)
    return " ".join(text.split())


def place_of(row: Row) -> tuple[float, float]:
    """Latitude and longitude of a row. [deg] Raises RefusedError."""
    if row.text("position") and not row.text("latitude"):
        with refusing("position"):
            latitude, longitude = both_deg_from(row.text("position"))
    else:
        latitude, longitude = _axis_of(row, LATITUDE), _axis_of(row, LONGITUDE)
    if latitude == 0 and longitude == 0:
        row.warnings.add("latitude and longitude both 0, which often means unknown", row.line)
    return latitude, longitude


def _axis_of(row: Row, axis: Axis) -> float:
    field, text, unit = f"{axis.name}_deg", row.text(axis.name), row.unit(axis.name)
    if not text:
        raise RefusedError(field, f"no {axis.name} is given")
    hemisphere = row.text(f"{axis.name}_hemisphere") or (unit if unit in HEMISPHERES else "")
    minutes, seconds = row.text(f"{axis.name}_minutes"), row.text(f"{axis.name}_seconds")
    with refusing(field):
        if minutes or seconds:
            return angle_deg_from_cells((text, minutes, seconds), hemisphere, axis)
        return angle_deg_from(text, axis, hemisphere)


def height_amsl_m(
    row: Row,
    place: tuple[float, float],
    above_sea: str,
    above_ground: str,
    ground_amsl_of: GroundAmslOf | None,
) -> float | None:
    """Height above sea level from the quantity above it, or from ground and height above that. [m]

    None where neither is given. Raises RefusedError where the ground under a height above
    ground is not known, or the height is none on earth.
    """
    field = f"{above_sea}_m"
    height = row.length_m(above_sea, field)
    if height is None:
        over_ground = row.length_m(above_ground, field)
        if over_ground is None:
            return None
        height = over_ground + _ground_m(row, place, field, ground_amsl_of)
        row.notes.add(f"{row.header(above_ground)}, above ground, added to the ground's height")
    if not LOWEST_AMSL_M <= height <= HIGHEST_AMSL_M:
        raise RefusedError(field, f"{height:g} m above sea level is no likely height")
    return height


def _ground_m(
    row: Row, place: tuple[float, float], field: str, ground_amsl_of: GroundAmslOf | None
) -> float:
    ground = row.length_m("ground_amsl", "ground_amsl_m")
    if ground is not None:
        return ground
    found = None if ground_amsl_of is None else ground_amsl_of(*place)
    if found is None or not math.isfinite(found):
        raise RefusedError(
            field, "the height is above ground, and the ground's height above sea level is missing"
        )
    row.notes.add("the ground's height above sea level taken from the terrain")
    return float(found)
