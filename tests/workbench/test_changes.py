"""Operations on plain data: what goes along when a thing is taken out, and what stays."""

from __future__ import annotations

import pytest

from skyview.errors import InputError
from skyview.workbench.changes import changed
from skyview.workbench.messages import Patch, Put, Remove, SetFields, SetValue

STATE = {
    "spots": [{"id": "ridge"}, {"id": "gable"}],
    "views": [{"id": "v1", "spot": "ridge", "photo": "photos/v1.jpg"}, {"id": "v2"}],
    "landmarks": [{"id": "tower"}],
    "stations": [{"id": "QALD"}],
    "marks": [
        {"id": "m1", "view": "v1", "landmark": "tower"},
        {"id": "m2", "view": "v1", "other": "m3"},
        {"id": "m3", "view": "v2", "other": "m2"},
    ],
    "obstructions": [{"id": "oak", "distance_from": "v1", "distance_m": 20}],
    "outlines": [{"id": "o1", "obstruction": "oak", "view": "v1"}],
    "antennas": [{"id": "main", "spot": "ridge"}],
    "promises": [{"station": "QALD", "word": "sure"}],
    "scans": [{"taken": "2026-06-01T17:00:00", "antenna": "main", "rows": []}],
}


def ids(state, name):
    return [item["id"] for item in state[name]]


def without(name, key):
    return changed(STATE, [Remove(do="remove", list=name, id=key, with_users=True)])


def test_a_view_takes_its_marks_ties_and_outlines_along_and_leaves_the_thing():
    after = without("views", "v1")
    assert ids(after, "views") == ["v2"]
    assert ids(after, "marks") == []
    assert ids(after, "outlines") == []
    assert after["obstructions"] == [{"id": "oak", "distance_m": 20}]


def test_a_spot_takes_its_antennas_along_and_leaves_views_and_scans():
    after = without("spots", "ridge")
    assert ids(after, "antennas") == []
    assert after["views"][0] == {"id": "v1", "photo": "photos/v1.jpg"}
    assert after["scans"] == [{"taken": "2026-06-01T17:00:00", "rows": []}]


def test_a_station_takes_its_promises_and_an_obstruction_its_outlines():
    assert without("stations", "QALD")["promises"] == []
    assert ids(without("obstructions", "oak"), "outlines") == []


def test_what_is_used_stays_unless_its_users_go_too():
    with pytest.raises(InputError, match="still used by marks m1"):
        changed(STATE, [Remove(do="remove", list="landmarks", id="tower")])


def test_the_state_that_was_given_is_left_alone():
    before = repr(STATE)
    changed(
        STATE,
        [
            Put(do="put", list="spots", item={"id": "new"}),
            Put(do="put", list="spots", item={"id": "ridge", "enu_m": [0, 0, 1]}),
            Patch(do="patch", list="obstructions", id="oak", fields={"distance_m": None}),
            SetFields(do="set", part="site", fields={"latitude_deg": 1.0}),
            SetValue(do="set", part="title", value="x"),
            Remove(do="remove", list="views", id="v1", with_users=True),
        ],
    )
    assert repr(STATE) == before


def test_put_patch_and_set_do_what_they_say():
    after = changed(
        STATE,
        [
            Put(do="put", list="spots", item={"id": "ridge", "enu_m": [0, 0, 1]}),
            Put(do="put", list="spots", item={"id": "last"}),
            Patch(do="patch", list="obstructions", id="oak",
                  fields={"distance_m": None, "kind": "tree"}),
            Put(do="put", list="views", item={"id": "v1", "leaf": "in"}),
        ],
    )  # fmt: skip
    assert after["spots"] == [{"id": "ridge", "enu_m": [0, 0, 1]}, {"id": "gable"}, {"id": "last"}]
    assert after["obstructions"] == [{"id": "oak", "distance_from": "v1", "kind": "tree"}]
    assert after["views"][0] == {"id": "v1", "leaf": "in", "photo": "photos/v1.jpg"}
