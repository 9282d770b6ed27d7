"""Spots side by side: what the page is told is what ``skyview spots`` says."""

from __future__ import annotations

import json
import time

import pytest
from bench_client import change, patch

from skyview.cli.main import run
from skyview.survey.storage import load

EVERYWHERE = [[-50, -50, 0], [50, -50, 0], [50, 50, 0], [-50, 50, 0]]


def compared(client, leaf="in"):
    """The comparison as soon as it is done, and all that was told on the way."""
    told, end = [], time.monotonic() + 60.0
    while time.monotonic() < end:
        answer = client.get("/api/spots", params={"leaf": leaf})
        assert answer.status_code == 200, answer.text
        told.append(answer.json())
        if told[-1]["state"] == "done":
            return told[-1], told
        time.sleep(0.05)
    raise AssertionError("not done in 60 s")


def said(capsys, folder):
    """What the command line answers."""
    with pytest.raises(SystemExit) as ended:
        run(["spots", str(folder), "--json"])
    assert ended.value.code in (0, None)
    return json.loads(capsys.readouterr().out)


def key(row):
    return row["spot"], row["antenna_height_m"]


def test_the_page_gets_what_the_command_line_says(client, folder, capsys):
    told, on_the_way = compared(client)
    own = said(capsys, folder)
    assert list(map(key, told["rows"])) == list(map(key, own["rows"]))
    spots = {spot.id: spot for spot in load(folder).spots}
    positions = list(map(key, told["rows"]))
    assert len(spots) >= 2
    assert list(dict.fromkeys(name for name, _ in positions)) == list(spots)
    assert all(
        set(spot.heights_m) <= {h for n, h in positions if n == spot.id} for spot in spots.values()
    )
    names = ("sure", "likely", "worst_must_have", "worst_probability", "refused")
    for row, line in zip(told["rows"], own["rows"], strict=True):
        assert {name: row[name] for name in names} == {name: line[name] for name in names}
        chances = {one["station"]: one["reception_probability"] for one in row["stations"]}
        assert {k: v for k, v in chances.items() if v is not None} == line["probabilities"]
        assert {one["station"]: one["path"] for one in row["stations"]} == line["paths"]
        assert sum(row["words"].values()) == len(row["stations"])
    refused = [row for row in told["rows"] if row["refused"]]
    assert 0 < len(refused) < len(told["rows"])
    assert [key(row) for row in told["rows"] if row["standing"] == "best"] == [tuple(own["best"])]
    # What is refused is said from the first answer on; nothing is praised before it is found.
    for early in on_the_way:
        assert [row["refused"] for row in early["rows"]] == [r["refused"] for r in told["rows"]]
        assert early["refused"] == told["refused"]
        assert (early["best"] is None) == (early["state"] != "done")


@pytest.mark.parametrize(
    ("change_", "words"),
    [
        (
            {"do": "set", "part": "limits", "fields": {"keep_out_enu_m": EVERYWHERE}},
            "a strip to keep out of",
        ),
        ({"do": "set", "part": "limits", "fields": {"unguyed_mast_m": 1.0}}, "needs guys"),
        (
            {
                "do": "set",
                "part": "limits",
                "fields": {"ground_point_enu_m": [0, 0, 0], "ground_reach_m": 0.5},
            },
            "the conductor reaches",
        ),
        (patch("obstructions", "house_drop", line_enu_m=None), "nobody knows where"),
    ],
    ids=["keep out", "mast", "grounding", "line unknown"],
)
def test_every_refusal_of_the_command_line_is_told(client, folder, capsys, change_, words):
    """Each of these refuses every place; power lines come before the other reasons."""
    assert change(client, change_).status_code == 200
    told, _ = compared(client)
    own = said(capsys, folder)
    assert [row["refused"] for row in told["rows"]] == [row["refused"] for row in own["rows"]]
    assert all(row["refused"] for row in told["rows"])
    assert any(words in row["refused"] for row in told["rows"])
    assert any(words in line and line.startswith("Refused: ") for line in told["refused"])
    for row in told["rows"]:
        assert (row["sure"], row["stations"], row["standing"]) == (None, [], None)
    assert told["best"] == "Every place is refused: see the reasons above."


def test_no_spot_is_told_before_lines_were_looked_for(client):
    unsaid = {"do": "set", "part": "limits", "fields": {"lines_checked": False}}
    assert change(client, unsaid).status_code == 200
    refused = client.get("/api/spots")
    assert refused.status_code == 422
    assert refused.json()["field"] == "limits.lines_checked"
    assert refused.json()["message"].startswith("nobody has noted that power lines")
    assert "ridge" not in refused.text


def test_the_mast_is_refused_where_spots_refuses_it(client):
    told, _ = compared(client)
    asked = {"spot": "ridge", "step_m": 0.5, "top_m": 3.0}
    table = client.get("/api/heights", params=asked).json()
    for row in told["rows"]:
        if row["spot"] == "ridge":
            at = table["heights_m"].index(row["antenna_height_m"])
            assert table["refused"][at] == row["refused"]
    assert table["refused"][-1]
    assert table["refused"][2] is None


def test_the_comparison_outlives_changes_that_it_does_not_rest_on(client):
    first, _ = compared(client)
    assert change(client, {"do": "set", "part": "title", "value": "Mill Lane 4"}).status_code == 200
    again = client.get("/api/spots").json()
    assert (again["job"], again["state"]) == (first["job"], "done")
    assert again["revision"] == first["revision"] + 1
    assert change(client, patch("obstructions", "oak", distance_m=31)).status_code == 200
    assert client.get("/api/spots").json()["job"] != first["job"]
