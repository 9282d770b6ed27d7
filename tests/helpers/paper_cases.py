"""Surveys for the papers, from the sample: few and many stations, long names, things left out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from sample_house import gable_alone

SAMPLE = Path(__file__).parents[2] / "sample_images" / "demo_survey.json"
LONG = "An invented house with a very long name at 1234 Tern Rise and the Corner of Wendelow Lane"


def sample() -> dict[str, Any]:
    """The sample survey as plain data, calibrations not yet solved."""
    return json.loads(SAMPLE.read_text(encoding="utf-8"))


def with_some(*stations: str) -> dict[str, Any]:
    """The sample with these of its stations alone."""
    data = sample()
    data["stations"] = [one for one in data["stations"] if one["id"] in stations]
    return data


def with_stations(
    count: int, must_have: int, longest: bool = False, few_things: bool = False
) -> dict[str, Any]:
    """The sample with ``count`` stations round the compass, the first ``must_have`` of them must
    be had; ids and title as long as the form of the file allows people to type."""
    data = sample()
    if few_things:
        gable_alone(data)
    first = data["stations"][0]
    name = "QLONGESTCALLSIGN_{:02d}" if longest else "Q{:02d}"
    made = []
    for i in range(count):
        turned = {
            **first,
            "id": name.format(i),
            "latitude_deg": data["site"]["latitude_deg"] + 0.25 * (-1) ** i + 0.004 * i,
            "longitude_deg": data["site"]["longitude_deg"] + 0.5 - 0.017 * i,
            "rf_channel": 14 + i % 22,
            "must_have": i < must_have,
        }
        made.append(turned)
    data["stations"] = made
    if longest:
        data["title"] = LONG
        names = {thing["id"]: f"{thing['id']}_of_the_people_next_door" for thing in
                 data["obstructions"]}  # fmt: skip
        for thing in data["obstructions"]:
            thing["id"] = names[thing["id"]]
        for outline in data["outlines"]:
            outline["obstruction"] = names[outline["obstruction"]]
    return data


def without(data: dict[str, Any], *what: str) -> dict[str, Any]:
    """The same without its views and what hangs on them, its antennas, or its must-haves."""
    left = dict(data)
    if "views" in what:
        left |= {"views": [], "marks": [], "outlines": [], "landmarks": []}
        left["obstructions"] = [
            {k: v for k, v in thing.items() if k not in ("distance_from", "measured")}
            for thing in left["obstructions"]
            if thing["kind"] == "power_line"
        ]
    if "antennas" in what:
        left["antennas"] = []
    if "must" in what:
        left["stations"] = [{**s, "must_have": False} for s in left["stations"]]
    return left
