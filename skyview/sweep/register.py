"""From scouted frames to turns: pairs, the largest set that hangs together, the adjustment."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from skyview.sweep.adjust import Adjusted, Cameras, LensPrior, Points, adjust, linear
from skyview.sweep.flow import FARTHEST_PX, Evened, evened, followed
from skyview.sweep.level import first_guess
from skyview.sweep.matching import Pair
from skyview.sweep.pairs import (
    Matched,
    chained,
    consistent,
    first_focal,
    largest,
    matches_of,
    pairs_of,
)
from skyview.sweep.scout import FEATURE_PX, Scout
from skyview.sweep.shift import SHIFTED_K1_SIGMA, Shifted, adjust_shifted

Ints = NDArray[np.int64]

UNTOLD_SIGMA = 0.3
FOUND_SIGMA = 0.06
"""Of the logarithm of a focal length that the frames' own matches told: our own choice."""

FEW_FEATURES = 60
"""A frame with fewer features shows sky, fog or a wall and little else."""

MATCH_SIGMA_PX = 0.7
"""One sigma of a feature's pixel in the copy in which it was found: our own choice."""

MOVED_MISFIT = 2.0
"""A misfit beyond this says that the frames were not all taken from one place: between 1.6, the
worst without, and 2.5, the least with a step of 0.15 m (tests/benchmarks/sweep_figures.py)."""

LOW = np.radians(2.0)
"""Where the camera moved, points this far below the level count for a quarter: our own choice."""

HELD = 1e-4
"""A sigma so small that the value stays."""


@dataclass(frozen=True)
class FrameFacts:
    """What is believed of a frame before its pixels are compared."""

    focal_px: float | None
    """From its metadata, at full size."""
    focal_sigma: float
    """Relative sigma of it."""
    lens: str
    """Frames of one name share a lens and a focal length in pixels."""
    compass: float | None = None
    """Azimuth that the camera felt. [rad]"""
    pitch: float | None = None
    roll: float | None = None
    tilt_sigma: float = np.inf
    """Of pitch and roll. [rad]"""


@dataclass(frozen=True)
class Left:
    """A frame left out: a code with its figures."""

    code: str
    values: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Registered:
    """Frames turned against each other; the world's axes are still any."""

    used: tuple[int, ...]
    """Numbers of the frames that hang together."""
    left: dict[int, Left]
    """The others, and why."""
    adjusted: Adjusted
    """Of the used frames, in their order."""
    points: Points
    """What it rests on; frames numbered among the used."""
    focal_told: bool
    """Whether metadata told the focal length of any frame used."""
    shifted: Shifted | None
    """Where the frames were taken from, if not all from one place."""


def register(
    scouts: Sequence[Scout],
    facts: Sequence[FrameFacts],
    said: Callable[[str], None] = lambda text: None,
) -> Registered | None:
    """Turns of all frames that hang together; None where no two do."""
    group, names = _lenses(facts)
    prior, tells = _lens_prior(scouts, facts, group, len(names))
    # The lens of most frames decides how far to look.
    told = bool(tells[np.bincount(group).argmax()])
    matched = matches_of(scouts)
    focal = prior.focal * first_focal(prior, told, group, matched)
    pairs = pairs_of(scouts, group, focal, matched)
    pairs = consistent(pairs, len(scouts))
    used = largest(pairs, len(scouts))
    if len(used) < 2:
        return None
    left = _left_out(scouts, used, matched)
    number = {frame: index for index, frame in enumerate(used)}
    pairs = [
        replace(p, first=number[p.first], second=number[p.second])
        for p in pairs
        if p.first in number
    ]
    lenses, own = np.unique(group[list(used)], return_inverse=True)
    axes = chained(pairs, len(used))
    start = Cameras(axes, own, focal[lenses], np.zeros(len(lenses)))
    own_prior = LensPrior(prior.focal[lenses], prior.sigma[lenses])
    chosen = [scouts[frame] for frame in used]
    coarse = _as_points(pairs, chosen)
    held = replace(own_prior, sigma=np.full(len(lenses), HELD))
    if not told:
        # The search has found it to a few per cent.
        own_prior = LensPrior(focal[lenses], np.full(len(lenses), FOUND_SIGMA))
    # Held at what the metadata say, a turn whose ends just meet would end up too far apart there.
    rough = adjust(coarse, start, own_prior, k1_sigma=HELD).cameras
    said("follow")
    with ThreadPoolExecutor(2) as pool:
        even = list(pool.map(lambda s: evened(s.grey), chosen))
    points = _followed(chosen, even, rough, coarse)
    adjusted, shifted = adjust(points, rough, own_prior), None
    if _misfit(points, adjusted.cameras) > MOVED_MISFIT:
        points = _followed(chosen, even, adjust(points, rough, held, k1_sigma=HELD).cameras, coarse)
        shifted = _shifted(points, rough, own_prior, held)
        adjusted = shifted.adjusted
    else:
        # What is drawn alike is followed better.
        points = _followed(chosen, even, adjusted.cameras, coarse)
        adjusted = adjust(points, adjusted.cameras, own_prior)
    return Registered(used, left, adjusted, points, bool(tells[lenses].any()), shifted)


def _shifted(points: Points, rough: Cameras, prior: LensPrior, held: LensPrior) -> Shifted:
    """Turns and places where the camera moved, from what stands low least: that is near."""
    start = adjust(points, rough, held, k1_sigma=HELD).cameras
    up, _ = first_guess(start)
    low = np.maximum(-np.arcsin(np.clip(start.rays(points.first, points.xy_first) @ up, -1, 1)), 0)
    loose = replace(points, sigma_px=points.sigma_px * (1.0 + (low / LOW) ** 2))
    start = adjust(loose, start, held, k1_sigma=HELD).cameras
    start = adjust(loose, start, prior, k1_sigma=SHIFTED_K1_SIGMA).cameras
    return adjust_shifted(loose, start, prior)


def _followed(
    scouts: Sequence[Scout], even: Sequence[Evened], cameras: Cameras, coarse: Points
) -> Points:
    """Points followed between all frames that overlap, features where too few could be, or where
    the cameras are farther off than points can be followed."""
    count = len(scouts)
    lost = _astray(coarse, cameras, scouts)
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count) if (i, j) not in lost]
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(lambda p: followed(p[0], p[1], scouts, even, cameras), pairs))
    return _joined([f for f in found if f is not None], coarse)


def _astray(coarse: Points, cameras: Cameras, scouts: Sequence[Scout]) -> set[tuple[int, int]]:
    """Pairs whose features lie farther from where the cameras say than points are followed."""
    residual, _, _ = linear(coarse, cameras)
    focal = cameras.focal[cameras.group] * np.array([s.grey_scale for s in scouts])
    off_px = np.sqrt(np.sum(residual**2, axis=1)) * focal[coarse.first]
    pairs = np.stack([coarse.first, coarse.second], axis=1)
    return {
        (int(i), int(j))
        for i, j in np.unique(pairs, axis=0)
        if np.median(off_px[np.all(pairs == (i, j), axis=1)]) > FARTHEST_PX
    }


def _misfit(points: Points, cameras: Cameras) -> float:
    """Three quarters of the points are off by less than this, in their own sigmas."""
    residual, sigma, _ = linear(points, cameras)
    return float(np.quantile(np.sqrt(np.sum(residual**2, axis=1)) / sigma, 0.75))


def _lenses(facts: Sequence[FrameFacts]) -> tuple[Ints, list[str]]:
    names = list(dict.fromkeys(f.lens for f in facts))
    return np.array([names.index(f.lens) for f in facts]), names


def _lens_prior(
    scouts: Sequence[Scout], facts: Sequence[FrameFacts], group: Ints, count: int
) -> tuple[LensPrior, NDArray[np.bool_]]:
    """Focal length of each lens by its frames' metadata; which were told."""
    focal, sigma, told = np.ones(count), np.full(count, UNTOLD_SIGMA), np.ones(count, bool)
    for lens in range(count):
        members = np.flatnonzero(group == lens).tolist()
        known = [facts[m] for m in members if facts[m].focal_px]
        if known:
            focal[lens] = float(np.median([f.focal_px for f in known if f.focal_px]))
            sigma[lens] = min(f.focal_sigma for f in known)
        else:
            told[lens] = False
            focal[lens] = 26.0 / 43.267 * np.hypot(*scouts[members[0]].size_px)
    return LensPrior(focal, sigma), told


def _left_out(scouts: Sequence[Scout], used: tuple[int, ...], matched: Matched) -> dict[int, Left]:
    answer = {}
    for frame in range(len(scouts)):
        if frame in used:
            continue
        features = len(scouts[frame].points)
        most = max((m.shape[1] for p, m in matched.items() if frame in p), default=0)
        code = "textureless" if features < FEW_FEATURES else "no_overlap"
        answer[frame] = Left(code, {"features": float(features), "matches": float(most)})
    return answer


def _as_points(pairs: list[Pair], scouts: Sequence[Scout]) -> Points:
    parts = []
    for pair in pairs:
        sure = pair.agreeing
        scale = max(1.0, max(scouts[pair.first].size_px) / FEATURE_PX)
        parts.append(
            Points(
                np.full(pair.count, pair.first),
                np.full(pair.count, pair.second),
                pair.xy_first[sure],
                pair.xy_second[sure],
                np.full(pair.count, MATCH_SIGMA_PX * scale),
            )
        )
    return _joined(parts)


def _joined(parts: list[Points], also: Points | None = None) -> Points:
    """All points in one; of ``also`` those of pairs that the others lack."""
    if also is not None:
        have = {(int(p.first[0]), int(p.second[0])) for p in parts if len(p)}
        pair = list(zip(also.first.tolist(), also.second.tolist(), strict=True))
        parts = [*parts, also.of(np.array([p not in have for p in pair], bool))]
    return Points(
        *(
            np.concatenate([getattr(p, name) for p in parts])
            for name in ("first", "second", "xy_first", "xy_second", "sigma_px")
        )
    )
