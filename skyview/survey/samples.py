"""Where the sample pictures and the sample survey lie: in a checkout or in the installed wheel."""

from __future__ import annotations

from pathlib import Path

from skyview.errors import StorageError

PACKAGE = Path(__file__).resolve().parents[1]


def samples_folder() -> Path:
    """The folder ``sample_images``.

    The wheel carries it inside the package, a checkout (editable install) beside it.
    StorageError where neither has it.
    """
    for folder in (PACKAGE / "sample_images", PACKAGE.parent / "sample_images"):
        if (folder / "demo_survey.json").is_file():
            return folder
    raise StorageError(
        "the sample pictures are missing from this installation",
        PACKAGE,
        mend="install skyview again",
    )
