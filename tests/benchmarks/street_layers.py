"""Renders the invented streets of ``street_model`` as the layers that ``rendered_layers`` shows.

Needs embreex. ``python tests/benchmarks/street_layers.py FOLDER NAME...`` writes FOLDER/NAME.npz,
about a minute and 150 MB each. Light comes straight from sun and sky; how much of the sky a
surface sees is told by its slope and, in crowns, by its depth. Mixed pixels take ten rays, others
four.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from street_model import MATERIALS, Street, street_of, unit

WIDTH, HEIGHT = 6144, 1536
"""Pixels of the full circle; elevation 60 to -30 degrees."""

CALM_RAYS, MIXED_RAYS = 4, 6
STRIP = 64
"""Rows worked on at once."""

SUN, SUN_COLOR = 3.6, np.array([1.05, 1.0, 0.9], np.float32)
"""Sunlight across its rays as a multiple of that from the whole sky: our own choice."""

SKY_COLOR = np.array([0.9, 1.0, 1.16], np.float32)

NOISE_SIDE = 128


class Textures:
    """Noise in space, looked up in a repeating cube."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng([seed, 5])
        cube = np.fft.rfftn(rng.normal(size=(NOISE_SIDE,) * 3))
        k = np.fft.fftfreq(NOISE_SIDE)
        far = np.sqrt(
            k[:, None, None] ** 2 + k[None, :, None] ** 2 + np.fft.rfftfreq(NOISE_SIDE) ** 2
        )
        smooth = np.fft.irfftn(
            cube / np.maximum(far, 1 / NOISE_SIDE) ** 1.6, s=(NOISE_SIDE,) * 3, axes=(0, 1, 2)
        )
        self.cube = (smooth / smooth.std()).astype(np.float32)
        self.strength = rng.uniform(0.15, 1.3)

    def at(self, place: np.ndarray, voxel_m: float) -> np.ndarray:
        i = np.floor(place / voxel_m).astype(np.int64) & (NOISE_SIDE - 1)
        return self.cube[i[:, 0], i[:, 1], i[:, 2]]


def stripes(v: np.ndarray, spacing: float, joint: float) -> np.ndarray:
    """1 within the joint between courses, else 0."""
    return ((v / spacing) % 1.0 < joint).astype(np.float32)


def albedo(
    street: Street,
    tex: Textures,
    place: np.ndarray,
    normal: np.ndarray,
    material: np.ndarray,
    color: np.ndarray,
) -> np.ndarray:
    """Colour of surfaces hit, (n, 3), linear."""
    far = np.hypot(place[:, 0], place[:, 1])
    mottle = 1 + tex.strength * (0.05 * tex.at(place, 0.06) + 0.035 * tex.at(place, 0.5))
    tone = color * mottle[:, None]
    level = place[:, 2]
    across = place[:, 0] * normal[:, 1] - place[:, 1] * normal[:, 0]
    near = np.clip(1.5 - far / 60.0, 0.0, 1.0)

    def of(name: str) -> np.ndarray:
        return material == MATERIALS.index(name)

    course = of("courses")
    tone[course] *= (1 - 0.35 * near * stripes(level, 0.2, 0.12))[course, None]
    brick = of("bricks")
    shift = np.floor(level / 0.075) % 2 * 0.11
    joint = np.maximum(stripes(level, 0.075, 0.14), stripes(across + shift, 0.22, 0.06))
    own = tex.at(
        np.stack([np.floor((across + shift) / 0.22), np.floor(level / 0.075), across * 0], 1) * 7.0,
        1.0,
    )
    tone[brick] *= (1 + near * (0.12 * own + 0.5 * joint))[brick, None]
    roof = of("shingles")
    rows = np.floor(level / 0.11)
    slate = tex.at(
        np.stack([np.floor(across / 0.3 + rows % 2 * 0.5), rows, rows * 0], 1) * 5.0, 1.0
    )
    tone[roof] *= (
        1 + 0.16 * tex.strength * near * slate - 0.35 * near * stripes(level, 0.11, 0.2)
    )[roof, None]
    grass = of("ground")
    patch = (
        1 + 0.25 * tex.at(place, 0.04) * near + 0.3 * tex.at(place, 3.0) + 0.3 * tex.at(place, 40.0)
    )
    tone[grass] *= np.clip(patch, 0.2, 3.0)[grass, None]
    dry = np.clip(tex.at(place + 50.0, 30.0), 0, 1.5)[:, None] * np.array(
        [0.5, 0.25, 0.0], np.float32
    )
    tone[grass] *= (1 + dry)[grass]
    hill = of("hill")
    wood = 1 + 0.18 * tex.at(place, 6.0) + 0.2 * tex.at(place, 60.0)
    tone[hill] *= np.clip(wood, 0.3, 2.0)[hill, None]
    if street.snow:
        lies = (normal[:, 2] > 0.45) & (tex.at(place, 0.4) < 4 * street.snow - 2) & ~of("glass")
        lies &= ~(of("leaf") & (tex.at(place + 9.0, 0.1) < 0.2))
        lies |= hill & (tex.at(place, 20.0) < 2 * street.snow - 1)
        tone[lies] = np.array([0.82, 0.83, 0.86], np.float32) * (0.9 + 0.05 * mottle[lies, None])
    return np.clip(tone, 0.004, 0.95)


def shades(
    street: Street,
    scene: Any,
    tex: Textures,
    table: tuple,
    at: np.ndarray,
    normal: np.ndarray,
    prim: np.ndarray,
    ray: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Light of hit places in sun and blue sky, and under an even sky of 1. (n, 3) each"""
    material, color, open_ = (column[prim] for column in table)
    normal = unit(normal) * -np.sign((normal * ray).sum(1, keepdims=True))
    tone = albedo(street, tex, at, normal, material, color.copy())
    lit = normal @ street.sun
    leaf = material == MATERIALS.index("leaf")
    facing = np.where(leaf, np.where(lit > 0, 0.75 * lit, -0.45 * lit), np.maximum(lit, 0.0))
    asked = facing > 0.01
    seen = np.zeros(len(at), np.float32)
    start = (at + normal * 0.01 + street.sun * 0.03).astype(np.float32)[asked]
    towards = np.broadcast_to(street.sun.astype(np.float32), start.shape).copy()
    seen[asked] = scene.run(start, towards, query="OCCLUDED") != 0
    low = np.clip(at[:, 2] / 6.0, 0.0, 1.0)
    sky = (0.5 + 0.5 * normal[:, 2]) * (0.72 + 0.28 * low)
    sky = np.where(leaf, 0.75, sky) * open_
    bounced = 0.14 * (0.5 - 0.5 * normal[:, 2]) * (1 + (2.0 if street.snow else 0.0))
    even = tone * (sky + bounced)[:, None]
    shining = glass_of(material, normal, ray, color)
    even = even + shining[:, None]
    sunny = facing * seen * SUN
    clear = (
        tone * (sunny[:, None] * SUN_COLOR + (sky + 2.2 * bounced)[:, None] * SKY_COLOR)
        + shining[:, None] * SKY_COLOR
    )
    return clear.astype(np.float32), even.astype(np.float32)


def glass_of(
    material: np.ndarray, normal: np.ndarray, ray: np.ndarray, color: np.ndarray
) -> np.ndarray:
    """Light that panes mirror from a sky of 1: as much as their colour says, more when grazed."""
    slope = np.abs((normal * ray).sum(1))
    mirrored = ray[:, 2] - 2 * (normal * ray).sum(1) * normal[:, 2]
    share = np.clip(color[:, 0] + 0.7 * (1 - slope) ** 4, 0, 0.9)
    return np.where((material == MATERIALS.index("glass")) & (mirrored > -0.02), share, 0.0)


def rays_of(
    rows: np.ndarray, columns: np.ndarray, rng: np.random.Generator, count: int
) -> np.ndarray:
    """Unit rays through pixels (n,), (n, count, 3); the first four stand in quarters."""
    quarter = np.arange(count) % 4
    dx = (quarter % 2 + rng.random((rows.size, count))) / 2
    dy = (quarter // 2 + rng.random((rows.size, count))) / 2
    az = (columns[:, None] + dx) * 2 * np.pi / WIDTH
    el = np.radians(60.0 - (rows[:, None] + dy) * 90.0 / HEIGHT)
    return np.stack([np.cos(el) * np.sin(az), np.cos(el) * np.cos(az), np.sin(el)], -1).astype(
        np.float32
    )


def render(street: Street, seed: int) -> dict[str, np.ndarray]:
    """The layers: clear, even (H, W, 3), alpha, Z (H, W), float16."""
    from embreex.mesh_construction import TriangleMesh
    from embreex.rtcore_scene import EmbreeScene

    corners, *table = street.mesh.whole()
    scene = EmbreeScene()
    kept = TriangleMesh(scene, np.ascontiguousarray(corners))
    tex, rng = Textures(seed), np.random.default_rng([seed, 6])
    bands = [strip(street, scene, tex, tuple(table), top, rng) for top in range(0, HEIGHT, STRIP)]
    del kept
    return {k: np.concatenate([b[k] for b in bands]).astype(np.float16) for k in bands[0]}


def strip(
    street: Street,
    scene: Any,
    tex: Textures,
    table: tuple,
    top: int,
    rng: np.random.Generator,
) -> dict[str, np.ndarray]:
    rows, columns = (v.ravel() for v in np.mgrid[top : top + STRIP, 0:WIDTH])
    total, first = traced(street, scene, tex, table, rays_of(rows, columns, rng, CALM_RAYS))
    plane = first.reshape(STRIP, WIDTH).astype(np.float32)
    kernel = np.ones((3, 3), np.uint8)
    mixed = (cv2.dilate(plane, kernel) != cv2.erode(plane, kernel)).ravel() | (
        np.ptp(total["kinds"], axis=1) > 0
    )
    count = np.full(rows.size, float(CALM_RAYS))
    if mixed.any():
        more, _ = traced(
            street, scene, tex, table, rays_of(rows[mixed], columns[mixed], rng, MIXED_RAYS)
        )
        for name in ("clear", "even", "alpha"):
            total[name][mixed] += more[name]
        total["Z"][mixed] = np.minimum(total["Z"][mixed], more["Z"])
        count[mixed] += MIXED_RAYS
    shape = STRIP, WIDTH
    found = {k: (total[k] / count[:, None]).reshape(*shape, 3) for k in ("clear", "even")}
    far = np.where(total["alpha"] > 0, np.minimum(total["Z"], 3e4), 0.0).reshape(shape)
    return found | {"alpha": (total["alpha"] / count).reshape(shape), "Z": far}


def traced(
    street: Street, scene: Any, tex: Textures, table: tuple, rays: np.ndarray
) -> tuple[dict[str, np.ndarray], np.ndarray]:
    """Sums over the rays (n, k, 3) of each pixel, and the material first hit (-1 = sky)."""
    n, k, _ = rays.shape
    flat = np.ascontiguousarray(rays.reshape(-1, 3))
    start = np.broadcast_to(street.camera.astype(np.float32), flat.shape).copy()
    hit = scene.run(start, flat, query="INTERSECT", output=1)
    is_hit = hit["primID"] >= 0
    clear, even = np.zeros((n * k, 3), np.float32), np.zeros((n * k, 3), np.float32)
    kind = np.full(n * k, -1, np.int16)
    far = np.full(n * k, np.float32(6e4))
    if is_hit.any():
        ray, prim = flat[is_hit], hit["primID"][is_hit]
        at = street.camera + ray * hit["tfar"][is_hit, None].astype(float)
        clear[is_hit], even[is_hit] = shades(
            street, scene, tex, table, at, hit["Ng"][is_hit], prim, ray
        )
        kind[is_hit] = table[0][prim]
        far[is_hit] = hit["tfar"][is_hit]
    kinds = kind.reshape(n, k)
    total = {
        "clear": clear.reshape(n, k, 3).sum(1),
        "even": even.reshape(n, k, 3).sum(1),
        "alpha": is_hit.reshape(n, k).sum(1).astype(float),
        "Z": far.reshape(n, k).min(1),
        "kinds": kinds,
    }
    return total, kinds[:, 0]


def named(name: str) -> tuple[int, str, float]:
    """Seed, season and share of white walls of a street from its name, a1, h12 and the like."""
    number = int(name[1:])
    season = ("leaf", "leaf", "bare", "snow", "leaf", "leaf", "bare", "leaf")[number % 8]
    white = (0.15, 0.9, 0.2, 0.3, 0.1, 0.35, 0.7, 0.2)[number % 8]
    return 1000 * ord(name[0]) + number, season, white


def main() -> None:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name in sys.argv[2:]:
        start = time.time()
        seed, season, white = named(name)
        layers = render(street_of(seed, season, white), seed)
        np.savez(folder / f"{name}.npz", **layers)
        print(f"{name}: {season}, {time.time() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main()
