"""Painted views from invented roofs with exact masks of their sky.

``painted`` gives a picture as a camera would write it (8 bits, noise, sharpening, the grain of
JPEG) and the share of sky in each of its pixels. Paintings prove that a method copes with what
was painted, in particular with light and with thin or faint things; they prove little about
textures, lenses and the clutter of a real street.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from painted_skies import SKIES, Image, Random, fractal, sky

FINE = 2
"""Pictures are painted this many times larger, so that edges have shares."""

Color = tuple[float, float, float]


@dataclass(frozen=True)
class Sample:
    """One picture with its truth."""

    name: str
    rgb: np.ndarray
    """(height, width, 3) uint8."""
    sky_share: np.ndarray
    """(height, width) float32, 1 = sky."""


class Canvas:
    """What is not sky, painted far to near: colour in linear light, and where it is."""

    def __init__(self, rng: Random, height: int, width: int) -> None:
        self.rng = rng
        self.height, self.width = height * FINE, width * FINE
        self.color = np.zeros((self.height, self.width, 3), np.float32)
        self.solid = np.zeros((self.height, self.width), np.uint8)
        self.scale = self.width / 1200.0
        """Fine pixels for each pixel of a picture 1200 wide at the same angles."""

    def lay(self, where: np.ndarray, color: Color | Image, grain: float = 0.1) -> None:
        """Cover ``where`` (bool) with a colour that varies by ``grain``."""
        rows, columns = np.flatnonzero(where.any(1)), np.flatnonzero(where.any(0))
        if not rows.size:
            return
        box = (slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1))
        part = where[box]
        noise = fractal(self.rng, *part.shape, max(min(part.shape) / 2.0, 6.0))
        noise += self.rng.normal(size=part.shape).astype(np.float32)
        tint = np.asarray(color, np.float32)
        tint = tint[box] if tint.ndim == 3 else tint
        painted = np.maximum(tint * (1.0 + grain * noise[..., None]), 0.002)
        self.color[box][part] = painted[part]
        self.solid[box][part] = 1

    def polygon(self, points: np.ndarray) -> np.ndarray:
        where = np.zeros((self.height, self.width), np.uint8)
        cv2.fillPoly(where, [np.round(points).astype(np.int32)], 1)
        return where > 0

    def below(self, rows: np.ndarray) -> np.ndarray:
        return np.arange(self.height)[:, None] >= rows[None, :]

    def line(self, points: np.ndarray, thickness: float, color: Color) -> None:
        where = np.zeros((self.height, self.width), np.uint8)
        cv2.polylines(
            where, [np.round(points).astype(np.int32)], False, 1, max(1, round(thickness))
        )
        self.lay(where > 0, color, 0.05)


def hills(c: Canvas, level: float, relief: float, color: Color) -> None:
    """A ridge: ``level`` and ``relief`` as shares of the height."""
    ridge = fractal(c.rng, 2, c.width, c.width / 2.5, 9)[0]
    rows = (level - relief * ridge) * c.height
    c.lay(c.below(rows), color, 0.02)


def ground(c: Canvas, level: float, color: Color, grain: float = 0.15) -> None:
    c.lay(c.below(np.full(c.width, level * c.height)), color, grain)


def house(c: Canvas, x: float, base: float, wide: float, tall: float, wall: Color, roof: Color):
    """A gabled house; shares of width, height, width, height."""
    left, right = x * c.width, (x + wide) * c.width
    foot, eave = base * c.height, (base - 0.6 * tall) * c.height
    top, over = (base - tall) * c.height, 0.03 * (right - left)
    c.lay(
        c.polygon(np.array([[left, foot], [left, eave], [right, eave], [right, foot]])), wall, 0.04
    )
    if c.rng.random() < 0.5:
        ridge = [[(left + right) / 2, top]]
    else:
        ridge = [[right - 0.2 * (right - left), top], [left + 0.2 * (right - left), top]]
    slope = np.array([[left - over, eave], [right + over, eave], *ridge])
    c.lay(c.polygon(slope), roof, 0.10)
    for share in c.rng.uniform(0.1, 0.8, 3):
        x0, y0 = left + share * (right - left), eave + 0.2 * (foot - eave)
        w, h = 0.12 * (right - left), 0.35 * (foot - eave)
        pane = np.array([[x0, y0], [x0 + w, y0], [x0 + w, y0 + h], [x0, y0 + h]])
        glass = (0.5, 0.6, 0.7) if c.rng.random() < 0.3 else (0.03, 0.03, 0.04)
        c.lay(c.polygon(pane), glass, 0.05)


def block(c: Canvas, x: float, base: float, wide: float, tall: float, wall: Color) -> None:
    """A flat-roofed block with rows of windows."""
    left, right, foot, top = (
        x * c.width,
        (x + wide) * c.width,
        base * c.height,
        (base - tall) * c.height,
    )
    c.lay(c.polygon(np.array([[left, foot], [left, top], [right, top], [right, foot]])), wall, 0.03)
    across, down = max(3, int(wide * 40)), max(3, int(tall * 25))
    for i in range(across):
        for j in range(down):
            x0 = left + (i + 0.3) * (right - left) / across
            y0 = top + (j + 0.35) * (foot - top) / down
            w, h = 0.4 * (right - left) / across, 0.4 * (foot - top) / down
            pane = np.array([[x0, y0], [x0 + w, y0], [x0 + w, y0 + h], [x0, y0 + h]])
            shade = c.rng.uniform(0.02, 0.12)
            c.lay(c.polygon(pane), (shade, shade, 1.1 * shade), 0.05)


def conifer(c: Canvas, x: float, base: float, tall: float, color: Color) -> None:
    """A spire of drooping boughs."""
    foot, top, middle = base * c.height, (base - tall) * c.height, x * c.width
    rows = np.arange(int(top), int(foot))
    share = (rows - top) / max(foot - top, 1.0)
    tiers = 0.75 + 0.25 * np.abs((share * tall * 60) % 1.0)
    half = np.maximum(share, 0.0) ** 0.85 * 0.22 * (foot - top) * tiers
    half = half * (1.0 + 0.25 * c.rng.normal(size=rows.size)) + 0.8
    right = half * (1.0 + 0.15 * c.rng.normal(size=rows.size))
    where = np.zeros((c.height, c.width), bool)
    columns = np.arange(c.width)
    inside = (rows >= 0) & (rows < c.height)
    where[rows[inside]] = (columns > (middle - half)[inside, None]) & (
        columns < (middle + right)[inside, None]
    )
    c.lay(where, color, 0.45)


def crown(c: Canvas, x: float, y: float, radius: float, color: Color, dense: float = 1.0) -> None:
    """A broad crown of leaves with gaps; ``radius`` as a share of the width."""
    r = radius * c.width
    where = np.zeros((c.height, c.width), np.uint8)
    for _ in range(int(14 * dense) + 6):
        angle, away = c.rng.uniform(0, 2 * np.pi), np.sqrt(c.rng.random()) * 0.75
        bx, by = x * c.width + away * r * np.cos(angle), y * c.height + away * r * np.sin(angle)
        b = r * c.rng.uniform(0.15, 0.32)
        count = int(min(dense * 2.6 * (b / c.scale) ** 1.4, 900))
        spots = c.rng.normal(size=(count, 2)) * b * 0.55 + (bx, by)
        for (sx, sy), size in zip(spots, c.rng.uniform(1.2, 4.2, count) * c.scale, strict=True):
            cv2.circle(where, (round(sx), round(sy)), max(1, round(size)), 1, -1)
    tint = np.asarray(color, np.float32) * (
        1.0 + 0.5 * fractal(c.rng, c.height, c.width, r / 1.5)[..., None]
    )
    c.lay(where > 0, np.maximum(tint, 0.003), 0.35)
    foot = np.array([[x * c.width, y * c.height + 0.3 * r], [x * c.width, c.height]])
    c.line(foot, 0.07 * r, (0.05, 0.04, 0.03))


def bare_tree(c: Canvas, x: float, base: float, tall: float, color: Color) -> None:
    """Branches without leaves, down to twigs thinner than a pixel."""
    where = np.zeros((c.height, c.width), np.uint8)
    ends = [(x * c.width, base * c.height, -np.pi / 2, tall * c.height * 0.3, 0)]
    while ends:
        x0, y0, angle, length, depth = ends.pop()
        x1, y1 = x0 + length * np.cos(angle), y0 + length * np.sin(angle)
        thick = max(1, round(0.018 * tall * c.height * 0.6**depth))
        cv2.line(where, (round(x0), round(y0)), (round(x1), round(y1)), 1, thick)
        if depth < 7 and length > 3:
            for turn in c.rng.uniform(-0.7, 0.7, 2 + (c.rng.random() < 0.4)):
                ends.append((x1, y1, angle + turn, length * c.rng.uniform(0.6, 0.85), depth + 1))
    c.lay(where > 0, color, 0.2)


def wires(c: Canvas, y: float, count: int) -> None:
    """Lines across the picture, the thinnest half a pixel wide."""
    t = np.linspace(0.0, 1.0, 60)
    for k in range(count):
        left, right = y + 0.02 * k + c.rng.normal(0, 0.03), y + 0.02 * k + c.rng.normal(0, 0.03)
        rows = (left + (right - left) * t + 0.12 * t * (1 - t)) * c.height
        c.line(np.stack([t * c.width, rows], 1), c.rng.uniform(0.5, 2.0) * c.scale, (0.03,) * 3)


def mast(c: Canvas, x: float, base: float, tall: float) -> None:
    """A pole with two cross arms."""
    top = (base - tall) * c.height
    c.line(
        np.array([[x * c.width, base * c.height], [x * c.width, top]]), 3.0 * c.scale, (0.12,) * 3
    )
    for share in (0.03, 0.12):
        row = top + share * tall * c.height
        arm = 0.08 * tall * c.height
        c.line(
            np.array([[x * c.width - arm, row], [x * c.width + arm, row]]),
            1.5 * c.scale,
            (0.1,) * 3,
        )


def chimney(c: Canvas, x: float, wide: float, top: float, color: Color) -> None:
    """A stack close by, from the picture's foot up."""
    left, right, row = x * c.width, (x + wide) * c.width, top * c.height
    c.lay(
        c.polygon(np.array([[left, c.height], [left, row], [right, row], [right, c.height]])),
        color,
        0.08,
    )
    cap, pad = 0.03 * c.height, 0.08 * (right - left)
    edge = np.array(
        [[left - pad, row + cap], [left - pad, row], [right + pad, row], [right + pad, row + cap]]
    )
    c.lay(c.polygon(edge), tuple(0.8 * v for v in color), 0.05)


def own_roof(c: Canvas, color: Color) -> None:
    """The roof stood on: a slope across the foot of the picture."""
    left, right, peak = c.rng.uniform(0.85, 1.0), c.rng.uniform(0.85, 1.0), c.rng.uniform(0.2, 0.8)
    top = c.rng.uniform(0.72, 0.86)
    points = np.array([[0, 1], [0, left], [peak, top], [1, right], [1, 1]]) * (c.width, c.height)
    c.lay(c.polygon(points), color, 0.12)


LEAF: Color = (0.03, 0.07, 0.015)
NEEDLE: Color = (0.012, 0.03, 0.012)
GRASS: Color = (0.08, 0.14, 0.03)
SLATE: Color = (0.06, 0.06, 0.07)
BRICK: Color = (0.28, 0.10, 0.06)
WHITE: Color = (0.72, 0.71, 0.69)
BARK: Color = (0.05, 0.04, 0.035)


def _street(c: Canvas, level: float, trees: bool = True) -> None:
    """Houses, trees and poles on a level ground."""
    ground(c, level, GRASS)
    for _ in range(c.rng.integers(2, 5)):
        wall = tuple(c.rng.uniform(0.12, 0.6) * np.array([1.0, 0.93, 0.82]))
        roof = SLATE if c.rng.random() < 0.5 else BRICK
        x, wide = c.rng.uniform(-0.05, 0.9), c.rng.uniform(0.12, 0.25)
        house(c, x, level + c.rng.uniform(0.03, 0.12), wide, c.rng.uniform(0.12, 0.3), wall, roof)
    if trees:
        for _ in range(c.rng.integers(1, 4)):
            conifer(c, c.rng.random(), level + 0.08, c.rng.uniform(0.15, 0.45), NEEDLE)
        for _ in range(c.rng.integers(1, 4)):
            crown(c, c.rng.random(), level - c.rng.uniform(0, 0.2), c.rng.uniform(0.05, 0.14), LEAF)
    mast(c, c.rng.random(), level + 0.05, c.rng.uniform(0.2, 0.4))
    wires(c, level - 0.25, int(c.rng.integers(2, 5)))


def _paint(family: str, c: Canvas, air: Color) -> None:
    """Everything of a family but its sky; ``air`` is the sky's colour at the horizon."""
    far = tuple(0.72 * a + 0.28 * g for a, g in zip(air, (0.05, 0.09, 0.06), strict=True))
    near_hill = tuple(0.35 * a + 0.65 * g for a, g in zip(air, (0.05, 0.09, 0.04), strict=True))
    if family == "open":
        hills(c, c.rng.uniform(0.45, 0.6), 0.03, far)
        hills(c, c.rng.uniform(0.58, 0.68), 0.03, near_hill)
        ground(c, 0.75, GRASS, 0.2)
    elif family == "faint_hills":
        pale = tuple(0.88 * a + 0.12 * g for a, g in zip(air, (0.05, 0.09, 0.06), strict=True))
        hills(c, c.rng.uniform(0.48, 0.6), 0.03, pale)
        _street(c, 0.68, trees=False)
    elif family == "street":
        hills(c, 0.6, 0.02, far)
        _street(c, c.rng.uniform(0.58, 0.68))
        own_roof(c, SLATE)
    elif family == "trees":
        ground(c, 0.7, GRASS)
        for _ in range(5):
            crown(c, c.rng.random(), c.rng.uniform(0.4, 0.6), c.rng.uniform(0.1, 0.2), LEAF, 0.7)
        conifer(c, c.rng.random(), 0.8, 0.55, NEEDLE)
    elif family == "town":
        for _ in range(6):
            wall = tuple(c.rng.uniform(0.15, 0.55) * np.array([1.0, 0.95, 0.9]))
            block(
                c,
                c.rng.uniform(-0.05, 0.9),
                0.8,
                c.rng.uniform(0.07, 0.16),
                c.rng.uniform(0.2, 0.5),
                wall,
            )
        ground(c, 0.78, (0.1, 0.1, 0.1))
        own_roof(c, (0.10, 0.16, 0.30))
    elif family == "chimney":
        hills(c, 0.62, 0.02, far)
        _street(c, 0.66)
        chimney(c, c.rng.uniform(0.1, 0.7), c.rng.uniform(0.1, 0.2), c.rng.uniform(0.1, 0.3), BRICK)
        own_roof(c, BRICK)
    elif family == "white_wall":
        _street(c, 0.66)
        tone = tuple(c.rng.uniform(0.75, 1.02) * a for a in air)
        x, wide, tall = c.rng.uniform(0.1, 0.6), c.rng.uniform(0.2, 0.35), c.rng.uniform(0.35, 0.6)
        house(c, x, 0.9, wide, tall, tone, tone)
    elif family == "snow":
        hills(c, 0.58, 0.03, tuple(0.9 * a for a in air))
        ground(c, 0.68, tuple(0.92 * a for a in air), 0.03)
        bare_tree(c, c.rng.random(), 0.8, 0.4, BARK)
        house(c, c.rng.uniform(0.1, 0.7), 0.8, 0.2, 0.25, BRICK, tuple(0.9 * a for a in air))
    elif family == "bare":
        hills(c, 0.66, 0.02, near_hill)
        ground(c, 0.72, (0.12, 0.10, 0.06))
        for _ in range(3):
            bare_tree(c, c.rng.random(), 0.85, c.rng.uniform(0.5, 0.75), BARK)
    else:
        hills(c, 0.55, 0.02, near_hill)


FAMILIES = (
    "open", "faint_hills", "street", "trees", "town", "chimney", "white_wall", "snow",
    "bare", "water",
)  # fmt: skip
HARD = ("white_wall", "snow", "bare", "water")


def painted(family: str, kind: str, seed: int, height: int = 900, width: int = 1200) -> Sample:
    """A view of a family under a kind of sky; equal arguments make equal pictures."""
    rng = np.random.default_rng([FAMILIES.index(family), SKIES.index(kind), seed])
    above = sky(kind, rng, height, width)
    c = Canvas(rng, height, width)
    horizon = above[int(0.55 * height) : int(0.62 * height)].mean((0, 1))
    air = tuple(float(v) for v in np.minimum(horizon, 1.0))
    _paint(family, c, air)
    light = float(np.clip(above.mean(), 0.12, 0.7)) / 0.6
    size = (width, height)
    solid = cv2.resize(c.solid.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    weighted = cv2.resize(c.color * c.solid[..., None], size, interpolation=cv2.INTER_AREA)
    lit = 1.0 if family in ("white_wall", "snow", "faint_hills", "open") else light
    scene = weighted * lit + (1.0 - solid[..., None]) * above
    if family == "water":
        shore = int(rng.uniform(0.6, 0.66) * height)
        mirrored = scene[shore - 1 :: -1][: height - shore]
        ripple = 1.0 + 0.03 * fractal(rng, *mirrored.shape[:2], 12.0)[..., None]
        scene[shore : shore + len(mirrored)] = rng.uniform(0.6, 0.9) * mirrored * ripple
        solid[shore:] = 1.0
    if rng.random() < 0.3:
        scene = scene + 0.03 * float(above.mean())
    return Sample(f"{family}-{kind}-{seed}", developed(scene, rng), 1.0 - solid)


def developed(scene: Image, rng: Random) -> np.ndarray:
    """Linear light to the bytes of a telephone's picture."""
    blurred = cv2.GaussianBlur(scene, (0, 0), float(rng.uniform(0.4, 0.8)))
    white = float(np.quantile(blurred[::7, ::7], 0.98))
    exposed = blurred * (rng.uniform(0.75, 1.1) / max(white, 0.05))
    grain = rng.uniform(0.002, 0.008)
    exposed = exposed + grain * np.sqrt(np.maximum(exposed, 0.01)) * rng.normal(size=scene.shape)
    srgb = np.clip(exposed, 0.0, 1.0) ** (1 / 2.2)
    srgb = srgb + 0.35 * (srgb - cv2.GaussianBlur(srgb, (0, 0), 1.0))
    bytes_ = np.clip(255.0 * srgb + 0.5, 0, 255).astype(np.uint8)
    quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(80, 95))]
    coded = cv2.imencode(".jpg", bytes_[..., ::-1], quality)[1]
    return cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1].copy()
