"""Changing the survey through the page: one step at a time, never silently over another."""

from __future__ import annotations

import json

import pytest
from bench_client import change, patch, put, remove, revision

from skyview.survey.edit import set_field
from skyview.survey.storage import editing, load


def undo(client, base=None):
    return client.post("/api/undo", json={"base": revision(client) if base is None else base})


def redo(client):
    return client.post("/api/redo", json={"base": revision(client)})


def test_a_change_is_in_the_file_before_it_is_acknowledged(client, folder):
    done = change(client, patch("obstructions", "oak", distance_m=23.5), label="pace to the oak")
    assert done.status_code == 200
    told = done.json()
    saved = load(folder)
    assert saved.revision == told["revision"]
    assert next(o for o in saved.obstructions if o.id == "oak").distance_m == 23.5
    oak = next(c for c in told["changed"] if c["id"] == "oak")
    assert oak["item"]["distance_m"] == 23.5
    assert told["history"]["undo"]["label"] == "pace to the oak"


def test_a_stale_change_is_refused_with_what_is_new(client, folder):
    base = revision(client)
    before = (folder / "survey.json").read_bytes()
    change(client, patch("obstructions", "oak", distance_m=30))
    middle = (folder / "survey.json").read_bytes()
    body = {"base": base, "label": "late", "changes": [patch("obstructions", "oak", distance_m=40)]}
    refused = client.post("/api/changes", json=body)
    assert refused.status_code == 409
    told = refused.json()
    assert told["code"] == "stale"
    assert told["revision"] == base + 1
    assert [c["id"] for c in told["changed"]] == ["oak"]
    assert told["changed"][0]["item"]["distance_m"] == 30
    assert (folder / "survey.json").read_bytes() == middle != before


def test_a_page_that_is_very_old_gets_the_whole_survey(client):
    body = {"base": 0, "label": "old", "changes": [{"do": "set", "part": "title", "value": "x"}]}
    told = client.post("/api/changes", json=body).json()
    assert told["code"] == "stale"
    assert told["survey"]["site"]["latitude_deg"] == pytest.approx(-38.6417)


def test_everything_can_be_undone_and_made_again(client, folder):
    """A day's work, back to the very bytes, and forth again; the server is another one between."""

    def content():
        data = json.loads((folder / "survey.json").read_text())
        del data["revision"]
        return data

    states = [content()]
    steps = [
        [put("landmarks", id="mill", latitude_deg=-38.6, longitude_deg=-117.4)],
        [put("marks", id="mm", view="sweep", kind="landmark", landmark="mill",
             points_px=[[2000.0, 700.0]])],
        [patch("marks", "mm", points_px=[[2010.0, 702.0]])],
        [patch("obstructions", "oak", distance_m=31, distance_by=None)],
        [remove("obstructions", "maple_left", with_users=True)],
        [{"do": "set", "part": "limits", "fields": {"lines_checked": False}},
         {"do": "set", "part": "title", "value": "Another"}],
        [remove("views", "gable", with_users=True)],
        [{"do": "set", "part": "promises", "value": [{"station": "QIVE", "word": "may_fade"}]}],
    ]  # fmt: skip
    for number, step in enumerate(steps):
        done = change(client, *step, label=f"step {number}")
        assert done.status_code == 200, done.json()
        states.append(content())
    for number in reversed(range(len(steps))):
        told = undo(client).json()
        assert told["label"] == f"step {number}"
        assert content() == states[number]
    assert undo(client).json()["code"] == "nothing"
    for number in range(len(steps)):
        assert redo(client).status_code == 200
        assert content() == states[number + 1]
    assert redo(client).json()["code"] == "nothing"


def test_history_is_kept_for_the_next_server(client, folder, open_door):
    change(client, patch("obstructions", "oak", distance_m=31), label="first")
    change(client, patch("obstructions", "oak", distance_m=32), label="second")
    undo(client)
    other = open_door(folder)
    rows = other.get("/api/history").json()["rows"]
    assert [(r["label"], r["done"]) for r in rows] == [("second", False), ("first", True)]
    assert redo(other).status_code == 200
    assert undo(other).status_code == undo(other).status_code == 200
    assert next(o for o in load(folder).obstructions if o.id == "oak").distance_m != 31


def test_another_programs_change_is_noticed_and_never_undone(client, folder):
    change(client, patch("obstructions", "oak", distance_m=31), label="ours")
    with editing(folder) as edit:
        edit.survey = set_field(edit.survey, "obstructions.oak.distance_m", "44")
    refused = undo(client)
    assert refused.status_code == 409
    assert refused.json()["code"] == "changed_since"
    assert next(o for o in load(folder).obstructions if o.id == "oak").distance_m == 44
    assert undo(client).json()["code"] == "nothing"


def test_undo_leaves_another_programs_other_change_alone(client, folder):
    change(client, patch("obstructions", "oak", distance_m=31))
    with editing(folder) as edit:
        edit.survey = set_field(edit.survey, "title", "by hand")
    assert undo(client).status_code == 200
    assert load(folder).title == "by hand"


def test_two_pages_take_turns(client):
    """Each works on what it has; the second to save is told, takes the news over and saves."""
    base = revision(client)
    one = {"base": base, "label": "one", "changes": [patch("obstructions", "oak", distance_m=31)]}
    two = {"base": base, "label": "two", "changes": [patch("obstructions", "pole", distance_m=18)]}
    assert client.post("/api/changes", json=one).status_code == 200
    late = client.post("/api/changes", json=two)
    assert late.status_code == 409
    again = client.post("/api/changes", json=two | {"base": late.json()["revision"]})
    assert again.status_code == 200
    survey = client.get("/api/survey").json()["survey"]
    kept = {o["id"]: o.get("distance_m") for o in survey["obstructions"]}
    assert (kept["oak"], kept["pole"]) == (31, 18)


def test_all_or_nothing(client, folder):
    before = (folder / "survey.json").read_bytes()
    refused = change(
        client,
        patch("obstructions", "oak", distance_m=31),
        patch("obstructions", "nobody", distance_m=31),
    )
    assert refused.status_code == 422
    assert refused.json()["field"] == "changes.1"
    assert (folder / "survey.json").read_bytes() == before


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        (patch("obstructions", "oak", distance_m=-3), "obstructions.oak.distance_m"),
        (patch("obstructions", "oak", colour="red"), "obstructions.oak.colour"),
        (put("spots", id="x"), "spots.x.enu_m"),
        (put("marks", id="m", view="nowhere", kind="sun", points_px=[[1, 1]]), "marks.m.view"),
        (patch("views", "sweep", photo="/etc/passwd"), "changes.0.fields.photo"),
        (put("views", id="new", photo="photos/x.jpg", size_px=[1, 1], camera_enu_m=[0, 0, 0]),
         "changes.0"),
        ({"do": "set", "part": "site", "fields": {"terrain": "/etc/passwd"}}, "changes.0.terrain"),
        (remove("obstructions", "oak"), "changes.0"),
        (patch("obstructions", "oak", id="elm"), "changes.0.fields.id"),
        (put("obstructions", kind="tree"), "changes.0.item.id"),
    ],
)  # fmt: skip
def test_bad_changes_name_their_place(client, bad, field):
    refused = change(client, bad)
    assert refused.status_code == 422
    told = refused.json()
    assert told["field"] == field
    assert told["message"]


def test_half_a_character_is_refused_and_harms_nothing(client, folder):
    before = (folder / "survey.json").read_bytes()
    body = json.dumps(
        {
            "base": revision(client),
            "label": "odd",
            "changes": [{"do": "set", "part": "title", "value": "\ud800"}],
        }
    )
    refused = client.post(
        "/api/changes", content=body, headers={"content-type": "application/json"}
    )
    assert refused.status_code == 422
    assert (folder / "survey.json").read_bytes() == before
    assert undo(client).json()["code"] == "nothing"


def test_no_survey_yet_is_one_sentence(empty):
    assert empty.get("/api/state").json()["open"] is False
    for path in ("/api/survey", "/api/next", "/api/paths", "/api/angles?view=x"):
        assert empty.get(path).status_code == 404
    refused = empty.post("/api/changes", json={"base": 0, "label": "x", "changes": [
        {"do": "set", "part": "title", "value": "x"}]})  # fmt: skip
    assert refused.status_code == 404
    assert undo(empty, base=0).json()["code"] == "nothing"


def test_a_survey_begins_at_a_place(empty):
    told = empty.post("/api/begin", json={"latitude_deg": 40, "longitude_deg": -100}).json()
    assert told["revision"] == 1
    assert "supposed" in told["notes"][0]
    again = empty.post("/api/begin", json={"latitude_deg": 40, "longitude_deg": -100})
    assert again.status_code == 409
    assert change(empty, put("spots", id="ridge", enu_m=[1, 2, 7])).status_code == 200


def test_a_read_only_folder_is_one_sentence(client, monkeypatch):
    def read_only(*_args, **_kwargs):
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr("skyview.files.os.replace", read_only)
    refused = change(client, patch("obstructions", "oak", distance_m=31))
    assert refused.status_code == 503
    monkeypatch.undo()
    assert client.get("/api/history").json()["rows"] == []
    assert change(client, patch("obstructions", "oak", distance_m=31)).status_code == 200
    assert len(client.get("/api/history").json()["rows"]) == 1
