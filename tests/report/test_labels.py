"""Tags keep off each other, off foreign poles, marks and fixed boxes, whatever the stations."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from skyview.report.labels import Board, Pin, Tag, place_tags
from skyview.report.touching import lies_on, segments_touch_boxes

RAILS = (210.0, 140.0, 70.0, 0.0)


def pin(x: float, y: float = 400.0, width: float = 120.0, weight: float = 1.0) -> Pin:
    sizes = ((width, 60.0), (width - 30.0, 60.0), (width - 60.0, 22.0))
    return Pin(x, (x - 13.0, y - 13.0, x + 13.0, y + 13.0), sizes, weight)


def overlap(a, b) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def samples(pole) -> np.ndarray:
    """Points every half px along a pole."""
    parts = []
    for (x0, y0), (x1, y1) in itertools.pairwise(pole):
        t = np.linspace(0.0, 1.0, 2 + int(2 * np.hypot(x1 - x0, y1 - y0)))[:, None]
        parts.append(np.array([x0, y0]) + t * np.array([x1 - x0, y1 - y0]))
    return np.vstack(parts)


def assert_free(pins: list[Pin], tags: list[Tag | None], board: Board) -> None:
    """The promise of the module, checked box by box and point by point."""
    hung = [(i, tag) for i, tag in enumerate(tags) if tag is not None]
    for (i, a), (j, b) in itertools.combinations(hung, 2):
        assert not overlap(a.box, b.box), (i, j)
    for i, tag in hung:
        left, top, right, bottom = tag.box
        assert board.left <= left
        assert right <= board.right
        for mark in (p.box for p in pins):
            assert not overlap(tag.box, mark)
        for fixed in board.solids + board.quiet:
            assert not overlap(tag.box, fixed)
        for j, other in hung:
            points = samples(other.pole)
            inside = (points > (left, top)).all(axis=1) & (points < (right, bottom)).all(axis=1)
            assert not inside.any(), (i, j)
            for fixed in board.solids:
                assert not (
                    (points > fixed[:2]).all(axis=1) & (points < fixed[2:]).all(axis=1)
                ).any()


stations = st.lists(
    st.tuples(st.floats(5.0, 1995.0), st.floats(90.0, 460.0), st.floats(80.0, 190.0)),
    min_size=1,
    max_size=40,
)


@given(stations)
@settings(max_examples=25, deadline=None)
def test_no_tag_touches_another_or_a_foreign_pole(found: list[tuple[float, float, float]]) -> None:
    pins = [pin(*values) for values in found]
    board = Board(
        0.0,
        2000.0,
        RAILS,
        solids=((1800.0, 10.0, 2000.0, 120.0),),
        quiet=((980.0, 0.0, 1014.0, 33.0), (996.0, 0.0, 998.0, 500.0)),
    )
    tags, _ = place_tags(pins, board)
    assert len(tags) == len(pins)
    assert_free(pins, tags, board)


@pytest.mark.parametrize("seed", [1, 2])
def test_sixty_stations_lose_words_before_they_lose_their_tag(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pins = [pin(float(x)) for x in rng.uniform(20.0, 1980.0, 60)]
    board = Board(0.0, 2000.0, RAILS)
    tags, _ = place_tags(pins, board)
    assert_free(pins, tags, board)
    forms = [tag.form for tag in tags if tag is not None]
    assert len(forms) >= 48
    assert "call_sign" in forms


def test_stations_with_room_keep_every_line_on_the_lowest_rail() -> None:
    pins = [pin(x) for x in (100.0, 400.0, 700.0)]
    tags, cost = place_tags(pins, Board(0.0, 1000.0, RAILS))
    assert [(tag.form, tag.side, tag.box[1]) for tag in tags] == [("all", "right", 210.0)] * 3
    assert cost == 0.0


def test_neighbours_share_their_poles_outer_sides() -> None:
    tags, _ = place_tags([pin(300.0), pin(340.0)], Board(0.0, 1000.0, (0.0,)))
    assert [tag.side for tag in tags] == ["left", "right"]
    assert [tag.form for tag in tags] == ["all", "all"]


def test_channel_goes_first_then_the_word_then_the_straight_pole() -> None:
    def forms(gap: float) -> list[str | None]:
        pins = [pin(20.0), pin(20.0 + gap)]
        board = Board(0.0, 20.0 + gap + 15.0, (0.0,), knees=())
        return [tag and tag.form for tag in place_tags(pins, board)[0]]

    assert forms(280.0) == ["all", "all"]
    assert sorted(forms(250.0)) == ["all", "no_channel"]
    assert sorted(forms(180.0)) == ["call_sign", "no_channel"]
    boxed_in = [pin(100.0), pin(112.0), pin(124.0)]
    bent, _ = place_tags(boxed_in, Board(0.0, 400.0, (0.0,)))
    assert sorted(len(tag.pole) for tag in bent if tag) == [2, 2, 3]


def test_a_knee_turns_by_45_degrees_once() -> None:
    tags, _ = place_tags([pin(100.0), pin(112.0), pin(124.0)], Board(0.0, 400.0, (0.0,)))
    (knee,) = [tag for tag in tags if tag and len(tag.pole) == 3]
    (x0, y0), (x1, y1), (x2, y2) = knee.pole
    assert x0 == x1
    assert y0 > y1 > y2
    assert abs(x2 - x1) == pytest.approx(y1 - y2)


def test_stations_of_one_tower_share_a_pole() -> None:
    pins = [pin(300.0) for _ in range(6)]
    board = Board(0.0, 1000.0, RAILS[:3])
    tags, _ = place_tags(pins, board)
    assert_free(pins, tags, board)
    assert all(tag is not None and tag.form == "all" for tag in tags)


def test_a_heavier_station_keeps_the_better_place() -> None:
    board = Board(0.0, 210.0, (0.0,), knees=())
    for weights, forms in (((5.0, 1.0), ["all", "call_sign"]), ((1.0, 5.0), ["call_sign", "all"])):
        tags, _ = place_tags([pin(75.0, weight=weight) for weight in weights], board)
        assert [tag.form for tag in tags if tag] == forms


def test_tags_shun_a_shape_while_another_rail_is_free() -> None:
    crown = np.array([[100.0, 130.0], [300.0, 130.0], [300.0, 300.0], [100.0, 300.0]])
    tags, _ = place_tags([pin(150.0)], Board(0.0, 500.0, RAILS, shy=(crown,)))
    assert tags[0].box[3] <= 130.0
    inside = np.array([[150.0, 200.0, 160.0, 210.0], [400.0, 0.0, 410.0, 10.0]])
    assert lies_on(inside, crown).tolist() == [True, False]


def _cost_by_trying_all(pins: list[Pin], board: Board) -> float:
    """Every combination of places, for boards without knees: the cost rules, written anew."""
    choices = []
    for p in pins:
        own: list[tuple[float, Tag | None]] = [(400.0, None)]
        for rank, rail in enumerate(board.rails):
            for side in ("right", "left"):
                for form, extra in enumerate((0.0, 12.0, 40.0)):
                    width, height = p.sizes[form]
                    left = p.x + 10.0 if side == "right" else p.x - 10.0 - width
                    box = (left, rail, left + width, rail + height)
                    if left < board.left or box[2] > board.right:
                        continue
                    cost = rank + extra + (0.4 if side == "left" else 0.0)
                    pole = ((p.x, p.box[1]), (p.x, rail))
                    own.append((cost, Tag("all", side, box, pole)))
        choices.append(own)

    def clash(a: Tag, b: Tag) -> bool:
        wide = [(t.box[0] - 5.0, t.box[1] - 5.0, t.box[2] + 5.0, t.box[3] + 5.0) for t in (a, b)]
        if overlap(wide[0], b.box):
            return True
        for tag, box in ((a, wide[1]), (b, wide[0])):
            x, top = tag.pole[1]
            if box[0] < x < box[2] and top < box[3]:
                return True
        return False

    best = np.inf
    for combo in itertools.product(*choices):
        tags = [tag for _, tag in combo if tag]
        if not any(clash(a, b) for a, b in itertools.combinations(tags, 2)):
            best = min(best, sum(cost for cost, _ in combo))
    return best


@given(st.lists(st.integers(0, 300), min_size=3, max_size=3), st.integers(1, 2))
@settings(max_examples=15, deadline=None)
def test_the_choice_is_the_cheapest_there_is(places: list[int], rails: int) -> None:
    pins = [pin(float(x)) for x in places]
    board = Board(-60.0, 360.0, (70.0, 0.0)[:rails], knees=())
    assert place_tags(pins, board)[1] == pytest.approx(_cost_by_trying_all(pins, board))


def test_segments_and_boxes() -> None:
    box = np.array([10.0, 10.0, 20.0, 20.0])
    segments = np.array(
        [
            [0.0, 15.0, 30.0, 15.0],
            [15.0, 0.0, 15.0, 9.0],
            [0.0, 5.0, 16.0, 21.0],
            [0.0, 12.0, 9.0, 21.0],
            [np.nan] * 4,
        ]
    )
    assert segments_touch_boxes(segments, box).tolist() == [True, False, True, False, False]
    assert segments_touch_boxes(segments[1], box, gap=2.0)


def test_no_station_no_tag() -> None:
    assert place_tags([], Board(0.0, 100.0, RAILS)) == ([], 0.0)
