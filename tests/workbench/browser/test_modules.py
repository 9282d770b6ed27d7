"""The page's modules: imports point down the layers, nothing comes from outside."""

from __future__ import annotations

import re
from pathlib import Path

import skyview.workbench

STATIC = Path(skyview.workbench.__file__).parent / "static"
MODULES = sorted((STATIC / "js").rglob("*.js"))
LAYERS = ("geometry", "state", "draw", "tools", "panels", "main")
_IMPORT = re.compile(r'^import .*?from "([^"]+)";', re.MULTILINE)


def layer(path: Path) -> int:
    return LAYERS.index(path.relative_to(STATIC / "js").parts[0].removesuffix(".js"))


def test_imports_point_down() -> None:
    assert len(MODULES) > 20
    found = 0
    for module in MODULES:
        for name in _IMPORT.findall(module.read_text(encoding="utf-8")):
            target = (module.parent / name).resolve()
            assert target in MODULES, f"{module.name} imports {name}"
            assert layer(target) <= layer(module), f"{module.name} imports {name} from above"
            found += 1
    assert found > 60


def test_modules_stay_small() -> None:
    long = {
        m.name: n for m in MODULES if (n := len(m.read_text(encoding="utf-8").splitlines())) > 360
    }
    assert long == {}


def test_nothing_comes_from_outside() -> None:
    for file in [*MODULES, *STATIC.glob("*.html"), *STATIC.glob("*.css"), *STATIC.glob("*.svg")]:
        text = file.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"https?://|@import|url\((?!#)", text), file.name
        assert not re.search(r"<script(?![^>]*src=)|\sstyle=|\bon\w+=\"", text), file.name
