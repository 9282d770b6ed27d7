"""The pictures that the skyline is fitted on, and those it is measured on and never fitted.

Learnt from: two sets of paintings, ridges and five rendered streets in all weathers twice, the
gable's sample pictures and two ridge frames. Held out: paintings of another seed, ridges of other
seeds, five other streets, the other sample pictures.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from painted_skies import SKIES
from painted_views import FAMILIES, Sample, painted
from rendered_layers import SAMPLE_STREET, has_layers, open_, street
from rendered_views import sample_pictures
from weathers import KINDS

Picture = tuple[str, Sample, float]
"""Group (open, roof, hard), the picture, its pixels per degree."""

TWISTS = (None, None, None, "chimney", None, "water", None, "wall")
LEARNT, HELD = ("a1", "a2", "a3", "a4", "a5"), ("h1", "h2", "h3", "h4", "h5")
LARGE = ("trees", "bare", "street", "chimney", "snow")
"""Families of which some are painted at twice the size."""
FIRST_SEEDS, HELD_SEED = (0, 300), 1000
SAMPLE_PX_PER_DEG = {"mast": 11.38, "gable": 11.38, "ridge_sweep": 21.46, "ridge_frame": 27.09}
LEARNT_SAMPLES = ("gable_circle", "gable_sector", "ridge_frame_1", "ridge_frame_2")


PLACES = {"a1": 1, "a2": 0, "a3": 2, "a4": 0, "a5": 1}
"""Places of the streets in the first round, which choose seeds and additions; later their order."""


def weathers_of(streets: tuple[str, ...], first: int) -> Iterator[Picture]:
    """Ridges and streets under every weather."""
    for j in range(2):
        for i, kind in enumerate(KINDS):
            yield _picture(open_(kind, first + 10 * j + i + 500))
    for order, name in enumerate(streets, start=1):
        if not has_layers(name):
            print(f"no layers of {name}: left out")
            continue
        place = PLACES[name] if first == 0 else order
        for i, kind in enumerate(KINDS):
            twist = TWISTS[(i * 3 + place * 5) % 8] if kind != "fog" else None
            yield _picture(street(name, kind, first + i * 7 + place, twist=twist))


def _picture(view: object) -> Picture:
    return view.group, Sample(view.name, view.rgb, view.share), view.per_deg


def paintings(held: bool) -> Iterator[Picture]:
    for i, family in enumerate(FAMILIES):
        for j, kind in enumerate(SKIES):
            if held and (i + j) % 3:
                continue
            yield _group(family), painted(family, kind, (909 if held else 1) + (i + j) % 2), 20.0


def _group(family: str) -> str:
    group = "hard" if family in ("white_wall", "snow", "water", "faint_hills") else "roof"
    return "open" if family == "open" else group


def samples(held: bool) -> Iterator[Picture]:
    for sample in sample_pictures():
        if (sample.name in LEARNT_SAMPLES) != held:
            scale = next(v for k, v in SAMPLE_PX_PER_DEG.items() if sample.name.startswith(k))
            yield "roof", sample, scale


def learnt() -> Iterator[Picture]:
    for first in FIRST_SEEDS:
        yield from weathers_of(LEARNT, first)
    yield from paintings(held=False)
    yield from samples(held=False)


def learnt_more() -> Iterator[Picture]:
    """More of what is learnt from: other seeds, other looks at the same streets, some cropped."""
    rng = np.random.default_rng(17)
    for j in range(6):
        for i, kind in enumerate(KINDS):
            yield _cropped(_picture(open_(kind, 7000 + 20 * j + i)), rng)
    for i, family in enumerate(FAMILIES):
        for j, kind in enumerate(SKIES):
            yield _cropped((_group(family), painted(family, kind, 3 + (i + j) % 2), 20.0), rng)
    for place, name in enumerate(LEARNT):
        for i, kind in enumerate(KINDS):
            twist = TWISTS[(i * 5 + place * 3 + 1) % 8] if kind != "fog" else None
            view = street(name, kind, 5000 + i * 7 + place, twist=twist)
            yield _cropped(_picture(view), rng)


def _cropped(picture: Picture, rng: np.random.Generator) -> Picture:
    """Two in five lose some of their top or foot, so that height in the picture teaches little."""
    group, sample, per_deg = picture
    height = len(sample.rgb)
    top, foot = [(0.0, 1.0), (0.0, 1.0), (0.0, 1.0), (0.15, 1.0), (0.0, 0.85)][rng.integers(5)]
    rows = slice(int(top * height), int(foot * height))
    return group, Sample(sample.name, sample.rgb[rows].copy(), sample.sky_share[rows]), per_deg


def fresh() -> Iterator[Picture]:
    """Pictures that no forest learnt from: the sample street in all weathers, other seeds.

    What works on a word about them meets it as wrong as it is on pictures that nobody knows.
    """
    for first, twisted in ((77, False), (177, True)):
        for i, kind in enumerate(KINDS):
            twist = TWISTS[(i * 3 + 5) % 8] if twisted and kind != "fog" else None
            yield _picture(street(SAMPLE_STREET, kind, first + i, twist=twist))
    for i, family in enumerate(FAMILIES):
        for j, kind in enumerate(SKIES):
            if (i + j) % (10 if family in ("open", "water") else 2):
                continue
            large = (i * 3 + j) % 9 == 0 and family in LARGE
            size = (1800, 2400) if large else (900, 1200)
            yield _group(family), painted(family, kind, 21, *size), 20.0
    yield from samples(held=False)
    for i, kind in enumerate(KINDS):
        yield _picture(open_(kind, 9000 + i))


def held_out() -> Iterator[Picture]:
    yield from weathers_of(HELD, HELD_SEED)
    yield from paintings(held=True)
    yield from samples(held=True)
