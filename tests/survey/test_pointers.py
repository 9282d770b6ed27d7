"""What a heading points at: nearest edges, crowns last, a second thing on the other side."""

from __future__ import annotations

import numpy as np
import pytest
from cure_case import outline, roof, survey, thing

from skyview.survey.pointers import Marker, markers_at, pointer_to
from skyview.survey.scene import scene_of

ANTENNA = np.array([0.0, 0.0, 6.5])


def markers(data):
    told = survey(data)
    scene = scene_of(told, spots=["ridge"], heights_m=[1.5])
    return markers_at(told, scene.screens, scene.cameras, ANTENNA)


def test_edges_are_where_the_antenna_sees_them():
    found = {(m.thing, m.part): m.azimuth_deg for m in markers(roof())}
    # The antenna stands where the camera stood.
    assert found["house", "left_edge"] % 360.0 == pytest.approx(335.0, abs=0.05)
    assert found["house", "right_edge"] % 360.0 == pytest.approx(20.0, abs=0.05)
    assert found["oak", "left_edge"] == pytest.approx(70.0, abs=0.05)
    assert ("oak", "top") in found
    assert ("house", "top") not in found


def test_a_slim_thing_is_pointed_at_as_a_whole():
    data = roof(
        obstructions=[thing("pole", "mast", 30.0)], outlines=[outline("pole", 49.5, 50.5, -5, 9)]
    )
    (only,) = markers(data)
    assert (only.thing, only.part) == ("pole", "middle")
    assert only.azimuth_deg == pytest.approx(50.0, abs=0.05)


def test_a_crown_gives_way_to_a_wall():
    edges = [Marker("oak", "top", 100.5, 2.0), Marker("block", "right_edge", 98.0, 0.0)]
    assert pointer_to(edges, 100.0).thing == "block"
    assert pointer_to(edges, 101.5).thing == "oak"


def test_right_is_clockwise_and_north_is_no_seam():
    edges = [Marker("spire", "middle", 357.0, 0.0), Marker("block", "left_edge", 6.0, 0.0)]
    found = pointer_to(edges, 1.0)
    assert (found.thing, found.off_deg) == ("spire", 4.0)
    assert (found.second.thing, found.second.off_deg) == ("block", -5.0)


def test_nothing_near_is_nothing():
    assert pointer_to([Marker("spire", "middle", 200.0, 0.0)], 90.0) is None
    assert pointer_to([], 90.0) is None
