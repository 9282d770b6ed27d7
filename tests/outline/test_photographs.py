"""The skies marked by hand in photographs, and the table that tells of them."""

from __future__ import annotations

import csv
from pathlib import Path

import cv2
import numpy as np
import pytest

FOLDER = Path(__file__).parents[2] / "shared" / "skyline"
with (FOLDER / "photographs.csv").open() as stream:
    ROWS = list(csv.DictReader(stream))


def test_every_mask_has_a_row() -> None:
    masks = {file.stem for file in (FOLDER / "photographs").iterdir()}
    assert masks == {row["picture"] for row in ROWS}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["picture"])
def test_masks_are_of_the_size_told_and_show_a_sky(row: dict[str, str]) -> None:
    mask = cv2.imread(str(FOLDER / "photographs" / f"{row['picture']}.png"), cv2.IMREAD_UNCHANGED)
    assert mask.shape == (int(row["height_px"]), int(row["width_px"]))
    assert 0.05 < (mask > 127).mean() < 1.0
    # Mixed pixels lie on the border alone.
    sky = (mask > 127).astype(np.uint8)
    border = cv2.morphologyEx(sky, cv2.MORPH_GRADIENT, np.ones((31, 31), np.uint8)) > 0
    assert ((mask > 0) & (mask < 255) & ~border).mean() < 0.01
    assert row["use"] in ("learn", "measure")
    assert row["kind"] in ("open", "roof", "hard")
    assert row["package"]
    assert row["licence"]


def test_photographs_of_one_file_are_all_used_alike() -> None:
    uses: dict[str, set[str]] = {}
    for row in ROWS:
        uses.setdefault(row["file"], set()).add(row["use"])
    assert all(len(use) == 1 for use in uses.values())
    assert {use for use_ in uses.values() for use in use_} == {"learn", "measure"}
