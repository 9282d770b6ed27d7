"""Invented streets as triangles, seen from a roof: houses, blocks, trees, wires, masts, hills.

Metres, x east, y north, z up from the ground; the camera stands on a ridge at ``Street.camera``.
Everything comes from a seed. Textures are left to ``street_layers``, which knows only the
``MATERIALS``.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

MATERIALS = (
    "plain", "courses", "bricks", "shingles", "leaf", "bark", "ground", "asphalt", "glass", "hill",
)  # fmt: skip
FAR_M = 170.0
"""Trees beyond it are made of fewer, larger leaves."""

BRICK, PLASTER = ((0.30, 0.13, 0.09), (0.42, 0.22, 0.14)), ((0.55, 0.50, 0.42), (0.62, 0.60, 0.55))
PAINT = ((0.45, 0.50, 0.52), (0.30, 0.36, 0.42), (0.58, 0.52, 0.36), (0.36, 0.42, 0.33))
WHITE = ((0.78, 0.77, 0.74), (0.83, 0.83, 0.83), (0.72, 0.73, 0.76))
ROOFS = ((0.07, 0.07, 0.075), (0.14, 0.12, 0.11), (0.28, 0.12, 0.07), (0.20, 0.21, 0.23))
ROOFS_PALE = ((0.38, 0.37, 0.36), (0.45, 0.30, 0.22), (0.5, 0.52, 0.55))


@dataclass
class Mesh:
    """Triangles and what each is made of."""

    parts: list[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]] = field(default_factory=list)
    """Corners (n, 3, 3), material (n,), colour (n, 3), openness to the sky (n,), 0 to 1."""

    def add(
        self, corners: np.ndarray, material: str, color: np.ndarray, open_: float | np.ndarray = 1.0
    ) -> None:
        n = len(corners)
        self.parts.append((
            np.asarray(corners, np.float32),
            np.full(n, MATERIALS.index(material), np.uint8),
            np.broadcast_to(np.asarray(color, np.float32), (n, 3)),
            np.broadcast_to(np.asarray(open_, np.float32), (n,)),
        ))  # fmt: skip

    def quads(
        self, corners: np.ndarray, material: str, color: np.ndarray, open_: float | np.ndarray = 1.0
    ) -> None:
        """Quads (n, 4, 3), each as two triangles."""
        q = np.asarray(corners, np.float32).reshape(-1, 4, 3)
        two = np.concatenate([q[:, [0, 1, 2]], q[:, [0, 2, 3]]])

        def twice(v: float | np.ndarray, rank: int) -> float | np.ndarray:
            v = np.asarray(v, np.float32)
            return np.concatenate([v, v]) if v.ndim == rank else v

        self.add(two, material, twice(color, 2), twice(open_, 1))

    def box(self, centre, size, turn: float, material: str, color, open_: float = 1.0) -> None:
        """Upright box; ``centre`` of its foot, ``size`` along its own axes."""
        x, y, z = np.array(size, float) * (0.5, 0.5, 1.0)
        low = np.array([[-x, -y, 0], [x, -y, 0], [x, y, 0], [-x, y, 0]])
        v = turned(np.concatenate([low, low + above(z)]), turn) + centre
        faces = [[0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7], [4, 5, 6, 7]]
        self.quads(v[faces], material, color, open_)

    def tubes(
        self, start, end, thick_start, thick_end, material: str, color, open_=1.0, sides=5
    ) -> None:
        """Cones along lines (n, 3) to (n, 3) with radii (n,)."""
        a, b = np.atleast_2d(np.asarray(start, float)), np.atleast_2d(np.asarray(end, float))
        ra, rb = np.broadcast_to(thick_start, len(a)), np.broadcast_to(thick_end, len(a))
        along = unit(b - a)
        helper = np.where(np.abs(along[:, 2:]) > 0.8, [[1.0, 0, 0]], [[0, 0, 1.0]])
        one = unit(np.cross(along, helper))
        two = np.cross(along, one)
        angle = np.arange(sides + 1) * 2 * np.pi / sides
        ring = one[:, None] * np.cos(angle)[:, None] + two[:, None] * np.sin(angle)[:, None]
        low, high = a[:, None] + ring * ra[:, None, None], b[:, None] + ring * rb[:, None, None]
        q = np.stack([low[:, :-1], low[:, 1:], high[:, 1:], high[:, :-1]], axis=2)
        self.quads(q.reshape(-1, 4, 3), material, color, open_)

    def put(self, other: Mesh, at, turn: float, scale, tint=1.0) -> None:
        """A copy of another mesh, turned about z, scaled, moved, its colours times ``tint``."""
        for corners, material, color, open_ in other.parts:
            v = turned(corners.reshape(-1, 3) * np.asarray(scale, np.float32), turn) + at
            self.parts.append(
                (
                    v.astype(np.float32).reshape(-1, 3, 3),
                    material,
                    (color * tint).astype(np.float32),
                    open_,
                )
            )

    def whole(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        corners, material, color, open_ = (np.concatenate(p) for p in zip(*self.parts, strict=True))
        return corners, material, color, open_


@dataclass(frozen=True)
class Street:
    mesh: Mesh
    camera: np.ndarray
    """(3,)"""
    sun: np.ndarray
    """(3,) unit, towards the sun."""
    snow: float
    """Share of level surfaces under snow."""


def above(height: float) -> np.ndarray:
    return np.array([0.0, 0.0, height])


def unit(v: np.ndarray) -> np.ndarray:
    return v / (np.linalg.norm(v, axis=-1, keepdims=True) + 1e-12)


def turned(v: np.ndarray, turn: float) -> np.ndarray:
    c, s = np.cos(turn), np.sin(turn)
    return v @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])


def pick(rng: np.random.Generator, colors) -> np.ndarray:
    chosen = np.array(colors[int(rng.integers(len(colors)))])
    return np.clip(chosen * rng.uniform(0.75, 1.25) * rng.uniform(0.95, 1.05, 3), 0.01, 0.9)


def leaves(
    m: Mesh,
    rng,
    at: np.ndarray,
    size: np.ndarray,
    color: np.ndarray,
    open_: np.ndarray,
    long: float = 1.6,
) -> None:
    """Kites (n,) with random faces about points (n, 3)."""
    n = len(at)
    along, face = (
        unit(rng.normal(size=(n, 3)) + above(-0.3)),
        unit(rng.normal(size=(n, 3)) + above(0.6)),
    )
    side = unit(np.cross(along, face)) * size[:, None] * 0.5
    along = along * size[:, None] * long
    q = np.stack([at, at + 0.45 * along + side, at + along, at + 0.45 * along - side], axis=1)
    tint = (
        color
        * np.clip(1 + 0.28 * rng.normal(size=(n, 1)), 0.4, 1.8)
        * np.clip(1 + 0.06 * rng.normal(size=(n, 3)), 0.7, 1.3)
    )
    m.quads(q, "leaf", np.clip(tint, 0.005, 0.6), open_)


def branches(rng, height: float, spread: float, levels: int, upright: float):
    """Start, end, radii of a branching tree: (n, 3), (n, 3), (n,), (n,); its tips (k, 3)."""
    a, d = np.zeros((1, 3)), np.array([[0.0, 0, 1.0]])
    long, thick = np.array([height * 0.32]), np.array([height * 0.016])
    starts, ends, r0, r1 = [], [], [], []
    for level in range(levels):
        bend = unit(d + 0.12 * rng.normal(size=d.shape))
        mid = a + d * long[:, None] * 0.5
        b = mid + bend * long[:, None] * 0.5
        starts += [a, mid]
        ends += [mid, b]
        r0 += [thick, thick * 0.85]
        r1 += [thick * 0.85, thick * 0.7]
        if level == levels - 1:
            break
        k = int(rng.integers(3, 5)) if level < 2 else 3
        n = len(b)
        where = rng.uniform(0.35 if level else 0.75, 1.0, (n, k, 1))
        where[:, 0] = 1.0
        a2 = a[:, None] + (b - a)[:, None] * where
        turn = unit(rng.normal(size=(n, k, 3)) * (1, 1, 0.6))
        d2 = unit(bend[:, None] * rng.uniform(0.5, 1.3, (n, k, 1)) + turn * spread + above(upright))
        long = (long[:, None] * rng.uniform(0.55, 0.85, (n, k))).ravel()
        thick = np.maximum((thick[:, None] * rng.uniform(0.45, 0.7, (n, k))).ravel(), 0.006)
        a, d = a2.reshape(-1, 3), d2.reshape(-1, 3)
    return np.concatenate(starts), np.concatenate(ends), np.concatenate(r0), np.concatenate(r1), b


def broadleaf(rng, height: float, count: int, size: float, dense: float) -> Mesh:
    """Trunk, branches, and leaves in bunches at their ends."""
    m = Mesh()
    start, end, r0, r1, tips = branches(
        rng, height, rng.uniform(0.6, 1.0), 4, rng.uniform(0.1, 0.4)
    )
    bark = np.array([0.10, 0.08, 0.06]) * rng.uniform(0.6, 1.6)
    m.tubes(start, end, r0, r1, "bark", bark, 0.5)
    color = np.array(
        [[0.055, 0.10, 0.025], [0.09, 0.12, 0.03], [0.04, 0.085, 0.03], [0.13, 0.10, 0.03]][
            int(rng.integers(4))
        ]
    )
    bunch = int(max(40, len(tips) * dense))
    middle = (
        tips[rng.integers(len(tips), size=bunch)] + rng.normal(size=(bunch, 3)) * height * 0.035
    )
    radius = height * rng.uniform(0.03, 0.085, bunch)
    of = rng.integers(bunch, size=count)
    at = middle[of] + rng.normal(size=(count, 3)) * radius[of, None] * (0.6, 0.6, 0.45)
    centre, wide = at.mean(0), at.std(0) * 2
    depth = np.linalg.norm((at - centre) / wide, axis=1)
    up = (at[:, 2] - centre[2]) / wide[2]
    leaves(
        m,
        rng,
        at,
        size * rng.uniform(0.6, 1.4, count),
        color,
        np.clip(0.25 + 0.5 * depth + 0.3 * up, 0.12, 1.0),
    )
    return m


def bare(rng, height: float) -> Mesh:
    m = Mesh()
    start, end, r0, r1, _ = branches(rng, height, rng.uniform(0.5, 0.9), 6, rng.uniform(0.15, 0.5))
    tone = np.array(
        [[0.11, 0.09, 0.07], [0.20, 0.18, 0.15], [0.07, 0.05, 0.045], [0.35, 0.33, 0.30]][
            int(rng.integers(4))
        ]
    )
    m.tubes(start, end, r0, r1, "bark", tone, 0.8, sides=4)
    return m


def conifer(rng, height: float, count: int, size: float) -> Mesh:
    m = Mesh()
    m.tubes([[0, 0, 0]], [[0, 0, height]], height * 0.014, 0.01, "bark", (0.10, 0.07, 0.05), 0.4)
    wide = height * rng.uniform(0.13, 0.24)
    tiers = rng.uniform(0.05, 1.0, max(60, count // 60)) ** 1.2
    turn = rng.uniform(0, 2 * np.pi, len(tiers))
    long = wide * (0.08 + (1 - tiers)) * rng.uniform(0.7, 1.15, len(tiers))
    of = rng.integers(len(tiers), size=count)
    out = rng.uniform(0.05, 1.0, count) ** 0.7
    r = out * long[of]
    at = np.stack(
        [r * np.cos(turn[of]), r * np.sin(turn[of]), tiers[of] * height - 0.35 * r], axis=1
    )
    at += rng.normal(size=at.shape) * (0.10, 0.10, 0.05) * (0.3 + r[:, None] * 0.25)
    color = np.array(
        [[0.03, 0.06, 0.03], [0.045, 0.07, 0.05], [0.05, 0.075, 0.025]][int(rng.integers(3))]
    )
    leaves(
        m,
        rng,
        at,
        size * rng.uniform(0.6, 1.3, count),
        color,
        np.clip(0.2 + 0.7 * out, 0.15, 1.0),
        2.2,
    )
    return m


def shrub(rng, count: int) -> Mesh:
    m = Mesh()
    at = unit(rng.normal(size=(count, 3))) * rng.uniform(0.5, 1.0, (count, 1)) ** 0.5 * (
        1.0,
        1.0,
        0.8,
    ) + above(0.8)
    color = np.array([0.06, 0.10, 0.03]) * rng.uniform(0.6, 1.4)
    leaves(
        m,
        rng,
        at,
        0.12 * rng.uniform(0.6, 1.4, count),
        color,
        np.clip(0.3 + 0.5 * at[:, 2], 0.2, 1),
    )
    return m


def windows(
    m: Mesh,
    rng,
    centre,
    size,
    turn: float,
    base: float,
    across: tuple[float, float],
    pane: tuple[float, float],
) -> None:
    """Panes on the four walls of a box, spaced ``across`` (side by side, above each other)."""
    x, y, z = size[0] / 2, size[1] / 2, size[2]
    frame = pick(rng, WHITE) if rng.random() < 0.6 else np.array([0.08, 0.07, 0.06])
    for half, out, axis in ((x, y, 0), (x, -y, 0), (y, x, 1), (y, -x, 1)):
        along = np.arange(-half + across[0] * 0.6, half - across[0] * 0.4, across[0])
        up = np.arange(base + 0.9, z - pane[1] - 0.2, across[1])
        if not along.size or not up.size:
            continue
        a, h = (v.ravel() for v in np.meshgrid(along, up))
        kept = rng.random(a.size) < 0.9
        a, h = a[kept], h[kept]
        for grow, proud, material in ((0.09, 0.02, "plain"), (0.0, 0.04, "glass")):
            w, t = pane[0] / 2 + grow, pane[1] + 2 * grow
            off = np.full(a.size, out + np.sign(out) * proud)
            lo, hi = h - grow, h - grow + t
            corner = [(a - w, lo), (a + w, lo), (a + w, hi), (a - w, hi)]
            q = np.stack(
                [np.stack([s, off, v] if axis == 0 else [off, s, v], axis=-1) for s, v in corner],
                axis=1,
            )
            tone = (
                frame
                if material == "plain"
                else np.repeat(rng.choice([0.04, 0.06, 0.12, 0.3, 0.5], (len(q), 1)), 3, axis=1)
            )
            m.quads(turned(q.reshape(-1, 3), turn).reshape(-1, 4, 3) + centre, material, tone)


def house(m: Mesh, rng, at, turn: float, white: float, near: bool) -> None:
    """Gabled, hipped or flat, with chimneys, sometimes dormers, vents and an aerial."""
    long, deep = rng.uniform(8, 15), rng.uniform(7, 10)
    storeys = int(rng.integers(1, 4))
    tall = 2.8 * storeys + rng.uniform(0.0, 1.0)
    kind = rng.random()
    if rng.random() < white:
        wall, skin = pick(rng, WHITE), "courses" if rng.random() < 0.4 else "plain"
    elif kind < 0.35:
        wall, skin = pick(rng, BRICK), "bricks"
    else:
        wall, skin = (pick(rng, PLASTER), "plain") if kind < 0.65 else (pick(rng, PAINT), "courses")
    m.box(at, (long, deep, tall), turn, skin, wall)
    windows(
        m,
        rng,
        at,
        (long, deep, tall),
        turn,
        0.0,
        (rng.uniform(2.0, 3.4), 2.8),
        (rng.uniform(0.8, 1.5), rng.uniform(1.1, 1.5)),
    )
    roof = pick(rng, ROOFS if rng.random() < 0.7 else ROOFS_PALE)
    over, pitch = 0.45, np.tan(np.radians(rng.uniform(22, 48)))
    x, y = long / 2 + over, deep / 2 + over
    ridge = tall + y * pitch
    eave = tall - 0.1
    style = rng.random()
    if style < 0.12:
        m.box((at[0], at[1], tall), (long + 0.5, deep + 0.5, 0.4), turn, "plain", roof)
        ridge = tall + 0.4
    else:
        inset = 0.0 if style < 0.72 else min(y, 0.8 * x)
        a, b = np.array([-x + inset, 0, ridge]), np.array([x - inset, 0, ridge])
        c = [np.array(p) for p in ([-x, -y, eave], [x, -y, eave], [x, y, eave], [-x, y, eave])]
        q = np.array([[c[0], c[1], b, a], [c[2], c[3], a, b]])
        m.quads(turned(q.reshape(-1, 3), turn).reshape(-1, 4, 3) + at, "shingles", roof)
        ends = np.array([[c[1], c[2], b], [c[3], c[0], a]])
        if inset == 0.0:
            gable = ends * (0.985, 0.96, 1.0)
            m.add(turned(gable.reshape(-1, 3), turn).reshape(-1, 3, 3) + at, skin, wall)
        else:
            m.add(turned(ends.reshape(-1, 3), turn).reshape(-1, 3, 3) + at, "shingles", roof)
        if rng.random() < 0.3:
            for s in rng.uniform(-0.6, 0.6, int(rng.integers(1, 3))):
                spot = turned(np.array([[s * long / 2, -deep * 0.22, tall]]), turn)[0] + at
                m.box(spot, (1.6, 2.6, pitch * deep * 0.3 + 0.9), turn, skin, wall)
    for _ in range(int(rng.integers(0, 3))):
        spot = (
            turned(
                np.array(
                    [[rng.uniform(-0.4, 0.4) * long, rng.uniform(-0.15, 0.15) * deep, ridge - 1.6]]
                ),
                turn,
            )[0]
            + at
        )
        up = 1.6 + rng.uniform(0.4, 1.6)
        stack = pick(rng, BRICK) if rng.random() < 0.7 else pick(rng, WHITE)
        m.box(spot, (rng.uniform(0.5, 0.9), rng.uniform(0.5, 1.2), up), turn, "bricks", stack)
        top = spot + above(up)
        m.tubes(
            [top],
            [top + above(rng.uniform(0.2, 0.6))],
            0.13,
            0.11,
            "plain",
            (0.3, 0.15, 0.1),
            sides=8,
        )
    if near and rng.random() < 0.5:
        aerial(m, rng, turned(np.array([[0.3 * long, 0, ridge - 0.2]]), turn)[0] + at)


def aerial(m: Mesh, rng, foot) -> None:
    """A boom of elements on a short mast."""
    up = rng.uniform(1.0, 3.0)
    top = foot + above(up)
    grey = (0.4, 0.4, 0.42)
    m.tubes([foot], [top], 0.025, 0.025, "plain", grey)
    turn = rng.uniform(0, 2 * np.pi)
    d, s = np.array([np.cos(turn), np.sin(turn), 0]), np.array([-np.sin(turn), np.cos(turn), 0])
    m.tubes([top - d * 0.3], [top + d * 1.2], 0.014, 0.014, "plain", grey)
    at = top + d * np.linspace(-0.25, 1.15, 9)[:, None]
    half = np.linspace(0.35, 0.16, 9)[:, None]
    m.tubes(at - s * half, at + s * half, 0.006, 0.006, "plain", grey, sides=4)


def block(m: Mesh, rng, at, turn: float, white: float) -> None:
    """A flat-roofed block of flats or offices."""
    size = rng.uniform(14, 40), rng.uniform(11, 17), rng.uniform(14, 42)
    wall = (
        pick(rng, WHITE)
        if rng.random() < max(white, 0.25)
        else pick(rng, PLASTER + BRICK + ((0.32, 0.32, 0.33),))
    )
    m.box(at, size, turn, "plain" if rng.random() < 0.6 else "bricks", wall)
    windows(
        m,
        rng,
        at,
        size,
        turn,
        0.0,
        (rng.uniform(2.2, 4.0), rng.uniform(2.8, 3.4)),
        (rng.uniform(1.0, 2.0), rng.uniform(1.1, 1.9)),
    )
    top = np.array(at) + above(size[2])
    for _ in range(int(rng.integers(1, 4))):
        spot = top + somewhere_on(rng, size, turn, 0.35, 0.3)
        m.box(
            spot,
            (rng.uniform(2, 6), rng.uniform(2, 5), rng.uniform(1.5, 3.5)),
            turn,
            "plain",
            pick(rng, PLASTER),
        )
    for _ in range(int(rng.integers(0, 4))):
        spot = top + somewhere_on(rng, size, turn, 0.45, 0.4)
        m.tubes([spot], [spot + above(rng.uniform(3, 9))], 0.06, 0.03, "plain", (0.35, 0.35, 0.36))


def somewhere_on(rng, size, turn: float, along: float, across: float) -> np.ndarray:
    """A place on a box's top, seen from its middle."""
    x, y = rng.uniform(-along, along) * size[0], rng.uniform(-across, across) * size[1]
    return turned(np.array([[x, y, 0.0]]), turn)[0]


def lattice(m: Mesh, at, height: float, wide: float, color) -> None:
    """A tapering mast of struts."""
    steps = int(height / (wide * 1.3)) + 2
    z = np.linspace(0, height, steps)
    half = np.linspace(wide, wide * 0.18, steps) / 2
    legs = np.stack(
        [
            np.stack([sx * half, sy * half, z], axis=-1)
            for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
    )
    legs = legs + np.asarray(at)
    thick, thin = 0.05 + wide * 0.012, 0.03 + wide * 0.006
    for i in range(4):
        j = (i + 1) % 4
        for end, start, radius in ((legs[i, 1:], legs[i, :-1], thick),
                                   (legs[j, 1:], legs[i, :-1], thin),
                                   (legs[j, 1:], legs[i, 1:], thin)):  # fmt: skip
            m.tubes(start, end, radius, radius, "plain", color, sides=4)


def spire(m: Mesh, rng, at, turn: float) -> None:
    tall = rng.uniform(12, 22)
    wall = pick(rng, BRICK + PLASTER + WHITE)
    m.box(at, (6, 6, tall), turn, "bricks", wall)
    top, peak = np.array(at) + above(tall), np.array(at) + above(tall + rng.uniform(10, 24))
    m.tubes([top], [peak], 4.4, 0.05, "shingles", pick(rng, ROOFS), sides=8)
    m.tubes([peak - above(0.3)], [peak + above(2.0)], 0.06, 0.04, "plain", (0.3, 0.3, 0.2))
    m.box(turned(np.array([[14.0, 0, 0]]), turn)[0] + at, (22, 9, 8), turn, "bricks", wall)


def water_tower(m: Mesh, rng, at) -> None:
    tall, tone = rng.uniform(20, 34), pick(rng, WHITE + PAINT)
    foot = np.array(at, float)
    for turn in np.arange(6) * np.pi / 3:
        out = np.array([np.cos(turn), np.sin(turn), 0])
        m.tubes([foot + out * 5], [foot + out * 4 + above(tall)], 0.25, 0.25, "plain", tone)
    z = np.array([0, 1.5, 3.5, 5.5, 7.5, 9.0])
    r = np.array([2.0, 4.6, 5.5, 5.5, 4.2, 0.2])
    for k in range(5):
        m.tubes(
            [foot + above(tall + z[k])],
            [foot + above(tall + z[k + 1])],
            r[k],
            r[k + 1],
            "plain",
            tone,
            sides=18,
        )


def wires(m: Mesh, rng, where: np.ndarray) -> None:
    """Poles at (n, 3) with a crossarm and sagging lines between them."""
    tall = rng.uniform(7.5, 10.5)
    wood = np.array([0.16, 0.12, 0.09]) * rng.uniform(0.6, 1.7)
    top = where + above(tall)
    m.tubes(where, top, 0.15, 0.11, "bark", wood, sides=7)
    along = unit(where[-1] - where[0])
    side = np.array([-along[1], along[0], 0])
    m.tubes(top - above(0.5) - side * 1.1, top - above(0.5) + side * 1.1, 0.06, 0.06, "bark", wood)
    t = np.linspace(0, 1, 14)[:, None]
    for off, drop in ((-1.0, 0.4), (0.0, 0.1), (1.0, 0.4), (0.2, 2.0)):
        thick = rng.uniform(0.006, 0.012) if drop < 1 else rng.uniform(0.012, 0.022)
        for a, b in itertools.pairwise(top):
            line = a + (b - a) * t + side * off - above(drop)
            line[:, 2] -= rng.uniform(0.4, 1.1) * 4 * (t * (1 - t))[:, 0]
            m.tubes(line[:-1], line[1:], thick, thick, "plain", (0.03, 0.03, 0.03), sides=4)


def hills(m: Mesh, rng) -> None:
    """Ridges at several kilometres, ever larger behind each other."""
    turn = np.arange(1441) * 2 * np.pi / 1440
    for far in np.geomspace(
        rng.uniform(1500, 3000), rng.uniform(7000, 20000), int(rng.integers(2, 5))
    ):
        relief = np.zeros(1441)
        for k in range(2, 60):
            relief += np.cos(k * turn + rng.uniform(0, 6.3)) * rng.normal() / k**1.1
        top = far * np.tan(
            np.radians(np.clip(rng.uniform(-0.5, 1.5) + rng.uniform(0.3, 1.3) * relief, -0.3, 6.0))
        )
        wood = cv_smooth(rng.random(1441)) * rng.uniform(0, 9)
        a = np.stack([far * np.sin(turn), far * np.cos(turn), top + wood], axis=1)
        low = a * (0.86, 0.86, 0.0) - above(8.0)
        q = np.stack([low[:-1], low[1:], a[1:], a[:-1]], axis=1)
        m.quads(q, "hill", pick(rng, ((0.05, 0.08, 0.04), (0.10, 0.10, 0.06), (0.08, 0.08, 0.07))))


def cv_smooth(v: np.ndarray) -> np.ndarray:
    return np.convolve(v, [0.25, 0.5, 0.25], mode="same")


def ground(m: Mesh, rng) -> None:
    r = np.concatenate([np.geomspace(4, 1500, 24), [4000.0]])
    turn = np.arange(49) * 2 * np.pi / 48
    ring = np.stack(
        [r[:, None] * np.sin(turn), r[:, None] * np.cos(turn), np.zeros((25, 49))], axis=-1
    )
    q = np.stack([ring[:-1, :-1], ring[:-1, 1:], ring[1:, 1:], ring[1:, :-1]], axis=2)
    m.quads(q.reshape(-1, 4, 3), "ground", (0.09, 0.11, 0.045) * np.array(rng.uniform(0.7, 1.3)))


def own_roof(m: Mesh, rng, turn: float) -> np.ndarray:
    """The roof stood on; where the camera is."""
    tall, pitch = rng.uniform(3.0, 6.2), np.tan(np.radians(rng.uniform(18, 40)))
    long, y = rng.uniform(10, 16), rng.uniform(4, 5.5)
    ridge = tall + y * pitch
    roof = pick(rng, ROOFS if rng.random() < 0.7 else ROOFS_PALE)
    x = long / 2
    stand = rng.uniform(-0.4, 0.4) * long
    q = np.array(
        [
            [[-x, -y, tall], [x, -y, tall], [x, 0, ridge], [-x, 0, ridge]],
            [[x, y, tall], [-x, y, tall], [-x, 0, ridge], [x, 0, ridge]],
        ]
    )
    shift = np.array([-stand, 0, 0])
    m.quads(turned((q + shift).reshape(-1, 3), turn).reshape(-1, 4, 3), "shingles", roof)
    for _ in range(int(rng.integers(0, 3))):
        off = rng.uniform(-0.48, 0.48) * long - stand
        if abs(off) < 2.2:
            continue
        spot = turned(np.array([[off, rng.uniform(-0.6, 0.6), ridge - 0.8]]), turn)[0]
        m.box(
            spot,
            (rng.uniform(0.5, 0.9), rng.uniform(0.5, 1.0), 0.8 + rng.uniform(0.6, 1.9)),
            turn,
            "bricks",
            pick(rng, BRICK + WHITE),
        )
    if rng.random() < 0.4:
        off = rng.choice([-1, 1]) * rng.uniform(1.5, 4.0)
        aerial(m, rng, turned(np.array([[off, 0.2, ridge]]), turn)[0])
    return np.array([0.0, 0.0, ridge + rng.uniform(1.2, 2.6)])


def street_of(seed: int, season: str, white: float = 0.2) -> Street:
    """A street: ``season`` leaf, bare or snow; ``white``, how many of its walls are."""
    rng = np.random.default_rng([seed, 4711])
    m = Mesh()
    ground(m, rng)
    hills(m, rng)
    grid = rng.uniform(0, np.pi)
    camera = own_roof(m, rng, grid + rng.choice([0.0, np.pi / 2]))
    bodies, protos = placed_buildings(m, rng, grid, white), prototypes(rng, season)
    plant(m, rng, bodies, protos, season)
    far_things(m, rng)
    sun_az, sun_el = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(12, 60))
    sun = np.array(
        [np.cos(sun_el) * np.sin(sun_az), np.cos(sun_el) * np.cos(sun_az), np.sin(sun_el)]
    )
    return Street(m, camera, sun, rng.uniform(0.6, 1.0) if season == "snow" else 0.0)


def placed_buildings(m: Mesh, rng, grid: float, white: float) -> np.ndarray:
    """Rows of houses, some blocks, poles along the streets; where they are (n, 3): x, y, radius."""
    bodies = [(0.0, 0.0, 9.0)]
    gap, wide = rng.uniform(13, 22), rng.uniform(26, 42)
    for row in np.arange(-4, 5):
        y = row * wide + rng.uniform(-2, 2)
        for x in np.arange(-150, 151, gap) + rng.uniform(0, gap):
            x2 = x + rng.uniform(-2, 2)
            spot = turned(np.array([[x2, y + rng.uniform(-2.5, 2.5), 0.0]]), grid)[0]
            far = float(np.hypot(spot[0], spot[1]))
            if far < 17 or far > 170 or rng.random() < 0.22:
                continue
            house(m, rng, spot, grid + rng.choice([0, np.pi / 2, np.pi]), white, far < 80)
            bodies.append((spot[0], spot[1], 8.0))
        along = np.arange(-160, 161, rng.uniform(28, 42))
        if row % 2 and rng.random() < 0.85:
            line = np.stack(
                [along, np.full(along.size, y + wide / 2 + 3.0), np.zeros(along.size)], axis=1
            )
            wires(m, rng, turned(line, grid))
        road = np.array(
            [
                [-200, y + wide / 2 - 3, 0.03],
                [200, y + wide / 2 - 3, 0.03],
                [200, y + wide / 2 + 3, 0.03],
                [-200, y + wide / 2 + 3, 0.03],
            ]
        )
        m.quads(turned(road, grid)[None], "asphalt", (0.09, 0.09, 0.095))
    for _ in range(int(rng.integers(0, 5))):
        far, turn = rng.uniform(38, 260), rng.uniform(0, 2 * np.pi)
        spot = np.array([far * np.sin(turn), far * np.cos(turn), 0.0])
        block(m, rng, spot, grid + rng.choice([0, np.pi / 2]), white)
        bodies.append((spot[0], spot[1], 18.0))
    return np.array(bodies)


def prototypes(rng, season: str) -> dict[str, list[Mesh]]:
    """Trees to be copied: near and far ones."""
    fine = rng.uniform(0.10, 0.22)
    near = [conifer(rng, 12.0, 14000, 0.14) for _ in range(3)]
    far = [conifer(rng, 12.0, 2600, 0.36) for _ in range(2)]
    if season == "leaf":
        near += [
            broadleaf(rng, 11.0, int(16000 * (0.16 / fine) ** 1.2), fine, rng.uniform(1.0, 2.4))
            for _ in range(5)
        ]
        far += [broadleaf(rng, 11.0, 2600, 0.42, 1.5) for _ in range(4)]
    else:
        near += [bare(rng, 11.0) for _ in range(5)]
        far += [bare(rng, 11.0) for _ in range(3)]
    return {"near": near, "far": far, "low": [shrub(rng, 1500) for _ in range(2)]}


def plant(m: Mesh, rng, bodies: np.ndarray, protos: dict[str, list[Mesh]], season: str) -> None:
    count, near = int(rng.integers(30, 130)), int(rng.integers(6, 30))
    far = np.concatenate([rng.uniform(10, 40, near), np.sqrt(rng.uniform(18**2, FAR_M**2, count))])
    turns = rng.uniform(0, 2 * np.pi, far.size)
    spots = np.stack([far * np.sin(turns), far * np.cos(turns), np.full(far.size, -0.05)], axis=1)
    away = np.linalg.norm(bodies[None, :, :2] - spots[:, None, :2], axis=-1) - bodies[:, 2]
    for spot, far_m in zip(spots[away.min(1) > -2.5], far[away.min(1) > -2.5], strict=True):
        kind = protos["near"][int(rng.integers(len(protos["near"])))]
        size = rng.uniform(0.5, 1.55) if far_m > 13 else rng.uniform(0.5, 1.1)
        stretch = size * np.array([rng.uniform(0.85, 1.15), rng.uniform(0.85, 1.15), 1.0])
        m.put(
            kind,
            spot,
            rng.uniform(0, 6.3),
            stretch,
            rng.uniform(0.6, 1.5) * rng.uniform(0.92, 1.08, 3),
        )
    for _ in range(int(rng.integers(10, 60))):
        far, turn = rng.uniform(10, 90), rng.uniform(0, 2 * np.pi)
        low = protos["low"][int(rng.integers(2))]
        if season == "leaf":
            m.put(
                low,
                (far * np.sin(turn), far * np.cos(turn), 0.0),
                0.0,
                rng.uniform(0.6, 1.6),
                rng.uniform(0.6, 1.4),
            )
    for _ in range(int(rng.integers(5, 16))):
        far, turn = rng.uniform(FAR_M, 900), rng.uniform(0, 2 * np.pi)
        middle = np.array([far * np.sin(turn), far * np.cos(turn), -0.05])
        kind = protos["far"][int(rng.integers(len(protos["far"])))]
        tint = rng.uniform(0.6, 1.4)
        for _ in range(int(rng.integers(4, 22))):
            spot = middle + rng.normal(size=3) * (0.12 * far, 0.12 * far, 0.0)
            if np.hypot(spot[0], spot[1]) > FAR_M * 0.8:
                m.put(
                    kind,
                    spot,
                    rng.uniform(0, 6.3),
                    rng.uniform(0.7, 1.7),
                    tint * rng.uniform(0.85, 1.15),
                )


def far_things(m: Mesh, rng) -> None:
    """A lattice mast, a spire, a water tower, a chimney stack, each in some streets."""

    def somewhere(least: float, most: float) -> np.ndarray:
        far, turn = rng.uniform(least, most), rng.uniform(0, 2 * np.pi)
        return np.array([far * np.sin(turn), far * np.cos(turn), 0.0])

    for _ in range(int(rng.integers(0, 3))):
        red = (0.5, 0.1, 0.06) if rng.random() < 0.3 else (0.35, 0.36, 0.38)
        lattice(m, somewhere(120, 900), rng.uniform(35, 110), rng.uniform(2, 9), red)
    if rng.random() < 0.6:
        spire(m, rng, somewhere(90, 400), rng.uniform(0, 3))
    if rng.random() < 0.4:
        water_tower(m, rng, somewhere(150, 600))
    if rng.random() < 0.4:
        foot = somewhere(120, 700)
        m.tubes(
            [foot],
            [foot + above(rng.uniform(25, 60))],
            1.8,
            1.1,
            "bricks",
            pick(rng, BRICK),
            sides=14,
        )
