"""Frames in, one panorama with true angles out: the whole of the joining, step by step."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from skyview.angles import Array
from skyview.camera.pose import axes
from skyview.errors import InputError
from skyview.sweep.adjust import Cameras
from skyview.sweep.blend import recipe
from skyview.sweep.canvas import Canvas, canvas_for, middle_and_span, spans
from skyview.sweep.level import Upright, upright
from skyview.sweep.notices import Notice, notices, shifts
from skyview.sweep.paint import blank, paint
from skyview.sweep.register import FrameFacts, Left, Registered, register
from skyview.sweep.scout import Scout, scouted, side_to_read
from skyview.sweep.shift import STRETCH_SIGMA

Pixels = NDArray[np.uint8]
Read = Callable[[int, int | None], Pixels]
"""Upright RGB of a frame by its number, its longer side at most so many pixels."""

SMALL_TURN_PX = 960
"""Columns of a whole turn on the small panorama on which seams are found."""

COMPASS_SIGMA = np.radians(10.0)
"""One sigma of a telephone's compass, the same in all frames: common practice, no source."""

SHIFT_LEAVES = 0.25
"""One sigma of azimuth that no turn and no stretch of the panorama mends where the camera moved, as
a share of the greatest shift: our own choice, held against the truth in shared/sweep_study.csv."""


@dataclass(frozen=True)
class Held:
    """How a frame was held. Radians, pixels; sigmas under the same names."""

    yaw: float
    pitch: float
    roll: float
    focal_px: float
    k1: float
    sigma: dict[str, float]


@dataclass(frozen=True)
class Sweep:
    """All frames turned against each other, and where the panorama's pixels look."""

    held: dict[int, Held]
    """Of the frames used. Yaw counts from the panorama's middle."""
    left: dict[int, Left]
    """Of the others: why."""
    canvas: Canvas
    heading: float | None
    """Azimuth of the panorama's middle by the frames' compass. [rad]"""
    level_sigma: float
    """One sigma of the horizon's tilt. [rad]"""
    scale_sigma: float
    """Relative sigma of angles along the panorama."""
    local_sigma: float
    """One sigma of azimuth that differs from frame to frame, where the camera moved. [rad]"""
    notices: tuple[Notice, ...]
    cameras: Cameras
    """Of the used frames in their order, levelled, north in the panorama's middle."""
    scouts: tuple[Scout, ...]
    """Of the used frames."""


class NoSweep(Exception):  # noqa: N818
    """No two frames hang together; carries why each was left out."""

    def __init__(self, left: dict[int, Left]) -> None:
        super().__init__("no two frames hang together")
        self.left = left


def turn_frames(
    sizes: Sequence[tuple[int, int]],
    facts: Sequence[FrameFacts],
    read: Read,
    said: Callable[[str], None] = lambda text: None,
) -> Sweep:
    """Turns of all frames from their small copies; ``said`` is told each step by its code.

    Raises NoSweep where no two frames can be joined.
    """
    scouts, unreadable = _scouts(sizes, read, said)
    said("match")
    found = register(scouts, facts, said)
    if found is None:
        raise NoSweep({n: _why_alone(s) for n, s in enumerate(scouts)} | unreadable)
    said("level")
    used = [scouts[n] for n in found.used]
    up = upright(used, found.adjusted.cameras, *_felt(found, facts))
    cameras, turn, span = _settled(found.adjusted.cameras, up, [s.size_px for s in used])
    closed = span >= 2.0 * np.pi
    divisor = _divisor(cameras)
    canvas = canvas_for(cameras, [s.size_px for s in used], closed, divisor)
    local = 0.0 if found.shifted is None else SHIFT_LEAVES * shifts(found, found.shifted)[0]
    held, scale_sigma = _held(found, cameras, turn, up, closed, local)
    return Sweep(
        {n: h for n, h in zip(found.used, held, strict=True)},
        found.left | unreadable,
        canvas,
        _heading(held, [facts[n] for n in found.used]),
        up.sigma,
        scale_sigma,
        local,
        notices(found, up, cameras, canvas, closed),
        cameras,
        tuple(used),
    )


def panorama(
    sweep: Sweep, read: Read, said: Callable[[str], None] = lambda text: None
) -> tuple[Pixels, float]:
    """The panorama's pixels, every frame read once more at full size, and the share of it where
    no frame looks."""
    said("seams")
    divisor = _divisor(sweep.cameras)
    mix = recipe(sweep.scouts, sweep.cameras, sweep.canvas.scaled(divisor))
    out = blank(mix, sweep.canvas)
    frames = list(sweep.held)
    with _workers() as pool:
        # One frame is read while the one before it is drawn.
        coming = pool.submit(read, frames[0], None)
        for index, number in enumerate(frames):
            said(f"paint {number}")
            rgb = coming.result()
            if index + 1 < len(frames):
                coming = pool.submit(read, frames[index + 1], None)
            size = sweep.scouts[index].size_px
            paint(out, rgb, size, sweep.cameras, index, mix, sweep.canvas)
    return out, mix.uncovered


@contextmanager
def _workers() -> Iterator[ThreadPoolExecutor]:
    """Two threads; on an interruption what waits is dropped."""
    pool = ThreadPoolExecutor(2)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def _scouts(
    sizes: Sequence[tuple[int, int]], read: Read, said: Callable[[str], None]
) -> tuple[list[Scout], dict[int, Left]]:
    """Every frame, small, and those that cannot be read."""
    unreadable: dict[int, Left] = {}

    def one(number: int) -> Scout:
        try:
            return scouted(read(number, side_to_read(sizes[number])), sizes[number])
        except InputError:
            unreadable[number] = Left("unreadable")
            return scouted(np.zeros((48, 64, 3), np.uint8), sizes[number])

    scouts = []
    with _workers() as pool:
        for number, scout in enumerate(pool.map(one, range(len(sizes)))):
            said(f"read {number}")
            scouts.append(scout)
    return scouts, unreadable


def _divisor(cameras: Cameras) -> int:
    full = min(2.0 * np.pi * float(cameras.focal.max()), 16384.0)
    return max(1, round(full / SMALL_TURN_PX))


def _why_alone(scout: Scout) -> Left:
    features = float(len(scout.points))
    return Left("textureless" if features < 60 else "no_overlap", {"features": features})


def _felt(found: Registered, facts: Sequence[FrameFacts]) -> tuple[Array | None, Array | None]:
    """Up as the phone felt it in the frames that tell, in the world's axes."""
    felt, sigma = [], []
    for index, number in enumerate(found.used):
        own = facts[number]
        if own.pitch is not None and own.roll is not None:
            in_camera = axes(0.0, own.pitch, own.roll) @ np.array([0.0, 0.0, 1.0])
            felt.append(in_camera @ found.adjusted.cameras.axes[index])
            sigma.append(own.tilt_sigma)
    return (np.array(felt), np.array(sigma)) if felt else (None, None)


def _settled(
    cameras: Cameras, up: Upright, sizes: list[tuple[int, int]]
) -> tuple[Cameras, Array, float]:
    """Level, the panorama's middle to the north: the cameras, the turn, the span covered."""
    z = up.up
    ahead = cameras.axes[0, 2] - z * (cameras.axes[0, 2] @ z)
    north = ahead / np.sqrt(ahead @ ahead)
    first = np.stack([np.cross(north, z), north, z], axis=1)
    level = replace(cameras, axes=cameras.axes @ first)
    middle, span = middle_and_span(spans(level, sizes))
    c, s = np.cos(middle), np.sin(middle)
    turn = first @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    return replace(cameras, axes=cameras.axes @ turn), turn, span


def _held(
    found: Registered, cameras: Cameras, turn: Array, up: Upright, closed: bool, local: float
) -> tuple[list[Held], float]:
    """Pose and sigmas of every frame, and the relative sigma of angles along the panorama."""
    count, lenses = len(cameras.axes), len(cameras.focal)
    covariance = found.adjusted.covariance[: 3 * count, : 3 * count]
    # Against the mean of all frames instead of the first one, in the settled axes.
    about = np.kron(np.eye(count) - 1.0 / count, turn.T)
    covariance = about @ covariance @ about.T
    yaw_sigma = np.sqrt(np.maximum(np.diag(covariance)[2::3], 0.0))
    tilt = np.sqrt(np.maximum(np.diag(covariance).reshape(-1, 3)[:, :2].max(axis=1), 0.0))
    tilt = np.hypot(tilt, up.sigma)
    focal_sigma = np.sqrt(np.diag(found.adjusted.covariance)[3 * count : 3 * count + lenses])
    yaw = np.arctan2(cameras.axes[:, 2, 0], cameras.axes[:, 2, 1])
    stretch = STRETCH_SIGMA if found.shifted is not None else 0.0
    if closed:
        stretch *= 0.25
    yaw_sigma = np.hypot(np.hypot(yaw_sigma, local), stretch * np.minimum(np.abs(yaw), np.pi / 2.0))
    ends = [int(yaw.argmin()), int(yaw.argmax())]
    a, b = 3 * ends[0] + 2, 3 * ends[1] + 2
    across = covariance[a, a] + covariance[b, b] - 2.0 * covariance[a, b]
    relative = float(np.sqrt(max(across, 0.0)) / max(yaw[ends[1]] - yaw[ends[0]], 0.1))
    answer = []
    for index in range(count):
        right, down, ahead = cameras.axes[index]
        pitch = float(np.arcsin(np.clip(ahead[2], -1.0, 1.0)))
        roll = float(np.arctan2(-right[2], -down[2]))
        lens = int(cameras.group[index])
        focal = float(cameras.focal[lens])
        sigma = {
            "yaw": float(yaw_sigma[index]),
            "pitch": float(tilt[index]),
            "roll": float(tilt[index]),
            "focal_px": focal * float(np.hypot(focal_sigma[lens], stretch)),
        }
        answer.append(Held(float(yaw[index]), pitch, roll, focal, float(cameras.k1[lens]), sigma))
    return answer, float(np.hypot(relative, stretch))


def _heading(held: Sequence[Held], facts: Sequence[FrameFacts]) -> float | None:
    """Azimuth of the panorama's middle that most frames' compasses agree on."""
    off = np.array(
        [f.compass - h.yaw for f, h in zip(facts, held, strict=True) if f.compass is not None]
    )
    if not off.size:
        return None
    apart = np.abs(np.angle(np.exp(1j * (off[:, None] - off[None, :]))))
    best = off[int(apart.sum(axis=1).argmin())]
    near = np.angle(np.exp(1j * (off - best)))
    near = near[np.abs(near) < 3.0 * COMPASS_SIGMA]
    return float(np.mod(best + near.mean(), 2.0 * np.pi))
