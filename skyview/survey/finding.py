"""One thing that is missing or doubtful in a survey, and the commands that mend it."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from pathlib import Path
from typing import Literal


@dataclass(frozen=True)
class Finding:
    """One thing that is missing, doubtful or worth knowing."""

    severity: Literal["missing", "warning", "note"]
    """missing: no answer, or a dangerous one, without it; warning: probably wrong, or no answer for
    some station; note: an answer gets better with it."""
    field: str
    """Path of the field, as people type it."""
    sentence: str
    """What is the matter."""
    mend: str | None
    """A command that mends it, with words in capitals to be filled in."""


class Command:
    """Writes the commands that people can type."""

    def __init__(self, folder: str | Path) -> None:
        self.folder = shlex.quote(str(folder))

    def set(self, path: str, value: str) -> str:
        """Set one field."""
        return f"skyview set {self.folder} {shlex.quote(f'{path}={value}')}"

    def add(self, list_name: str, item: str) -> str:
        """Add an item to a list."""
        return f"skyview set {self.folder} --add {list_name} {shlex.quote(item)}"

    def outline(self, thing: str, options: str = "") -> str:
        """Draw an outline."""
        return (
            f"skyview mark outline {self.folder} VIEW {thing} {options}--points 'X,Y X,Y X,Y ...'"
        )


def some(ids: list[str], most: int = 3) -> str:
    """The first few ids and how many more there are.

    >>> some(["QA", "QB", "QC", "QD", "QE"])
    'QA, QB, QC and 2 more'
    """
    more = f" and {len(ids) - most} more" if len(ids) > most else ""
    return ", ".join(ids[:most]) + more
