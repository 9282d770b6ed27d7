"""The sample survey in a folder, calibrated, with its pictures."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from skyview.photo.copies import write_copy
from skyview.survey.json_text import load_text
from skyview.survey.samples import samples_folder
from skyview.survey.storage import create, photo_path
from skyview.workbench.poses import calibrate_stale


def lay_out(folder: Path) -> Path:
    """Make the folder and put the sample survey into it."""
    source = samples_folder() / "demo_survey.json"
    survey = load_text(source.read_text(encoding="utf-8"), source)
    (folder / "photos").mkdir(parents=True)
    for view in survey.views:
        target = photo_path(folder, view)
        write_copy(source.parent / target.name, target)
    calibrate_stale(survey)
    create(folder, survey)
    return folder


def gable_alone(data: dict[str, Any]) -> None:
    """Leaves the sample's data one view, and the few things in the way that are drawn in it."""
    for name in ("marks", "outlines"):
        data[name] = [one for one in data[name] if one["view"] == "gable"]
    data["views"] = [one for one in data["views"] if one["id"] == "gable"]
    shown = list(dict.fromkeys(one["obstruction"] for one in data["outlines"]))
    kept = {"oak", *shown[:4]}
    data["outlines"] = [one for one in data["outlines"] if one["obstruction"] in kept]
    data["obstructions"] = [
        one for one in data["obstructions"] if one["id"] in kept or one.get("line_enu_m")
    ]
    for one in data["obstructions"]:
        if one.get("distance_from") == "sweep":
            one["distance_from"] = "gable"


def trimmed(folder: Path) -> Path:
    """Leaves the sample survey in a folder one view, few things in the way and four stations."""
    data = json.loads((folder / "survey.json").read_text(encoding="utf-8"))
    gable_alone(data)
    few = ("QVEL", "QPEL", "QIVE", "QSKA")
    data["stations"] = [one for one in data["stations"] if one["id"] in few]
    (folder / "survey.json").write_text(json.dumps(data), encoding="utf-8")
    return folder
