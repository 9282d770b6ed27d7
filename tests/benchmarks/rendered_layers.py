"""Pictures of rendered streets, photographed horizons and open ridges under any weather.

Their shares of sky are exact. A street comes as layers over the full circle (elevation 60 to -30
degrees), a file STREET.npz in the folder LAYERS, as ``street_layers`` renders them: ``clear`` and
``even``, linear light of the street in sun and blue sky and under an even sky of 1, ``alpha`` its
coverage, ``Z`` its depth in metres. a1 to a24 are learnt from, h1 to h10 never were; each is laid
out anew. The layers (150 MB a street) are not kept here. Ridges need none, nor does the street of
the sample pictures (``sample_layers``), which came out of another renderer.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from real_horizons import HORIZONS, SNOWY, has_horizon, horizon_layers
from sample_layers import sample_street
from weathers import KINDS, fractal_tile, sky_by_direction

LAYERS = Path("layers")
SNOW_OF_EIGHT = 3
"""Streets whose number leaves this when divided by eight lie in snow, as ``street_layers`` says."""

SEEN_CONTRAST = 0.02
"""A hill whose edge stands out less, as a share of the light behind it, counts as sky: the least
contrast by which Koschmieder defined how far one sees (Beitraege zur Physik der freien Atmosphaere
12, 1924; from memory)."""

SEEN_BYTES = 1.5
"""So does one whose edge is lost in the picture, burnt out: the step of its coded light, at least;
our own choice."""

SAMPLE_STREET = "b1"
"""The street of the sample pictures, in leaf; its layers are made of what is kept here."""


@dataclass
class View:
    name: str
    group: str
    rgb: np.ndarray
    share: np.ndarray
    per_deg: float


def has_layers(name: str) -> bool:
    if name in HORIZONS:
        return has_horizon(name)
    return name == SAMPLE_STREET or (LAYERS / f"{name}.npz").exists()


def is_snowy(name: str) -> bool:
    if name in HORIZONS or name == SAMPLE_STREET:
        return name in SNOWY
    return int(name[1:]) % 8 == SNOW_OF_EIGHT


@lru_cache(2)
def scene(name):
    if name == SAMPLE_STREET:
        return sample_street()
    if name in HORIZONS:
        return horizon_layers(name)
    z = np.load(LAYERS / f"{name}.npz")
    return {k: z[k].astype(np.float32) for k in ("clear", "even", "alpha", "Z")}


def look(p, az, el, interp=cv2.INTER_LINEAR):
    per_deg = p.shape[1] / 360.0
    u = np.mod(np.degrees(az), 360) * per_deg - 0.5 + 8
    v = (60 - np.degrees(el)) * per_deg - 0.5
    q = np.concatenate([p[:, -8:], p, p[:, :8]], 1)
    return cv2.remap(
        q, u.astype(np.float32), v.astype(np.float32), interp, borderMode=cv2.BORDER_REPLICATE
    )


def camera(rng, kind, width, height, steepest=16):
    """azimuth, elevation of every pixel; pixels per degree in the middle."""
    u, v = np.meshgrid(np.arange(width) + 0.5 - width / 2, np.arange(height) + 0.5 - height / 2)
    yaw = rng.uniform(0, 2 * np.pi)
    if kind == "cyl":
        span = np.radians(rng.uniform(70, 170))
        s = width / span
        top = np.radians(rng.uniform(25, 50))
        vv = np.tan(top) - (v + height / 2) / s
        return yaw + u / s, np.arctan(vv), s * np.pi / 180
    f = width / 2 / np.tan(np.radians(rng.uniform(48, 74)) / 2)
    pitch, roll = np.radians(rng.uniform(-2, steepest)), np.radians(rng.uniform(-4, 4))
    x = u * np.cos(roll) - v * np.sin(roll)
    y = -(u * np.sin(roll) + v * np.cos(roll))
    fw = f * np.cos(pitch) - y * np.sin(pitch)
    up = f * np.sin(pitch) + y * np.cos(pitch)
    return yaw + np.arctan2(x, fw), np.arctan2(up, np.hypot(x, fw)), f * np.pi / 180


def develop(rng, light, quality=None):
    """Linear light to the bytes of some telephone: optics, exposure, tones, grain, JPEG."""
    h, w = light.shape[:2]
    light = cv2.GaussianBlur(light, (0, 0), rng.uniform(0.35, 0.9))
    y, x = np.mgrid[-1 : 1 : h * 1j, -1 : 1 : w * 1j]
    light = light * (1 - rng.uniform(0, 0.35) * (x**2 + y**2) / 2)[..., None]
    light = light * (1 + rng.normal(size=3) * 0.05).astype(np.float32)
    m = light.mean(-1)[::5, ::5]
    ev = 0.75 / max(np.quantile(m, rng.uniform(0.72, 0.97)), 0.02) * rng.uniform(0.75, 1.25)
    even = light * ev
    even = (
        even
        + rng.uniform(0.001, 0.012)
        * np.sqrt(np.maximum(even, 0.01))
        * cv2.GaussianBlur(rng.normal(size=light.shape).astype(np.float32), (0, 0), 0.5)
        * 1.6
    )
    even = np.maximum(even, 0)
    if rng.random() < 0.5:
        even = np.where(even > 0.7, 0.7 + 0.3 * np.tanh((even - 0.7) / 0.3), even)
    if rng.random() < 0.35:  # phone-like local tone mapping: lift shadows
        lum = cv2.GaussianBlur(even.mean(-1), (0, 0), w / 25.0)
        even = even * ((lum + 0.25) / (0.75 + 1e-6) / (lum + 1e-3)).clip(0.7, 3)[
            ..., None
        ] ** rng.uniform(0.2, 0.5)
    s = np.clip(even, 0, 1)
    s = np.where(s < 0.0031308, 12.92 * s, 1.055 * s ** (1 / 2.4) - 0.055)
    s = s + rng.uniform(0, 0.7) * (s - cv2.GaussianBlur(s, (0, 0), 1.1))
    g = s.mean(-1, keepdims=True)
    s = g + (s - g) * rng.uniform(0.75, 1.7)
    if rng.random() < 0.5:
        s = 0.5 + (s - 0.5) * rng.uniform(0.8, 1.35)
    b = (np.clip(s, 0, 1) * 255 + 0.5).astype(np.uint8)
    q = quality or int(rng.integers(62, 96))
    return cv2.imdecode(cv2.imencode(".jpg", b[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, q])[1], 1)[
        ..., ::-1
    ].copy()


def size_of(rng, kind):
    w = int(rng.choice([1000, 1280, 1600]))
    return (
        (w, int(w * 0.75))
        if kind == "pin" and rng.random() < 0.7
        else (w, int(w * rng.uniform(0.4, 0.6)))
        if kind == "cyl"
        else (int(w * 0.75), w)
    )


def street(name, kind, seed, twist=None, size=None, cam=None, odd=False, behind=None):
    """twist: None, 'water', 'wall', 'chimney'; ``odd`` views show little sky, or little else.

    ``behind``: linear light of a photographed sky in place of the kind's, but for 'water'.
    """
    rng = np.random.default_rng([seed, KINDS.index(kind), sum(map(ord, name))])
    layers = scene(name)
    ck = cam or ("pin" if rng.random() < 0.65 else "cyl")
    w, h = size or size_of(rng, ck)
    for _ in range(30):
        az, el, per = camera(rng, ck, w, h, 34 if odd else 16)
        a = look(layers["alpha"], az, el)
        m = np.clip(1 - a, 0, 1).mean()
        least, most, at_top = (0.04, 0.97, 0.08) if odd else (0.12, 0.85, 0.25)
        if least < m < most and (1 - a[: max(2, h // 50)]).mean() > at_top:
            break
    sunlit, even, depth = (
        look(layers[k], az, el, cv2.INTER_LINEAR if k != "Z" else cv2.INTER_NEAREST)
        for k in ("clear", "even", "Z")
    )
    cover = np.clip(a, 0, 1)
    light, sunny, tint, vis = sky_by_direction(kind, rng, az, el)
    if behind is not None:
        own = float(np.minimum(light, 2).mean())
        turned = behind[:, ::-1] if rng.random() < 0.5 else behind
        light = cv2.resize(np.ascontiguousarray(turned), (w, h), interpolation=cv2.INTER_AREA)
        light = light * (own / max(float(light.mean()), 1e-3))
    up = float(sky_mean(light, el))
    seen = (sunny * sunlit + (1 - sunny) * even) * up * np.array(tint, np.float32)
    d = np.where(cover > 0, np.minimum(depth, 3e4), 3e4)
    through = np.exp(-d / vis)[..., None]
    hor = horizon(light, az, el)
    seen = seen * through + cover[..., None] * (1 - through) * hor
    if name not in HORIZONS and name != SAMPLE_STREET:
        light, hills = with_hills(
            np.random.default_rng([seed, 31]), light, az, el, per, vis, up, hor
        )
    else:
        hills = []
    if twist == "water":
        e0 = np.radians(rng.uniform(-6, -1))
        el2 = np.where(
            el < e0,
            2 * e0
            - el
            + np.radians(0.25)
            * cv2.GaussianBlur(rng.normal(size=el.shape), (0, 0), 2.5, sigmaY=1.0)
            * 3,
            el,
        )
        low = el < e0
        light2, _, _, _ = sky_by_direction(kind, np.random.default_rng(seed), az, el2)
        sunlit2, even2, cover2 = (look(layers[k], az, el2) for k in ("clear", "even", "alpha"))
        cover2 = np.clip(cover2, 0, 1)
        mirrored = (sunny * sunlit2 + (1 - sunny) * even2) * up + (1 - cover2[..., None]) * light2
        k = rng.uniform(0.5, 0.85)
        seen = np.where(low[..., None], k * mirrored, seen)
        cover = np.where(low, 1, cover)
    scene_l = seen + (1 - cover)[..., None] * light
    if twist == "wall":
        big = wall_mask(rng, az, el)
        tone = (
            rng.uniform(0.8, 1.08) * np.median(light[el > 0.1], 0)
            if (el > 0.1).any()
            else light.mean((0, 1))
        )
        tex = (
            1
            + 0.012
            * cv2.GaussianBlur(rng.normal(size=az.shape).astype(np.float32), (0, 0), 2)[..., None]
            * 4
        )
        scene_l = scene_l * (1 - big[..., None]) + big[..., None] * tone * tex
        cover = 1 - (1 - cover) * (1 - big)
    if twist == "chimney":
        big = wall_mask(rng, az, el, narrow=True)
        t = rng.uniform(0.08, 0.5) * up * np.array([1, rng.uniform(0.5, 1), rng.uniform(0.4, 1)])
        v = fractal_tile(rng, 256, 64)
        tex = 1 + 0.15 * cv2.resize(v, az.shape[::-1])[..., None]
        scene_l = scene_l * (1 - big[..., None]) + big[..., None] * t * np.maximum(tex, 0.2)
        cover = 1 - (1 - cover) * (1 - big)
    if kind == "glare":
        bl = cv2.GaussianBlur(
            cv2.resize(
                np.minimum(light * (1 - cover)[..., None], 8),
                None,
                fx=0.1,
                fy=0.1,
                interpolation=cv2.INTER_AREA,
            ),
            (0, 0),
            w / 70.0,
        )
        scene_l = scene_l + 0.05 * cv2.resize(bl, (w, h))
    plain = "open" if name in HORIZONS else "roof"
    group = "hard" if twist in ("wall", "water") or is_snowy(name) or kind == "fog" else plain
    rgb = develop(rng, scene_l.astype(np.float32))
    share = (1 - cover) * (1 - seen_cover(rgb, hills, 1 - cover))
    return View(
        f"{name}-{kind}-{twist or 'plain'}-{seed}", group, rgb, share.astype(np.float32), per
    )


def with_hills(rng, light, az, el, per, vis, up, hor):
    """The sky with hills before it in half of all pictures, and what each of them covers."""
    hills = []
    if rng.random() < 0.5:
        return light, hills
    az0 = np.degrees(az) % 360
    for d in np.sort(rng.uniform(2500, 15000, int(rng.integers(1, 3))))[::-1]:
        f = fractal_tile(rng, 1024, 512, rng.uniform(0.4, 0.6), 10)[int(rng.integers(1024))]
        crest = np.radians(rng.uniform(-0.3, 1.2)) + np.radians(rng.uniform(0.4, 2.2)) * np.interp(
            az0 / 360 * 1024 % 1024, np.arange(1025), np.append(f, f[0])
        )
        cov = np.clip((crest - el) * 180 / np.pi * per + 0.5, 0, 1).astype(np.float32)
        tones = [[0.05, 0.08, 0.035], [0.12, 0.10, 0.06], [0.07, 0.075, 0.05], [0.5, 0.5, 0.52]]
        tone = np.array(tones[int(rng.choice([0, 0, 1, 1, 2, 3]))], np.float32) * up
        wood = cv2.resize(fractal_tile(rng, 512, 128, 0.7), az.shape[::-1])[..., None]
        through = np.exp(-d / vis)
        col = tone * rng.uniform(0.8, 2.0) * np.maximum(1 + 0.2 * wood, 0.2) * through
        col = col + (1 - through) * hor
        if is_seen(col, light, cov):
            hills.append(cov)
        light = light * (1 - cov[..., None]) + cov[..., None] * col
    return light, hills


def is_seen(hill, behind, cov):
    """Whether a hill's upper edge stands out from what is behind it, or counts as sky."""
    edge = (cov > 0.9) & (cv2.erode(cov, np.ones((25, 1), np.uint8)) < 0.9)
    if not edge.any():
        return True
    contrast = np.abs(hill - behind)[edge].mean(-1) / np.maximum(behind[edge].mean(-1), 1e-3)
    return float(np.median(contrast)) >= SEEN_CONTRAST


def seen_cover(rgb, hills, free):
    """What hills cover that stand out in the picture too, where it is ``free`` (h, w) of others."""
    far = np.zeros(free.shape, np.float32)
    grey = cv2.blur(rgb, (9, 1)).astype(np.float32)
    for cov in reversed(hills):  # the nearest first: it hides others' crests
        rows, columns = (cov > 0.5).argmax(0), np.arange(cov.shape[1])
        above, below = np.maximum(rows - 3, 0), np.minimum(rows + 3, len(cov) - 1)
        open_there = free * (1 - far)
        there = (rows > 3) & (open_there[above, columns] > 0.9) & (free[below, columns] > 0.9)
        step = np.abs(grey[above, columns] - grey[below, columns]).mean(-1)
        if not there.any() or np.median(step[there]) >= SEEN_BYTES:
            far = 1 - (1 - far) * (1 - cov)
    return far


def sky_mean(light, el):
    w = np.cos(el) * np.clip(np.sin(el) + 0.2, 0, 1)
    return (np.minimum(light, 2).mean(-1) * w).sum() / w.sum()


def horizon(light, az, el):
    k = (el > 0.0) & (el < 0.06)
    if not k.any():
        k = np.abs(el) < 0.2
    if not k.any():
        return light.reshape(-1, 3).mean(0)
    return np.minimum(light[k], 1.3).mean(0)


def wall_mask(rng, az, el, narrow=False):
    x = np.degrees(np.mod(az - az[az.shape[0] // 2, az.shape[1] // 2] + np.pi, 2 * np.pi) - np.pi)
    y = np.degrees(el)
    half = np.abs(x).max()
    c = rng.uniform(-0.6, 0.6) * half
    wd = rng.uniform(3, 9) if narrow else rng.uniform(8, 0.35 * half + 8)
    top = rng.uniform(6, 22)
    slope = 0 if narrow or rng.random() < 0.5 else rng.uniform(0.2, 0.6)
    s = np.minimum(np.minimum(x - c + wd, c + wd - x), top - slope * np.abs(x - c) - y) * 15
    return np.clip(s + 0.5, 0, 1).astype(np.float32)


def open_(kind, seed, size=None):
    """Ridges behind each other, hazed by distance, wooded edges; no street."""
    rng = np.random.default_rng([seed, KINDS.index(kind), 99])
    w, h = size or size_of(rng, "cyl" if rng.random() < 0.5 else "pin")
    ck = "cyl" if w > 1.7 * h else "pin"
    az, el, per = camera(rng, ck, w, h)
    el = el - max(0.0, float(el[-1].max()) + np.radians(rng.uniform(3, 15)))
    light, sunny, _tint, vis = sky_by_direction(kind, rng, az, el)
    up = sky_mean(light, el)
    scene_l = light.copy()
    hills = []
    hor = horizon(light, az, el)
    n = int(rng.integers(2, 5))
    az0 = np.degrees(az) % 360
    for i in range(n):
        d = np.geomspace(rng.uniform(8e3, 40e3), rng.uniform(300, 2000), n)[i]
        relief = np.radians(rng.uniform(1, 8) if i == 0 else rng.uniform(0.5, 3))
        f = fractal_tile(rng, 1024, 512, rng.uniform(0.4, 0.6), 10)[int(rng.integers(1024))]
        base = np.radians(1.5 - 2.5 * i)
        ridge = base + relief * 0.5 * np.interp(
            az0 / 360 * 1024 % 1024, np.arange(1025), np.append(f, f[0])
        )
        fine = rng.normal(size=20000)
        fine = cv2.GaussianBlur(fine[None], (0, 0), rng.uniform(1, 4))[0]
        fine = np.clip(fine / fine.std() * 0.3 + 0.3, 0, 1)
        tree = np.degrees(0) + (rng.uniform(4, 14) / d) * np.interp(
            az0 / 360 * 20000, np.arange(20000), fine
        )
        ridge = ridge + (tree if rng.random() < 0.8 else 0)
        cov = np.clip((ridge - el) * 180 / np.pi * per + 0.5, 0, 1).astype(np.float32)
        tone = (
            np.array(
                [[0.05, 0.08, 0.035], [0.12, 0.10, 0.06], [0.07, 0.075, 0.05], [0.8, 0.8, 0.84]][
                    int(rng.choice([0, 0, 1, 2, 3] if rng.random() < 0.35 else [0, 1, 2]))
                ],
                np.float32,
            )
            * up
            * (1.6 if sunny > 0.5 else 0.9)
        )
        t = cv2.resize(fractal_tile(rng, 512, 128, 0.7), (w, h)) * 0.25 + 0.15 * rng.normal(
            size=az.shape
        )
        through = np.exp(-d / vis)
        col = (tone * np.maximum(1 + t[..., None], 0.2)) * through + (1 - through) * hor
        if is_seen(col, scene_l, cov):
            hills.append(cov)
        scene_l = scene_l * (1 - cov[..., None]) + cov[..., None] * col
    rgb = develop(rng, scene_l.astype(np.float32))
    cover = seen_cover(rgb, hills, np.ones(az.shape, np.float32))
    return View(f"open-{kind}-{seed}", "open" if kind != "fog" else "hard", rgb, 1 - cover, per)
