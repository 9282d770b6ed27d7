"""Channel plans against shared/channel_checks.csv, and at their edges."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import get_args

import numpy as np
import pytest

from skyview.errors import InputError
from skyview.place.channels import (
    CHANNEL_9A,
    band_of,
    centre_mhz,
    channel_at,
    channel_name,
    channels_of,
    probably_virtual,
    width_mhz,
)
from skyview.survey.models import ChannelPlan

CHANNEL_PLANS = get_args(ChannelPlan)
_CHECKS = Path(__file__).parents[2] / "shared" / "channel_checks.csv"
_PLAN_OF = {
    "channel_centre_US_Canada": "americas-6mhz",
    "channel_centre_Europe_UHF_8MHz": "europe-8mhz",
    "channel_centre_Europe_BandIII_7MHz": "europe-8mhz",
    "channel_centre_Australia_7MHz": "australia-7mhz",
    "channel_centre_Japan_ISDBT_UHF": "japan-6mhz",
    "channel_centre_Japan_VHF_ISDBT": "japan-6mhz",
}


def _published() -> list[tuple[str, int, float, float]]:
    rows = []
    with open(_CHECKS, encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            plan = _PLAN_OF.get(row["quantity"])
            written = row["inputs"].removeprefix("channel=")
            if plan is None or (plan == "americas-6mhz" and written == "37"):
                continue
            channel = CHANNEL_9A if written == "9A" else int(written)
            rows.append((plan, channel, float(row["value"]), float(row["tolerance"])))
    return rows


def test_the_published_table_is_there() -> None:
    assert len(_published()) == 33
    assert {plan for plan, *_ in _published()} == set(CHANNEL_PLANS)


@pytest.mark.parametrize(("plan", "channel", "centre", "tolerance"), _published())
def test_centre_as_published(plan: str, channel: int, centre: float, tolerance: float) -> None:
    assert centre_mhz(plan, channel) == pytest.approx(centre, abs=tolerance)


@pytest.mark.parametrize("plan", CHANNEL_PLANS)
def test_every_channel_has_centre_width_and_band_and_is_found_again(plan: str) -> None:
    channels = channels_of(plan)
    centres = centre_mhz(plan, channels)
    assert centres.shape == (len(channels),)
    assert np.all(np.diff(centres) > 0)
    assert set(width_mhz(plan, channels)) <= {6.0, 7.0, 8.0}
    assert [channel_at(plan, centre) for centre in centres] == list(channels)
    assert {band_of(centre) for centre in centres} <= {"low_vhf", "high_vhf", "uhf"}


def test_only_japanese_channels_7_and_8_overlap() -> None:
    for plan in CHANNEL_PLANS:
        channels = np.array(channels_of(plan))
        centre, half = centre_mhz(plan, channels), width_mhz(plan, channels) / 2
        gap = (centre[1:] - half[1:]) - (centre[:-1] + half[:-1])
        overlapping = channels[:-1][gap < -1e-9].tolist()
        assert overlapping == ([7] if plan == "japan-6mhz" else [])
    # ARIB STD-B21 table 10-2: 7 and 8 overlap by 2 MHz.
    assert centre_mhz("japan-6mhz", 8) - centre_mhz("japan-6mhz", 7) == pytest.approx(4.0)


# Band edges: 47 CFR 73.603(a), 54-72, 76-88, 174-216 and 470-608 MHz.
@pytest.mark.parametrize(
    ("channels", "lower", "upper"),
    [((2, 4), 54, 72), ((5, 6), 76, 88), ((7, 13), 174, 216), ((14, 36), 470, 608)],
)
def test_edges_of_the_american_bands(channels: tuple[int, int], lower: float, upper: float) -> None:
    first, last = centre_mhz("americas-6mhz", channels)
    assert (first - 3, last + 3) == (lower, upper)


def test_scalars_and_arrays_of_any_shape() -> None:
    assert float(centre_mhz("europe-8mhz", 5)) == 177.5
    assert centre_mhz("americas-6mhz", np.array([[2, 14], [36, 69]])).tolist() == [
        [57.0, 473.0],
        [605.0, 803.0],
    ]
    assert centre_mhz("americas-6mhz", np.array([], dtype=int)).shape == (0,)
    assert width_mhz("europe-8mhz", [12, 21]).tolist() == [7.0, 8.0]


@pytest.mark.parametrize(
    ("plan", "channel"),
    [
        ("americas-6mhz", 1),
        ("americas-6mhz", 70),
        ("americas-6mhz", -2),
        ("americas-6mhz", 21.5),
        ("americas-6mhz", float("nan")),
        ("americas-6mhz", "21"),
        ("americas-6mhz", True),
        ("americas-6mhz", [21, 99]),
        ("europe-8mhz", 4),
        ("europe-8mhz", 20),
        ("australia-7mhz", 13),
        ("japan-6mhz", 53),
    ],
)
def test_outside_the_plan_its_channels_are_named(plan: str, channel: object) -> None:
    with pytest.raises(InputError) as caught:
        centre_mhz(plan, channel)  # type: ignore[arg-type]
    first = {"americas-6mhz": "2-36, 38-69", "europe-8mhz": "5-12, 21-69"}
    first |= {"australia-7mhz": "6-9, 9A (written 109), 10-12, 28-51", "japan-6mhz": "1-52"}
    assert first[plan] in str(caught.value)
    assert caught.value.field == "rf_channel"


def test_37_is_radio_astronomy() -> None:
    with pytest.raises(InputError, match="radio astronomy"):
        width_mhz("americas-6mhz", 37)


def test_an_unknown_plan_names_the_known_ones() -> None:
    with pytest.raises(InputError, match="americas-6mhz, europe-8mhz"):
        channels_of("mars-5mhz")


def test_probably_virtual_above_36_in_the_americas_alone() -> None:
    assert probably_virtual("americas-6mhz", [36, 37, 38, 69]).tolist() == [
        False,
        True,
        True,
        True,
    ]
    assert not probably_virtual("japan-6mhz", 52)


def test_9a_lies_between_9_and_10() -> None:
    nine, nine_a, ten = centre_mhz("australia-7mhz", [9, CHANNEL_9A, 10])
    assert (nine_a - nine, ten - nine_a) == (7.0, 7.0)
    assert channel_name(CHANNEL_9A) == "9A"
    assert all(CHANNEL_9A not in channels_of(p) for p in CHANNEL_PLANS if p != "australia-7mhz")


@pytest.mark.parametrize(
    ("frequency", "band"),
    [(57, "low_vhf"), (105.143, "low_vhf"), (173.143, "high_vhf"), (300, "uhf"), (858, "uhf")],
)
def test_bands(frequency: float, band: str) -> None:
    assert band_of(frequency) == band


@pytest.mark.parametrize("frequency", [0.0, 29.9, 3000.1, float("nan"), float("inf")])
def test_no_band_outside_vhf_and_uhf(frequency: float) -> None:
    with pytest.raises(InputError, match="neither VHF nor UHF"):
        band_of(frequency)


@pytest.mark.parametrize("frequency", [74.0, 465.0, 611.0, 1000.0, float("nan")])
def test_a_frequency_between_channels_has_none(frequency: float) -> None:
    with pytest.raises(InputError, match="lies in no channel"):
        channel_at("americas-6mhz", frequency)
