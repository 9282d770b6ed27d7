"""A mark's residual is there the moment that it is placed, as an arrow in the picture."""

from __future__ import annotations

import pytest
from bench_client import change, patch, put, revision

from skyview.survey.pictures import Frame
from skyview.survey.storage import load
from skyview.workbench.poses import in_picture


def test_a_mark_is_answered_with_its_residual(client, folder):
    mark = next(m for m in load(folder).marks if m.view == "gable" and m.kind == "landmark")
    x, y = mark.points_px[0]
    told = change(client, patch("marks", mark.id, points_px=[[x + 40.0, y]])).json()
    (pose,) = [p for p in told["poses"] if p["view"] == "gable"]
    residual = next(r for r in pose["residuals"] if r["mark"] == mark.id)
    assert residual["from_px"] == [x + 40.0, y]
    # The arrow ends where the calibration puts the landmark: off by the residual.
    asked = {"view": "gable", "x": [residual["from_px"][0], residual["to_px"][0]],
             "y": [residual["from_px"][1], residual["to_px"][1]]}  # fmt: skip
    start, end = client.get("/api/locate", params=asked).json()["rows"]
    off = start["azimuth_deg"] - end["azimuth_deg"]
    assert off == pytest.approx(residual["azimuth_residual_deg"], abs=0.002)
    assert abs(off) > 0.02
    assert told["solve_ms"] > 0
    assert load(folder).views[1].calibration.digest


def test_a_mark_can_be_tried_without_being_kept(reader, folder):
    before = (folder / "survey.json").read_bytes()
    mark = next(m for m in load(folder).marks if m.view == "gable" and m.kind == "landmark")
    x, y = mark.points_px[0]
    body = {"view": "gable", "changes": [patch("marks", mark.id, points_px=[[x + 30.0, y]])]}
    tried = reader.post("/api/pose/try", json=body).json()
    kept = reader.get("/api/pose?view=gable").json()
    assert tried["pose"]["yaw_deg"] != kept["yaw_deg"]
    assert (folder / "survey.json").read_bytes() == before
    assert reader.post("/api/pose/try", json=body | {"view": "none"}).json()["field"] == "view"


def test_views_that_share_a_landmark_are_solved_together(client, folder):
    survey = load(folder)
    views = {}
    for mark in survey.marks:
        if mark.landmark:
            views.setdefault(mark.landmark, set()).add(mark.view)
    shared = next(name for name, seen in views.items() if len(seen) > 1)
    told = change(client, patch("landmarks", shared, sigma_m=50)).json()
    assert views[shared] <= {pose["view"] for pose in told["poses"]}


def test_an_unmarked_view_says_that_nothing_tells_its_azimuth(client):
    marks = [m["id"] for m in client.get("/api/survey").json()["survey"]["marks"]
             if m["view"] == "mast"]  # fmt: skip
    gone = [{"do": "remove", "list": "marks", "id": m, "with_users": True} for m in marks]
    assert change(client, *gone).status_code == 200
    pose = client.get("/api/pose?view=mast").json()
    assert pose["residuals"] == []
    told = change(client, patch("views", "mast", prior={})).json()
    (pose,) = [p for p in told["poses"] if p["view"] == "mast"]
    assert pose["calibrated"] is False


def test_plumb_and_level_lines_have_residuals_without_arrows(reader):
    told = change(
        reader,
        put("marks", id="edge", view="gable", kind="plumb", points_px=[[500, 300], [502, 500]]),
    ).json()
    (pose,) = [p for p in told["poses"] if p["view"] == "gable"]
    residual = next(r for r in pose["residuals"] if r["mark"] == "edge")
    assert residual["line_residual_deg"] is not None
    assert residual["from_px"] is None
    assert residual["to_px"] is None
    assert told["revision"] == revision(reader)


def test_a_mark_made_in_a_frame_is_told_where_it_lies_in_the_panorama(client, folder):
    """The frame looks along the panorama's middle, so that its middle is the panorama's."""
    held = {"file": "f.jpg", "yaw_deg": 0, "pitch_deg": 0, "roll_deg": 0, "focal_px": 700}
    told = change(
        client,
        patch("views", "gable", prior={}),
        put("marks", id="inside", view="gable", kind="bearing", azimuth_deg=60, north="true",
            points_px=[[300, 200]], frame="f.jpg"),
    )  # fmt: skip
    assert told.status_code == 200
    (pose,) = [p for p in told.json()["poses"] if p["view"] == "gable"]
    assert [p["mark"] for p in pose["in_picture"]] == []
    survey = load(folder)
    view = next(v for v in survey.views if v.id == "gable")
    view.frames, view.frames_yaw_deg = [Frame(**held, size_px=(600, 400), used=True)], 0.0
    (mark,) = in_picture(survey, view)
    width, (left, right) = view.size_px[0], (view.projection.left_deg, view.projection.right_deg)
    assert mark.points_px[0][0] == pytest.approx(-left / (right - left) * width)
