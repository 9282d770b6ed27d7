"""Imports point down: every import in the package against the table in DEVELOPERS.md."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "skyview"
TABLE = ROOT / "DEVELOPERS.md"
HEADER = ("layer", "packages", "holds", "may import")
VERSION = "skyview.__version__"
HEAVY = ("numpy", "cv2", "matplotlib", "pydantic", "scipy")


class Layer(NamedTuple):
    """One row of the table."""

    number: int
    names: tuple[str, ...]
    below: frozenset[int]


class Import(NamedTuple):
    """One import: where it stands and the dotted name that it brings in."""

    file: Path
    line: int
    name: str

    def __str__(self) -> str:
        return f"{self.file.relative_to(ROOT)}:{self.line} imports {self.name}"


def cells(line: str) -> tuple[str, ...]:
    return tuple(cell.strip() for cell in line.strip().strip("|").split("|"))


def layers() -> list[Layer]:
    """The rows under the one table whose header is ``HEADER``."""
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    heads = [i for i, line in enumerate(lines) if cells(line) == HEADER]
    assert len(heads) == 1, f"{TABLE.name} holds {len(heads)} tables of layers instead of one"
    found = []
    for line in lines[heads[0] + 2 :]:
        if not line.startswith("|"):
            break
        number, names, _, may = cells(line)
        found.append(Layer(int(number), tuple(re.findall(r"`(\w+)`", names)), below(number, may)))
    return found


def below(number: str, may: str) -> frozenset[int]:
    """Layers in words such as "all below", "0-3" or "0"; a library's name gives none."""
    if may == "all below":
        return frozenset(range(int(number)))
    spans = re.findall(r"(\d+)(?:\s*[-–]\s*(\d+))?", may)
    return frozenset(n for first, last in spans for n in range(int(first), int(last or first) + 1))


def imports() -> Iterator[Import]:
    """Every import statement of the package, those inside functions and blocks too."""
    for file in sorted(PACKAGE.rglob("*.py")):
        inside = file.relative_to(ROOT).with_suffix("").parts
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                for alias in node.names:
                    yield Import(file, node.lineno, alias.name)
            elif isinstance(node, ast.ImportFrom):
                base = node.module or ""
                if node.level:
                    base = ".".join([*inside[: len(inside) - node.level], base]).strip(".")
                if base == "skyview":
                    for alias in node.names:
                        yield Import(file, node.lineno, f"skyview.{alias.name}")
                else:
                    yield Import(file, node.lineno, base)


def owner(file: Path) -> str:
    """Sub-package or module of layer 0 to which a file belongs."""
    return file.relative_to(PACKAGE).parts[0].removesuffix(".py")


def test_every_package_and_module_stands_once_in_the_table():
    named = [name for layer in layers() for name in layer.names]
    assert len(named) == len(set(named))
    present = {owner(file) for file in PACKAGE.rglob("*.py")} - {"__init__"}
    assert present <= set(named)


def test_no_layer_may_import_itself_or_above():
    for layer in layers():
        assert all(n < layer.number for n in layer.below), layer


def test_imports_point_down_and_neighbours_leave_each_other_alone():
    """The front door ``skyview/__init__.py`` stands outside the layers: it imports on demand, and
    all that others may take from it is the version."""
    table = {name: layer for layer in layers() for name in layer.names}
    modules_of_layer_0 = {name for name, layer in table.items() if layer.number == 0}
    wrong, seen = [], 0
    for found in imports():
        head, _, rest = found.name.partition(".")
        importer = owner(found.file)
        if head != "skyview" or importer == "__init__" or found.name == VERSION:
            continue
        target = rest.partition(".")[0]
        seen += 1
        if target == importer or {target, importer} <= modules_of_layer_0:
            continue
        known = importer in table and target in table
        if not known or table[target].number not in table[importer].below:
            wrong.append(str(found))
    assert seen > 50
    assert wrong == []


def test_layer_0_needs_nothing_but_numpy_and_itself():
    wrong = [
        str(found)
        for found in imports()
        if len(found.file.relative_to(PACKAGE).parts) == 1
        and owner(found.file) != "__init__"
        and found.name.partition(".")[0] not in {*sys.stdlib_module_names, "numpy", "skyview"}
    ]
    assert wrong == []


@pytest.mark.parametrize(
    ("library", "homes"),
    [
        ("pydantic", {"survey", "workbench"}),
        ("matplotlib", {"report"}),
        ("click", {"cli"}),
        ("fastapi", {"workbench"}),
        ("uvicorn", {"workbench"}),
        ("PIL", {"photo", "report"}),
    ],
)
def test_library_stays_in_its_packages(library, homes):
    wrong = [
        str(found)
        for found in imports()
        if found.name.partition(".")[0] == library and owner(found.file) not in homes
    ]
    assert wrong == []


def test_importing_the_front_door_loads_nothing_heavy():
    code = f"import sys, skyview; print([m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
