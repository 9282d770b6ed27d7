"""What lies around a region, and what holds for the picture as a whole."""

from __future__ import annotations

import numpy as np

from skyview.angles import Array
from skyview.outline.coarse import Coarse, coarse_of
from skyview.outline.evidence import FEATURES, WHOLE, evidence_of
from skyview.outline.regions import Regions, regions_of


def half_and_half() -> tuple[Coarse, Regions, Array]:
    """Pale sky over dark ground, and the evidence where that is known."""
    rgb = np.full((300, 400, 3), (190, 210, 235), np.uint8)
    rgb[150:] = (50, 70, 40)
    c = coarse_of(rgb)
    sky = np.zeros(c.shape, np.float32)
    sky[:150] = 1.0
    r = regions_of(c.edge, sky > 0.5)
    hypotheses = [sky > 0.5] * 5
    return c, r, evidence_of(c, r, hypotheses, np.zeros_like(sky), sky)


def test_surroundings_are_those_of_the_regions_middle() -> None:
    c, r, table = half_and_half()
    row = r.mean(np.indices(c.shape)[0].astype(float))
    reach = 0.16 * np.hypot(*c.shape)
    above, below, gap = (
        table[:, FEATURES.index(f"{name}_0.16")]
        for name in ("seen_above", "seen_below", "gap_below")
    )
    low = row - 1.5 * reach > 150
    assert (above[row < 140] > 0.99).all()
    assert (below[row > 160] < 0.01).all()
    assert low.any()
    assert (above[low] < 0.01).all()
    beside = (row < 150) & (row + 0.6 * reach > 150)
    assert beside.any()
    assert (gap[beside] > 3.0).all()


def test_the_whole_picture_is_told_alike_to_every_region() -> None:
    _, _, table = half_and_half()
    whole = table[:, [FEATURES.index(name) for name in WHOLE]]
    assert (whole == whole[0]).all()
    told = dict(zip(WHOLE, whole[0].tolist(), strict=True))
    assert abs(told["sky_share"] - 0.5) < 0.01
    assert told["sky_light"] > told["solid_light"] + 30
    assert told["sky_blue"] < -5 < told["solid_blue"]
