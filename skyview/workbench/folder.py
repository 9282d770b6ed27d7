"""What the workbench keeps beside the survey: its journal, its tiles, files on their way in."""

from __future__ import annotations

from pathlib import Path

from skyview.files import make_folder

NAME = ".workbench"


def workbench_folder(survey: Path, *parts: str) -> Path:
    """A folder below ``SURVEY/.workbench``, made if need be. StorageError if it cannot be."""
    return make_folder(survey.joinpath(NAME, *parts))
