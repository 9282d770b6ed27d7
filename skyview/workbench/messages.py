"""What the page may ask: the bodies of its requests, checked before anything is done."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from skyview.survey.parts import Altitude, Id, Latitude, Longitude, Number, Text, Whole

ListName = Literal[
    "spots", "views", "landmarks", "marks", "obstructions", "outlines", "stations", "antennas"
]
Item = Annotated[dict[str, Any], Field(max_length=64)]
Point = tuple[Number, Number]
Revision = Annotated[Whole, Field(ge=0, le=2**53, description="The revision that the page has.")]
Label = Annotated[
    str,
    Field(min_length=1, max_length=120, description="The change in a few words, for undo."),
]


class Body(BaseModel):
    """A request: unknown fields are refused."""

    model_config = ConfigDict(extra="forbid")


class Put(Body):
    """Put an item into a list: it replaces the one of its id, or comes last."""

    do: Literal["put"]
    list: ListName
    item: Item = Field(description="The item as in the survey file, with its id.")


class Patch(Body):
    """Set some fields of an item."""

    do: Literal["patch"]
    list: ListName
    id: Id
    fields: Item = Field(description="New values; null takes a field away.")


class Remove(Body):
    """Take an item out of its list."""

    do: Literal["remove"]
    list: ListName
    id: Id
    with_users: bool = Field(
        default=False, description="Take out what refers to it too; else that is an error."
    )


class SetFields(Body):
    """Set some fields of a part of the survey."""

    do: Literal["set"]
    part: Literal["site", "limits", "receiver"]
    fields: Item = Field(description="New values; null takes a field away.")


class SetValue(Body):
    """Set a part of the survey as a whole."""

    do: Literal["set"]
    part: Literal["title", "promises", "scans"]
    value: str | list[Item] = Field(description="Text for the title, else a list of objects.")


Change = Put | Patch | Remove | SetFields | SetValue
Changes = Annotated[list[Change], Field(min_length=1, max_length=500)]


class ChangeBody(Body):
    """Some changes that are one step of work."""

    base: Revision
    label: Label
    changes: Changes


class BaseBody(Body):
    """The revision that undo or redo is based on."""

    base: Revision


class BeginBody(Body):
    """The place of a new survey."""

    latitude_deg: Latitude
    longitude_deg: Longitude
    title: Text = ""
    ground_amsl_m: Altitude | None = None


class TryBody(Body):
    """Changes to try on one view's pose, without keeping them."""

    view: Id
    changes: Changes


class SkylineBody(Body):
    """Which view's sky to find, and what somebody said of its pixels."""

    view: Id
    sky: Annotated[list[Point], Field(max_length=200)] = []
    solid: Annotated[list[Point], Field(max_length=200)] = []


class AcceptBody(Body):
    """Proposed outlines to take into the survey; none named: all that are not there yet."""

    base: Revision
    view: Id
    ids: Annotated[list[Id], Field(max_length=1000)] = []
