"""The pictures that the skyline is fitted on, and those it is measured on and never fitted.

Learnt from: photographs whose sky was marked by hand, as they are, in parts and before invented
skies; their skies behind streets; paintings, ridges, 24 rendered streets and that of the sample
pictures in all weathers, the gable's sample pictures and two ridge frames. Held out: photographs of
other places, horizons photographed elsewhere, ten other streets, paintings of another seed, ridges
of other seeds, the other sample pictures (of the street that the gable's show too). A picture is
made when its task is called.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from painted_skies import SKIES
from painted_views import FAMILIES, Sample, painted
from photographs import marked, photograph, sky_only, under, varied
from real_horizons import HORIZONS
from rendered_layers import SAMPLE_STREET, View, has_layers, open_, street
from rendered_views import sample_names, sample_picture
from weathers import KINDS

Picture = tuple[str, Sample, float]
"""Group (open, roof, hard), the picture, its pixels per degree."""

Task = partial[Picture]

TWISTS = (None, None, None, "chimney", None, "water", None, "wall")
LEARNT, HELD = (tuple(f"{key}{k}" for k in range(1, n + 1)) for key, n in (("a", 24), ("h", 10)))
"""Streets, each seen in every other weather a round."""

LARGE = ("trees", "bare", "street", "chimney", "snow")
"""Families of which some are painted at twice the size."""

PARTS, INVENTED, BEHIND = 1, 1, 1
"""How often photographs are learnt from in parts, under other skies, their skies behind streets."""

HELD_SEED, HELD_PAINTED = 1000, 909
SAMPLE_PX_PER_DEG = {"mast": 11.38, "gable": 11.38, "ridge_sweep": 21.46, "ridge_frame": 27.09}
LEARNT_SAMPLES = ("gable_circle", "gable_sector", "ridge_frame_1", "ridge_frame_2")


def key_of(task: Task) -> str:
    """A name of a task's own, fit for a file."""
    told = [key_of(v) if isinstance(v, partial) else str(v) for v in task.args]
    return "-".join([task.func.__name__.strip("_"), *told])


def _picture(view: View) -> Picture:
    return view.group, Sample(view.name, view.rgb, view.share), view.per_deg


def _ridge(kind: str, seed: int) -> Picture:
    return _picture(open_(kind, seed))


def _street(
    name: str, kind: str, seed: int, twist: str | None = None, odd: bool = False
) -> Picture:
    return _picture(street(name, kind, seed, twist=twist, odd=odd))


def _before(name: str, kind: str, seed: int, picture: str, twist: str | None = None) -> Picture:
    """A street before the sky of a photograph."""
    return _picture(street(name, kind, seed, twist=twist, behind=sky_only(picture)))


def _painting(family: str, kind: str, seed: int, large: bool = False) -> Picture:
    size = (1800, 2400) if large else (900, 1200)
    group = "hard" if family in ("white_wall", "snow", "water", "faint_hills") else "roof"
    sample = painted(family, kind, seed, *size)
    return "open" if family == "open" else group, sample, 40.0 if large else 20.0


def _sample(name: str) -> Picture:
    scale = next(v for k, v in SAMPLE_PX_PER_DEG.items() if name.startswith(k))
    return "roof", sample_picture(name), scale


def _cropped(task: Task, seed: int) -> Picture:
    """Two in five lose some of their top or foot, so that height in the picture teaches little."""
    group, sample, per_deg = task()
    height = len(sample.rgb)
    rng = np.random.default_rng([seed, 17])
    top, foot = [(0.0, 1.0), (0.0, 1.0), (0.0, 1.0), (0.15, 1.0), (0.0, 0.85)][rng.integers(5)]
    rows = slice(int(top * height), int(foot * height))
    return group, Sample(sample.name, sample.rgb[rows].copy(), sample.sky_share[rows]), per_deg


def ridges(first: int, rounds: int) -> list[Task]:
    return [
        partial(_ridge, kind, first + 10 * j + i + 500)
        for j in range(rounds)
        for i, kind in enumerate(KINDS)
    ]


def weathers_of(
    streets: tuple[str, ...], first: int, turn: int = 0, odd_every: int = 0
) -> list[Task]:
    """Streets in every other weather, the others in another ``turn``; some views are odd."""
    there = [name for name in streets if has_layers(name)]
    if len(there) < len(streets):
        print(f"no layers of {sorted(set(streets) - set(there))}: left out")
    return [
        partial(
            _street, name, kind, first + i * 7 + place,
            TWISTS[(i * 3 + place * 5 + turn) % 8] if kind != "fog" else None,
            odd_every > 0 and (i // 2 + place) % odd_every == 0,
        )
        for place, name in enumerate(streets)
        for i, kind in enumerate(KINDS)
        if name in there and (i + place + turn) % 2 == 0
    ]  # fmt: skip


def horizons() -> list[Task]:
    return [
        partial(_street, name, kind, HELD_SEED + i)
        for place, name in enumerate(HORIZONS)
        for i, kind in enumerate(KINDS)
        if has_layers(name) and (i + place) % 2 == 0
    ]


def made_of_photographs() -> list[Task]:
    """Those that are learnt from: whole, in parts, before other skies, behind streets."""
    pictures = marked("learn")
    found = [partial(photograph, picture) for picture in pictures]
    found += [partial(varied, picture, n) for n in range(PARTS) for picture in pictures]
    found += [
        partial(under, picture, SKIES[(i + 3 * n) % len(SKIES)], 10 + n)
        for i, picture in enumerate(pictures)
        for n in range(INVENTED)
    ]
    skies = [picture for picture in pictures if sky_only(picture) is not None]
    streets = [name for name in LEARNT if has_layers(name)]
    behind = [
        partial(
            _before, streets[(5 * i + 7 * n) % len(streets)], KINDS[(3 * i + n) % len(KINDS)],
            8000 + n, picture, (None, None, None, "chimney", None, "wall")[(i + n) % 6],
        )
        for i, picture in enumerate(skies)
        for n in range(BEHIND)
        if streets
    ]  # fmt: skip
    # A street's layers take longer to load than a view of it to show.
    return [*found, *sorted(behind, key=lambda task: str(task.args[0]))]


def paintings(seed: int, every: int = 1) -> list[Task]:
    return [
        partial(
            _painting, family, kind, seed + (i + j) % 2,
            seed < HELD_PAINTED and family in LARGE and (i * 3 + j) % 9 == 0,
        )
        for i, family in enumerate(FAMILIES)
        for j, kind in enumerate(SKIES)
        if (i + j) % every == 0
    ]  # fmt: skip


def samples(held: bool) -> list[Task]:
    return [partial(_sample, n) for n in sample_names() if (n not in LEARNT_SAMPLES) == held]


def learnt() -> list[Task]:
    """Some from other places of the same streets, or cropped."""
    plain = [
        *weathers_of(LEARNT, 0, odd_every=4),
        *ridges(0, 3),
        *paintings(1),
        *samples(held=False),
    ]
    odd = weathers_of(LEARNT, 9000, odd_every=1)
    for first in (77, 177):
        for turn in (0, 1):
            plain += weathers_of((SAMPLE_STREET,), first, turn)
    more = [*ridges(6500, 4), *paintings(3)]
    cropped = [partial(_cropped, task, n) for n, task in enumerate(more)]
    return plain + odd + cropped + made_of_photographs()


def held_out() -> list[Task]:
    return [
        *ridges(HELD_SEED, 2),
        *weathers_of(HELD, HELD_SEED),
        *horizons(),
        *(partial(photograph, picture) for picture in marked("measure")),
        *paintings(HELD_PAINTED, every=3),
        *samples(held=True),
    ]
