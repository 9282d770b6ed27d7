"""Which stroke is heard next, what it says of every region, and what it must not do."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.outline.coarse import Coarse, coarse_of
from skyview.outline.evidence import FEATURES
from skyview.outline.regions import Regions, regions_of
from skyview.outline.strokes import (
    STROKE_FEATURES,
    Told,
    heard,
    next_told,
    settled_word,
    stroke_evidence,
    taught,
)

SKY, HAZE, HILL, FOOT = range(4)


@pytest.fixture(scope="module")
def bands() -> tuple[Coarse, Regions, np.ndarray]:
    """Four bands one below the other, darker step by step; the region of each."""
    rgb = np.zeros((200, 240, 3), np.uint8)
    place = np.repeat(np.arange(4), 50)
    rgb[:] = np.array([235, 215, 195, 60], np.uint8)[place][:, None, None]
    c = coarse_of(rgb)
    rows = np.repeat(np.arange(4), c.shape[0] // 4)[:, None] * np.ones((1, c.shape[1]), int)
    r = regions_of(np.zeros(c.shape, np.float32), rows)
    middle = [r.label[int((k + 0.5) * c.shape[0] / 4), c.shape[1] // 2] for k in range(4)]
    return c, r, np.array(middle)


def table_of(r: Regions, at: np.ndarray) -> np.ndarray:
    table = np.zeros((r.count, len(FEATURES)), np.float32)
    table[at[SKY], FEATURES.index("top")] = 1.0
    table[at[FOOT], FEATURES.index("foot")] = 1.0
    return table


def word_of(r: Regions, at: np.ndarray, likely: list[float]) -> np.ndarray:
    word = np.empty(r.count)
    word[at] = likely
    return word


@pytest.fixture
def values(bands: tuple[Coarse, Regions, np.ndarray]) -> dict[str, np.ndarray]:
    """What is told of each band when a stroke says that the hill is no sky."""
    c, r, at = bands
    word = word_of(r, at, [0.99, 0.7, 0.7, 0.05])
    told = Told(False, at[[HILL]], at[:0])
    found = stroke_evidence(c, r, table_of(r, at), word, told)[at]
    return dict(zip(STROKE_FEATURES, found.T, strict=True))


def test_the_stroke_that_contradicts_most_is_heard_first(
    bands: tuple[Coarse, Regions, np.ndarray],
) -> None:
    _, r, at = bands
    word = word_of(r, at, [0.9, 0.8, 0.6, 0.3])
    told = next_told(r, word, at[[FOOT]], at[[HAZE, HILL]])
    assert told is not None
    assert not told.kind
    # Both lie in the same part of the sky that was found, so that both are heard at once.
    assert set(told.regions) == {at[HAZE], at[HILL]}
    assert told.others.tolist() == [at[FOOT]]


def test_strokes_that_say_what_was_thought_are_not_heard(
    bands: tuple[Coarse, Regions, np.ndarray],
) -> None:
    _, r, at = bands
    word = word_of(r, at, [0.9, 0.8, 0.6, 0.3])
    assert next_told(r, word, at[[SKY]], at[[FOOT]]) is None
    heard_of = np.arange(r.count) == at[HAZE]
    assert next_told(r, word, at[:0], at[[HAZE]], heard_of) is None


@pytest.mark.parametrize("kind", [True, False])
def test_a_stroke_only_adds_to_its_own_kind(
    bands: tuple[Coarse, Regions, np.ndarray], kind: bool
) -> None:
    _, r, at = bands
    word = word_of(r, at, [0.9, 0.8, 0.6, 0.3])
    own = np.linspace(0.0, 1.0, r.count)
    after = heard(word, own, Told(kind, at[[HILL]], at[:0]))
    assert ((after >= word) if kind else (after <= word)).all()
    assert (after[at[HILL]] > 0.9) == kind
    assert not np.array_equal(after, word)


def test_colours_lie_between_the_strokes_and_those_of_the_other_kind(
    values: dict[str, np.ndarray],
) -> None:
    along = values["along"]
    assert abs(along[HILL]) < 0.05
    assert along[SKY] == pytest.approx(1.0, abs=0.05)
    assert 0.35 < along[HAZE] < 0.65
    assert along[FOOT] < -1.0
    assert (values["aside"] < np.log(0.3)).all()


def test_what_was_thought_of_the_same_part_is_told(
    values: dict[str, np.ndarray],
) -> None:
    assert values["same"].tolist() == [1, 1, 1, 0]
    assert values["same_area"][0] == pytest.approx(np.log(0.75), abs=0.02)
    assert (values["same_end"] == 1).all()
    assert values["own"] == pytest.approx([0.01, 0.3, 0.3, 0.95], abs=1e-6)
    assert (values["surprise"] == values["own"][HILL]).all()
    assert values["under"][FOOT] == pytest.approx(0.25, abs=0.01)


def test_all_strokes_hold_in_the_end(bands: tuple[Coarse, Regions, np.ndarray]) -> None:
    c, r, at = bands
    word = word_of(r, at, [0.9, 0.8, 0.6, 0.3])
    spots = [(c.shape[1] // 2, int((k + 0.5) * c.shape[0] / 4)) for k in range(4)]
    p = taught(c, r, table_of(r, at), word, [spots[FOOT], spots[SKY]], [spots[HAZE], spots[HILL]])
    assert (p[at] > 0.5).tolist() == [True, False, False, True]
    assert (np.abs(p[at] - 0.5) > 0.45).all()


def test_strokes_without_contradiction_are_held_too(
    bands: tuple[Coarse, Regions, np.ndarray],
) -> None:
    c, r, at = bands
    word = word_of(r, at, [0.9, 0.8, 0.6, 0.3])
    spot = [(c.shape[1] // 2, int(2.5 * c.shape[0] / 4))]
    p = taught(c, r, table_of(r, at), word, spot, [])
    assert np.array_equal(p, settled_word(r, word, at[[HILL]], at[:0]))
    assert p[at[HILL]] > 0.95
