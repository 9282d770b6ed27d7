"""The survey file as typed models: what each field means, its unit, and what is refused.

``Survey`` is the whole file; the parts that it is made of can be imported from here too.
``validate`` turns plain data into a Survey or into one sentence that says what to mend.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal, Self

from pydantic import ConfigDict, Field, PrivateAttr, ValidationError, model_validator
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import PydanticCustomError, core_schema

from skyview.survey.parts import (
    Altitude,
    Enu,
    Id,
    Latitude,
    Longitude,
    NotNegative,
    Number,
    Part,
    Positive,
    Rings,
    Text,
    Whole,
    Word,
)
from skyview.survey.pictures import (
    Cylindrical,
    Equirectangular,
    Fisheye,
    Frame,
    Landmark,
    Mark,
    Measured,
    Obstruction,
    Outline,
    Prior,
    Projection,
    Rectilinear,
    View,
)
from skyview.survey.poses import Calibration, PoseFinding, Residual
from skyview.survey.problems import input_error
from skyview.survey.radio import (
    Antenna,
    Attenuator,
    Coax,
    DownleadPart,
    Filter,
    Preamplifier,
    Promise,
    Receiver,
    Scan,
    ScanRow,
    Splitter,
    Station,
    Transformer,
)
from skyview.survey.rules import problems_of

__all__ = [
    "Antenna",
    "Attenuator",
    "Calibration",
    "Coax",
    "Cylindrical",
    "DownleadPart",
    "Equirectangular",
    "Filter",
    "Fisheye",
    "Frame",
    "Landmark",
    "Limits",
    "Mark",
    "Measured",
    "Obstruction",
    "Outline",
    "PoseFinding",
    "Preamplifier",
    "Prior",
    "Projection",
    "Promise",
    "Receiver",
    "Rectilinear",
    "Residual",
    "Scan",
    "ScanRow",
    "Site",
    "Splitter",
    "Spot",
    "Station",
    "Survey",
    "Transformer",
    "View",
    "new_survey",
    "schema",
    "validate",
]

ChannelPlan = Literal["americas-6mhz", "europe-8mhz", "australia-7mhz", "japan-6mhz"]
FoliageName = Literal["middle", "weissberger", "early_itu", "p833_woodland", "p833_figure_2"]


class Site(Part):
    """Where the survey is; its reference point lies on the ground."""

    latitude_deg: Latitude = Field(description="Degrees north of the equator. [deg]")
    longitude_deg: Longitude = Field(description="Degrees east of Greenwich. [deg]")
    position_sigma_m: NotNegative = Field(default=5.0, description="One sigma of the position. [m]")
    ground_amsl_m: Altitude | None = Field(
        default=None, description="Ground at the reference point above sea level. [m]"
    )
    channel_plan: ChannelPlan = Field(
        "americas-6mhz", description="The plan that RF channels count in."
    )
    time_zone: Word | None = Field(default=None, description="Name of the time zone, as in UTC.")
    surroundings: Word | None = Field(
        default=None, description="What is built around, as in suburban."
    )
    terrain: Word | None = Field(
        default=None, description="File of ground heights in the folder: GeoTIFF or .hgt."
    )
    foliage_model: FoliageName | None = Field(
        default=None,
        description="Published model of the loss through crowns; middle if unknown.",
    )
    field_offset_db: Number | None = Field(
        default=None, description="Added to every predicted field strength. [dB]"
    )


class Spot(Part):
    """A place on the roof where an antenna may stand."""

    id: Id
    enu_m: Enu = Field(description="East, north, up of the foot of the mast. [m]")
    heights_m: list[NotNegative] = Field(
        default=[], description="Heights of the antenna above it to consider. [m]"
    )


class Limits(Part):
    """Where nobody may go and what nobody may do."""

    roof_enu_m: Rings = Field(
        default=[], description="Edge of the roof: [[east, north, up], ...]. [m]"
    )
    keep_out_enu_m: Rings = Field(
        default=[], description="Edges of what to keep out of: one ring, or a list of rings. [m]"
    )
    unguyed_mast_m: Positive = Field(default=3.0, description="Tallest mast without guys. [m]")
    lines_checked: bool = Field(
        default=False, strict=True, description="Somebody looked for power lines on the spot."
    )
    ground_point_enu_m: Enu | None = Field(
        default=None, description="The building's grounding point: east, north, up. [m]"
    )
    ground_reach_m: Positive | None = Field(
        default=None, description="How far a grounding conductor may run. [m]"
    )


class Survey(Part):
    """One visit to one roof.

    Assignments to the survey itself are checked when it is saved, those to its parts at once.
    """

    model_config = ConfigDict(validate_assignment=False, title="skyview survey, version 1")

    format: Literal["skyview-survey"] = Field(description="Mark of the file.")
    version: Literal[1] = Field(description="Version of the form of the file.")
    revision: Whole = Field(ge=0, description="Grows by one at each save.")
    title: Text = Field("", description="What people call it.")
    site: Site = Field(description="Where it is.")
    spots: list[Spot] = Field(default=[], description="Places where an antenna may stand.")
    limits: Limits = Field(default=Limits(), description="What bounds the work.")
    views: list[View] = Field(default=[], description="Photographs and panoramas.")
    landmarks: list[Landmark] = Field(default=[], description="Things whose place is known.")
    marks: list[Mark] = Field(default=[], description="Pixels whose direction is known.")
    obstructions: list[Obstruction] = Field(default=[], description="Things that stand in the way.")
    outlines: list[Outline] = Field(default=[], description="Their shapes in the views.")
    stations: list[Station] = Field(default=[], description="Transmitters.")
    antennas: list[Antenna] = Field(default=[], description="Receiving antennas.")
    receiver: Receiver = Field(default=Receiver(), description="What the downlead feeds.")
    promises: list[Promise] = Field(default=[], description="Words given to the customer.")
    scans: list[Scan] = Field(default=[], description="What a receiver found on the spot.")

    _folder: Path | None = PrivateAttr(default=None)

    @property
    def folder(self) -> Path | None:
        """The folder that it was read from or saved to, where the files that it names lie."""
        return self._folder

    def kept_in(self, folder: str | Path) -> Self:
        """The same survey, knowing its folder."""
        self._folder = Path(folder)
        return self

    @model_validator(mode="after")
    def _obeys_the_rules(self) -> Self:
        problems = problems_of(self)
        if problems:
            text = "; ".join(f"{'.'.join(map(str, p.path))}: {p.message}" for p in problems)
            raise PydanticCustomError("rules", "{text}", {"text": text, "problems": problems})
        return self


def validate(data: Any, file: str | Path | None = None) -> Survey:
    """The survey that plain data (as parsed from JSON) describes.

    InputError, one sentence naming ``file`` and the field, if it breaks the form.

    >>> validate({"format": "skyview-survey", "version": 1, "revision": 0,
    ...           "site": {"latitude_deg": 40.0, "longitude_deg": -100.0}}).receiver.sets
    1
    """
    try:
        return Survey.model_validate(data)
    except ValidationError as error:
        raise input_error(error, data, Survey, file) from None


def new_survey(latitude_deg: float, longitude_deg: float, title: str = "") -> Survey:
    """A survey with nothing in it but its place: degrees north, degrees east.

    InputError if the place is none on earth.

    >>> new_survey(40.0, -100.0).revision
    0
    """
    place = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
    return validate(
        {"format": "skyview-survey", "version": 1, "revision": 0, "title": title, "site": place}
    )


class _Schema(GenerateJsonSchema):
    """``null`` is allowed in every optional field; fields carry no titles of their own."""

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        made = super().default_schema(schema)
        if schema.get("schema", {}).get("type") == "nullable":
            return made
        default = {"default": made.pop("default")} if "default" in made else {}
        return {"anyOf": [made, {"type": "null"}], **default}

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


def schema() -> dict[str, Any]:
    """The JSON Schema of the survey file, draft 2020-12: fields, units, allowed words.

    Rules that span several fields (references, rings inside the picture) are beyond it.

    >>> schema()["title"]
    'skyview survey, version 1'
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **Survey.model_json_schema(schema_generator=_Schema),
    }
