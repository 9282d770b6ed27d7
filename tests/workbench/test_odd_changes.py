"""Changes that almost make sense: the survey takes them whole or stays as it was, and loads."""

from __future__ import annotations

import json
import shutil
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from skyview.survey.rules import LISTS_WITH_IDS
from skyview.survey.storage import load
from skyview.workbench.app import application
from skyview.workbench.bench import Bench

odd_numbers = st.one_of(st.integers(-(2**70), 2**70), st.floats(allow_nan=False, width=32))
odd_text = st.one_of(
    st.sampled_from(["", "oak", "sweep", "../x", "<b>", "QIVE", "\ud800", "null", "0"]),
    st.text(max_size=8),
)
odd = st.recursive(
    st.one_of(st.none(), st.booleans(), odd_numbers, odd_text),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(odd_text, inner, max_size=3)
    ),
    max_leaves=8,
)


@st.composite
def odd_changes(draw, survey):
    """Real items with fields replaced, emptied, added or swapped, put, patched or removed."""
    name = draw(st.sampled_from([n for n in LISTS_WITH_IDS if survey.get(n)]))
    item = dict(draw(st.sampled_from(survey[name])))
    fields = draw(st.lists(st.sampled_from([*item, "extra"]), max_size=3, unique=True))
    changed = {field: draw(odd) for field in fields}
    match draw(st.sampled_from(["put", "patch", "remove", "set"])):
        case "put":
            return {"do": "put", "list": name, "item": item | changed}
        case "patch":
            return {"do": "patch", "list": name, "id": item["id"], "fields": changed}
        case "remove":
            users = draw(st.booleans())
            return {"do": "remove", "list": name, "id": item["id"], "with_users": users}
    part = draw(st.sampled_from(["site", "limits", "receiver", "promises", "scans", "title"]))
    if part in ("site", "limits", "receiver"):
        known = [*survey.get(part, {}), "extra"]
        return {"do": "set", "part": part, "fields": {draw(st.sampled_from(known)): draw(odd)}}
    return {"do": "set", "part": part, "value": draw(odd)}


def settled(client, path):
    """The status of an answer once no job works on it."""
    end = time.monotonic() + 60.0
    while True:
        told = client.get(path)
        if told.json().get("state") != "working":
            return told.status_code
        assert time.monotonic() < end, f"{path} is not done in 60 s"
        time.sleep(0.02)


def send_odd_changes(folder, examples):
    """Each change goes to a survey as it was at first: what was taken is undone."""
    from starlette.testclient import TestClient

    bench = Bench(folder)
    client = TestClient(application(bench), raise_server_exceptions=True)
    start = bench.desk.state()
    counts = {200: 0, 409: 0, 422: 0}

    @settings(max_examples=examples, deadline=None, derandomize=True, database=None,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(changes=st.lists(odd_changes(start), min_size=1, max_size=3))
    def send(changes):
        base = bench.desk.survey().revision
        body = json.dumps({"base": base, "label": "odd", "changes": changes})
        headers = {"content-type": "application/json"}
        told = client.post("/api/changes", content=body, headers=headers)
        counts[told.status_code] += 1
        if told.status_code == 200:
            assert load(folder).revision == told.json()["revision"]
            for path in ("/api/next", "/api/paths", "/api/survey", "/api/spots"):
                assert settled(client, path) in (200, 422)
            if told.json()["revision"] > base:
                undone = client.post("/api/undo", json={"base": told.json()["revision"]})
                assert undone.status_code == 200
        now = dict(bench.desk.state(), revision=0)
        assert now == dict(start, revision=0)

    send()
    return counts


def test_odd_changes_are_taken_whole_or_not_at_all(small_folder):
    counts = send_odd_changes(small_folder, 25)
    assert counts[200] > 0
    assert counts[422] > 0


@pytest.mark.slow
def test_very_many_odd_changes(sample_folder, tmp_path):
    folder = tmp_path / "many"
    shutil.copytree(sample_folder, folder)
    counts = send_odd_changes(folder, 1500)
    assert counts[200] > 150
    assert counts[422] > 150
