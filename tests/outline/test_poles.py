"""Poles that rise out of something low."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.outline.poles import pole_of

PX_PER_DEG = 14.0


def low(height: int = 40) -> np.ndarray:
    """A low stretch of 200 pixels at the foot of 200 rows."""
    shape = np.zeros((200, 200), bool)
    shape[200 - height :] = True
    return shape


@pytest.mark.parametrize("crossarm", [False, True])
def test_a_pole_is_parted_from_what_it_rises_from(crossarm: bool) -> None:
    shape = low()
    shape[60:160, 96:104] = True
    if crossarm:
        shape[66:70, 70:130] = True
    found = pole_of(shape, PX_PER_DEG)
    assert found is not None
    pole, end = found
    assert end == 160
    assert np.array_equal(pole[:160], shape[:160])
    assert pole[180].sum() == 8


def test_a_spire_widens_by_and_by_and_stays_whole() -> None:
    shape = low()
    half = np.arange(200) - 40
    shape |= np.abs(np.arange(200)[None, :] - 100) <= np.maximum(half, -1)[:, None] / 4
    assert pole_of(shape, PX_PER_DEG) is None


def test_a_tower_is_no_pole() -> None:
    shape = low()
    shape[60:160, 80:120] = True
    assert pole_of(shape, PX_PER_DEG) is None


def test_a_crown_on_its_trunk_is_no_pole() -> None:
    shape = low()
    shape[120:160, 97:103] = True
    shape[10:120, 45:155] = True
    assert pole_of(shape, PX_PER_DEG) is None


def test_nothing_holds_no_pole() -> None:
    assert pole_of(np.zeros((50, 50), bool), PX_PER_DEG) is None
