"""The proposed skyline: found apart, offered in pixels, taken as one step."""

from __future__ import annotations

import time

import numpy as np
from bench_client import revision


def test_a_skyline_is_found_offered_and_taken(client):
    assert client.get("/api/proposals?view=gable").json()["found"] is False
    job = client.post("/api/skyline", json={"view": "gable"}).json()
    for _ in range(600):
        row = next(j for j in client.get("/api/jobs").json()["rows"] if j["id"] == job["id"])
        if row["state"] != "working":
            break
        time.sleep(0.1)
    assert row["state"] == "done", row
    told = client.get("/api/proposals?view=gable").json()
    assert told["found"]
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


def test_strokes_outside_the_picture_are_refused(client):
    refused = client.post("/api/skyline", json={"view": "gable", "sky": [[-5, 10]]})
    assert refused.status_code == 422
    assert refused.json()["field"] == "sky"
    assert client.post("/api/skyline", json={"view": "none"}).json()["field"] == "view"
