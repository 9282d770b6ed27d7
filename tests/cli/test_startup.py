"""Help comes without the heavy libraries, and speaks of every verb."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

VERBS = ["new", "photo", "mark", "set", "calibrate", "locate", "stations", "paths", "why",
         "spots", "aim", "scan", "draw", "check", "schema", "skyline", "brief", "card", "sheet",
         "job", "pack", "batch", "serve", "demo"]  # fmt: skip
HEAVY = {"numpy", "cv2", "matplotlib", "pydantic", "scipy", "pyproj", "shapely", "PIL", "pygeomag",
         "fastapi", "uvicorn", "typst", "jinja2", "rasterio"}  # fmt: skip
LOADED = """
import json, sys
from skyview.cli.main import run
try:
    run(sys.argv[1:])
except SystemExit:
    pass
print(json.dumps(sorted({name.partition(".")[0] for name in sys.modules})), file=sys.stderr)
"""


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["paths", "--help"]])
def test_help_loads_nothing_heavy(words) -> None:
    done = subprocess.run(
        [sys.executable, "-c", LOADED, *words], capture_output=True, text=True, check=True
    )
    assert done.stdout
    assert HEAVY & set(json.loads(done.stderr)) == set()


def test_help_names_every_verb(run) -> None:
    told = run.ok("--help").out
    for verb in VERBS:
        assert f"  {verb} " in told


@pytest.mark.parametrize("verb", VERBS)
def test_each_verb_explains_itself(run, verb) -> None:
    told = run.ok(verb, "--help").out
    assert told.startswith("Usage: ")
    assert f" {verb} [" in told.splitlines()[0]
    assert len(told.splitlines()) >= 5
    assert all(len(line) <= 80 for line in told.splitlines())


@pytest.mark.parametrize("part", ["landmark", "point", "outline"])
def test_each_kind_of_mark_explains_itself(run, part) -> None:
    assert f" mark {part} [" in run.ok("mark", part, "--help").out.splitlines()[0]


def test_reading_verbs_offer_json(run) -> None:
    for verb in (
        "photo",
        "calibrate",
        "locate",
        "stations",
        "paths",
        "why",
        "check",
        "scan",
        "batch",
    ):
        assert "--json" in run.ok(verb, "--help").out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["path", "house"], "there is no verb path; did you mean paths? See: skyview --help."),
        (["xyz"], "there is no verb xyz; see: skyview --help."),
        (["new"], "missing argument 'SURVEY'; see: skyview new --help."),
        (["paths", "house", "--season", "winter"], "'winter' is not one of 'in', 'out'; see: "),
    ],
)
def test_what_cannot_be_understood_is_one_sentence(run, words, said) -> None:
    told = run.refused(*words)
    assert said in told
    assert len(told.strip().splitlines()) == 1


def test_mark_lists_what_can_be_marked_without_a_dot_dot_dot(run) -> None:
    assert "..." not in run.ok("mark", "--help").out.partition("Commands:")[2]
