"""Which stations matter at a site."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from skyview.errors import InputError
from skyview.place.bearings import destination_deg
from skyview.survey.lists.choose import select, within

_SITE = (41.0, -97.0)


def _station(name: str, km: float, rf_channel: int, **more: Any) -> dict[str, Any]:
    latitude, longitude = destination_deg(*_SITE, np.radians(70.0), 1000.0 * km)
    place = {"latitude_deg": float(latitude), "longitude_deg": float(longitude)}
    return {"id": name, "rf_channel": rf_channel, "role": "wanted", **place, **more}


def _ids(records: list[dict[str, Any]]) -> list[str]:
    return [record["id"] for record in records]


def test_within_a_distance() -> None:
    records = [_station("near", 99.9, 21), _station("far", 100.1, 21)]
    assert _ids(within(records, *_SITE, 100.0)) == ["near"]
    assert within([], *_SITE, 100.0) == []


@pytest.mark.parametrize("km", [0.0, -1.0, float("nan")])
def test_a_distance_is_positive(km: float) -> None:
    with pytest.raises(InputError, match="no distance"):
        within([_station("near", 1, 21)], *_SITE, km)


def test_bands() -> None:
    records = [_station("low", 1, 5), _station("high", 1, 7), _station("uhf", 1, 21)]
    assert _ids(select(records, "americas-6mhz", *_SITE, bands={"low_vhf", "uhf"}).stations) == [
        "low",
        "uhf",
    ]
    for bands in ({"shortwave"}, set()):
        with pytest.raises(InputError, match="use any of low_vhf, high_vhf, uhf"):
            select(records, "americas-6mhz", *_SITE, bands=bands)


@pytest.mark.parametrize(
    ("plan", "wanted", "distant", "disturbs"),
    [
        ("americas-6mhz", 21, 21, True),
        ("americas-6mhz", 21, 22, True),
        ("americas-6mhz", 21, 20, True),
        ("americas-6mhz", 21, 23, False),
        ("americas-6mhz", 3, 4, True),
        ("americas-6mhz", 4, 5, False),
        ("americas-6mhz", 6, 7, False),
        ("americas-6mhz", 13, 14, False),
        ("europe-8mhz", 12, 21, False),
        ("australia-7mhz", 9, 10, False),
        ("australia-7mhz", 9, 109, True),
        ("australia-7mhz", 10, 109, True),
        ("japan-6mhz", 7, 8, True),
        ("japan-6mhz", 6, 8, False),
    ],
)
def test_neighbours_are_neighbours_in_frequency(
    plan: str, wanted: int, distant: int, disturbs: bool
) -> None:
    records = [_station("near", 50, wanted), _station("far", 200, distant)]
    found = select(records, plan, *_SITE, km=100.0)
    assert found.interferers == int(disturbs)
    assert _ids(found.stations) == (["near", "far"] if disturbs else ["near"])


def test_interferers_take_their_role_and_the_list_is_not_changed() -> None:
    records = [
        _station("near", 50, 21),
        _station("own", 60, 30, role="interferer"),
        _station("beside own", 200, 30),
        _station("co-channel", 200, 21),
        _station("too far", 401, 21),
    ]
    found = select(records, "americas-6mhz", *_SITE, km=100.0)
    assert {station["id"]: station["role"] for station in found.stations} == {
        "near": "wanted",
        "own": "interferer",
        "co-channel": "interferer",
    }
    assert (found.interferers, found.left_out, found.hint) == (1, 2, None)
    assert records[3]["role"] == "wanted"
    further = select(records, "americas-6mhz", *_SITE, km=100.0, reach_km=500.0)
    assert further.interferers == 2


def test_bands_and_distance_together() -> None:
    records = [
        _station("near uhf", 50, 14),
        _station("near vhf", 50, 13),
        _station("far vhf", 200, 13),
        _station("far uhf", 200, 15),
    ]
    found = select(records, "americas-6mhz", *_SITE, km=100.0, bands={"uhf"})
    assert _ids(found.stations) == ["near uhf", "far uhf"]
    assert _ids(select(records, "americas-6mhz", *_SITE, bands={"high_vhf"}).stations) == [
        "near vhf",
        "far vhf",
    ]


def test_no_limits_keep_all() -> None:
    records = [_station("a", 50, 14), _station("b", 5000, 14)]
    found = select(records, "americas-6mhz", *_SITE)
    assert (found.stations, found.left_out) == (records, 0)
    assert select([], "americas-6mhz", *_SITE, km=10.0).stations == []


def test_swapped_places_are_hinted_at() -> None:
    site = (48.0, 11.0)
    records = [{"id": "Q", "rf_channel": 21, "latitude_deg": 11.1, "longitude_deg": 48.1}]
    found = select(records, "europe-8mhz", *site, km=100.0)
    assert found.stations == []
    assert found.hint is not None
    assert "1 would with latitude and longitude swapped" in found.hint
    assert select(records, "europe-8mhz", 60.0, 20.0, km=100.0).hint is None
