"""How far the quick joint losses are from the exact ones, over random surveys.

Writes shared/draw_study.csv: python tests/survey/budget/study_draws.py
Rows: the middle of paths (``quick_losses``), drawn sets (``loss_draws``) against the exact joint
loss of the same outlines, and sets in which only distances are drawn against surveys that state
those distances; by the number of things computed together and whether crowns are among them.
Differences where the exact loss is below 28 dB.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

ROOT = Path(__file__).parents[3]
sys.path[:0] = [str(ROOT / "tests" / "helpers")]

import numpy as np  # noqa: E402
import shapely  # noqa: E402
from random_surveys import Met, meet, random_survey  # noqa: E402

from skyview.survey.budget.chance import SEED  # noqa: E402
from skyview.survey.budget.quick import (  # noqa: E402
    drawn_losses,
    middle_of,
    placed,
    quick_losses,
    rank_of,
    rows_of,
)
from skyview.survey.budget.sets import Sets, errors_of, sets_of  # noqa: E402
from skyview.survey.budget.unsure import distance_factors  # noqa: E402
from skyview.survey.models import Survey, validate  # noqa: E402
from skyview.wave.aperture import loss_db  # noqa: E402
from skyview.wave.drawn import Drawn, drawn_fields  # noqa: E402
from skyview.wave.screens import TRUSTED_LOSS_DB, Screen, field  # noqa: E402

TABLE = ROOT / "shared" / "draw_study.csv"
SURVEYS, STATIONS, THINGS, SETS = 48, 16, 10, 5
ASIDE_DEG = (25.0, 60.0, 170.0)
FIELDS = ("what", "things", "crowns", "count", "rms_db", "p95_db", "worst_db")


FAR_M = 1e5


def moved(drawn: Drawn, number: int) -> list[Screen]:
    """The screens of one draw, as themselves."""
    screens = []
    for k, screen in enumerate(drawn.screens):
        across, distance = drawn.across_m[number, k], drawn.distances_m[number, k]
        shapes = [
            (ring / screen.distance_m + drawn.moves[number, k]) * across
            for ring in screen.polygons_m
        ]
        floor = max((drawn.floor[number, k] + drawn.moves[number, k, 1]) * across, -FAR_M)
        above = shapely.box(-FAR_M, floor, FAR_M, FAR_M)
        kept = shapely.get_parts(
            [shapely.make_valid(shapely.Polygon(ring)).intersection(above) for ring in shapes]
        )
        rings = [
            np.asarray(part.exterior.coords)
            for part in kept
            if part.geom_type == "Polygon" and not part.is_empty
        ]
        screens.append(Screen(distance, rings, [drawn.amplitudes[number, k]] * len(rings)))
    return screens


def all_sets(scene: Met, count: int) -> list[Sets]:
    """The sets of every obstruction."""
    errors = errors_of(scene.cameras, scene.arrivals, count, SEED)
    return [
        sets_of(
            scene.screens[name],
            scene.survey.outlines,
            scene.antenna_m,
            scene.arrivals,
            errors,
            scene.frequency_mhz,
            "in",
            count,
            SEED,
        )
        for name in scene.met.names
    ]


def exact_of(drawn: Drawn, number: int) -> float:
    """The exact joint loss of one draw."""
    return float(loss_db(field(moved(drawn, number), drawn.wavelength_m, drawn.transmitter_m)))


def differences(seed: int) -> Iterator[tuple[str, int, bool, float, float]]:
    """What, how many things, crowns among them, exact loss and difference of one survey."""
    survey = random_survey(
        seed, STATIONS, THINGS, ASIDE_DEG[seed % len(ASIDE_DEG)], 2, (1.0 + seed % 4,)
    )
    scene = meet(survey)
    exact, quick = scene.exact_db(), quick_losses(scene.met, scene.arrivals, scene.frequency_mhz)
    matters = np.abs(np.nan_to_num(scene.met.loss_db)) >= 0.15
    trees = np.array(scene.met.trees)[:, None, None]
    for a, s in np.argwhere(matters.any(axis=0)):
        count = min(int(matters[:, a, s].sum()), 6)
        crowns = bool((matters & trees)[:, a, s].any())
        yield "middle", count, crowns, exact[a, s], quick[a, s] - exact[a, s]
    sets = all_sets(scene, SETS)
    losses, _ = drawn_losses(
        scene.met, scene.arrivals, scene.frequency_mhz, sets, exact, SETS, False
    )
    for row in rows_of(rank_of(scene.met, sets, scene.wavelength_m)):
        drawn = placed(scene.arrivals, scene.wavelength_m, sets, row)
        crowns = any(scene.met.trees[o] for o in row.things)
        for number in range(SETS):
            true = exact_of(drawn, number + 1)
            error = float(losses[number, row.antenna, row.station]) - true
            yield "set", len(row.things), crowns, true, error
    yield from distances_only(survey)


def distances_only(survey: Survey) -> Iterator[tuple[str, int, bool, float, float]]:
    """The same where nothing but distances is off, against surveys that state them."""
    scene = meet(_but_distances(survey))
    with patch.multiple("skyview.survey.budget.unsure", OUTLINE_PX={"hand": 0.0}, CROWN_M=0.0):
        sets = all_sets(scene, SETS)
    for one in sets:
        one.foliage[:] = 1.0
    rows = rows_of(rank_of(scene.met, sets, scene.wavelength_m))
    losses = [
        loss_db(drawn_fields(placed(scene.arrivals, scene.wavelength_m, sets, row))) for row in rows
    ]
    for number in range(SETS):
        data = scene.survey.model_dump(mode="json", exclude_unset=True)
        for thing in data["obstructions"]:
            factors = distance_factors(scene.screens[thing["id"]][0], SETS, SEED)
            thing["distance_m"] *= float(factors[number])
        there = meet(validate(data))
        for row, loss in zip(rows, losses, strict=True):
            if np.isnan(there.met.loss_db[list(row.things), row.antenna, row.station]).any():
                continue
            drawn = middle_of(there.met, there.arrivals, there.wavelength_m, row)
            true = exact_of(drawn, 0)
            crowns = any(scene.met.trees[o] for o in row.things)
            yield "distance", len(row.things), crowns, true, float(loss[number + 1]) - true


def _but_distances(survey: Survey) -> Survey:
    """Without any error of the calibration, the camera's place and the outlines."""
    data = survey.model_dump(mode="json", exclude_unset=True)
    view = data["views"][0]
    view["camera_sigma_m"] = 0.0
    view["prior"] |= {f"{name}_sigma_deg": 0.0 for name in ("yaw", "pitch", "roll")}
    view["prior"]["scale_sigma"] = 0.0
    return validate(data)


def table(surveys: int = SURVEYS) -> list[dict[str, str]]:
    """The study's rows."""
    found = [row for seed in range(surveys) for row in differences(seed)]
    trusted = [row for row in found if row[3] < TRUSTED_LOSS_DB]
    rows = []
    for what in ("middle", "set", "distance"):
        mine = [row for row in trusted if row[0] == what]
        rows.append(_summary(what, "all", "all", mine))
        rows.append(_summary(what, "2 and more", "all", [row for row in mine if row[1] > 1]))
        for things in sorted({row[1] for row in mine}):
            for crowns in (False, True):
                piece = [row for row in mine if row[1] == things and row[2] == crowns]
                if piece:
                    rows.append(_summary(what, str(things), "yes" if crowns else "no", piece))
    return rows


def _summary(
    what: str, things: str, crowns: str, rows: list[tuple[str, int, bool, float, float]]
) -> dict[str, str]:
    error = np.abs([row[4] for row in rows])
    return {
        "what": what,
        "things": things,
        "crowns": crowns,
        "count": str(error.size),
        "rms_db": f"{np.sqrt(np.mean(error**2)):.3f}",
        "p95_db": f"{np.quantile(error, 0.95):.2f}",
        "worst_db": f"{error.max():.2f}",
    }


if __name__ == "__main__":
    with TABLE.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, FIELDS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(table())
