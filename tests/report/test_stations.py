"""Marks, poles and tags in a window, and the shapes behind them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from skyview.report.canvas import Canvas
from skyview.report.chips import nearest_edge, plan_chip
from skyview.report.frame import Window
from skyview.report.silhouettes import drawn_ring, shapes_in, turns_into, zone_shapes
from skyview.report.stations import moved, pin_stations, plan_tags
from skyview.survey.results import FresnelMark

NORTH = Window(-60.0, 140.0, -13.0, 38.0, 60.0, 100.0, 2000, 510)


@pytest.fixture
def canvas() -> Canvas:
    return Canvas(2200, 1.0, "png")


@pytest.mark.parametrize("left", [-60.0, 300.0])
def test_bearings_are_unrolled_into_the_window(canvas: Canvas, make_row, left: float) -> None:
    window = Window(left, left + 200.0, -13.0, 38.0, 60.0, 100.0, 2000, 510)
    pins = pin_stations(canvas, window, [make_row("QWES", 359.9), make_row("QEAS", 0.1)])
    assert [pin.x for pin in pins] == pytest.approx([659.0, 661.0])
    assert [pin.y for pin in pins] == pytest.approx([450.0, 450.0])


def test_a_mark_keeps_its_size_at_any_scale_of_the_plate(canvas: Canvas, make_row) -> None:
    sizes = []
    for window in (NORTH, Window(30.0, 50.0, 0.0, 10.0, 0.0, 0.0, 1000, 4000)):
        left, top, right, bottom = pin_stations(canvas, window, [make_row()])[0].box
        sizes += [right - left, bottom - top]
    assert sizes == pytest.approx([sizes[0]] * 4)


@pytest.mark.parametrize(("elevation", "off"), [(3.0, None), (60.0, "above"), (-30.0, "below")])
def test_marks_are_held_within_the_window(canvas: Canvas, make_row, elevation, off) -> None:
    (pin,) = pin_stations(canvas, NORTH, [make_row(elevation_deg=elevation)])
    assert pin.off == off
    assert NORTH.box[1] <= pin.box[1]
    assert pin.box[3] <= NORTH.box[3]


def test_rails_rise_above_a_window_without_sky(canvas: Canvas, make_row) -> None:
    rows = [make_row(f"Q{i}", 10.0 + 15.0 * i) for i in range(6)]
    low = Window(-60.0, 140.0, -13.0, 8.0, 60.0, 100.0, 2000, 210)
    plan = plan_tags(canvas, low, rows, None)
    assert plan.headroom > 0.0
    assert plan.untagged() == []
    assert min(tag.box[1] for tag in plan.tags) >= low.y0 - plan.headroom - 1e-9
    assert plan_tags(canvas, NORTH, rows, None).headroom == 0.0
    down = moved(plan, 30.0)
    np.testing.assert_allclose(down.poles() - plan.poles(), np.array([[0.0, 30.0, 0.0, 30.0]] * 6))


def test_a_chip_stands_in_no_poles_way(canvas: Canvas, make_row) -> None:
    outside = [make_row(f"Q{i}", 150.0 + i) for i in range(3)]
    free = plan_chip(canvas, NORTH, "right", outside, [])
    assert free.box[1] < NORTH.y0 + 20.0
    mark = (1980.0, 430.0, 2010.0, 460.0)
    lower = plan_chip(canvas, NORTH, "right", outside, [mark])
    assert lower.box[1] > mark[3]
    assert lower.box[2] == NORTH.box[2]
    assert plan_chip(canvas, NORTH, "left", [], []) is None


@pytest.mark.parametrize(("azimuth", "edge"), [(150.0, "right"), (290.0, "left"), (219.0, "right")])
def test_the_nearest_edge(azimuth: float, edge: str) -> None:
    assert nearest_edge(NORTH, NORTH, azimuth) == edge


@pytest.mark.parametrize(
    ("left", "right", "azimuths", "turns"),
    [
        (-60.0, 140.0, (350.0, 370.0), [-360.0]),
        (300.0, 500.0, (-10.0, 10.0), [360.0]),
        (0.0, 360.0, (350.0, 370.0), [-360.0, 0.0]),
        (0.0, 90.0, (100.0, 120.0), []),
    ],
)
def test_outlines_are_carried_round_the_circle(left, right, azimuths, turns) -> None:
    window = Window(left, right, -10.0, 10.0, 0.0, 0.0, 100, 100)
    assert list(turns_into(window, np.array(azimuths))) == turns


def test_an_outline_over_the_seam_shows_at_both_ends(make_plate) -> None:
    plate = make_plate()
    circle = Window(0.0, 360.0, -30.0, 60.0, 0.0, 0.0, 3600, 900)
    block = [shape for shape in shapes_in(circle, plate) if np.ptp(shape[:, 0]) == 140.0]
    assert [float(shape[:, 0].min()) for shape in block] == pytest.approx([-80.0, 3520.0])


def test_the_fresnel_zone_is_to_scale() -> None:
    """Round as seen: in azimuth it spans 1/cos(elevation) as many degrees as in elevation."""
    zone = FresnelMark(20.0, 30.0, 8.4, 2.0, "block", 119.0)
    (edge,) = zone_shapes(NORTH, zone)
    assert np.ptp(edge[:, 1]) == pytest.approx(4.0 * NORTH.px_per_deg_up, rel=1e-3)
    wide = 4.0 / math.cos(math.radians(30.0)) * NORTH.px_per_deg
    assert np.ptp(edge[:, 0]) == pytest.approx(wide, rel=1e-3)
    assert zone_shapes(NORTH, None) == []


@pytest.mark.parametrize(("count", "drawn"), [(2, 2), (3, 3), (7, 7)])
def test_a_wire_there_and_back_is_drawn_once(count: int, drawn: int) -> None:
    path = np.column_stack([np.arange(count), np.arange(count) ** 2]).astype(float)
    ring = np.concatenate([path, path[-2:0:-1]])
    np.testing.assert_array_equal(drawn_ring(ring), path)
    assert len(drawn_ring(ring)) == drawn
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    np.testing.assert_array_equal(drawn_ring(square)[-1], square[0])
