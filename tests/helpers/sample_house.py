"""The sample survey in a folder, calibrated, with its pictures."""

from __future__ import annotations

from pathlib import Path

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
