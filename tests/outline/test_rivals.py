"""The rival ways of finding the sky, on pictures drawn by hand."""

from __future__ import annotations

import numpy as np

from skyview.outline.coarse import coarse_of
from skyview.outline.evidence import FEATURES, evidence_of
from skyview.outline.pieces import grown
from skyview.outline.regions import regions_of
from skyview.outline.rivals import flooded_sky, hypotheses_of, sealed_sky, sky_over_ridge
from skyview.outline.verdict import sky_probability


def hazy_hills() -> tuple[np.ndarray, np.ndarray]:
    """A pale sky over hills a little darker and a dark plain; rows of the hills' edge."""
    rng = np.random.default_rng(3)
    rgb = np.full((300, 400, 3), (205, 210, 215), float)
    edge = (180 + 8 * np.sin(np.arange(400) / 40.0)).astype(int)
    below = np.arange(300)[:, None] >= edge
    rgb[below] -= 6.0
    rgb[210:] = (50, 70, 40)
    noisy = rgb + rng.normal(0, 1.0, rgb.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8), edge


def test_a_faint_ridge_line_is_followed() -> None:
    rgb, edge = hazy_hills()
    c = coarse_of(rgb)
    plain = np.broadcast_to(np.arange(300)[:, None] < 210, (300, 400))
    found = sky_over_ridge(c, plain).sum(0)
    assert np.median(np.abs(found - edge)) <= 2


def test_without_a_ridge_the_sky_keeps_its_foot() -> None:
    rng = np.random.default_rng(4)
    rgb = np.full((300, 400, 3), (205, 210, 215), float) + rng.normal(0, 1.0, (300, 400, 3))
    rgb[210:] = (50, 70, 40)
    c = coarse_of(rgb.astype(np.uint8))
    plain = np.broadcast_to(np.arange(300)[:, None] < 210, (300, 400))
    assert sky_over_ridge(c, plain).mean() > 0.95 * plain.mean()


def test_floods_stop_at_a_wall_across_the_picture() -> None:
    rgb = np.full((300, 400, 3), (205, 210, 215), np.uint8)
    rgb[150:] = (50, 70, 40)
    for flood in (flooded_sky, sealed_sky):
        covered = flood(coarse_of(rgb))
        assert covered[:140].mean() > 0.99
        assert covered[160:].mean() < 0.01


def test_every_region_has_finite_evidence() -> None:
    rgb, _ = hazy_hills()
    c = coarse_of(rgb)
    growth = grown(c, lambda table, *_: sky_probability(table))
    hypotheses = hypotheses_of(rgb, c, growth)
    r = regions_of(c.edge, hypotheses[1])
    table = evidence_of(c, r, hypotheses, growth.doubt, np.mean(hypotheses, 0, np.float32))
    assert table.shape == (r.count, len(FEATURES))
    assert np.isfinite(table).all()
