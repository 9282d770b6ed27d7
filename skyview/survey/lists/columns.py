"""Which column holds what: headers by a table of common spellings, or a list of names in order.

Case, blanks, underscores and accents do not matter; a unit in brackets or at the end is taken
for the column's unit. Headers that leave a meaning open (a height above nothing said, a channel
that may be virtual) are settled by the columns beside them, and that is said.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from skyview.errors import InputError
from skyview.survey.lists.spellings import SHORT_WORDS, Kind, spellings_of, units_of
from skyview.survey.lists.values import shown

_BRACKETS = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]?")
_BLANKS = re.compile(r"[\s,;/_]+")


@lru_cache(maxsize=4096)
def meaning_of(header: str, kind: Kind) -> tuple[str, str, int] | None:
    """Quantity, unit ("" where none is said) and rank of one header, or None.

    >>> meaning_of("ERP (dBk)", "stations"), meaning_of("Height AGL [ft]", "stations")
    (('erp', 'dbk', 0), ('antenna_agl', 'ft', 0))
    """
    base = _BRACKETS.sub(" ", header)
    inside = " ".join(_BRACKETS.findall(header))
    words = [squashed(word) for word in _BLANKS.split(f"{base} {inside}")]
    words = [SHORT_WORDS.get(word, word) for word in words]
    readings = [("".join(words), "")]
    for at, word in enumerate(words):
        readings.append(("".join(words[:at] + words[at + 1 :]), word))
    readings += [(squashed(base), squashed(word)) for word in (*_BLANKS.split(inside), "")]
    for name, unit in readings:
        found = _spelled(name, unit, kind)
        if found is not None:
            return found
    return None


def _spelled(name: str, unit: str, kind: Kind) -> tuple[str, str, int] | None:
    """What a squashed name in a unit means; without a unit, one may end the name."""
    spellings = spellings_of(kind)
    if name in spellings:
        quantity, rank = spellings[name]
        if not unit or unit in units_of(quantity):
            return quantity, unit, rank
    if unit:
        return None
    for cut in range(1, min(len(name), 16)):
        stem, end = name[:-cut], name[-cut:]
        if stem in spellings and end in units_of(spellings[stem][0]):
            return spellings[stem][0], end, spellings[stem][1]
    return None


def squashed(text: str) -> str:
    """A header as the table of spellings has it: small letters and digits alone.

    >>> squashed("Antenna_Height AMSL")
    'antennaheightamsl'
    """
    plain = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
    return "".join(letter for letter in plain if letter.isalnum() or letter in "°'")


@dataclass(frozen=True)
class Column:
    """Where one quantity stands, as its author wrote it."""

    index: int
    header: str
    unit: str


@dataclass
class Layout:
    """The columns of a list by quantity, the headers left aside, and what was settled."""

    columns: dict[str, Column] = field(default_factory=dict)
    ignored: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def take(self, quantity: str, becomes: str, note: str) -> None:
        """Let an open header mean ``becomes`` unless that is known by a clearer one."""
        column = self.columns.get(quantity)
        if column is not None and becomes not in self.columns:
            del self.columns[quantity]
            self.columns[becomes] = column
            self.notes.append(f"column {shown(column.header)} {note}")


def layout_of(headers: Sequence[str], kind: Kind) -> Layout:
    """The layout that a line of headers says. Unknown headers are left aside.

    >>> sorted(layout_of(["Call sign", "Lat", "Lon", "RF ch", "Owner"], "stations").columns)
    ['id', 'latitude', 'longitude', 'rf_channel']
    """
    layout = Layout()
    best: dict[str, tuple[int, Column]] = {}
    for index, header in enumerate(headers):
        found = meaning_of(header, kind)
        if found is None:
            if header.strip():
                layout.ignored.append(header.strip())
            continue
        quantity, unit, rank = found
        column = Column(index, header.strip(), unit)
        if quantity in best:
            kept = best[quantity]
            loser = column if kept[0] <= rank else kept[1]
            layout.ignored.append(loser.header)
            if loser is column:
                continue
        best[quantity] = (rank, column)
    layout.columns = {quantity: column for quantity, (_, column) in best.items()}
    _settle(layout, kind)
    return layout


def _settle(layout: Layout, kind: Kind) -> None:
    """Give open headers the meaning that the columns beside them leave."""
    layout.take("channel_unstated", "rf_channel", "taken as the RF channel")
    layout.take("channel_unstated", "virtual_channel", "taken as the virtual channel")
    if "eirp" not in layout.columns:
        layout.take("power_unstated", "erp", "taken as effective radiated power")
    for quantity in ("channel_unstated", "power_unstated"):
        if quantity in layout.columns:
            layout.ignored.append(layout.columns.pop(quantity).header)
    above_ground = "antenna_agl" if kind == "stations" else "top_agl"
    known = layout.columns
    if "antenna_amsl" in known or "top_amsl" in known:
        return
    if above_ground in known or "height_unstated" in known:
        layout.take("elevation_unstated", "ground_amsl", "taken as the ground above sea level")
    if "ground_amsl" in known:
        layout.take("height_unstated", above_ground, "taken as a height above ground")


def layout_from(names: str, kind: Kind) -> Layout:
    """The layout that ``--columns`` gives: names in order, "-" for a column to leave aside.

    Raises InputError for a name that is not known or comes twice.

    >>> layout_from("id,-,latitude_deg,longitude_deg", "stations").columns["latitude"].index
    2
    """
    layout = Layout()
    for index, name in enumerate(names.split(",")):
        if name.strip() in ("", "-", "_"):
            continue
        found = meaning_of(name, kind)
        if found is None:
            near = difflib.get_close_matches(squashed(name), spellings_of(kind), 1)
            hint = f"did you mean {near[0]}" if near else "use - for a column to leave aside"
            raise InputError(f"{shown(name)} is no known column", field="--columns", mend=hint)
        if found[0] in layout.columns:
            raise InputError(
                f"{shown(name)} comes twice", field="--columns", mend="name each column once"
            )
        layout.columns[found[0]] = Column(index, name.strip(), found[1])
    _settle(layout, kind)
    return layout
