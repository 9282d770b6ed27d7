"""The licences of everything that is installed to run skyview: ``shared/licences.csv``.

    python tests/benchmarks/licence_table.py

Read from the metadata of the installed packages, from ``pyproject.toml`` on, extras ``cluster``,
``heic`` and ``terrain`` with what they bring. Packages that only other systems or versions of
Python need are not seen. The files of a wheel tell what it carries of other projects.
"""

from __future__ import annotations

import csv
import tomllib
from importlib.metadata import Distribution, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
TABLE = ROOT / "shared" / "licences.csv"
EXTRAS = ("cluster", "heic", "terrain")
FIELDS = ("package", "needed_by", "licence", "licence_files")
LONGEST = 60


def wanted() -> dict[str, list[Requirement]]:
    """What pyproject.toml asks for at run time: by nothing, or by one of the extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    optional = project["optional-dependencies"]
    return {
        "skyview": [Requirement(line) for line in project["dependencies"]],
        **{f"extra {name}": [Requirement(line) for line in optional[name]] for name in EXTRAS},
    }


def installed() -> dict[str, tuple[str, Distribution]]:
    """Every package that is needed, directly or not: what needs it first, and its metadata."""
    found: dict[str, tuple[str, Distribution]] = {}
    direct = {}
    for asking, requirements in wanted().items():
        _follow(asking, requirements, frozenset(), found)
        direct.update({canonicalize_name(one.name): asking for one in requirements})
    return {name: (direct.get(name, by), there) for name, (by, there) in sorted(found.items())}


def _follow(
    asking: str,
    requirements: list[Requirement],
    extras: frozenset[str],
    found: dict[str, tuple[str, Distribution]],
) -> None:
    for one in requirements:
        if one.marker and not any(one.marker.evaluate({"extra": e}) for e in extras or {""}):
            continue
        name = canonicalize_name(one.name)
        if name in found and not one.extras:
            continue
        there = distribution(one.name)
        new = name not in found
        found.setdefault(name, (asking, there))
        if new or one.extras:
            below = [Requirement(line) for line in there.requires or []]
            _follow(name, below, frozenset(one.extras), found)


def licence_of(there: Distribution) -> str:
    """The licence that a package states: as an expression, else a short name, else classifiers."""
    told = there.metadata.get("License-Expression") or there.metadata.get("License") or ""
    classifiers = [
        line.rpartition(" :: ")[2]
        for line in there.metadata.get_all("Classifier", [])
        if line.startswith("License :: ") and line != "License :: OSI Approved"
    ]
    short = "\n" not in told.strip() and 0 < len(told) <= LONGEST
    return told.strip() if short else "; ".join(classifiers)


def files_of(there: Distribution) -> str:
    """Names of the licence files that the wheel brings."""
    words = ("licen", "copying", "notice")
    names = {
        file.name
        for file in there.files or []
        if ".dist-info" in str(file) and any(word in file.name.lower() for word in words)
    }
    return " ".join(sorted(name.replace(" ", "_") for name in names))


def rows() -> list[dict[str, str]]:
    """A row for each package."""
    return [
        dict(zip(FIELDS, (name, asking, licence_of(there), files_of(there)), strict=True))
        for name, (asking, there) in installed().items()
    ]


if __name__ == "__main__":
    with open(TABLE, "w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, FIELDS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows())
