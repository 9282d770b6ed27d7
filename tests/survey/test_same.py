"""One thing outlined as two: proposed for the sample street, joined without loss."""

from __future__ import annotations

import pytest

from skyview.errors import InputError
from skyview.survey.cameras import camera_of
from skyview.survey.models import validate
from skyview.survey.same import joined, proposals_of


@pytest.fixture(scope="module")
def apart(demo_data):
    """The sample survey with an obstruction of its own for every outline, kinds a little wrong."""
    things, outlines = [], []
    guesses = {"broadleaf": "tree", "conifer": "tree"}
    for outline in demo_data["outlines"]:
        thing = next(t for t in demo_data["obstructions"] if t["id"] == outline["obstruction"])
        name = f"{thing['id']}_{outline['view']}"
        if any(t["id"] == name for t in things):
            outlines.append({**outline, "obstruction": name})
            continue
        kind = guesses.get(thing["kind"], thing["kind"])
        things.append(
            {
                "id": name,
                "kind": kind if outline["view"] == "gable" else thing["kind"],
                "kind_by": "guess",
            }
        )
        outlines.append({**outline, "obstruction": name})
    return validate({**demo_data, "obstructions": things, "outlines": outlines})


def test_the_street_is_matched(apart):
    """34 pairs of outlines show one thing; of those proposed at most one in twenty is wrong."""
    cameras = {view.id: camera_of(apart, view) for view in apart.views}
    found = proposals_of(apart, cameras)
    right = [p.first.rsplit("_", 1)[0] == p.second.rsplit("_", 1)[0] for p in found]
    assert sum(right) >= 32
    assert right.count(False) <= 1
    assert [p.likeness for p in found] == sorted((p.likeness for p in found), reverse=True)
    assert all(0.0 < p.likeness <= 1.0 for p in found)


def small(**fields):
    return {"kind": "tree", "kind_by": "guess", **fields}


def two_views(demo_data, first, second):
    """Two obstructions, outlined in the sweep and in the gable's picture."""
    ring = [[100.0, 300.0], [200.0, 300.0], [150.0, 200.0]]
    return validate(
        {
            **demo_data,
            "obstructions": [{"id": "a", **first}, {"id": "b", **second}],
            "outlines": [
                {"id": "a1", "obstruction": "a", "view": "sweep", "rings_px": [ring]},
                {"id": "b1", "obstruction": "b", "view": "gable", "rings_px": [ring]},
            ],
        }
    )


def test_joining_takes_over_what_was_said(demo_data):
    survey = two_views(
        demo_data,
        small(distance_m=20.0, distance_by="paced", distance_from="sweep"),
        small(
            kind="conifer", kind_by="hand", depth_m=4.0,
            distance_m=18.0, distance_by="laser", distance_from="gable",
        ),
    )  # fmt: skip
    (one,) = joined(survey, ("a", "b")).obstructions
    assert (one.id, one.kind, one.kind_by, one.depth_m) == ("a", "conifer", "hand", 4.0)
    assert (one.distance_m, one.distance_by) == (20.0, "paced")
    assert [(m.view, m.distance_m, m.by) for m in one.measured] == [("gable", 18.0, "laser")]
    assert {o.obstruction for o in joined(survey, ("a", "b")).outlines} == {"a"}


def test_a_distance_is_taken_over_where_the_first_has_none(demo_data):
    survey = two_views(
        demo_data, small(), small(distance_m=18.0, distance_by="laser", distance_from="gable")
    )
    (one,) = joined(survey, ("a", "b")).obstructions
    assert (one.distance_m, one.distance_by, one.distance_from) == (18.0, "laser", "gable")
    assert one.measured == []


@pytest.mark.parametrize(
    ("first", "second", "ids", "said"),
    [
        (small(), small(), ("a", "c"), "no obstruction is called c"),
        (small(), small(), ("a", "a"), "joined with itself"),
        (small(depth_m=4.0), small(depth_m=5.0), ("a", "b"), "says depth_m 4"),
        (small(), small(kind="building"), ("a", "b"), "says kind tree, b says building"),
    ],
)
def test_what_cannot_be_joined(demo_data, first, second, ids, said):
    survey = two_views(demo_data, first, second)
    with pytest.raises(InputError, match=said):
        joined(survey, ids)


def test_two_outlines_of_one_view_are_two_things(demo_data):
    survey = validate(demo_data)
    with pytest.raises(InputError, match="both outlined in view"):
        joined(survey, ("oak", "pole"))
