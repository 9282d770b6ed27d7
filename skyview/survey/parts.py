"""What the survey's models are built from: the strict base class and the kinds of values.

Numbers are finite, text is never taken for a number, and ``null`` in an optional field means
unknown: the field's default then stands.
"""

from __future__ import annotations

import unicodedata
from datetime import datetime
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    ValidationInfo,
    field_validator,
)
from pydantic_core import PydanticCustomError, PydanticUseDefault


class Variant(BaseModel):
    """One of several shapes told apart by ``kind``; what is left out of it is None."""

    model_config = ConfigDict(extra="forbid", validate_assignment=True)


class Part(Variant):
    """A part of a survey: unknown fields are refused, assignments are checked."""

    @field_validator("*", mode="before")
    @classmethod
    def _null_is_unknown(cls, value: Any, info: ValidationInfo) -> Any:
        """``null`` where the default is a value: unknown, so the default stands."""
        if value is None and info.field_name is not None:
            field = cls.model_fields[info.field_name]
            if not field.is_required() and field.get_default(call_default_factory=True) is not None:
                raise PydanticUseDefault
        return value


def _whole(value: Any) -> Any:
    """21.0 is the whole number 21; anything else is left to the strict check."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _typable(text: str) -> str:
    if text != text.strip() or any(unicodedata.category(letter) == "Cc" for letter in text):
        raise PydanticCustomError(
            "rule",
            "{message}",
            {
                "message": "begins or ends with a blank or holds a control character",
                "mend": "use what people can type",
            },
        )
    return text


def _printable(text: str) -> str:
    """Lines of text; what would steer a terminal, or no drawing can hold, is refused."""
    if any(unicodedata.category(c) == "Cc" and c not in "\n\r\t" for c in text):
        raise PydanticCustomError(
            "rule",
            "{message}",
            {"message": "holds a control character", "mend": "use what people can type"},
        )
    return text


def _moment(text: str) -> str:
    try:
        datetime.fromisoformat(text)
    except ValueError:
        raise PydanticCustomError(
            "rule",
            "{message}",
            {
                "message": f"{text[:40]!r} is not a date and time",
                "mend": "write it as in 2026-06-01T14:05:00+00:00",
            },
        ) from None
    return text


def _one_or_many(value: Any) -> str:
    """Tells a ring of points from a list of rings by the first thing in it."""
    try:
        return "rings" if isinstance(value[0][0], list | tuple) else "ring"
    except (IndexError, KeyError, TypeError):
        return "ring"


Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
"""A finite number."""
NotNegative = Annotated[Number, Field(ge=0)]
Positive = Annotated[Number, Field(gt=0)]
Share = Annotated[Number, Field(ge=0, le=1)]
Percent = Annotated[Number, Field(ge=0, le=100)]
Latitude = Annotated[Number, Field(ge=-90, le=90)]
Longitude = Annotated[Number, Field(ge=-180, le=180)]
Azimuth = Annotated[Number, Field(ge=-360, le=360)]
Elevation = Annotated[Number, Field(ge=-90, le=90)]
Altitude = Annotated[Number, Field(ge=-500, le=12000)]
"""Metres above sea level: from below the lowest shore to above the highest mast."""
Whole = Annotated[int, BeforeValidator(_whole), Field(strict=True)]
PositiveWhole = Annotated[Whole, Field(gt=0)]
Channel = Annotated[PositiveWhole, Field(le=999)]
Text = Annotated[str, Field(strict=True, max_length=1000), AfterValidator(_printable)]
Word = Annotated[str, Field(strict=True, min_length=1, max_length=200), AfterValidator(_typable)]
Id = Annotated[str, Field(strict=True, min_length=1, max_length=64), AfterValidator(_typable)]
"""Short, unique in its list, and what people type."""
Moment = Annotated[str, Field(strict=True, max_length=40), AfterValidator(_moment)]
"""ISO 8601, kept as it was written; without an offset it is in the site's time zone."""
Pixel = tuple[Number, Number]
"""x right, y down, continuous, after EXIF rotation: pixel i spans [i, i+1)."""
Enu = tuple[Number, Number, Number]
"""East, north, up from the site's reference point on the ground. [m]"""
Rings = Annotated[
    Annotated[list[Enu], Tag("ring")] | Annotated[list[list[Enu]], Tag("rings")],
    Discriminator(_one_or_many),
]
"""One ring of points, or a list of rings."""
