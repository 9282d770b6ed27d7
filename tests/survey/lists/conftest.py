"""Reading a list from a text, with every record held against the survey's own model."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from skyview.survey.lists.reader import read_station_list
from skyview.survey.lists.reading import StationReading
from skyview.survey.models import Station


@pytest.fixture
def stations(tmp_path: Path) -> Callable[..., StationReading]:
    """Reads the text of a station list, in the American plan unless said."""

    def read(text: str, plan: str = "americas-6mhz", **more: Any) -> StationReading:
        path = tmp_path / "stations.csv"
        path.write_text(text, encoding="utf-8")
        reading = read_station_list(path, plan=plan, **more)
        for station in reading.stations:
            assert set(station) == set(Station.model_fields)
            Station.model_validate(station)
        assert reading.rows_used == len(reading.stations)
        assert reading.rows_read == reading.rows_used + len(reading.rejected)
        return reading

    return read
