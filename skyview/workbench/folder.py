"""What the workbench keeps beside the survey: its journal, its tiles, files on their way in."""

from __future__ import annotations

from pathlib import Path

from skyview.errors import StorageError

NAME = ".workbench"


def workbench_folder(survey: Path, *parts: str) -> Path:
    """A folder below ``SURVEY/.workbench``, made if need be. StorageError if it cannot be."""
    folder = survey.joinpath(NAME, *parts)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StorageError(
            f"the folder cannot be made ({error.strerror})",
            folder.name,
            mend="make room, or copy the survey to where you may write",
        ) from error
    return folder
