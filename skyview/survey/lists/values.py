"""One cell of text to one value: numbers, powers, lengths, frequencies, channels and words.

Each function takes text that is not blank and returns a number in the survey's unit, or raises
``UnreadableError`` with the reason as a clause.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

from skyview.place.channels import CHANNEL_9A
from skyview.survey.lists.spellings import FEET, METRES


class UnreadableError(ValueError):
    """A cell that cannot be read; the text is the reason, as a clause."""


_POINT = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?")
_COMMA = re.compile(r"[+-]?(?:\d+(?:,\d*)?|,\d+)(?:[eE][+-]?\d{1,3})?")
_THOUSANDS_POINT = re.compile(r"[+-]?\d{1,3}(?:[, '’]\d{3})+(?:\.\d*)?")
_THOUSANDS_COMMA = re.compile(r"[+-]?\d{1,3}(?:[. '’]\d{3})+(?:,\d*)?")
_WITH_UNIT = re.compile(
    r"([+-]?[\d.,][\d.,'’ ]*?(?:[eE][+-]?\d{1,3})?)\s*([^\W\d_][\w./²]*|['′’]|)\.?"
)

_EITHER = re.compile(r"[+-]?\d{1,3}\.\d{3}")
_BLANK, _MINUS = re.compile(r"\s"), re.compile("^[\u2212\u2013]")
_CHANNEL = re.compile(
    r"(?:(?:rf|uhf|vhf)?(?:ch(?:annel|an)?\.?)?|[cdek])-?(\d{1,3})(?:\.0*)?(?:d|dt|n|[+-])?"
)
"""Prefixes of lists (channel, digital, Kanal), suffixes for digital and for a carrier offset."""

_BLANKS = {"", "-", "--", "---", "—", "–", ".", "?", "*", "n/a", "na", "n.a.", "#n/a", "nan"}
_BLANKS |= {"null", "none", "nil", "unknown", "tbd", "tba", "not available", "not applicable"}

_LONGEST_BLANK = max(map(len, _BLANKS))
_MHZ_PER = {"ghz": 1000.0, "mhz": 1.0, "khz": 1e-3, "hz": 1e-6}
FOOT_M = 0.3048
"""Metres to the international foot, exact: NIST Special Publication 811, appendix B.6."""


def is_blank(text: str) -> bool:
    """Whether a cell says nothing: empty, or one of the usual marks for unknown.

    >>> is_blank(" n/a "), is_blank("0")
    (True, False)
    """
    word = text.strip()
    return len(word) <= _LONGEST_BLANK and word.casefold() in _BLANKS


def _plain(text: str) -> str:
    """With the minus sign and the blank of the keyboard."""
    return _BLANK.sub(" ", _MINUS.sub("-", text.strip()))


def number_from(text: str, decimal_comma: bool = False) -> float:
    """A finite number. With ``decimal_comma``, "12,5" is twelve and a half.

    Groups of three digits parted by commas, blanks or apostrophes are thousands. Where commas
    are decimal signs, "1.000" may be one or a thousand, and is refused.

    >>> number_from("1,250.5"), number_from("12,5", decimal_comma=True)
    (1250.5, 12.5)
    """
    if not decimal_comma and len(text) <= 40 and text.isascii() and _POINT.fullmatch(text):
        return _finite(text, text)
    plain = _plain(text)
    if len(plain) > 40:
        raise UnreadableError(f"{shown(text)} is not a number")
    if decimal_comma:
        if _EITHER.fullmatch(plain):
            raise UnreadableError(
                f"{shown(text)} may be thousands or a decimal point in a list with decimal commas"
            )
        if _THOUSANDS_COMMA.fullmatch(plain):
            plain = re.sub(r"[. '’]", "", plain)
        if _COMMA.fullmatch(plain):
            plain = plain.replace(",", ".")
    elif _THOUSANDS_POINT.fullmatch(plain):
        plain = re.sub(r"[, '’]", "", plain)
    if not plain.isascii() or not _POINT.fullmatch(plain):
        raise UnreadableError(f"{shown(text)} is not a number")
    return _finite(plain, text)


def _finite(plain: str, text: str) -> float:
    value = float(plain)
    if not math.isfinite(value):
        raise UnreadableError(f"{shown(text)} is too large a number")
    return value


@lru_cache(maxsize=8192)
def number_and_unit(text: str, decimal_comma: bool = False) -> tuple[float, str]:
    """A number and the unit written behind it, "" where there is none.

    >>> number_and_unit("1200 ft"), number_and_unit("15dBk")
    ((1200.0, 'ft'), (15.0, 'dBk'))
    """
    found = _WITH_UNIT.fullmatch(_plain(text)) if len(text) <= 60 else None
    if found is None:
        raise UnreadableError(f"{shown(text)} is not a number")
    return number_from(found[1], decimal_comma), found[2].rstrip(".")


def power_kw_from(text: str, unit: str = "", decimal_comma: bool = False) -> float:
    """A power in kW from kW, W, MW, dBk (dB over 1 kW), dBW or dBm. [kW]

    ``unit`` is the one of the header; a unit in the cell comes before it, and without either the
    number is in kW.

    >>> power_kw_from("400"), power_kw_from("250 W"), round(power_kw_from("30", "dbw"), 6)
    (400.0, 0.25, 1.0)
    """
    value, own = number_and_unit(text, decimal_comma)
    if own == "mW":
        raise UnreadableError(f"{shown(text)} is in milliwatts; write MW for megawatts")
    name = (own or unit or "kw").casefold()
    scale = {"kw": 1.0, "w": 1e-3, "mw": 1e3}.get(name)
    if scale is not None:
        if value < 0:
            raise UnreadableError(f"{shown(text)} is a negative power")
        return value * scale
    level_dbk = {"dbk": value, "dbkw": value, "dbw": value - 30.0, "dbm": value - 60.0}.get(name)
    if level_dbk is None:
        raise UnreadableError(f"{shown(text)} has a unit of power that is not known")
    if abs(level_dbk) > 100.0:
        raise UnreadableError(f"{shown(text)} is no likely power level")
    return float(10.0 ** (level_dbk / 10.0))


def length_m_from(text: str, unit: str = "", decimal_comma: bool = False) -> float:
    """A height in metres, from metres (also without a unit) or feet. [m]

    >>> length_m_from("366 m"), round(length_m_from("1200", "ft"), 2)
    (366.0, 365.76)
    """
    value, own = number_and_unit(text, decimal_comma)
    name = (own or unit or "m").casefold().translate({0x2032: "'", 0x2019: "'"})
    if name in METRES:
        return value
    if name in FEET:
        return value * FOOT_M
    raise UnreadableError(f"{shown(text)} has a unit of length that is neither metres nor feet")


def frequency_mhz_from(text: str, unit: str = "", decimal_comma: bool = False) -> float:
    """A frequency in MHz, from MHz (also without a unit), GHz, kHz or Hz. [MHz]

    >>> frequency_mhz_from("474"), frequency_mhz_from("474000", "khz")
    (474.0, 474.0)
    """
    value, own = number_and_unit(text, decimal_comma)
    scale = _MHZ_PER.get((own or unit or "mhz").casefold())
    if scale is None:
        raise UnreadableError(f"{shown(text)} has a unit of frequency that is not known")
    return value * scale


@lru_cache(maxsize=8192)
def rf_channel_from(text: str, plan: str) -> int:
    """An RF channel number; the letters that lists put about it are dropped.

    In Australia 9A becomes 109. A number with a point is a virtual channel and refused.

    >>> rf_channel_from("D21", "americas-6mhz"), rf_channel_from("9A", "australia-7mhz")
    (21, 109)
    """
    plain = re.sub(r"[\s_#]+", "", text.casefold())
    if plan == "australia-7mhz" and re.fullmatch(r"(?:ch(?:annel)?\.?)?9a", plain):
        return CHANNEL_9A
    if re.fullmatch(r"\d{1,3}[.-][1-9]\d{0,2}|\d{1,3}-\d{1,3}", plain):
        raise UnreadableError(f"{shown(text)} is a virtual channel; the RF channel is needed")
    found = _CHANNEL.fullmatch(plain)
    if found is None or not plain.isascii():
        raise UnreadableError(f"{shown(text)} is not an RF channel number")
    return int(found[1])


_POLARIZATIONS = {
    "h": ("h", "hor", "horiz", "horizontal", "hp", "hpol", "lineal horizontal"),
    "v": ("v", "ver", "vert", "vertical", "vp", "vpol"),
    "c": ("c", "cir", "circ", "circular", "cp", "cpol", "rhcp", "lhcp"),
    "e": ("e", "ell", "elliptic", "elliptical", "ep"),
    "m": ("m", "mixed", "hv", "vh", "hvpol", "h+v", "h/v", "v/h", "handv", "dual", "both"),
}
_SYSTEMS = {
    "atsc1": ("atsc", "atsc1", "atsc10", "8vsb", "atsc8vsb", "atsc18vsb", "atscdtv"),
    "atsc3": ("atsc3", "atsc30", "nextgentv", "nextgen"),
    "dvbt": ("dvbt", "dvbt1"),
    "dvbt2": ("dvbt2",),
    "isdbt": ("isdbt", "isdbtb", "isdbtinternational", "sbtvd"),
}
_ROLES = {
    "wanted": ("wanted", "w", "desired", "yes"),
    "interferer": ("interferer", "interfering", "interference", "i", "undesired", "unwanted"),
}
_TRUTHS = {
    "yes": ("yes", "y", "true", "t", "1", "x", "✓", "must", "musthave"),
    "no": ("no", "n", "false", "f", "0", "nicetohave", "optional"),
}


def _turned(table: dict[str, tuple[str, ...]]) -> dict[str, str]:
    return {spelling: word for word, spellings in table.items() for spelling in spellings}


_WORDS = {
    "polarization": _turned(_POLARIZATIONS),
    "system": _turned(_SYSTEMS),
    "role": _turned(_ROLES),
    "must_have": _turned(_TRUTHS),
}


@lru_cache(maxsize=8192)
def word_from(text: str, field: str) -> str | None:
    """The survey's word for a polarization, system, role or must_have ("yes" or "no").

    None when the spelling is not known.

    >>> word_from("Circular", "polarization"), word_from("DVB-T2", "system")
    ('c', 'dvbt2')
    """
    plain = re.sub(r"[\s_.\-()]+", "", text.casefold())
    return _WORDS[field].get(plain)


def shown(text: str) -> str:
    """A cell as it is quoted in a sentence: at most 40 letters, control characters out.

    >>> shown("a\\tb")
    "'a b'"
    """
    clean = "".join(letter if letter.isprintable() else " " for letter in text.strip())
    return repr(clean if len(clean) <= 40 else clean[:37] + "...")
