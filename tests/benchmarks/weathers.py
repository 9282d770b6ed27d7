"""Invented skies by direction (azimuth, elevation in radians), in linear light.

1 is about a bright cloud; everything comes from the generator handed in. Made apart from
``painted_skies``, so that what was learnt on the one is tried on the other.
"""

from __future__ import annotations

import cv2
import numpy as np


def fractal_tile(rng, n=1024, coarsest=512, gain=0.55, octaves=9):
    t = np.zeros((n, n), np.float32)
    w = 1.0
    c = coarsest
    for _ in range(octaves):
        k = max(2, round(n / c))
        g = rng.normal(size=(k, k)).astype(np.float32)
        g = np.pad(g, 3, mode="wrap")
        big = cv2.resize(g, None, fx=n / k, fy=n / k, interpolation=cv2.INTER_CUBIC)
        o = round(3 * n / k)
        t += w * big[o : o + n, o : o + n]
        w *= gain
        c /= 2
        if c < 1:
            break
    return (t - t.mean()) / t.std()


def plane(f, az, el, height, zoom):
    """Sample a cloud deck of noise above: flat earth, finite at the horizon."""
    r = height / np.tan(np.maximum(el, 0) + 0.05)
    x = (r * np.sin(az) * zoom * 97) % f.shape[1]
    y = (r * np.cos(az) * zoom * 97) % f.shape[0]
    g = np.pad(f, ((0, 2), (0, 2)), mode="wrap")
    v = cv2.remap(g, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
    # far away the deck blurs
    s = cv2.GaussianBlur(f, (0, 0), 12)
    g2 = np.pad(s, ((0, 2), (0, 2)), mode="wrap")
    v2 = cv2.remap(g2, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
    k = np.clip((el - 0.02) / 0.15, 0, 1)
    return v * k + v2 * (1 - k)


def mix(a, b, t):
    return a + np.asarray(t)[..., None] * (np.asarray(b, np.float32) - a)


def clear(rng, az, el, turb):
    """Blue that pales towards the horizon; turb 0 mountain air .. 1 thick haze."""
    z = np.exp(-np.maximum(el, 0) / (0.12 + 0.35 * turb))
    top = np.array([0.10, 0.22, 0.52], np.float32) * rng.uniform(0.6, 1.2)
    top = top + turb * np.array([0.16, 0.17, 0.12], np.float32)
    low = np.array([0.46, 0.58, 0.74], np.float32) * (1 - turb) + turb * np.array(
        [0.80, 0.82, 0.84], np.float32
    )
    light = mix(np.broadcast_to(top, (*az.shape, 3)).astype(np.float32), low, z)
    sun = rng.uniform(0, 2 * np.pi)
    light *= (1 + 0.35 * np.cos(az - sun) * np.exp(-np.maximum(el, 0)))[..., None]
    return light.astype(np.float32)


KINDS = (
    "blue",
    "milky",
    "overcast",
    "flat",
    "stratus",
    "broken",
    "cumulus",
    "cirrus",
    "dusk",
    "afterglow",
    "glare",
    "storm",
    "front",
    "fog",
)


def sky_by_direction(kind, rng, az, el):
    """radiance (h, w, 3) float32; (sun share of light, tint of light, visibility in m)."""
    f = fractal_tile(rng)
    e = np.maximum(el, 0)
    if kind == "blue":
        return clear(rng, az, el, rng.uniform(0, 0.3)), 1.0, (1, 1, 1), rng.uniform(15e3, 60e3)
    if kind == "milky":
        return clear(rng, az, el, rng.uniform(0.6, 1.1)), 0.6, (1, 1, 1), rng.uniform(4e3, 12e3)
    if kind in ("overcast", "flat", "fog"):
        a = rng.uniform(0.55, 0.95)
        g = (1 + 2 * np.sin(e)) / 3 if rng.random() < 0.5 else np.ones_like(e) * 0.9
        g = 0.55 + 0.45 * g
        light = (
            a
            * g
            * (
                1
                + (0 if kind != "overcast" else rng.uniform(0.03, 0.10))
                * plane(f, az, el, 1.0, rng.uniform(0.6, 2.0))
            )
        )
        light = light[..., None] * np.array([1, 1, rng.uniform(1.0, 1.08)], np.float32)
        return (
            light.astype(np.float32),
            0.0,
            (1, 1, 1.03),
            rng.uniform(300, 1500) if kind == "fog" else rng.uniform(5e3, 25e3),
        )
    if kind == "stratus":
        light = (
            0.6
            + 0.16 * plane(f, az, el, 1.0, rng.uniform(0.5, 1.5))
            + 0.05 * plane(fractal_tile(rng), az, el, 1.0, 3.0)
        )
        light = np.maximum(light, 0.15)[..., None] * np.array([0.97, 1, 1.05], np.float32)
        return light.astype(np.float32), 0.0, (1, 1, 1.03), rng.uniform(6e3, 30e3)
    if kind in ("broken", "cumulus", "front"):
        light = clear(rng, az, el, rng.uniform(0, 0.4))
        p = plane(f, az, el, 1.0, rng.uniform(0.6, 1.8))
        th = rng.uniform(-0.4, 0.9)
        soft = rng.uniform(0.05, 0.25) if kind == "cumulus" else rng.uniform(0.3, 0.9)
        cov = np.clip((p - th) / soft, 0, 1)
        if kind == "front":
            d = rng.uniform(0, 6.28)
            cov = np.clip((np.cos(az - d) * 1.3 + 0.25 * p - 0.3) / soft * 0.6, 0, 1)
        thick = np.clip((p - th) / 1.6, 0, 1)
        bright = rng.uniform(0.9, 1.25)
        dark = rng.uniform(0.35, 0.75)
        tone = (
            bright
            - (bright - dark) * thick * np.clip(0.4 + e * 1.5, 0, 1)
            + 0.05 * plane(fractal_tile(rng), az, el, 1.0, 5.0)
        )
        cloud = np.maximum(tone, 0.1)[..., None] * np.array([1, 1, 1.04], np.float32)
        # far clouds take the horizon's haze
        far = np.exp(-e / 0.08)[..., None]
        cloud = cloud * (1 - 0.6 * far) + 0.6 * far * clear(rng, az, el, 0.6)
        return (
            (light + cov[..., None] * (cloud - light)).astype(np.float32),
            rng.choice([1.0, 0.25]),
            (1, 1, 1),
            rng.uniform(12e3, 50e3),
        )
    if kind == "cirrus":
        light = clear(rng, az, el, 0.2)
        p = plane(cv2.GaussianBlur(f, (0, 0), 9, sigmaY=0.8), az, el, 1.0, 0.7)
        c = np.clip((p / (p.std() + 1e-6) + 0.3) / 2.5, 0, 1)
        light = mix(light, (0.82, 0.84, 0.87), 0.75 * c)
        if rng.random() < 0.6:  # contrail: sharp line
            a0 = rng.uniform(0, 6.28)
            y = rng.uniform(0.2, 0.7) + rng.uniform(-0.5, 0.5) * (
                np.mod(az - a0 + np.pi, 2 * np.pi) - np.pi
            )
            light = mix(
                light,
                (1.0, 1.0, 1.02),
                0.8 * np.exp(-(((el - y) / rng.uniform(0.003, 0.012)) ** 2)),
            )
        return light.astype(np.float32), 1.0, (1, 1, 1), rng.uniform(15e3, 50e3)
    if kind in ("dusk", "afterglow"):
        s = rng.uniform(0, 6.28)
        tow = 0.5 + 0.5 * np.cos(az - s)
        z = np.exp(-e / 0.25)
        top = np.array([0.05, 0.08, 0.18], np.float32) * rng.uniform(0.5, 1.5)
        warm = np.array([0.75, 0.36, 0.16], np.float32) * rng.uniform(0.5, 1.0)
        cool = np.array([0.30, 0.25, 0.30], np.float32) * rng.uniform(0.4, 1.0)
        light = mix(np.broadcast_to(top, (*az.shape, 3)).astype(np.float32), 0, 0 * z)
        low = cool + (warm - cool) * tow[..., None]
        light = light + z[..., None] * (low - light)
        if kind == "dusk":
            p = plane(f, az, el, 1.0, 1.0)
            c = np.clip((p - 0.2) / 0.6, 0, 1)
            under = warm * 0.8 * z[..., None] + np.array([0.07, 0.06, 0.08], np.float32)
            light = light + (0.85 * c)[..., None] * (under - light)
        return (
            np.maximum(light, 0.01).astype(np.float32),
            0.0,
            (0.8, 0.85, 1.15),
            rng.uniform(8e3, 40e3),
        )
    if kind == "glare":
        light = clear(rng, az, el, rng.uniform(0.1, 0.6))
        s = az.mean() + rng.uniform(-0.5, 0.5)
        h = rng.uniform(0.05, 0.6)
        c = np.sin(el) * np.sin(h) + np.cos(el) * np.cos(h) * np.cos(az - s)
        th = np.degrees(np.arccos(np.clip(c, -1, 1)))
        light = light + (
            np.clip((0.35 - th) / 0.1, 0, 1) * 60
            + 5 * np.exp(-th / 1.2)
            + 1.2 * np.exp(-th / 5)
            + 0.35 * np.exp(-th / 16)
        )[..., None] * np.array([1, 0.95, 0.86], np.float32)
        return light.astype(np.float32), 1.0, (1, 0.95, 0.85), rng.uniform(6e3, 30e3)
    if kind == "storm":
        p = plane(f, az, el, 1.0, rng.uniform(0.5, 1.2))
        light = 0.20 + 0.08 * p + 0.03 * plane(fractal_tile(rng), az, el, 1.0, 4.0)
        light = np.maximum(light, 0.05) * (0.6 + 0.5 * np.exp(-e / 0.15) * rng.uniform(0.4, 1.8))
        light = light[..., None] * np.array([0.9, 0.97, 1.08], np.float32)
        return light.astype(np.float32), rng.choice([0.0, 0.4]), (1, 1, 1), rng.uniform(4e3, 25e3)
    raise ValueError(kind)
