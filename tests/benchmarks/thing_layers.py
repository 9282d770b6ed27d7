"""Which thing every pixel of a rendered street shows, kept small: writes into shared/things.

    python tests/benchmarks/thing_layers.py RENDERED NAME [RENDERED NAME ...]

RENDERED is the stem of what the scene's generator left: RENDERED_truth.json and RENDERED_geo.npz,
depth and object ids of every second pixel of a full circle, 4096 x 1024 pixels, elevation 60 to
-30 degrees. What shares an id (hedges, far trees) is parted where the depth jumps. Out come
NAME.png, labels of 16 bits on the same grid, 0 = sky or ground, and rows of things.csv: kind,
level distance to the edge against the sky (else to the upper edge), depth of a crown as deep as
it is wide, a cone half filled, a ball three quarters.
"""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path

import cv2
import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

HOME = Path(__file__).parents[2] / "shared" / "things"
PX_PER_DEG, TOP_DEG = 2048 / 360.0, 60.0
DEPTH_NEAR_M, DEPTH_RATIO = 0.2, 300000.0

JUMP = 0.12
"""Neighbours of one shared id whose depths differ by more than this share are two things."""

SMALLEST_PX = 8
"""Things of fewer pixels on this grid, 0.25 square degrees, are no things of their own."""

LEAST_EDGE_PX = 20
"""With fewer pixels against the sky the distance is that of the upper edge."""

SHARED = {4: "hill", 5: "broadleaf", 6: "building", 7: "building", 8: "broadleaf", 9: "building",
          10: "wire", 11: "broadleaf"}  # fmt: skip
HILLS, HILL_SECTORS = 4, 4
"""The far hills are one thing in each quarter of the circle."""

GROUND = (0, 1, 2, 3)
"""Sky, ground, streets and the roof that one stands on."""

COLUMNS = ("picture", "label", "kind", "distance_m", "depth_m")


def kind_of(name: str) -> str:
    """The survey's word for a kind of the scene's generator."""
    words = {"conifer": "conifer", "bare": "dead_tree", "broadleaf": "broadleaf", "bg_tree":
             "broadleaf", "pole": "mast", "mast": "mast"}  # fmt: skip
    return next((kind for word, kind in words.items() if word in name), "building")


def parted(ids: np.ndarray, depth_m: np.ndarray, shared: list[int]) -> np.ndarray:
    """Labels from 1 on: each listed id one, shared ids a label for each piece of like depth."""
    height, width = ids.shape
    number = np.arange(height * width).reshape(ids.shape)
    log = np.log(depth_m)
    alone = ~np.isin(ids, shared)
    pairs = []
    for shift in ((0, 1), (1, 0), (1, 1), (1, -1)):
        there = np.roll(ids, (-shift[0], -shift[1]), (0, 1))
        near = np.abs(np.roll(log, (-shift[0], -shift[1]), (0, 1)) - log) < JUMP
        ok = (ids == there) & (near | alone) & (ids > 0)
        if shift[0]:
            ok[-1] = False
        pairs.append((number[ok], np.roll(number, (-shift[0], -shift[1]), (0, 1))[ok]))
    start, end = (np.concatenate(side) for side in zip(*pairs, strict=True))
    graph = coo_matrix((np.ones(len(start)), (start, end)), shape=(number.size,) * 2)
    label = connected_components(graph, directed=False)[1].reshape(ids.shape)
    label = np.where(alone, ids, label + 70_000)
    sector = np.arange(width) * HILL_SECTORS // width
    label = np.where(ids == HILLS, -1 - sector, label)
    label[np.isin(ids, GROUND)] = 0
    names, back, count = np.unique(label, return_inverse=True, return_counts=True)
    small = (count < SMALLEST_PX) | (names == 0)
    order = np.where(small, 0, np.cumsum(~small))
    return order[back].reshape(ids.shape)


def distance_m(label: np.ndarray, depth_m: np.ndarray, sky: np.ndarray, name: int) -> float:
    """Median level distance of a thing's edge against the sky, else of its upper edge. [m]"""
    own = label == name
    beside = cv2.dilate(sky.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    rows, columns = np.nonzero(own & beside)
    if rows.size < LEAST_EDGE_PX:
        columns = np.flatnonzero(own.any(0))
        rows = own[:, columns].argmax(0)
    elevation = np.radians(TOP_DEG - (rows + 0.25) / PX_PER_DEG)
    return float(np.median(depth_m[rows, columns] * np.cos(elevation)))


def layer(stem: str, name: str) -> list[tuple]:
    """Write the labels of one picture; its rows of the table."""
    truth = json.loads(Path(f"{stem}_truth.json").read_text())
    stored = np.load(f"{stem}_geo.npz")
    code, ids = stored["depth_log16"].astype(float), stored["ids"].astype(int)
    depth = DEPTH_NEAR_M * np.exp((code - 1) / 65534 * np.log(DEPTH_RATIO))
    listed = {o["id"]: o for o in truth["obstructions"]}
    label = parted(ids, depth, [i for i in SHARED if i not in listed])
    rows = []
    for number in range(1, label.max() + 1):
        own = label == number
        thing = listed.get(int(np.median(ids[own])))
        kind = kind_of(thing["kind"]) if thing else SHARED[int(np.median(ids[own]))]
        away = distance_m(label, depth, ids == 0, number)
        wide = np.count_nonzero(own.any(0)) / PX_PER_DEG
        if thing and "az_max" in thing:
            wide = (thing["az_max"] - thing["az_min"]) % 360.0
        fill = 0.5 if kind == "conifer" else 0.75
        crown = max(0.1, fill * 2.0 * away * np.tan(np.radians(min(wide, 150.0)) / 2.0))
        rows.append((name, number, kind, f"{away:.1f}", f"{crown:.1f}"))
    cv2.imwrite(str(HOME / f"{name}.png"), label.astype(np.uint16))
    return rows


def main() -> None:
    HOME.mkdir(exist_ok=True)
    given = sys.argv[1:]
    rows = [
        r for stem, name in zip(given[::2], given[1::2], strict=True) for r in layer(stem, name)
    ]
    with (HOME / "things.csv").open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows(rows)


if __name__ == "__main__":
    main()
