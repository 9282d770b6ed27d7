"""Outlines proposed from masks drawn by hand."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from shapely import Polygon

from skyview.outline.things import things_of

PX_PER_DEG = 20.0


def drawn(*polygons: list[tuple[int, int]]) -> np.ndarray:
    """A mask of 60 x 40 degrees with a level horizon at row 600 and these shapes before it."""
    mask = np.full((800, 1200), 255, np.uint8)
    mask[600:] = 0
    for polygon in polygons:
        cv2.fillPoly(mask, [np.array(polygon, np.int32)], 0)
    return mask


def test_everything_under_the_skyline_lies_in_an_outline() -> None:
    gable = [(300, 600), (300, 450), (400, 380), (500, 450), (500, 600)]
    mask = drawn(gable, [(700, 600), (700, 500), (900, 500), (900, 600)])
    things = things_of(mask, np.zeros(1200, bool), PX_PER_DEG)
    filled = np.zeros_like(mask)
    for thing in things:
        assert Polygon(thing.ring_px).is_valid
        cv2.fillPoly(filled, [np.round(thing.ring_px).astype(np.int32)], 1)
    solid = mask[:600] == 0
    assert (filled[:600][solid] == 1).mean() > 0.99
    assert (filled[:600][~solid] == 1).mean() < 0.01


@pytest.mark.parametrize("side_deg", [1.0, 1.5, 3.0])
@pytest.mark.parametrize("x", [200, 555, 900])
def test_nothing_over_a_degree_is_missed(side_deg: float, x: int) -> None:
    side = int(side_deg * PX_PER_DEG) + 1
    mask = drawn([(x, 600), (x, 600 - side), (x + side, 600 - side), (x + side, 600)])
    things = things_of(mask, np.zeros(1200, bool), PX_PER_DEG)
    tops = [t.ring_px[:, 1].min() for t in things if t.ring_px[:, 0].min() <= x + side / 2]
    assert min(tops) < 600 - side + 4


def test_kinds_are_guessed_from_the_edge() -> None:
    rng = np.random.default_rng(4)
    mask = drawn([(700, 600), (700, 450), (900, 450), (900, 600)])
    for x, y in rng.normal((300, 450), 60, (900, 2)):
        cv2.circle(mask, (int(x), int(y)), 4, 0, -1)
    cv2.line(mask, (1050, 600), (1050, 300), 0, 4)
    cv2.line(mask, (0, 200), (1199, 230), 0, 2)
    things = things_of(mask, np.zeros(1200, bool), PX_PER_DEG)

    def kinds_at(x: int, y: int) -> set[str]:
        return {
            t.kind
            for t in things
            if t.ring_px[:, 0].min() <= x <= t.ring_px[:, 0].max()
            and t.ring_px[:, 1].min() - 5 <= y <= t.ring_px[:, 1].max() + 5
        }

    assert kinds_at(800, 500) == {"building"}
    assert "tree" in kinds_at(300, 450)
    assert "mast" in kinds_at(1050, 400)
    assert "wire" in kinds_at(600, 215)
    shares = [t.sky_share for t in things if t.kind == "tree"]
    assert all(s is not None and 0.0 < s < 0.6 for s in shares)
    assert all(t.sky_share is None for t in things if t.kind != "tree")


def test_one_thing_is_one_outline() -> None:
    rng = np.random.default_rng(7)
    ragged = [(200, 600), *((x, 400 + int(rng.integers(0, 25))) for x in range(200, 500, 6))]
    spire = [(700, 600), (745, 300), (755, 300), (800, 600)]
    mask = drawn([*ragged, (500, 600)], spire)
    cv2.line(mask, (0, 150), (1199, 160), 0, 3)
    cv2.line(mask, (0, 165), (1199, 175), 0, 3)
    things = things_of(mask, np.zeros(1200, bool), PX_PER_DEG)
    tall = [t for t in things if t.kind != "wire" and t.ring_px[:, 1].min() < 500]
    assert len(tall) == 2
    assert [t.kind for t in things if t.ring_px[:, 1].max() < 250] == ["wire"]


def test_vertices_are_few() -> None:
    mask = drawn([(300, 600), (300, 450), (400, 380), (500, 450), (500, 600)])
    things = things_of(mask, np.zeros(1200, bool), PX_PER_DEG)
    assert sum(len(t.ring_px) for t in things) < 30


def test_doubt_is_carried_over() -> None:
    doubtful = np.zeros(1200, bool)
    doubtful[600:] = True
    mask = drawn([(580, 600), (580, 400), (600, 400), (600, 600)])
    things = things_of(mask, doubtful, PX_PER_DEG)
    left, right = things[0], things[-1]
    assert left.doubtful < 0.1
    assert right.doubtful > 0.9


def test_a_picture_of_sky_holds_nothing() -> None:
    assert things_of(np.full((100, 200), 255, np.uint8), np.zeros(200, bool), PX_PER_DEG) == []


def painted(mask: np.ndarray, edge: int) -> np.ndarray:
    """A picture of a mask: leaves left of a column, a wall right of it, sky above."""
    tone = np.where(np.arange(mask.shape[1])[None, :, None] < edge, (40, 60, 30), (180, 170, 160))
    return np.where(mask[..., None] > 127, (200, 220, 240), tone).astype(np.uint8)


def test_colours_part_what_the_skyline_does_not() -> None:
    mask = drawn([(200, 600), (200, 540), (900, 540), (900, 600)])
    plain = things_of(mask, np.zeros(1200, bool), PX_PER_DEG)
    parted = things_of(mask, np.zeros(1200, bool), PX_PER_DEG, painted(mask, 500))
    assert len(parted) == len(plain) + 1
    sides = [x for t in parted for x in (t.ring_px[:, 0].min(), t.ring_px[:, 0].max())]
    assert min(abs(x - 500) for x in sides) < 4


def test_a_crown_ends_where_its_colour_does_and_not_at_the_notch() -> None:
    """Its low branches go on before the wall's foot: the notch lies 30 pixels too far left."""
    crown = [(300, 600), (300, 450), (440, 450), (440, 560), (470, 550), (500, 545), (500, 600)]
    mask = drawn(crown, [(500, 600), (500, 400), (700, 400), (700, 600)])
    things = things_of(mask, np.zeros(1200, bool), PX_PER_DEG, painted(mask, 500))
    wall = next(t for t in things if t.ring_px[:, 1].min() < 410)
    assert wall.ring_px[:, 0].min() == pytest.approx(500, abs=4)
    alone = things_of(mask, np.zeros(1200, bool), PX_PER_DEG)
    wall = next(t for t in alone if t.ring_px[:, 1].min() < 410)
    assert wall.ring_px[:, 0].min() < 480


def test_a_pole_with_its_crossarm_leaves_the_low_stretch_to_itself() -> None:
    low = [(400, 600), (400, 540), (700, 540), (700, 600)]
    mask = drawn(low, [(545, 600), (545, 400), (557, 400), (557, 600)])
    cv2.rectangle(mask, (505, 412), (597, 422), 0, -1)
    things = things_of(mask, np.zeros(1200, bool), PX_PER_DEG)
    pole = next(t for t in things if t.kind == "mast")
    assert pole.ring_px[:, 1].min() == pytest.approx(400, abs=3)
    foot = pole.ring_px[pole.ring_px[:, 1] > 560]
    assert np.ptp(foot[:, 0]) < 20
    assert all(t.ring_px[:, 1].min() > 530 for t in things if t.kind not in ("mast", "wire"))


def test_pieces_of_a_wire_do_not_part_what_stands_beneath() -> None:
    mask = np.full((300, 600), 255, np.uint8)
    mask[200:] = 0
    for left in range(30, 560, 45):
        mask[130:134, left : left + 8] = 0
    found = things_of(mask, np.zeros(600, bool), 14.0)
    assert [(thing.kind, round(float(np.ptp(thing.ring_px[:, 0])))) for thing in found] == [
        ("building", 600)
    ]
