"""Invented streets, ray-cast, and a telephone's frames of them with exact truth.

Boxes (houses, poles, a chimney near by), balls (crowns), ground, hills and a sky with clouds; every
surface carries noise in metres, so that frames taken from different places show true parallax. One
street a seed. Frames come as a pinhole with radial distortion sees them, with exposure, vignetting,
noise and the tilt that was asked for.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

EYE_M = 6.5


@dataclass(frozen=True)
class Street:
    """Boxes and balls in metres, east north up, the camera near (0, 0, EYE_M)."""

    centre: np.ndarray
    """(B, 3): middle of each box."""
    half: np.ndarray
    """(B, 3): half its sides."""
    turn: np.ndarray
    """(B,): how far it is turned about the upright. [rad]"""
    box_color: np.ndarray
    windows: np.ndarray
    """(B,) bool: whether its walls have windows."""
    balls: np.ndarray
    """(S, 4): middle and radius."""
    ball_color: np.ndarray
    hill: np.ndarray
    """Elevation of the hills' crest, one figure a degree. [rad]"""
    seed: int


def street(seed: int, near: bool = True, houses: int = 26, trees: int = 14) -> Street:
    """A street of its own for every seed; ``near`` puts a chimney and the roof's ridge close by."""
    rng = np.random.default_rng(seed)
    along = rng.uniform(0.0, np.pi)
    centre, half, turn, color, windows = [], [], [], [], []

    def box(place, size, angle, tint, has_windows=False):
        centre.append(place)
        half.append(np.array(size) / 2.0)
        turn.append(angle)
        color.append(tint)
        windows.append(has_windows)

    for _ in range(houses):
        away, bearing = rng.uniform(14.0, 150.0), rng.uniform(0.0, 2.0 * np.pi)
        tall = rng.uniform(4.0, 11.0) if rng.random() < 0.8 else rng.uniform(12.0, 30.0)
        size = (rng.uniform(7.0, 16.0), rng.uniform(7.0, 12.0), tall)
        place = (away * np.sin(bearing), away * np.cos(bearing), tall / 2.0)
        tint = rng.uniform(0.2, 0.8) * np.array([1.0, rng.uniform(0.7, 1.0), rng.uniform(0.5, 0.9)])
        box(place, size, along + rng.normal(0.0, 0.05) + np.pi / 2 * rng.integers(2), tint, True)
    for _ in range(10):
        away, bearing = rng.uniform(12.0, 60.0), rng.uniform(0.0, 2.0 * np.pi)
        tall = rng.uniform(6.0, 11.0)
        box(
            (away * np.sin(bearing), away * np.cos(bearing), tall / 2),
            (0.3, 0.3, tall),
            along,
            (0.25, 0.2, 0.15),
        )
    if near:
        a = rng.uniform(0.0, 2.0 * np.pi)
        box((3.5 * np.sin(a), 3.5 * np.cos(a), 5.4), (0.8, 0.8, 2.2), along, (0.5, 0.25, 0.2))
        box((0.0, 0.0, 2.4), (9.0, 14.0, 4.8), along, (0.35, 0.3, 0.28))
    balls, ball_color = [], []
    for _ in range(trees):
        away, bearing = rng.uniform(12.0, 90.0), rng.uniform(0.0, 2.0 * np.pi)
        for _ in range(6):
            r = rng.uniform(1.0, 2.4)
            spread = rng.normal(0.0, 1.5, 3)
            place = np.array([away * np.sin(bearing), away * np.cos(bearing), rng.uniform(3, 8)])
            balls.append([*(place + spread), r])
            ball_color.append(rng.uniform(0.5, 1.0) * np.array([0.25, 0.4, 0.12]))
    t = np.arange(360)
    hill = 0.03 + sum(
        rng.uniform(0.003, 0.015) / k * np.sin(np.radians(k * t) + rng.uniform(0, 6.3))
        for k in range(1, 9)
    )
    return Street(
        np.array(centre, float),
        np.array(half, float),
        np.array(turn, float),
        np.array(color, float),
        np.array(windows),
        np.array(balls).reshape(-1, 4),
        np.array(ball_color).reshape(-1, 3),
        hill,
        seed,
    )


@dataclass(frozen=True)
class Pose:
    """One frame: how it was held and what the camera did. Degrees, pixels, metres."""

    yaw_deg: float
    pitch_deg: float = 0.0
    roll_deg: float = 0.0
    place_m: tuple[float, float, float] = (0.0, 0.0, EYE_M)
    stops: float = 0.0
    """Exposure in steps of two."""
    size_px: tuple[int, int] = (640, 480)
    focal_px: float = 480.0
    k1: float = 0.0
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)
    clouds_deg: float = 0.0
    """How far the clouds have moved."""
    cars: tuple[float, ...] = field(default=())
    """Bearings of cars on the ground, 25 m away. [deg]"""


def rays_of(pose: Pose) -> np.ndarray:
    """Unit rays of all pixels, east north up. (height, width, 3)"""
    width, height = pose.size_px
    x, y = np.meshgrid(np.arange(width) + 0.5 - width / 2, np.arange(height) + 0.5 - height / 2)
    x, y = x / pose.focal_px, y / pose.focal_px
    u, v = x.copy(), y.copy()
    for _ in range(8):
        bend = 1.0 + pose.k1 * (u * u + v * v)
        u, v = x / bend, y / bend
    right, down, ahead = axes_of(pose)
    rays = u[..., None] * right + v[..., None] * down + ahead
    return rays / np.linalg.norm(rays, axis=-1, keepdims=True)


def axes_of(pose: Pose) -> np.ndarray:
    """Rows right, down, ahead in east north up."""
    y, p, r = np.radians([pose.yaw_deg, pose.pitch_deg, pose.roll_deg])
    ahead = np.array([np.sin(y) * np.cos(p), np.cos(y) * np.cos(p), np.sin(p)])
    level = np.array([np.cos(y), -np.sin(y), 0.0])
    above = np.cross(level, ahead)
    up = np.sin(r) * level + np.cos(r) * above
    return np.array([np.cos(r) * level - np.sin(r) * above, -up, ahead])


def _noise(place: np.ndarray, seed: int) -> np.ndarray:
    """Smooth noise in [0, 1] at points (N, 3) of a lattice of one."""
    base = np.floor(place).astype(np.int64)
    part = (place - base).astype(np.float32)
    part = part * part * (3.0 - 2.0 * part)
    total = np.zeros(len(place), np.float32)
    for corner in range(8):
        bit = np.array([corner & 1, corner >> 1 & 1, corner >> 2 & 1])
        n = (base + bit) @ np.array([374761393, 668265263, 2147483647]) + seed * 1013904223
        n = (n ^ (n >> 13)) * 1274126177 & 0x7FFFFFFF
        n = (n ^ (n >> 16)) & 0xFFFF
        total += (n / 65535.0).astype(np.float32) * np.prod(np.where(bit, part, 1.0 - part), axis=1)
    return total


def _grain(place: np.ndarray, footprint: np.ndarray, seed: int) -> np.ndarray:
    """Noise of several sizes, those below a pixel's footprint left out. [about 1]"""
    total = np.ones(len(place), np.float32)
    for size in (0.12, 0.35, 1.0, 3.0):
        seen = np.clip(size / np.maximum(footprint, 1e-6) - 1.0, 0.0, 1.0).astype(np.float32)
        some = seen > 0.0
        if some.any():
            noise = _noise(place[some] / size, seed + int(100 * size))
            total[some] += 0.7 * (noise - 0.5) * seen[some]
    return total


def render(scene: Street, pose: Pose, seed: int = 0, noise: float = 0.01) -> np.ndarray:
    """The frame, (height, width, 3) uint8 RGB."""
    width, height = pose.size_px
    fine = Pose(
        **{**pose.__dict__, "size_px": (2 * width, 2 * height), "focal_px": 2 * pose.focal_px}
    )
    rays = rays_of(fine)
    light = _seen(scene, np.array(pose.place_m), rays, fine)
    light = light.reshape(height, 2, width, 2, 3).mean((1, 3))
    x, y = np.meshgrid(np.linspace(-1, 1, width), np.linspace(-1, 1, height))
    light *= (1.0 - 0.12 * (x * x + y * y))[..., None] * 2.0**pose.stops * np.array(pose.tint)
    value = np.clip(light, 0.0, None) ** (1 / 2.2)
    value = value + np.random.default_rng(seed).normal(0.0, noise, value.shape)
    return np.clip(255.0 * value + 0.5, 0, 255).astype(np.uint8)


def _seen(scene: Street, eye: np.ndarray, rays: np.ndarray, pose: Pose) -> np.ndarray:
    shape = rays.shape[:2]
    d = rays.reshape(-1, 3)
    depth = np.full(len(d), np.inf)
    thing = np.full(len(d), -1)
    normal = np.zeros((len(d), 3), np.float32)
    down = d[:, 2] < -1e-4
    depth[down] = -eye[2] / d[down, 2]
    thing[down], normal[down] = -2, (0.0, 0.0, 1.0)
    hill = np.interp(
        np.degrees(np.arctan2(d[:, 0], d[:, 1])) % 360,
        np.arange(361),
        np.append(scene.hill, scene.hill[0]),
    )
    elevation = np.arcsin(d[:, 2])
    far = (elevation < hill) & (depth > 2500.0)
    depth[far], thing[far] = 2500.0, -3
    for index in range(len(scene.centre)):
        _hit_box(scene, index, eye, d, depth, thing, normal)
    for index, bearing in enumerate(pose.cars):
        a = np.radians(bearing)
        place = np.array([25 * np.sin(a), 25 * np.cos(a), 0.8])
        _hit_one_box(
            place, np.array([2.2, 0.9, 0.8]), a + 1.57, eye, d, depth, thing, normal, -10 - index
        )
    offset = len(scene.centre)
    for index, (*c, r) in enumerate(scene.balls):
        oc = eye - np.array(c)
        b = d @ oc
        disc = b * b - oc @ oc + r * r
        own = np.flatnonzero((disc > 0) & (b < 0))
        t = -b[own] - np.sqrt(disc[own])
        hit = (t > 0.1) & (t < depth[own])
        own, t = own[hit], t[hit]
        depth[own], thing[own] = t, offset + index
        normal[own] = (eye + d[own] * t[:, None] - c) / r
    return _shade(scene, eye, d, depth, thing, normal, pose).reshape(*shape, 3)


def _hit_box(scene, index, eye, d, depth, thing, normal):
    _hit_one_box(
        scene.centre[index],
        scene.half[index],
        scene.turn[index],
        eye,
        d,
        depth,
        thing,
        normal,
        index,
    )


def _hit_one_box(centre, half, turn, eye, d, depth, thing, normal, name):
    towards = centre - eye
    away = np.linalg.norm(towards)
    reach = np.linalg.norm(half)
    if reach < away:
        near = d @ (towards / away) > np.cos(np.arcsin(reach / away) + 1e-3)
    else:
        near = np.ones(len(d), bool)
    own = np.flatnonzero(near)
    if not own.size:
        return
    c, s = np.cos(turn), np.sin(turn)
    frame = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    o, v = (eye - centre) @ frame, d[own] @ frame
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = (-half - o) / v, (half - o) / v
    low, high = np.minimum(a, b), np.maximum(a, b)
    t = low.max(axis=1)
    hit = (t < high.min(axis=1)) & (t > 0.05) & (t < depth[own])
    where = own[hit]
    axis = low[hit].argmax(axis=1)
    depth[where], thing[where] = t[hit], name
    n = np.zeros((hit.sum(), 3))
    n[np.arange(len(n)), axis] = -np.sign(v[hit][np.arange(len(n)), axis])
    normal[where] = n @ frame.T


def _shade(scene, eye, d, depth, thing, normal, pose):
    color = np.empty((len(d), 3), np.float32)
    sky = thing == -1
    up = np.clip(d[sky, 2], 0.0, 1.0)
    turned = np.radians(pose.clouds_deg)
    c, s = np.cos(turned), np.sin(turned)
    flow = d[sky] @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
    cloud = sum(_noise(flow * k, scene.seed + k) / k for k in (4, 8, 16, 32)) / 0.47
    cloud = np.clip(2.5 * (cloud - 0.5), 0, 1)[:, None]
    blue = np.stack([0.35 + 0.3 * (1 - up), 0.5 + 0.25 * (1 - up), 0.8 + 0.1 * (1 - up)], axis=1)
    color[sky] = blue * (1 - 0.7 * cloud) + 0.85 * 0.7 * cloud
    solid = np.flatnonzero(~sky)
    place = eye + d[solid] * depth[solid, None]
    footprint = (
        depth[solid]
        / pose.focal_px
        / np.maximum(np.abs(np.sum(normal[solid] * d[solid], axis=1)), 0.05)
    )
    grain = _grain(place, footprint, scene.seed)
    name = thing[solid]
    base = np.tile(np.array([0.22, 0.25, 0.14], np.float32), (len(solid), 1))
    base[name == -3] = (0.30, 0.36, 0.34)
    boxes = len(scene.centre)
    is_box = (name >= 0) & (name < boxes)
    base[is_box] = scene.box_color[name[is_box]]
    is_ball = name >= boxes
    base[is_ball] = scene.ball_color[name[is_ball] - boxes]
    base[name <= -10] = (0.6, 0.05, 0.05)
    wall = np.flatnonzero(is_box & (np.abs(normal[solid][:, 2]) < 0.5))
    wall = wall[scene.windows[name[wall]]]
    if wall.size:
        n = normal[solid][wall]
        across = np.sum(place[wall] * np.stack([-n[:, 1], n[:, 0], 0 * n[:, 0]], axis=1), axis=1)
        u, v = np.mod(across, 2.6), np.mod(place[wall][:, 2], 2.9)
        pane = (u > 0.8) & (u < 1.8) & (v > 1.0) & (v < 2.2)
        base[wall[pane]] = (0.05, 0.06, 0.08)
    hills = name == -3
    if hills.any():
        grain[hills] = 0.6 + 0.8 * _noise(d[solid[hills]] * 60.0, scene.seed + 9)
    sun = np.array([0.5, 0.3, 0.8]) / np.linalg.norm([0.5, 0.3, 0.8])
    light = 0.45 + 0.55 * np.clip(normal[solid] @ sun, 0, 1)
    light[hills] = 0.9
    haze = (1.0 - np.exp(-depth[solid] / 4000.0))[:, None]
    color[solid] = (base * (grain * light)[:, None]) * (1 - haze) + 0.75 * haze
    return color


def sweep_poses(
    seed: int, count: int, span_deg: float, tilt_deg: float = 3.0, reach_m: float = 0.0, **same
) -> list[Pose]:
    """Poses of one turn: uneven steps over ``span_deg`` (360: a whole circle), tilted by up to
    ``tilt_deg``, the camera ``reach_m`` in front of the feet."""
    rng = np.random.default_rng(seed)
    steps = 1.0 + rng.uniform(-0.12, 0.12, count)
    steps *= span_deg / (steps.sum() if span_deg >= 360.0 else steps[:-1].sum())
    yaws = rng.uniform(0.0, 360.0) + np.concatenate([[0.0], np.cumsum(steps)[:-1]])
    poses = []
    for yaw in yaws:
        a = np.radians(yaw)
        place = (reach_m * np.sin(a), reach_m * np.cos(a), EYE_M)
        poses.append(
            Pose(
                float(yaw % 360.0),
                float(2.0 + rng.uniform(-tilt_deg, tilt_deg)),
                float(rng.uniform(-tilt_deg, tilt_deg)),
                place,
                float(rng.uniform(-0.3, 0.3)),
                **{"tint": tuple(1.0 + rng.normal(0, 0.018, 3)), **same},
            )
        )
    return poses


def write(
    folder,
    scene: Street,
    poses: list[Pose],
    seed: int = 0,
    noise: float = 0.01,
    exif: bytes | None = None,
) -> list:
    """The frames as JPEG files ``f00.jpg`` ..., in this order."""
    files = []
    for index, pose in enumerate(poses):
        rgb = render(scene, pose, seed + index, noise)
        coded = cv2.imencode(".jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])[1].tobytes()
        if exif is not None:
            body = b"Exif\0\0" + exif
            coded = coded[:2] + b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body + coded[2:]
        file = folder / f"f{index:02d}.jpg"
        file.write_bytes(coded)
        files.append(file)
    return files
