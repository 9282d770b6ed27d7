"""One row of a list to the record of a station, with exactly the survey file's fields."""

from __future__ import annotations

from functools import lru_cache

from skyview.constants import EIRP_OVER_ERP_DB
from skyview.errors import InputError
from skyview.place.channels import (
    centre_mhz,
    channel_at,
    channels_of,
    probably_virtual,
    width_mhz,
)
from skyview.survey.lists import values
from skyview.survey.lists.patterns import LOWEST_DB, is_round, pattern_from
from skyview.survey.lists.reading import Record
from skyview.survey.lists.rows import (
    GroundAmslOf,
    RefusedError,
    Row,
    height_amsl_m,
    place_of,
    refusing,
)
from skyview.survey.lists.values import UnreadableError, shown

MOST_ERP_KW = 10_000.0
"""A number without a unit above this is no power in kW: twice the 5 MW of the strongest analogue
UHF licences (from memory)."""

_LONGEST_NAME, _LONGEST_WORD = 1000, 200


def station_of(row: Row, plan: str, ground_amsl_of: GroundAmslOf | None) -> Record:
    """The record of a row; unknown is None. Raises RefusedError where it cannot be used."""
    place = place_of(row)
    if plan == "americas-6mhz" and place[1] > 0:
        row.warnings.add(
            "longitude east of Greenwich in the Americas: is a minus missing?", row.line
        )
    rf_channel = rf_channel_of(row, plan)
    if probably_virtual(plan, rf_channel):
        row.warnings.add(
            "RF channel above 36 in the Americas: probably the virtual channel", row.line
        )
    amsl = height_amsl_m(row, place, "antenna_amsl", "antenna_agl", ground_amsl_of)
    if amsl is None:
        raise RefusedError("antenna_amsl_m", _no_height(row))
    return {
        "id": row.words("id", _LONGEST_NAME),
        "name": row.words("name", _LONGEST_NAME),
        "latitude_deg": place[0],
        "longitude_deg": place[1],
        "antenna_amsl_m": amsl,
        "haat_m": row.length_m("haat", "haat_m"),
        "rf_channel": rf_channel,
        "virtual_channel": row.words("virtual_channel", _LONGEST_WORD),
        "erp_kw": _erp_kw(row),
        "polarization": _word(row, "polarization"),
        "system": _word(row, "system"),
        "mode": row.words("mode", _LONGEST_WORD),
        "required_cn_db": _decibels(row, "required_cn", "required_cn_db", ("dB", "db")),
        "field_dbuv_m": _decibels(
            row, "field", "field_dbuv_m", ("dBuV/m", "dbuv/m", "dbµv/m", "dbμv/m")
        ),
        "field_sigma_db": _decibels(row, "field_sigma", "field_sigma_db", ("dB", "db")),
        "pattern": _pattern(row),
        "role": _word(row, "role") or "wanted",
        "must_have": _word(row, "must_have") == "yes",
    }


def rf_channel_of(row: Row, plan: str) -> int:
    text, frequency = row.text("rf_channel"), row.text("frequency")
    at = None
    if frequency:
        with refusing("frequency_mhz"):
            unit = row.unit("frequency")
            at = values.frequency_mhz_from(frequency, unit, row.decimal_comma)
    try:
        if text:
            with refusing("rf_channel"):
                rf_channel = values.rf_channel_from(text, plan)
            _check_channel(plan, rf_channel)
            if at is not None and not _holds(plan, rf_channel, at):
                row.warnings.add("frequency outside the RF channel; the channel was used", row.line)
            return rf_channel
        if at is not None:
            row.notes.add("RF channel found from the frequency")
            return _channel_at(plan, at)
    except InputError as trouble:
        reason = f"{trouble.message}; {trouble.mend}" if trouble.mend else trouble.message
        raise RefusedError(trouble.field or "rf_channel", reason) from None
    if row.text("virtual_channel"):
        raise RefusedError(
            "rf_channel", "only a virtual channel is given; the RF channel is needed"
        )
    raise RefusedError("rf_channel", "no RF channel is given")


@lru_cache(maxsize=1024)
def _check_channel(plan: str, rf_channel: int) -> None:
    if rf_channel not in channels_of(plan):
        centre_mhz(plan, rf_channel)


@lru_cache(maxsize=1024)
def _channel_at(plan: str, frequency_mhz: float) -> int:
    return channel_at(plan, frequency_mhz)


@lru_cache(maxsize=1024)
def _holds(plan: str, rf_channel: int, frequency_mhz: float) -> bool:
    away = abs(float(centre_mhz(plan, rf_channel)) - frequency_mhz)
    return away <= float(width_mhz(plan, rf_channel)) / 2.0


def _no_height(row: Row) -> str:
    for quantity in ("height_unstated", "elevation_unstated"):
        if row.text(quantity):
            return (
                f"column {row.header(quantity)} does not say what it is above; head it "
                "antenna_amsl_m, antenna_agl_m or haat_m"
            )
    if row.text("haat"):
        return "a height above average terrain alone does not tell the height above sea level"
    return "no antenna height above sea level is given"


def _erp_kw(row: Row) -> float | None:
    quantity = "erp" if row.text("erp") else "eirp"
    text, unit = row.text(quantity), row.unit(quantity)
    if not text:
        return None
    with refusing("erp_kw"):
        power = values.power_kw_from(text, unit, row.decimal_comma)
        own = values.number_and_unit(text, row.decimal_comma)[1]
        if not (own or unit):
            if power > MOST_ERP_KW:
                raise UnreadableError(
                    f"{shown(text)} without a unit is too large for kW; head the column erp_w"
                )
            row.notes.add(f"{row.header(quantity)} has no unit; taken as kW")
        elif (own or unit).casefold() != "kw":
            row.notes.add(f"{row.header(quantity)} converted from {own or unit} to kW")
    if power == 0:
        row.notes.add("a power of 0 taken as unknown", row.line)
        return None
    if quantity == "eirp":
        row.notes.add(
            f"{row.header(quantity)} is over an isotropic radiator; reduced by "
            f"{EIRP_OVER_ERP_DB:g} dB to power over a half-wave dipole"
        )
        power *= 10.0 ** (-EIRP_OVER_ERP_DB / 10.0)
    return power


def _word(row: Row, field: str) -> str | None:
    text = row.text(field)
    if not text:
        return None
    word = values.word_from(text, field)
    if word is None:
        row.notes.add(f"{field} {shown(text)} is not known and left out", row.line)
    return word


def _decibels(row: Row, quantity: str, field: str, units: tuple[str, ...]) -> float | None:
    """A figure in decibels, its unit one of ``units`` where the cell names one."""
    text = row.text(quantity)
    if not text:
        return None
    with refusing(field):
        value, unit = values.number_and_unit(text, row.decimal_comma)
        if unit.casefold() not in ("", *units):
            raise UnreadableError(f"{shown(text)} is not in {units[0]}")
    return value


def _pattern(row: Row) -> list[list[float]] | None:
    for form in ("pattern", "pattern_attenuation", "pattern_field"):
        text = row.text(form)
        if not text or is_round(text):
            continue
        if ":" not in text and "=" not in text:
            row.notes.add(f"pattern {shown(text)} names no levels and is left out", row.line)
            return None
        with refusing("pattern"):
            pattern = pattern_from(text, form, row.decimal_comma)
        if form == "pattern_field":
            row.notes.add(
                f"relative field converted to 20 log10 of it in dB, at least {LOWEST_DB:g} dB"
            )
        if form == "pattern_attenuation":
            row.notes.add("attenuation of the pattern turned into relative dB")
        return pattern
    return None
