"""Models of what transmits and receives: stations, antennas and their downleads, scans."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag

from skyview.survey.parts import (
    Altitude,
    Azimuth,
    Channel,
    Id,
    Latitude,
    Longitude,
    Moment,
    NotNegative,
    Number,
    Part,
    Percent,
    Positive,
    PositiveWhole,
    Text,
    Variant,
    Word,
)

Band = Literal["low_vhf", "high_vhf", "uhf"]
System = Literal["atsc1", "atsc3", "dvbt", "dvbt2", "isdbt"]
Polarization = Literal["h", "v", "c", "e", "m"]


def _word_or_table(value: Any) -> str:
    return "word" if isinstance(value, str) else "table"


AntennaPattern = Annotated[
    Annotated[Literal["cos4"], Tag("word")]
    | Annotated[dict[Band, list[tuple[Azimuth, Number]]], Tag("table")],
    Discriminator(_word_or_table),
]


class Station(Part):
    """One transmitter on one RF channel."""

    id: Id
    name: Text | None = Field(default=None, description="Its name in full.")
    latitude_deg: Latitude = Field(description="Degrees north of the equator. [deg]")
    longitude_deg: Longitude = Field(description="Degrees east of Greenwich. [deg]")
    antenna_amsl_m: Altitude = Field(description="Its antenna above sea level. [m]")
    haat_m: Number | None = Field(default=None, description="Height above average terrain. [m]")
    rf_channel: Channel = Field(description="The channel on the air, not the virtual one.")
    virtual_channel: Word | None = Field(
        default=None, description='The number on the screen, as "6.1".'
    )
    erp_kw: Positive | None = Field(
        default=None, description="Effective radiated power over a half-wave dipole. [kW]"
    )
    polarization: Polarization | None = Field(
        default=None, description="h horizontal, v vertical, c circular, e elliptical, m mixed."
    )
    system: System | None = Field(default=None, description="Transmission system.")
    mode: Word | None = Field(default=None, description='Modulation and code rate, as "64qam-2/3".')
    required_cn_db: Number | None = Field(
        default=None, description="Carrier to noise that it needs; overrides the mode's. [dB]"
    )
    field_dbuv_m: Number | None = Field(
        default=None,
        description="Field at the site, 10 m up, where it is known: overrides power. [dB(uV/m)]",
    )
    field_sigma_db: NotNegative | None = Field(
        default=None, description="One sigma of that field. [dB]"
    )
    pattern: list[tuple[Azimuth, Number]] | None = Field(
        default=None, min_length=1, description="[[azimuth_deg, relative_db], ...]. [deg, dB]"
    )
    role: Literal["wanted", "interferer"] = Field("wanted", description="What it is here.")
    must_have: bool = Field(default=False, strict=True, description="The customer insists on it.")


class Preamplifier(Variant):
    """An amplifier in the downlead."""

    kind: Literal["preamplifier"]
    gain_db: Number = Field(description="Gain. [dB]")
    noise_figure_db: NotNegative | None = Field(default=None, description="Noise figure. [dB]")
    overload_dbm: Number | None = Field(
        default=None, description="Total input power at which it begins to overload. [dBm]"
    )


class Coax(Variant):
    """A length of coaxial cable."""

    kind: Literal["coax"]
    type: Word = Field(description="Type of cable, as in rg6.")
    length_m: NotNegative = Field(description="Length. [m]")


class Filter(Variant):
    """A filter in the downlead."""

    kind: Literal["filter"]
    loss_db: NotNegative | None = Field(default=None, description="Loss in the pass band. [dB]")
    pass_mhz: tuple[Positive, Positive] | None = Field(
        default=None, description="Pass band: lowest and highest frequency. [MHz]"
    )


class Splitter(Variant):
    """A splitter up in the downlead; the one at the sets is the receiver's."""

    kind: Literal["splitter"]
    ways: PositiveWhole = Field(description="Ways.")


class Attenuator(Variant):
    """A fixed loss on purpose."""

    kind: Literal["attenuator"]
    loss_db: NotNegative = Field(description="Loss. [dB]")


class Transformer(Variant):
    """A matching transformer between the antenna and the cable."""

    kind: Literal["transformer"]
    loss_db: NotNegative | None = Field(default=None, description="Loss. [dB]")


DownleadPart = Annotated[
    Preamplifier | Coax | Filter | Splitter | Attenuator | Transformer,
    Field(discriminator="kind"),
]


class Antenna(Part):
    """The receiving antenna: where it stands, where it points, what it gains."""

    id: Id
    spot: Id = Field(description="Id of the spot that it stands on.")
    height_m: NotNegative | None = Field(default=None, description="Height above the spot. [m]")
    aim_true_deg: Azimuth | None = Field(default=None, description="Azimuth from true north. [deg]")
    length_m: Positive | None = Field(default=None, description="Length of the boom. [m]")
    front_to_back_db: dict[Band, NotNegative] | None = Field(
        default=None, description="Front-to-back ratio by band: low_vhf, high_vhf, uhf. [dB]"
    )
    gain_dbd: dict[Band, Number] | None = Field(
        default=None,
        description="Gain over a half-wave dipole by band: low_vhf, high_vhf, uhf. [dBd]",
    )
    pattern: AntennaPattern | None = Field(
        default=None, description='"cos4", or by band [[offset_deg, relative_db], ...]. [deg, dB]'
    )
    polarization: Literal["h", "v"] | None = Field(
        default=None, description="h: elements level, v: elements upright; h if unknown."
    )
    combined_with: Id | None = Field(
        default=None, description="Id of another antenna whose downlead this one shares."
    )
    combined_by: Literal["diplexer", "hybrid"] | None = Field(
        default=None,
        description="diplexer: one has the UHF, the other the VHF; hybrid: both the same band.",
    )
    downlead: list[DownleadPart] = Field(
        default=[], description="From the antenna to the receiver."
    )


class Receiver(Part):
    """What stands at the lower end of the downlead."""

    noise_figure_db: NotNegative = Field(default=7.0, description="Noise figure. [dB]")
    sets: PositiveWhole = Field(default=1, description="Number of television sets.")
    splitter_ways: PositiveWhole = Field(default=1, description="Ways of the splitter; 1: none.")


class Promise(Part):
    """A word given to the customer about one station."""

    station: Id = Field(description="Id of the station.")
    word: Word = Field(description="The word given, as in may_fade.")
    given: Moment | None = Field(default=None, description="The day, ISO 8601.")


class ScanRow(Part):
    """What a receiver found on one channel."""

    rf_channel: Channel = Field(description="RF channel.")
    virtual_channel: Word | None = Field(
        default=None, description='The number that the set showed, as "6.1".'
    )
    received: bool = Field(strict=True, description="Whether a programme was shown.")
    strength_dbm: Number | None = Field(default=None, description="Power at the receiver. [dBm]")
    strength_percent: Percent | None = Field(
        default=None, description="Strength on the set's own scale, 0 to 100. [%]"
    )
    strength_bars: NotNegative | None = Field(
        default=None, description="Strength in bars of the set's own display."
    )
    cn_db: Number | None = Field(
        default=None, description="Carrier to noise, or the modulation error ratio. [dB]"
    )
    steady: bool | None = Field(default=None, strict=True, description="Without drop-outs.")


class Scan(Part):
    """One run through the channels."""

    taken: Moment | None = Field(default=None, description="When, ISO 8601.")
    antenna: Id | None = Field(default=None, description="Id of the antenna.")
    at: Literal["set", "terminals"] = Field(
        "set",
        description="Where: set, below the downlead; terminals, at the antenna with a short cable.",
    )
    leaf: Literal["in", "out"] | None = Field(
        default=None, description="Whether trees were in leaf; told by the date if unknown."
    )
    line_cleared: bool = Field(
        default=False,
        strict=True,
        description="A measurement at the antenna's terminals showed the line to be sound.",
    )
    bars: PositiveWhole = Field(default=5, description="Bars that the set's display has.")
    rows: list[ScanRow] = Field(default=[], description="One row a channel.")
