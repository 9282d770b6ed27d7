"""The family of errors that a user may meet.

SkyviewError           one clear sentence: file, field, what is wrong, what would be right
  InputError           what the user can mend (exit code 2)
  StorageError         locked, full, read-only, changed by somebody else (exit code 1)
"""

from __future__ import annotations

from pathlib import Path

LONGEST = 400
"""Letters of each part of a sentence: what a user typed or a file held may be of any length."""


class SkyviewError(Exception):
    """One sentence for the person at the keyboard, with its facts as attributes.

    ``message`` says what is wrong; ``file`` and ``field`` name the place; ``mend`` says what
    would be right. Any of the three may be None.

    >>> print(InputError("latitude 91 is outside -90..90", "survey.json", "site",
    ...                  "give degrees north"))
    survey.json, site: latitude 91 is outside -90..90; give degrees north.
    """

    exit_code = 1

    def __init__(
        self,
        message: str,
        file: str | Path | None = None,
        field: str | None = None,
        mend: str | None = None,
    ) -> None:
        self.message = _bounded(message)
        self.file = None if file is None else str(file)
        self.field = None if field is None else _bounded(field)
        self.mend = None if mend is None else _bounded(mend)
        super().__init__(self.message, self.file, self.field, self.mend)

    def __str__(self) -> str:
        place = ", ".join(part for part in (self.file, self.field) if part)
        sentence = f"{place}: {self.message}" if place else self.message
        if self.mend:
            sentence += f" {self.mend}" if sentence.endswith("?") else f"; {self.mend}"
        sentence = " ".join(sentence.split()).rstrip(".")
        return sentence if sentence.endswith("?") else sentence + "."


def _bounded(text: str) -> str:
    """The text, its middle left out where it is longer than `LONGEST`.

    >>> len(_bounded("a" * 5000))
    400
    """
    half = LONGEST // 2
    return text if len(text) <= LONGEST else f"{text[: half - 1]}…{text[-half:]}"


class InputError(SkyviewError):
    """What the user can mend."""

    exit_code = 2


class StorageError(SkyviewError):
    """The file system or another process stands in the way."""

    exit_code = 1
