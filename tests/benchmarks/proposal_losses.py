"""Losses from proposed outlines against those from true ones: writes shared/proposal_study.csv.

Rays leave each picture's place every few degrees, at elevations that graze the true skyline, pass
over it and behind it, and at two frequencies in VHF and two in UHF; the antenna stands where the
camera was and 1.5 m above it by turns. Both losses are what ``paths`` gives (on its quicker grids,
0.04 dB RMS beside the others), each held to 28 dB, beyond which only 'at least' is said. Poses
are exact. True outlines are those of everything that makes half a degree of the skyline or more,
as a careful hand would draw what is seen of it; two variants take all that is seen instead.

What is the user's is given as a careful user would: kind and distance of the thing that makes up
most of an outline's upper edge within 5 degrees of the ray, or of its whole edge where the ray
passes beside it; the crown's depth too. Each variant takes one thing away or gives one more.
``outlines``, ``vertices``, ``large_things`` (over 1 x 1 degrees on the skyline) and ``missed``
stand where outlines were proposed anew.
"""

from __future__ import annotations

import csv
import sys
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from unittest.mock import patch

import cv2
import numpy as np
from true_things import (
    GRID_PX,
    PX_PER_DEG,
    SITE,
    TOP_DEG,
    TREES,
    Picture,
    circle_view,
    every_picture,
    picture_view,
    skyline_labels,
    standing,
    true_outlines,
    without_wires,
)

from skyview.angles import unit_from_azimuth_elevation
from skyview.constants import wavelength_m
from skyview.outline import things
from skyview.outline.skyline import Skyline, find_skyline
from skyview.survey.arrivals import Arrivals
from skyview.survey.cameras import camera_of
from skyview.survey.joint import joint_loss
from skyview.survey.losses import hindrances
from skyview.survey.models import validate
from skyview.survey.proposals import below_level, propose
from skyview.survey.screens import screens_of

TABLE = Path(__file__).parents[2] / "shared" / "proposal_study.csv"

FREQUENCIES_MHZ = (69.0, 194.0, 500.0, 650.0)
OFFSETS_DEG = {"behind": -1.5, "graze": 0.0, "over": 1.0}
LOWEST_DEG, HIGHEST_DEG = 0.3, 18.0
"""Rays below and above are left out: no station is there."""

ABOVE_HILLS_DEG = 0.4
"""Rays closer above far hills are left out: there the hills are the horizon and no screen."""

RAISED_M = (0.0, 1.5)
APART_DEG, MARGIN_DEG = 9.0, 6.0
"""Azimuths lie so far apart, and so far within the picture."""

BESIDE_DEG = 5.0
"""The upper edge within so much of the ray tells the distance of an outline that the ray meets or
passes over; of others the whole edge does."""

LEAVES_DEG = 2.5
"""What an edge is shows no deeper below it: leaves leave gaps."""

AWAY_M, DEEPEST_DB = 40e3, 28.0
LARGE_DEG, COVERED, UNDER_DEG, UNDER_SHARE = 1.0, 0.5, 0.35, 0.25
"""What is wider and taller must not be missed: along so much of its skyline an outline stands so
far below it, in degrees or as a share of its elevation, either will do."""

FIRST = "proposed"
FINE_DEG = 0.08
"""Tolerance of the variant with fine corners."""

COLUMNS = (
    "picture", "variant", "rays", "paths", "median_db", "p95_db", "bias_db", "within_1_db",
    "within_3_db", "outlines", "vertices", "large_things", "missed",
)  # fmt: skip


@dataclass(frozen=True)
class Rays:
    """Directions, frequency by frequency. (S,)"""

    azimuth_deg: np.ndarray
    elevation_deg: np.ndarray
    frequency_mhz: np.ndarray
    kind: np.ndarray
    antenna: np.ndarray
    """Index of the antenna's height: azimuths take turns."""


def rays_of(picture: Picture) -> Rays:
    """The rays that a picture is tried with."""
    height, width = picture.rgb.shape[:2]
    x = np.arange(0.5, width, width / 4000.0)
    azimuth = np.degrees(picture.camera.directions(x, np.full(len(x), height / 2.0))[0])
    turned = np.degrees(np.unwrap(np.radians(azimuth)))
    span = turned.max() - turned.min()
    first, last = turned.min() + MARGIN_DEG, turned.max() - MARGIN_DEG
    if span > 350.0:
        first, last = turned.min(), turned.max() - APART_DEG
    rows = []
    solid = picture.place.label > 0
    crest = crest_deg(picture)
    for n, at in enumerate(np.arange(first, last, APART_DEG)):
        column, _ = picture.place.grid_of(np.array([at]), np.array([0.0]))
        near = np.arange(column[0] - 2, column[0] + 3) % GRID_PX[0]
        some = solid[:, near].any(1)
        edge = TOP_DEG - some.argmax() / PX_PER_DEG if some.any() else 0.0
        least = max(LOWEST_DEG, crest[column[0]] + ABOVE_HILLS_DEG)
        for kind, offset in OFFSETS_DEG.items():
            up = edge + offset
            if least <= up <= HIGHEST_DEG and _shown(picture, at, up):
                rows += [(at % 360.0, up, f, kind, n % 2) for f in FREQUENCIES_MHZ]
        if edge > 6.0 and _shown(picture, at, max(2.0, least)):
            rows += [(at % 360.0, max(2.0, least), f, "behind", n % 2) for f in FREQUENCIES_MHZ]
    return Rays(*(np.array(v) for v in zip(*rows, strict=True)))


def crest_deg(picture: Picture) -> np.ndarray:
    """(2048,) elevation of the far hills' highest point within 3 degrees, -90 without."""
    hills = [known.label for known in picture.place.things.values() if known.kind == "hill"]
    on_hill = np.isin(picture.place.label, hills)
    top = np.where(on_hill.any(0), TOP_DEG - on_hill.argmax(0) / PX_PER_DEG, -90.0)
    reach = round(3.0 * PX_PER_DEG)
    return np.max([np.roll(top, shift) for shift in range(-reach, reach + 1)], axis=0)


def _shown(picture: Picture, azimuth_deg: float, elevation_deg: float) -> bool:
    ray = unit_from_azimuth_elevation(np.radians([azimuth_deg]), np.radians([elevation_deg]))
    x, y = picture.camera.pixels(ray)
    height, width = picture.rgb.shape[:2]
    return bool(0.0 <= x[0] <= width and 0.0 <= y[0] <= height)


def arrivals_for(rays: Rays) -> Arrivals:
    """All rays at all antennas, from far away, with no horizon before them."""
    shape = (len(RAISED_M), len(rays.azimuth_deg))
    azimuth, up = (
        np.broadcast_to(np.radians(v), shape).copy() for v in (rays.azimuth_deg, rays.elevation_deg)
    )
    return Arrivals(
        azimuth, np.full(shape, AWAY_M), up, up, np.zeros(shape, bool), (),
        np.full(shape, -1), np.zeros(shape), np.zeros(shape[1], bool),
    )  # fmt: skip


def met_by(picture: Picture, view: dict, obstructions: list, outlines: list, rays: Rays) -> Any:
    """What stands before the rays, from obstructions and outlines of the survey file."""
    survey = validate(
        {"format": "skyview-survey", "version": 1, "revision": 0, "site": SITE, "views": [view],
         "obstructions": obstructions, "outlines": outlines}
    )  # fmt: skip
    cameras = {v.id: camera_of(survey, v) for v in survey.views}
    screens, _ = screens_of(survey, cameras)
    east, north, up = picture.place.camera_m
    antenna = np.array([[east, north, up + raised] for raised in RAISED_M])
    return hindrances(antenna, arrivals_for(rays), rays.frequency_mhz, screens, cameras, "in")


def losses(met: Any, rays: Rays, chosen: dict[int, set[str]] | None = None) -> np.ndarray:
    """Joint losses (S,), of all things or of those chosen for each ray. [dB]"""
    found = np.zeros(len(rays.azimuth_deg))
    for s, a in enumerate(rays.antenna):
        alone = {
            name: float(met.loss_db[i, a, s])
            for i, name in enumerate(met.names)
            if np.isfinite(met.loss_db[i, a, s]) and (chosen is None or name in chosen[s])
        }
        if alone:
            standing = {n: next(p for p in met.standing[n] if a in p.antennas) for n in alone}
            wave = float(wavelength_m(rays.frequency_mhz[s]))
            found[s] = joint_loss(standing, alone, a, s, wave, AWAY_M, shares=False).loss_db
    return np.minimum(found, DEEPEST_DB)


class Confirmed:
    """Proposed outlines of a picture with what the user says of each."""

    def __init__(self, picture: Picture, view: dict, proposed: list[dict[str, Any]]) -> None:
        self.picture, self.view, self.proposed = picture, view, proposed
        self.filled = [self._filled(o["rings_px"][0]) for o in proposed]

    def _filled(self, ring_px: list) -> tuple[np.ndarray, int]:
        """An outline on the grid (512, 2048), turned so that no seam cuts it, and by how much."""
        ring = np.array(ring_px, float)
        nxt = np.roll(ring, -1, axis=0)
        share = np.linspace(0.0, 1.0, 20, endpoint=False)[None, :, None]
        line = (ring[:, None] + share * (nxt - ring)[:, None]).reshape(-1, 2)
        azimuth, elevation = self.picture.camera.directions(line[:, 0], line[:, 1])
        turned = np.degrees(np.unwrap(azimuth))
        middle = (turned.min() + turned.max()) / 2.0
        column = (turned - middle + 180.0) * PX_PER_DEG
        row = (TOP_DEG - np.degrees(elevation)) * PX_PER_DEG
        grid = np.zeros(GRID_PX[::-1], np.uint8)
        points = np.stack([column, row], axis=1) - 0.5
        cv2.fillPoly(grid, [np.round(points * 16).astype(np.int32)], 1, shift=4)
        first = round((middle - 180.0 - self.picture.place.left_deg) * PX_PER_DEG)
        return grid > 0, first

    def union(self) -> np.ndarray:
        """All outlines together on the grid of the place."""
        whole = np.zeros(GRID_PX[::-1], bool)
        for grid, first in self.filled:
            whole |= np.roll(grid, first, axis=1)
        return whole

    def edge_labels(self, index: int) -> tuple[np.ndarray, np.ndarray]:
        """Columns of the place's grid that an outline covers, and what its upper edge is there."""
        grid, first = self.filled[index]
        whole = np.roll(grid, first, axis=1)
        columns = np.flatnonzero(whole.any(0))
        top = whole[:, columns].argmax(0)
        label = without_wires(self.picture.place)
        found = np.zeros(len(columns), int)
        for down in range(round(LEAVES_DEG * PX_PER_DEG)):
            here = label[np.minimum(top + down, GRID_PX[1] - 1), columns]
            found = np.where(found == 0, here, found)
        return columns, found

    def things_before(self, rays: Rays, whole: bool = False) -> dict[int, set[str]]:
        """For each ray the names OUTLINE#LABEL that stand, one an outline."""
        chosen: dict[int, set[str]] = {s: set() for s in range(len(rays.azimuth_deg))}
        at, _ = self.picture.place.grid_of(rays.azimuth_deg, np.zeros(len(rays.azimuth_deg)))
        for index in range(len(self.proposed)):
            columns, found = self.edge_labels(index)
            if not (found > 0).any():
                continue
            for place in np.unique(at):
                gap = np.abs((columns - place + GRID_PX[0] / 2) % GRID_PX[0] - GRID_PX[0] / 2)
                near = (gap <= BESIDE_DEG * PX_PER_DEG) & (found > 0)
                if whole or gap.min() > 0 or not near.any():
                    near = found > 0
                name = Counter(found[near].tolist()).most_common(1)[0][0]
                for s in np.flatnonzero(at == place):
                    chosen[int(s)].add(f"{index}#{name}")
        return chosen

    def records(self, chosen: dict[int, set[str]], guessed: bool, depth: bool) -> tuple[list, list]:
        """Obstructions and outlines of the survey file for every name that is chosen anywhere."""
        obstructions, outlines = [], []
        for name in sorted(set().union(*chosen.values())):
            index, label = (int(part) for part in name.split("#"))
            proposal, known = self.proposed[index], self.picture.place.things[label]
            ident = f"o{index}-{label}"
            kind = proposal["kind"] if guessed else known.kind
            crown = {"depth_m": known.depth_m} if depth and kind in (*TREES, "tree") else {}
            obstructions.append(
                {"id": ident, "kind": kind, "distance_m": known.distance_m, **crown}
            )
            share = proposal["sky_share"]
            outlines.append(
                {"id": f"{ident}-o", "obstruction": ident, "view": self.view["id"],
                 "rings_px": proposal["rings_px"], "reaches_ground": proposal["reaches_ground"],
                 **({} if share is None else {"sky_share": share})}
            )  # fmt: skip
        return obstructions, outlines

    def losses(
        self, rays: Rays, whole: bool = False, guessed: bool = False, depth: bool = True
    ) -> np.ndarray:
        chosen = self.things_before(rays, whole)
        records = self.records(chosen, guessed, depth)
        names = {s: {f"o{n.replace('#', '-')}" for n in some} for s, some in chosen.items()}
        return losses(met_by(self.picture, self.view, *records, rays), rays, names)

    def missed(self) -> tuple[int, int]:
        """Things over 1 x 1 degrees on the skyline: how many, and how many lie in no outline."""
        label, union = self.picture.place.label, self.union()
        x, y = np.meshgrid(*((np.arange(n) + 0.5) / PX_PER_DEG for n in GRID_PX))
        azimuth = np.radians(self.picture.place.left_deg + x)
        elevation = np.radians(TOP_DEG - y)
        px, py = self.picture.camera.pixels(unit_from_azimuth_elevation(azimuth, elevation))
        height, width = self.picture.rgb.shape[:2]
        inside = (px >= 0) & (px <= width) & (py >= 0) & (py <= height)
        edge = skyline_labels(self.picture.place)
        large = missed = 0
        for known in standing(self.picture.place):
            own = (label == known.label) & inside
            at = np.flatnonzero((edge == known.label) & own.any(0))
            if min(at.size, np.count_nonzero(own.any(1))) < LARGE_DEG * PX_PER_DEG:
                continue
            top = own[:, at].argmax(0)
            share = UNDER_SHARE * (TOP_DEG * PX_PER_DEG - top)
            below = [np.round(top + under).astype(int) for under in (UNDER_DEG * PX_PER_DEG, share)]
            large += 1
            missed += int(np.mean(union[below[0], at] | union[below[1], at]) < COVERED)
        return large, missed


def row_of(picture: str, variant: str, kind: str, off: np.ndarray, more: tuple = ()) -> list:
    """A row of the table from differences in decibels."""
    size = np.abs(off)
    return [
        picture, variant, kind, size.size,
        *(f"{v:.2f}" for v in (*np.quantile(size, [0.5, 0.95]), np.mean(off))),
        *(f"{np.mean(size <= limit):.3f}" for limit in (1.0, 3.0)),
        *(more or ("",) * 4),
    ]  # fmt: skip


def with_mask(found: Skyline, picture: Picture) -> Skyline:
    """The same with the true mask of the sky and no doubt."""
    share = np.round(255.0 * picture.sky_share).astype(np.uint8)
    return replace(found, mask=share, doubtful=np.zeros(share.shape[1], bool), confidence=1.0)


def readings(picture: Picture, rays: Rays) -> tuple[dict[str, np.ndarray], Confirmed, Confirmed]:
    """Differences of loss [dB] of every variant; proposals as they come and by the true mask."""
    circle, view = circle_view(picture.place), picture_view(picture)

    def true_losses(*which: Any) -> np.ndarray:
        return losses(met_by(picture, circle, *true_outlines(picture.place, *which), rays), rays)

    survey = validate(
        {"format": "skyview-survey", "version": 1, "revision": 0, "site": SITE, "views": [view]}
    )
    shown = survey.views[0]
    found = find_skyline(picture.rgb, ground=below_level(survey, shown))
    exact = with_mask(found, picture)

    def confirmed(skyline: Skyline, rgb: np.ndarray | None = picture.rgb) -> Confirmed:
        return Confirmed(picture, view, propose(survey, shown, skyline, rgb).outlines)

    own, masked = confirmed(found), confirmed(exact)
    with (
        patch.object(things, "TOLERANCE_DEG", FINE_DEG),
        patch.object(things, "LEAFY_TOLERANCE_DEG", FINE_DEG),
    ):
        fine = confirmed(exact)
    true, everything, first = true_losses(), true_losses(None, True), own.losses(rays)
    return (
        {
            FIRST: first - true,
            "without the picture's colours": confirmed(found, None).losses(rays) - true,
            "one distance an outline": own.losses(rays, whole=True) - true,
            "kind as guessed": own.losses(rays, guessed=True) - true,
            "crowns as deep as wide": own.losses(rays, depth=False) - true,
            "true mask": masked.losses(rays) - true,
            "true mask, fine corners": fine.losses(rays) - true,
            "true mask, true things within": true_losses(masked.union()) - true,
            "against all that is seen": first - everything,
            "true outlines, against all that is seen": true - everything,
        },
        own,
        masked,
    )


def main() -> None:
    cv2.setNumThreads(1)
    rows: list[list] = []
    off: dict[str, list[np.ndarray]] = {}
    every = []
    wanted = sys.argv[1:]
    for picture in every_picture():
        if wanted and picture.name not in wanted:
            continue
        rays = rays_of(picture)
        told, own, masked = readings(picture, rays)
        for variant, some in told.items():
            more = ()
            if variant in (FIRST, "true mask"):
                some_outlines = own if variant == FIRST else masked
                corners = sum(len(o["rings_px"][0]) for o in some_outlines.proposed)
                more = (len(some_outlines.proposed), corners, *some_outlines.missed())
            rows.append(row_of(picture.name, variant, "all", some, more))
            off.setdefault(variant, []).append(some)
            print(*rows[-1], flush=True)
        every.append(rays)
    joined = {variant: np.concatenate(some) for variant, some in off.items()}
    sums = [row_of("all", variant, "all", some) for variant, some in joined.items()]
    kinds = np.concatenate([rays.kind for rays in every])
    frequency = np.concatenate([rays.frequency_mhz for rays in every])
    sums += [row_of("all", FIRST, kind, joined[FIRST][kinds == kind]) for kind in OFFSETS_DEG]
    sums += [
        row_of("all", FIRST, f"{f:g} MHz", joined[FIRST][frequency == f]) for f in FREQUENCIES_MHZ
    ]
    print(*(" ".join(map(str, row)) for row in sums), sep="\n")
    if not wanted:
        with TABLE.open("w", newline="") as stream:
            csv.writer(stream, lineterminator="\n").writerows([COLUMNS, *sums, *rows])


if __name__ == "__main__":
    main()
