"""The proposed skyline of a view, found in a process of its own, and its outlines to snap to."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from skyview.angles import Array
from skyview.errors import InputError
from skyview.outline.skyline import find_skyline
from skyview.survey.models import Survey, View
from skyview.survey.proposals import (
    FOLDER,
    below_level,
    picture_of,
    propose,
    read_proposals,
    write_proposals,
)
from skyview.survey.storage import load
from skyview.workbench.drawn import family_of
from skyview.workbench.jobs import Report

TOLERANCE_PX = 0.7
"""The line that is sent leaves the found one by no more than this, times the picture's scale."""

Strokes = tuple[tuple[float, float], ...]


def find_proposals(report: Report, folder: Path, name: str, sky: Strokes, solid: Strokes) -> bool:
    """Find a view's sky and write what is proposed beside the survey: whether it is sure."""
    report(0.05)
    survey = load(folder)
    view = next((v for v in survey.views if v.id == name), None)
    if view is None:
        raise InputError(f"no view is called {name}", None, "view", "choose another")
    rgb = picture_of(folder, view)
    report(0.2)
    found = find_skyline(rgb, sky, solid, below_level(survey, view))
    report(0.8)
    write_proposals(folder, propose(survey, view, found, rgb))
    return found.sure


def proposals_message(folder: Path, survey: Survey, view: View) -> dict[str, Any]:
    """What waits for a view: outlines in pixels, the skyline as lines to snap to."""
    told: dict[str, Any] = {
        "format": "skyview.proposals",
        "version": 1,
        "revision": survey.revision,
        "view": view.id,
        "found": False,
        "sure": False,
        "line_px": [],
        "unsure_px": [],
        "outlines": [],
    }
    try:
        outlines, sure = read_proposals(folder, view.id)
    except InputError:
        return told
    taken = {thing.id for thing in survey.obstructions}
    columns = _columns(folder, view)
    return told | {
        "found": True,
        "sure": sure,
        "line_px": _lines(columns, max(view.size_px) / 4000.0),
        "unsure_px": _stretches(columns),
        "outlines": [
            {
                "id": outline["id"],
                "kind": outline["kind"],
                "family": family_of(outline["kind"]),
                "rings_px": outline["rings_px"],
                "reaches_ground": outline["reaches_ground"],
                "sky_share": outline["sky_share"],
                "unsure": outline["unsure"],
                "taken": outline["id"] in taken,
            }
            for outline in outlines
        ],
    }


def _columns(folder: Path, view: View) -> Array:
    """x, y and unsure of every column (W, 3)."""
    name = "".join(letter if letter.isalnum() or letter in "-_." else "_" for letter in view.id)
    try:
        with open(folder / FOLDER / f"{name}.csv", encoding="utf-8", newline="") as stream:
            rows = [
                (float(r["x_px"]), float(r["y_px"] or "nan"), float(r["unsure"]))
                for r in csv.DictReader(stream)
            ]
    except (OSError, KeyError, ValueError):
        return np.empty((0, 3))
    return np.array(rows, float).reshape(-1, 3)


def _lines(columns: Array, scale: float) -> list[list[list[float]]]:
    """The skyline as polylines, simplified."""

    if len(columns) < 2:
        return []
    known = np.isfinite(columns[:, 1])
    cuts = np.flatnonzero(np.diff(known.astype(int))) + 1
    lines = []
    for part in np.split(columns[:, :2], cuts):
        if len(part) > 1 and np.isfinite(part[0, 1]):
            line = shapely.simplify(shapely.LineString(part), TOLERANCE_PX * max(scale, 1.0))
            lines.append(np.round(shapely.get_coordinates(line), 1).tolist())
    return lines


def _stretches(columns: Array) -> list[list[float]]:
    """First and last x of every run of columns that is unsure."""
    flags = np.concatenate([[0.0], columns[:, 2] if len(columns) else [], [0.0]]) > 0.0
    steps = np.flatnonzero(np.diff(flags.astype(int)))
    x = columns[:, 0]
    return [
        [float(x[a] - 0.5), float(x[b - 1] + 0.5)]
        for a, b in zip(steps[::2], steps[1::2], strict=True)
    ]
