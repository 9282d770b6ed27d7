"""A latitude or a longitude from the spellings in which people write them. Degrees.

North and east are positive. Decimal degrees, degrees and minutes, or degrees, minutes and
seconds, with a sign or a hemisphere's letter before or behind, or in cells of their own.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from skyview.survey.lists.values import UnreadableError, number_from, shown

_NUM = r"(\d+(?:[.,]\d*)?)"
_HEMISPHERE = (
    r"(north|south|east|west|norte|nord|sur|sud|est|ouest|este|oeste|ost|[nsew])\.?(?![^\W\d_])"
)
_BEFORE = re.compile(rf"(?:{_HEMISPHERE})[\s:]*(?=[+\-\d])", re.IGNORECASE)
_BEHIND = re.compile(rf"(?:(?<![^\W\d_])|(?<=\d[dms]))[\s\-,:]*(?:{_HEMISPHERE})$", re.IGNORECASE)
_SYMBOLS = re.compile(
    rf"{_NUM}(?:\s*(?:°|deg(?:rees|s)?\.?|d|:|-|\s)\s*{_NUM}"
    rf"(?:\s*(?:''|[':m-]|min(?:utes|s)?\.?|\s)\s*{_NUM}\s*(?:\"|''|sec(?:onds|s)?\.?|s)?"
    rf"|\s*(?:'|m|min(?:utes|s)?\.?)?)|\s*(?:°|deg(?:rees|s)?\.?|d)?)",
    re.IGNORECASE,
)
_LETTERED = re.compile(
    r"[+-]?\s*[\d.,]+\s*d(?:eg\w*\.?)?\s*[\d.,]+\s*m(?:in\w*\.?)?\s*[\d.,]+\s*s", re.IGNORECASE
)
"""Where degrees and minutes have letters, an s at the end means seconds and not south."""
_PACKED = re.compile(r"(\d{2,3})(\d\d)(\d\d(?:[.,]\d+)?)")
_QUOTES = str.maketrans(
    {"º": "°", "˚": "°", "′": "'", "’": "'", "‘": "'", "´": "'", "`": "'", "ʹ": "'"}
    | {"″": '"', "”": '"', "“": '"', "ʺ": '"', "\u2212": "-", "\u2013": "-", "\u2010": "-"}
    | {"\u2011": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "_": " "}
)
_LETTERS = {"norte": "n", "nord": "n", "sur": "s", "sud": "s", "ost": "e", "oeste": "w"}
_LETTERS |= {"ouest": "w"}


@dataclass(frozen=True)
class Axis:
    """What holds for latitudes or for longitudes."""

    name: str
    limit_deg: float
    positive: str
    negative: str
    other: str


LATITUDE = Axis("latitude", 90.0, "n", "s", "ew")
LONGITUDE = Axis("longitude", 180.0, "e", "w", "ns")


def angle_deg_from(text: str, axis: Axis, hemisphere: str = "") -> float:
    """Signed degrees from one cell. [deg] ``hemisphere`` is the letter of another cell or header.

    A minus sign beside S or W says the same twice and is accepted; beside N or E it is refused.
    Raises UnreadableError outside the axis' range, hinting at swapped axes where that helps.

    >>> angle_deg_from("12-30-36 S", LATITUDE), angle_deg_from("N 41° 15'", LATITUDE)
    (-12.51, 41.25)
    """
    if len(text) > 60:
        raise UnreadableError(f"{shown(text)} is not a {axis.name}")
    plain = " ".join(text.translate(_QUOTES).split())
    plain, letter = _without_hemisphere(plain)
    letter = letter or _letter(hemisphere, axis)
    negative = plain.startswith("-")
    body = plain[1:].lstrip() if plain[:1] in ("+", "-") else plain
    signed = plain[:1] in ("+", "-")
    return _signed(_degrees(body, axis, letter, text), negative, signed, letter, axis, text)


def angle_deg_from_cells(cells: tuple[str, str, str], hemisphere: str, axis: Axis) -> float:
    """Signed degrees from cells for degrees, minutes, seconds (may be blank) and hemisphere.

    >>> angle_deg_from_cells(("97", "30", "0"), "W", LONGITUDE)
    -97.5
    """
    text = " ".join(cell.strip() for cell in cells).strip()
    plain = [cell.translate(_QUOTES).strip(" °'\"").replace(",", ".") for cell in cells]
    parts = [number_from(cell) if cell else 0.0 for cell in plain]
    last = max(index for index in range(3) if plain[index] or index == 0)
    if any(part % 1 for part in parts[:last]):
        raise UnreadableError(f"{shown(text)} has a fraction before its last part")
    degrees = _joined(abs(parts[0]), parts[1], parts[2], axis, text)
    signed, negative = plain[0][:1] in ("+", "-"), plain[0].startswith("-")
    return _signed(degrees, negative, signed, _letter(hemisphere, axis), axis, text)


def both_deg_from(text: str) -> tuple[float, float]:
    """Latitude and longitude from one cell, in this order unless letters say otherwise. [deg]

    >>> both_deg_from("41.5, -97.25"), both_deg_from("97-15-00 W / 41-30-00 N")
    ((41.5, -97.25), (41.5, -97.25))
    """
    plain = " ".join(text.translate(_QUOTES).split()).strip("()[] ")
    if len(plain) > 120:
        raise UnreadableError(f"{shown(text)} is not a position")
    latitude, longitude = _halves(plain)
    if _without_hemisphere(latitude)[1] in ("e", "w"):
        latitude, longitude = longitude, latitude
    return angle_deg_from(latitude, LATITUDE), angle_deg_from(longitude, LONGITUDE)


def _halves(plain: str) -> tuple[str, str]:
    """A cell cut in two, at a separator, behind a hemisphere's letter or before one."""
    for pattern in (r"\s*[;/|]\s*", r"\s*,\s+", r"\s*,\s*"):
        parts = re.split(pattern, plain)
        if len(parts) == 2 and all(parts):
            return parts[0], parts[1]
    lettered = re.fullmatch(r"(.*\d.*[NSEWnsew])[\s,]*([+\-\d].*[NSEWnsew])", plain)
    if lettered is None:
        lettered = re.fullmatch(r"([NSEWnsew].*\d\D{0,3})[\s,]+([NSEWnsew].*)", plain)
    if lettered is not None:
        return lettered[1], lettered[2]
    parts = plain.split(" ")
    if len(parts) != 2:
        raise UnreadableError(f"{shown(plain)} is not a latitude and a longitude")
    return parts[0], parts[1]


def _without_hemisphere(plain: str) -> tuple[str, str]:
    """The text without its hemisphere, and that as n, s, e or w ("" where there is none)."""
    before = _BEFORE.match(plain)
    behind = None if _LETTERED.fullmatch(plain) else _BEHIND.search(plain)
    if before and behind:
        raise UnreadableError(f"{shown(plain)} names two hemispheres")
    if before:
        return plain[before.end() :].strip(), _short(before[1])
    if behind:
        return plain[: behind.start()].strip(), _short(behind[1])
    return plain, ""


def _short(word: str) -> str:
    folded = word.casefold()
    return _LETTERS.get(folded, folded[0])


def _letter(hemisphere: str, axis: Axis) -> str:
    word = hemisphere.strip().casefold().rstrip(".")
    if not word:
        return ""
    if word in ("+", "-"):
        return axis.positive if word == "+" else axis.negative
    letter = _short(word)
    if letter not in "nsew":
        raise UnreadableError(f"{shown(hemisphere)} is no hemisphere; write N, S, E or W")
    return letter


def _degrees(body: str, axis: Axis, letter: str, text: str) -> float:
    packed = _PACKED.fullmatch(body) if letter else None
    if packed and len(packed[1]) == (2 if axis is LATITUDE else 3):
        parts = [float(part.replace(",", ".")) for part in packed.groups()]
        return _joined(parts[0], parts[1], parts[2], axis, text)
    found = _SYMBOLS.fullmatch(body)
    if found is None or not body.replace("°", "").isascii():
        raise UnreadableError(f"{shown(text)} is not a {axis.name}")
    pieces = [piece for piece in found.groups() if piece is not None]
    if any(re.search(r"[.,]\d*[1-9]", piece) for piece in pieces[:-1]):
        raise UnreadableError(f"{shown(text)} has a fraction before its last part")
    parts = [float(piece.replace(",", ".")) for piece in pieces] + [0.0, 0.0]
    return _joined(parts[0], parts[1], parts[2], axis, text)


def _joined(degrees: float, minutes: float, seconds: float, axis: Axis, text: str) -> float:
    if not (0 <= minutes < 60 and 0 <= seconds < 60):
        raise UnreadableError(f"{shown(text)} has minutes or seconds outside 0..60")
    return degrees + minutes / 60.0 + seconds / 3600.0


def _signed(
    degrees: float, negative: bool, signed: bool, letter: str, axis: Axis, text: str
) -> float:
    if letter and letter in axis.other:
        raise UnreadableError(
            f"{shown(text)} is no {axis.name}; latitude and longitude look swapped"
        )
    if signed and letter and negative != (letter == axis.negative):
        raise UnreadableError(f"the sign of {shown(text)} contradicts its hemisphere")
    if degrees > axis.limit_deg:
        hint = (
            "; latitude and longitude look swapped" if axis is LATITUDE and degrees <= 180 else ""
        )
        limit = f"{axis.limit_deg:.0f}"
        raise UnreadableError(f"{shown(text)} is outside -{limit}..{limit} for a {axis.name}{hint}")
    return -degrees if negative or letter == axis.negative else degrees
