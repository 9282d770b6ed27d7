"""What a receiver found, channel by channel: a list in a file, or rows as people type them.

Strengths come in dBm, dB(uV), dB(mV), per cent or bars and go out in dBm, per cent or bars.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from skyview.errors import InputError
from skyview.link.chain import DBUV_OVER_DBM_75_OHM
from skyview.place.channels import channels_of
from skyview.survey.lists.reader import records_of, source_of, told_of
from skyview.survey.lists.reading import Notes, Record, ScanReading
from skyview.survey.lists.rows import RefusedError, Row, refusing
from skyview.survey.lists.stations import rf_channel_of
from skyview.survey.lists.values import number_and_unit, rf_channel_from, shown

_YES_WORDS = (
    "yes y true t 1 x ✓ ok good received locked lock found decoded watchable steady stable solid "
    "ja oui si"
)
_NO_WORDS = (
    "no n false f 0 none bad lost nolock notlocked unlocked notfound notreceived missing unsteady "
    "unstable breaksup nosignal nein non"
)
_YES, _NO = frozenset(_YES_WORDS.split()), frozenset(_NO_WORDS.split())
_STRENGTHS = {
    "dbm": ("strength_dbm", 0.0),
    "dbuv": ("strength_dbm", -DBUV_OVER_DBM_75_OHM),
    "dbmv": ("strength_dbm", 60.0 - DBUV_OVER_DBM_75_OHM),
    "percent": ("strength_percent", 0.0),
    "bars": ("strength_bars", 0.0),
}
"""Field of a scan's row by unit, and what is added to the number."""

_UNITS = {"dbμv": "dbuv", "dbµv": "dbuv", "%": "percent", "pct": "percent", "bar": "bars"}
_TYPED = re.compile(r"(mer|cn)?([+-]?\d+(?:\.\d+)?)(dbm|dbuv|dbmv|%|bars?|db)")
_APART = re.compile(r"(\d)\s+(dbm|dbuv|dbmv|%|bars?|db)\b")
"""A number and its unit with a blank between."""

LEAST_DBM, MOST_DBM = -130.0, 30.0
"""Strengths outside are no power of a television channel."""


def read_scan_list(
    path: str | Path,
    *,
    plan: str,
    rf_of: Mapping[str, int],
    columns: str | None = None,
    strict: bool = False,
) -> ScanReading:
    """A receiver's list from delimited text.

    ``plan`` names the channel plan; ``rf_of`` gives the RF channel by the major part of the
    virtual channels that the survey's stations have. A row without a word on whether it was
    received counts as received, and that is said. Of several rows on one RF channel the first is
    kept.

    Raises InputError, one sentence, for a file that is no list, names no channel or has no usable
    row; StorageError where the file system refuses.
    """
    channels_of(plan)
    source = source_of(path, "scans", columns)
    known = source.layout.columns
    if not {"rf_channel", "virtual_channel", "frequency"} & known.keys():
        raise InputError(
            "no column gives the channel",
            path,
            "rf_channel",
            "head it rf_channel or virtual_channel, or name the columns with --columns",
        )
    if "received" not in known:
        source.notes.add("no column says whether a channel was received: every row counts as yes")

    def record_of(row: Row) -> Record:
        return _record(row, plan, rf_of)

    records, rejected = records_of(source, path, strict, record_of)
    kept = _first_of_each(records, source.notes)
    return ScanReading(*told_of(source, kept, rejected), kept)


def typed_scan(texts: Sequence[str], plan: str, rf_of: Mapping[str, int]) -> list[Record]:
    """Rows as typed: the channel first, then yes or no, and what else was read with its unit.

    InputError names the row and the word that cannot be read.

    >>> typed_scan(["21 yes -58dBm 21dB steady"], "americas-6mhz", {})[0]["strength_dbm"]
    -58.0
    """
    return _first_of_each([_typed(text, plan, rf_of) for text in texts], Notes())


def major_part(virtual: str) -> str:
    """The number of a station on the screen without that of its programme.

    >>> major_part("6.1"), major_part("6-2"), major_part("21")
    ('6', '6', '21')
    """
    return virtual.replace("-", ".").split(".")[0]


def _typed(text: str, plan: str, rf_of: Mapping[str, int]) -> Record:
    plain = text.replace(",", " ").replace(";", " ").casefold()
    words = _APART.sub(r"\1\2", plain).split()
    if len(words) < 2:
        raise InputError(
            f"{shown(text)} is no row of a scan",
            field="--row",
            mend="write it as in '21 yes -58dBm 21dB steady'",
        )
    told: Record = {"rf_channel": _typed_channel(words[0], plan, rf_of), "received": None}
    if major_part(words[0]) != words[0]:
        told["virtual_channel"] = words[0]
    for word in words[1:]:
        found = _TYPED.fullmatch(word)
        if found is not None:
            unit = _UNITS.get(found[3], found[3])
            field, added = ("cn_db", 0.0) if unit == "db" else _STRENGTHS[unit]
            told[field] = float(found[2]) + added
        elif word in ("steady", "unsteady"):
            told["steady"] = word == "steady"
        elif word in _YES | _NO:
            told["received"] = word in _YES
        else:
            raise InputError(
                f"{shown(word)} in {shown(text)} cannot be read",
                field="--row",
                mend="after the channel give yes or no, -58dBm (or dBuV, dBmV, %, bars), 21dB for "
                "carrier to noise, steady or unsteady",
            )
    if told["received"] is None:
        raise InputError(
            f"{shown(text)} does not say whether it was received",
            field="--row",
            mend="add yes or no",
        )
    try:
        _check(told)
    except RefusedError as refused:
        raise InputError(refused.reason, field="--row", mend="check the unit") from None
    return told


def _typed_channel(word: str, plan: str, rf_of: Mapping[str, int]) -> int:
    major = major_part(word)
    if major != word and major in rf_of:
        return rf_of[major]
    try:
        with refusing("rf_channel"):
            channel = rf_channel_from(word, plan)
    except RefusedError:
        channel = 0
    if channel not in channels_of(plan):
        raise InputError(
            f"{shown(word)} is neither an RF channel nor a virtual channel of the survey",
            field="--row",
            mend="begin the row with the channel",
        )
    return channel


def _record(row: Row, plan: str, rf_of: Mapping[str, int]) -> Record:
    virtual = row.words("virtual_channel", 200)
    if row.text("rf_channel") or row.text("frequency"):
        channel = rf_channel_of(row, plan)
    elif virtual is not None and major_part(virtual) in rf_of:
        channel = rf_of[major_part(virtual)]
    else:
        raise RefusedError(
            "virtual_channel",
            f"no station of the survey has the virtual channel {shown(virtual or '')}"
            if virtual
            else "no channel is given",
        )
    told: Record = {"rf_channel": channel, "virtual_channel": virtual}
    told["received"] = _truth(row, "received")
    if told["received"] is None:
        told["received"] = True
    steady, drops = _truth(row, "steady"), _truth(row, "dropouts")
    told["steady"] = steady if steady is not None or drops is None else not drops
    if row.text("strength"):
        field, value = _strength(row)
        told[field] = value
    if row.text("cn"):
        with refusing("cn_db"):
            told["cn_db"] = number_and_unit(row.text("cn"), row.decimal_comma)[0]
    _check(told)
    return told


def _truth(row: Row, quantity: str) -> bool | None:
    text = row.text(quantity)
    if not text:
        return None
    word = "".join(letter for letter in text.casefold() if letter.isalnum() or letter == "✓")
    if word in _YES or word in _NO:
        return word in _YES
    raise RefusedError(quantity, f"{shown(text)} is neither yes nor no")


def _strength(row: Row) -> tuple[str, float]:
    text, unit = row.text("strength"), row.unit("strength")
    header = row.layout.columns["strength"].header
    if text.endswith("%") or "%" in header:
        unit, text = "percent", text.removesuffix("%")
    elif not unit and "bars" in header.casefold():
        unit = "bars"
    with refusing("strength"):
        value, own = number_and_unit(text, row.decimal_comma)
        unit = (own or unit).casefold()
        unit = _UNITS.get(unit, unit)
        if not unit and value < 0.0:
            unit = "dbm"
            row.notes.add(f"{row.header('strength')} below 0 and without a unit taken as dBm")
    if unit not in _STRENGTHS:
        raise RefusedError(
            "strength", f"{shown(text)} has no unit; head the column dBm, dBuV, dBmV, % or bars"
        )
    field, added = _STRENGTHS[unit]
    if added:
        row.notes.add(f"{row.header('strength')} converted to dBm in 75 ohm")
    return field, value + added


def _check(told: dict[str, Any]) -> None:
    """Raises RefusedError for a strength or a ratio that none can be."""
    power, share, bars = (told.get(f"strength_{u}") for u in ("dbm", "percent", "bars"))
    if power is not None and not LEAST_DBM <= power <= MOST_DBM:
        raise RefusedError("strength_dbm", f"{power:.0f} dBm is no strength of a channel")
    if share is not None and not 0.0 <= share <= 100.0:
        raise RefusedError("strength_percent", f"{share:g} % lies outside 0 to 100")
    if bars is not None and bars < 0.0:
        raise RefusedError("strength_bars", f"{bars:g} bars are fewer than none")
    ratio = told.get("cn_db")
    if ratio is not None and not -30.0 <= ratio <= 80.0:
        raise RefusedError("cn_db", f"{ratio:g} dB is no carrier to noise")


def _first_of_each(records: list[Record], notes: Notes) -> list[Record]:
    kept: dict[int, Record] = {}
    for record in records:
        if record["rf_channel"] in kept:
            notes.add("one RF channel in several rows: the first counts", record["rf_channel"])
        kept.setdefault(record["rf_channel"], record)
    return [{k: v for k, v in record.items() if v is not None} for record in kept.values()]
