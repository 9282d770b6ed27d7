"""The answers against the chain below them: what the page gets is what ``assess`` says."""

from __future__ import annotations

import time

import numpy as np
import pytest
from bench_client import change, patch

from skyview.survey.assess import assess
from skyview.survey.plates import plate_of
from skyview.survey.storage import load
from skyview.survey.why import why


def ready(client, path, **asked):
    for _ in range(1200):
        told = client.get(path, params=asked)
        assert told.status_code in (200, 202), told.text
        if told.json()["state"] == "done":
            return told.json()
        time.sleep(0.05)
    raise AssertionError("not done in 60 s")


def test_paths_are_those_of_the_chain(reader, sample_folder):
    told = reader.get("/api/paths?spot=ridge&height_m=1.5&view=sweep").json()
    found = assess(load(sample_folder), spots=["ridge"], heights_m=[1.5])
    rows = {row.station: row for row in found.rows}
    assert len(told["rows"]) == len(rows) == 12
    for row in told["rows"]:
        own = rows[row["station"]]
        assert row["path"] == own.path
        assert row["obstruction_loss_db"] == pytest.approx(own.obstruction_loss_db)
        assert row["bearing_deg"] == pytest.approx(own.bearing_deg)
        assert row["clearance_m"] == own.clearance_m
        assert row["reception"] == own.reception
        assert row["reception_probability"] == own.reception_probability
    insisted = [row["must_have"] for row in told["rows"]]
    assert insisted == sorted(insisted, reverse=True)
    assert insisted[0]


def test_stations_and_silhouettes_lie_where_the_drawn_plate_has_them(reader, sample_folder):
    """The annotated picture and the page must put everything on the same pixels."""
    asked = {"spot": "gable", "height_m": 3.0, "view": "gable"}
    told = reader.get("/api/paths", params=asked).json()
    survey = load(sample_folder)
    found = assess(survey, spots=["gable"], heights_m=[3.0])
    plate = plate_of(survey, sample_folder, found, view="gable", spot="gable", height_m=3.0)
    scale = survey.views[1].size_px[0] / plate.photo_rgb.shape[1]
    inside = [row for row in told["rows"] if row["place"]["inside"]]
    assert len(inside) >= 8
    for row in inside:
        x, y = plate.pixel_of(np.array(row["bearing_deg"]), np.array(row["arrival_elevation_deg"]))
        assert row["place"]["x_px"] == pytest.approx(float(x) * scale, abs=0.06)
        assert row["place"]["y_px"] == pytest.approx(float(y) * scale, abs=0.06)
    drawn = {s.obstruction: s for s in plate.silhouettes}
    compared = 0
    for shape in told["silhouettes"]:
        ring = drawn[shape["obstruction"]].rings_deg[0]
        x, y = plate.pixel_of(ring[:, 0], ring[:, 1])
        sent = np.array([p for r in shape["rings_px"] for p in r if p], float)
        for corner in np.stack([x, y], axis=1)[np.isfinite(x)] * scale:
            assert np.abs(sent - corner).sum(axis=1).min() < 0.3
            compared += 1
    assert compared > 100


def test_the_zone_is_that_of_the_drawn_plate(reader, sample_folder):
    survey = load(sample_folder)
    found = assess(survey, spots=["ridge"], heights_m=[1.5])
    told = reader.get("/api/paths?spot=ridge&height_m=1.5&view=sweep").json()
    zones = {row["station"]: row["fresnel"] for row in told["rows"] if row["fresnel"]}
    assert len(zones) >= 5
    for name, zone in zones.items():
        plate = plate_of(survey, sample_folder, found, view="sweep", spot="ridge", station=name,
                         longest_px=64)  # fmt: skip
        assert plate.fresnel.radius_m == pytest.approx(zone["radius_m"], abs=0.001)
        assert plate.fresnel.distance_m == pytest.approx(zone["distance_m"], abs=0.01)
        per_deg = 5151 / 240.0
        assert zone["rx_px"] == pytest.approx(plate.fresnel.radius_deg * per_deg, rel=0.15)


def test_the_table_by_height_is_paths_at_each_height(reader):
    asked = {"spot": "ridge", "view": "sweep", "step_m": 0.5, "top_m": 3.0, "near_m": 1.5}
    table = ready(reader, "/api/heights", **asked)
    assert table["heights_m"] == [0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0]
    assert all(table["ready"])
    for number in (0, 3, 6):
        height = table["heights_m"][number]
        told = reader.get(
            "/api/paths", params={"spot": "ridge", "height_m": height, "view": "sweep"}
        ).json()
        rows = {row["station"]: row for row in told["rows"]}
        for s, station in enumerate(table["stations"]):
            row = rows[station]
            assert table["path"][number][s] == row["path"]
            loss = table["obstruction_loss_db"][number][s]
            assert loss == pytest.approx(row["obstruction_loss_db"], abs=0.006)
            assert table["reception"][number][s] == row["reception"]
            margin = row["margin_db"] and pytest.approx(row["margin_db"]["p50"], abs=0.006)
            assert table["margin_p50_db"][number][s] == margin
            assert table["x_px"][number][s] == pytest.approx(row["place"]["x_px"], abs=0.06)
            zone = row["fresnel"]
            assert (table["fresnel"]["rx_px"][number][s] is None) == (zone is None)
        sent = {shape["obstruction"]: shape for shape in told["silhouettes"]}
        counting = [s for s in table["silhouettes"] if s["first"] <= number <= s["last"]]
        assert [s["obstruction"] for s in counting] == list(sent)
        for shape in counting:
            one = np.array([p for r in sent[shape["obstruction"]]["rings_px"] for p in r if p])
            x = np.concatenate([np.array(r, float) for r in shape["x_px"][number]])
            y = np.concatenate([np.array(r, float) for r in shape["y_px"][number]])
            for point in one[:: max(1, len(one) // 12)]:
                # Edges may be divided at other places, never drawn elsewhere.
                assert np.hypot(x - point[0], y - point[1]).min() < 60.0
            assert abs(np.nanmin(y) - one[:, 1].min()) < 0.6


def test_silhouettes_slide_by_each_ones_distance(reader):
    """Half a metre up moves the near oak by more than the far building: atan(0.5/d)."""
    table = ready(reader, "/api/heights", spot="ridge", view="sweep", step_m=0.5, top_m=3.0)
    shapes = {s["obstruction"]: s for s in table["silhouettes"] if s["first"] == 0}
    per_deg = 5151 / 240.0
    for name in ("oak", "apartments"):
        tops = [np.nanmin(np.array(rings[0], float)) for rings in shapes[name]["y_px"]]
        moved = (tops[1] - tops[0]) / per_deg
        expected = np.degrees(0.5 / shapes[name]["distance_m"])
        assert moved == pytest.approx(expected, rel=0.35)


def test_the_table_goes_on_from_the_hand_and_stops_when_it_is_old(client):
    first = client.get("/api/heights?spot=ridge&view=sweep&top_m=20&near_m=6").json()
    assert first["state"] == "working"
    for _ in range(200):
        told = client.get("/api/heights?spot=ridge&view=sweep&top_m=20&near_m=6").json()
        if any(told["ready"]):
            break
        time.sleep(0.02)
    done = [h for h, ok in zip(told["heights_m"], told["ready"], strict=True) if ok]
    assert 6.0 in done
    change(client, patch("obstructions", "oak", distance_m=31))
    again = client.get("/api/heights?spot=ridge&view=sweep&top_m=20&near_m=6").json()
    assert again["job"] != first["job"]
    assert again["revision"] == first["revision"] + 1
    for _ in range(200):
        states = {j["id"]: j["state"] for j in client.get("/api/jobs").json()["rows"]}
        if states[first["job"]] != "working":
            break
        time.sleep(0.05)
    assert states[first["job"]] == "cancelled"
    assert client.delete(f"/api/jobs/{again['job']}").status_code == 200
    assert client.delete("/api/jobs/j999").status_code == 404


def test_too_many_heights_are_refused(reader):
    refused = reader.get("/api/heights?step_m=0.05&top_m=30")
    assert refused.status_code == 422
    assert refused.json()["field"] == "step_m"


def test_leaves_make_a_difference(reader):
    summer, winter = (
        {r["station"]: r["obstruction_loss_db"] for r in
         reader.get(f"/api/paths?spot=ridge&height_m=1.5&leaf={leaf}").json()["rows"]}
        for leaf in ("in", "out")
    )  # fmt: skip
    assert any(summer[name] > winter[name] + 0.3 for name in summer)


def test_why_tells_the_causes_at_once_and_the_cures_when_they_are_found(reader, sample_folder):
    told = reader.get("/api/paths?spot=ridge&height_m=1.5").json()
    blocked = next(row for row in told["rows"] if row["path"] == "blocked")
    asked = {"spot": "ridge", "height_m": 1.5, "station": blocked["station"]}
    at_once = reader.get("/api/why", params=asked).json()
    assert at_once["sentence"]
    assert any(cause["obstruction"] == blocked["obstruction"] for cause in at_once["causes"])
    told = ready(reader, "/api/why", **asked)
    own = why(load(sample_folder), blocked["station"], "ridge", 1.5).why
    assert [cure["code"] for cure in told["cures"]] == [cure.code for cure in own.row.cures]
    assert told["causes"][0]["db"] == pytest.approx(own.causes[0].db)
    assert reader.get("/api/why", params=asked | {"station": "x"}).json()["field"] == "station"


def test_the_pattern_turns_with_the_aim(client):
    planning = client.get("/api/pattern").json()
    band = next(b for b in planning["bands"] if b["band"] == "uhf")
    middle = planning["offsets_deg"].index(0.0)
    assert band["relative_db"][middle] == 0.0
    assert min(band["relative_db"]) == -14.0  # OET Bulletin 69, Table 6: front to back at UHF
    table = {"uhf": [[0, 0], [90, -10], [180, -20]]}
    antenna = {
        "do": "put", "list": "antennas",
        "item": {"id": "main", "spot": "ridge", "height_m": 3, "aim_true_deg": 140,
                 "gain_dbd": {"uhf": 11}, "pattern": table},
    }  # fmt: skip
    assert change(client, antenna).status_code == 200
    told = client.get("/api/pattern?antenna=main").json()
    assert told["aim_true_deg"] == 140
    own = next(b for b in told["bands"] if b["band"] == "uhf")
    values = dict(zip(told["offsets_deg"], own["relative_db"], strict=True))
    assert (own["gain_dbd"], values[90.0], values[-90.0], values[180.0]) == (11, -10, -10, -20)
    assert client.get("/api/pattern?antenna=x").status_code == 422


def test_the_loss_layer_is_deep_where_the_building_stands(reader):
    told = ready(reader, "/api/loss", view="sweep", spot="ridge", height_m=1.5, channel=21)
    assert [step["level_db"] for step in told["steps"]] == [1.0, 6.0, 12.0, 20.0]
    assert told["text"].endswith("(RF channel 21)")
    paths = reader.get("/api/paths?spot=ridge&height_m=1.5&view=sweep").json()
    building = next(s for s in paths["silhouettes"] if s["obstruction"] == "apartments")
    x, y = np.array([p for p in building["rings_px"][0] if p]).T
    centre = float(x.mean()), float(y.min() * 0.6 + y.max() * 0.4)

    def holds(area):
        crossings = 0
        for ring in area:
            a, b = np.array(ring), np.roll(np.array(ring), -1, axis=0)
            up = (a[:, 1] > centre[1]) != (b[:, 1] > centre[1])
            t = (centre[1] - a[up, 1]) / (b[up, 1] - a[up, 1])
            crossings += int(np.sum(a[up, 0] + t * (b[up, 0] - a[up, 0]) > centre[0]))
        return crossings % 2 == 1

    over = [step["level_db"] for step in told["steps"] if any(map(holds, step["areas_px"]))]
    assert len(over) == 1
    assert over[0] >= 6.0


@pytest.mark.parametrize(
    ("query", "field"),
    [("channel=300", "channel"), ("view=nowhere", "view"), ("spot=nowhere", "spot"),
     ("frequency_mhz=5", "frequency_mhz"), ("height_m=-1", "height_m"),
     ("height_m=nan", "height_m"),
     ("leaf=autumn", "leaf")],
)  # fmt: skip
def test_impossible_questions_name_their_field(reader, query, field):
    refused = reader.get(f"/api/loss?{query}")
    assert refused.status_code == 422
    assert refused.json()["field"] == field


def test_what_the_geometry_refuses_is_told_where_it_is_asked(client):
    """A thing put behind the camera that saw it: every answer names it, none runs for ever."""
    behind = patch("obstructions", "oak", distance_m=None, distance_from=None, enu_m=[-40, -40, 0])
    assert change(client, behind).status_code == 200
    refused = client.get("/api/paths")
    assert refused.status_code == 422
    assert refused.json()["field"] == "obstructions.oak"
    for _ in range(100):
        told = client.get("/api/heights")
        if told.status_code == 422:
            break
        time.sleep(0.05)
    assert told.json() == refused.json()
    undone = client.post("/api/undo", json={"base": client.get("/api/state").json()["revision"]})
    assert undone.status_code == 200
    assert client.get("/api/paths").status_code == 200


def test_headings_are_what_the_chain_says_once_the_antenna_is_turned(client):
    """The table ahead of the hand, at the aim as it is and at another, against the answers."""
    where = {"spot": "chimney", "height_m": 3.0}
    table = client.get("/api/aims", params=where | {"antenna": "main"}).json()
    assert table["headings_deg"] == list(range(360))
    words = set()
    for heading in (client.get("/api/pattern?antenna=main").json()["aim_true_deg"], 20):
        assert change(client, patch("antennas", "main", aim_true_deg=heading)).status_code == 200
        rows = {r["station"]: r for r in client.get("/api/paths", params=where).json()["rows"]}
        for s, station in enumerate(table["stations"]):
            row, at = rows[station], int(heading)
            assert table["reception"][at][s] == row["reception"]
            for name in ("p10", "p50", "p90"):
                margin = row["margin_db"] and pytest.approx(row["margin_db"][name], abs=0.006)
                assert table[f"margin_{name}_db"][at][s] == margin
        words.add(tuple(sorted((name, row["reception"]) for name, row in rows.items())))
    assert len(words) == 2


def test_no_headings_for_an_antenna_that_is_not_heard_there_alone(client):
    where = {"spot": "chimney", "height_m": 3.0}
    assert client.get("/api/aims", params=where).json()["headings_deg"] == []
    other = {"do": "put", "list": "antennas", "item": {"id": "vhf", "spot": "chimney",
             "height_m": 3, "aim_true_deg": 60, "combined_with": "main",
             "combined_by": "hybrid"}}  # fmt: skip
    assert change(client, other).status_code == 200
    for antenna in ("main", "vhf"):
        table = client.get("/api/aims", params=where | {"antenna": antenna}).json()
        assert (table["headings_deg"], table["reception"]) == ([], [])


def test_turning_an_antenna_keeps_the_waves_that_arrive(client, folder):
    """Half of the answer stays when an antenna is turned, all of it when a title is typed."""
    answers, survey = client.bench.answers, load(folder)
    first = answers.assessed(survey, "ridge", 1.5, "in")
    survey.title = "another"
    assert answers.assessed(survey, "ridge", 1.5, "in") is first
    survey.antennas[0].aim_true_deg = 20.0
    turned = answers.assessed(survey, "ridge", 1.5, "in")
    assert turned.scene.losses is first.scene.losses
    assert turned.rows == assess(survey, spots=["ridge"], heights_m=[1.5]).rows
    assert turned.rows != first.rows
