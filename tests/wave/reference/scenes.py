"""Random scenes of realistic roofs, the same for the same seed and index.

The antenna stands 6 to 14 m above the ground. Before it, 8 to 600 m off, stand screens of houses,
walls, crowns, spruces and masts, and of wide outlines of 60 vertices (a row of roofs, an edge of
a wood); all but the crowns reach the ground, as they do on site. Heights are drawn so that the ray
passes over, through and behind them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from skyview.constants import wavelength_m
from skyview.wave.screens import Screen

SEED = 20_240
LOWEST_MHZ, HIGHEST_MHZ = 30.0, 700.0
NEAREST_M, FARTHEST_M = 8.0, 600.0
LEAST_GAP = 0.03
"""Least distance between neighbouring screens, as a share of the nearer one's distance."""

Polygon = NDArray[np.float64]
Draw = np.random.Generator


class Scene(NamedTuple):
    """Screens before the antenna, and how it was drawn."""

    screens: list[Screen]
    frequency_mhz: float
    rich: bool

    @property
    def wavelength_m(self) -> float:
        return float(wavelength_m(self.frequency_mhz))


def scene(index: int, screen_count: int | None = None) -> Scene:
    """Scene ``index``: 2 to 4 screens unless ``screen_count`` is given, every other one rich."""
    draw = np.random.default_rng([SEED, index, screen_count or 0])
    count = screen_count or int(draw.choice([2, 3, 4], p=[0.4, 0.35, 0.25]))
    frequency = float(np.exp(draw.uniform(np.log(LOWEST_MHZ), np.log(HIGHEST_MHZ))))
    rich = index % 2 == 1
    ground = -draw.uniform(6.0, 14.0)
    screens = [
        _screen(draw, distance, ground - draw.uniform(0.0, 0.02) * distance, rich)
        for distance in _distances(draw, count)
    ]
    return Scene(screens, frequency, rich)


def _distances(draw: Draw, count: int) -> NDArray[np.float64]:
    while True:
        distance = np.sort(np.exp(draw.uniform(np.log(NEAREST_M), np.log(FARTHEST_M), count)))
        if np.all(np.diff(distance) > LEAST_GAP * distance[:-1]):
            return distance


def _screen(draw: Draw, distance: float, ground: float, rich: bool) -> Screen:
    makers: list[tuple[Callable[[Draw, float], Polygon], float]] = [
        (_house, 0.0),
        (_wall, 0.0),
        (_crown, 0.6),
        (_spruce, 0.5),
        (_mast, 0.0),
    ]
    shapes, amplitudes = [], []
    if rich:
        shapes.append(_wide_outline(draw, ground, distance))
        amplitudes.append(float(draw.choice([0.0, draw.uniform(0.05, 0.7)])))
    for _ in range(int(draw.integers(1, 5) if rich else draw.integers(1, 3))):
        maker, passing = makers[draw.choice(5, p=[0.35, 0.2, 0.2, 0.15, 0.1])]
        aside = draw.normal(0.0, 3.0 + 0.04 * distance)
        shapes.append(maker(draw, ground) + np.array([aside, 0.0]))
        amplitudes.append(float(draw.uniform(0.5 * passing, 1.3 * passing)))
    return Screen(float(distance), shapes, amplitudes)


def _top(draw: Draw, ground: float) -> float:
    return max(draw.normal(0.5, 3.5), ground + 3.0)


def _house(draw: Draw, ground: float) -> Polygon:
    half, top = draw.uniform(3.0, 9.0), _top(draw, ground)
    eaves = max(top - draw.uniform(1.0, 4.0), ground + 1.0)
    return np.array([[-half, ground], [half, ground], [half, eaves], [0.0, top], [-half, eaves]])


def _wall(draw: Draw, ground: float) -> Polygon:
    half, top = draw.uniform(2.0, 40.0), _top(draw, ground)
    return np.array([[-half, ground], [half, ground], [half, top], [-half, top]])


def _crown(draw: Draw, ground: float) -> Polygon:
    turn = np.linspace(0.0, 2.0 * np.pi, 18, endpoint=False)
    across, upward = draw.uniform(1.5, 5.0), draw.uniform(2.0, 6.0)
    ripple = 1.0 + 0.12 * draw.standard_normal(turn.size)
    middle = _top(draw, ground) - upward
    return np.stack(
        [across * ripple * np.cos(turn), middle + upward * ripple * np.sin(turn)], axis=1
    )


def _spruce(draw: Draw, ground: float) -> Polygon:
    half, top = draw.uniform(1.5, 4.0), _top(draw, ground) + 3.0
    height = np.linspace(0.0, 1.0, 9)[:-1]
    side = half * (1.0 - height) * np.where(np.arange(8) % 2, 0.7, 1.0)
    rise = ground + (top - ground) * height
    left = np.stack([-side, rise], axis=1)
    return np.concatenate([left, [[0.0, top]], np.stack([side, rise], axis=1)[::-1]])


def _mast(draw: Draw, ground: float) -> Polygon:
    half, top = draw.uniform(0.1, 0.6), _top(draw, ground) + 4.0
    return np.array([[-half, ground], [half, ground], [half, top], [-half, top]])


def _wide_outline(draw: Draw, ground: float, distance: float) -> Polygon:
    """Ground-standing, 60 vertices: 58 along a ragged top, two on the ground."""
    half = draw.uniform(8.0, 20.0) + draw.uniform(0.1, 0.5) * distance
    x = np.sort(draw.uniform(-half, half, 56))
    wander = np.cumsum(draw.standard_normal(58)) * 0.5
    top = _top(draw, ground) - 1.0 + wander - wander.mean() + 0.5 * draw.standard_normal(58)
    edge = np.stack([np.concatenate([[-half], x, [half]]), np.maximum(top, ground + 0.5)], axis=1)
    return np.concatenate([edge[::-1], [[-half, ground], [half, ground]]])
