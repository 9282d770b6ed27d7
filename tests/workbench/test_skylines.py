"""The proposed skyline: found apart, offered in pixels, taken as one step."""

from __future__ import annotations

import time

import numpy as np
from bench_client import revision


def ended(client, job):
    """The state in which a job ends."""
    for _ in range(600):
        row = next(j for j in client.get("/api/jobs").json()["rows"] if j["id"] == job["id"])
        if row["state"] != "working":
            return row["state"]
        time.sleep(0.1)
    raise AssertionError(f"still at work: {row}")


def test_a_skyline_is_found_offered_and_taken(client):
    told = client.get("/api/proposals?view=gable").json()
    assert (told["found"], told["sure"]) == (False, False)
    job = client.post("/api/skyline", json={"view": "gable"}).json()
    assert ended(client, job) == "done"
    told = client.get("/api/proposals?view=gable").json()
    assert told["found"]
    assert told["sure"] is client.bench.jobs.get(job["id"]).found
    line = np.concatenate([np.array(part) for part in told["line_px"]])
    assert line[:, 0].max() - line[:, 0].min() > 2500
    assert len(line) < 4000
    waiting = [o["id"] for o in told["outlines"]]
    assert waiting
    assert not any(o["taken"] for o in told["outlines"])
    body = {"base": revision(client), "view": "gable", "ids": waiting[:1]}
    taken = client.post("/api/proposals/accept", json=body).json()
    assert [c["id"] for c in taken["changed"] if c["list"] == "obstructions"] == waiting[:1]
    told = client.get("/api/proposals?view=gable").json()
    assert [o["id"] for o in told["outlines"] if o["taken"]] == waiting[:1]
    again = client.post("/api/proposals/accept", json=body | {"base": taken["revision"]})
    assert again.status_code == 422
    undone = client.post("/api/undo", json={"base": taken["revision"]})
    assert undone.status_code == 200


def top_at(told, x):
    """The skyline's row at a column. [px]"""
    line = np.concatenate([np.array(part) for part in told["line_px"]])
    return float(np.interp(x, *line[np.argsort(line[:, 0], kind="stable")].T))


def test_the_newest_strokes_of_a_view_win(client):
    """What was found before is found anew, since other strokes wrote over it."""
    plain = {"view": "gable"}
    assert ended(client, client.post("/api/skyline", json=plain).json()) == "done"
    before = client.get("/api/proposals?view=gable").json()
    x = 1500.5
    above = [[x, top_at(before, x) - 150.0]]
    hasty = client.post("/api/skyline", json=plain | {"sky": [[10, 10]]}).json()
    taught = client.post("/api/skyline", json=plain | {"solid": above}).json()
    assert ended(client, hasty) == "cancelled"
    assert ended(client, taught) == "done"
    after = client.get("/api/proposals?view=gable").json()
    assert top_at(after, x) < above[0][1]
    again = client.post("/api/skyline", json=plain).json()
    assert again["state"] == "working"
    assert ended(client, again) == "done"
    assert client.get("/api/proposals?view=gable").json()["line_px"] == before["line_px"]


def test_strokes_outside_the_picture_are_refused(client):
    refused = client.post("/api/skyline", json={"view": "gable", "sky": [[-5, 10]]})
    assert refused.status_code == 422
    assert refused.json()["field"] == "sky"
    assert client.post("/api/skyline", json={"view": "none"}).json()["field"] == "view"
