"""What is built holds all that is used at run time, and everything it brings has a licence."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder
from licence_table import FIELDS, TABLE, installed, licence_of, wanted
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "skyview"
PYTHONS = ("3.11", "3.12", "3.13")


def project() -> dict:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def in_wheel() -> set[str]:
    """Paths of the files that the wheel will hold, as its builder lists them."""
    return {
        Path(file.distribution_path).as_posix()
        for file in WheelBuilder(str(ROOT)).recurse_included_files()
    }


def test_every_file_of_the_package_is_in_the_wheel():
    there = {
        file.relative_to(ROOT).as_posix()
        for file in PACKAGE.rglob("*")
        if file.is_file() and "__pycache__" not in file.parts
    }
    assert there <= in_wheel()
    kinds = {Path(name).suffix for name in there}
    assert {".py", ".csv", ".typ", ".html", ".js", ".css", ".svg", ".typed"} <= kinds


def test_what_the_demo_lays_out_is_in_the_wheel():
    survey = json.loads((ROOT / "sample_images" / "demo_survey.json").read_text(encoding="utf-8"))
    files = ["demo_survey.json", *(Path(view["photo"]).name for view in survey["views"])]
    assert len(files) == 4
    assert {f"skyview/sample_images/{name}" for name in files} <= in_wheel()


def test_the_versions_of_python_are_those_that_are_stated():
    told = project()["project"]
    assert told["requires-python"] == f">={PYTHONS[0]}"
    lines = {f"Programming Language :: Python :: {version}" for version in PYTHONS}
    assert lines <= set(told["classifiers"])


def test_every_dependency_has_a_lower_bound():
    told = project()["project"]
    optional = told["optional-dependencies"].values()
    every = [*told["dependencies"], *(line for lines in optional for line in lines)]
    assert [line for line in every if ">=" not in line] == []


def licences() -> dict[str, dict[str, str]]:
    with open(TABLE, encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert tuple(rows[0]) == FIELDS
    return {row["package"]: row for row in rows}


def test_every_package_that_is_needed_has_its_licence_in_the_table():
    """Made anew by: python tests/benchmarks/licence_table.py"""
    table, needed = licences(), installed()
    direct = {canonicalize_name(one.name) for asked in wanted().values() for one in asked}
    assert direct <= needed.keys()
    assert needed.keys() - table.keys() == set()
    assert [name for name in needed if not table[name]["licence"]] == []
    other = {n for n, (_, there) in needed.items() if "GPL" in licence_of(there)}
    assert other == set()


@pytest.fixture(scope="session")
def built(tmp_path_factory) -> dict[str, Path]:
    """The wheel, from the sdist, as a release is built."""
    out = tmp_path_factory.mktemp("dist")
    subprocess.run(
        [sys.executable, "-m", "build", "--outdir", out, ROOT], check=True, capture_output=True
    )
    return {file.suffix: file for file in out.iterdir()}


def python_of(version: str) -> str | None:
    """An interpreter of this version that can make virtual environments."""
    for name in (f"python{version}", *Path.home().glob(f".pyenv/versions/{version}.*/bin/python")):
        found = shutil.which(name)
        if found is not None:
            done = subprocess.run([found, "-c", "import ensurepip, venv"], capture_output=True)
            if done.returncode == 0:
                return found
    return None


@pytest.mark.slow
def test_the_wheel_comes_whole_from_the_sdist(built):
    with zipfile.ZipFile(built[".whl"]) as wheel:
        assert in_wheel() <= set(wheel.namelist())


@pytest.mark.slow
@pytest.mark.parametrize("version", PYTHONS)
def test_the_wheel_alone_runs_the_demo(built, version, tmp_path):
    interpreter = python_of(version)
    if interpreter is None:
        assert f"{sys.version_info[0]}.{sys.version_info[1]}" != version
        pytest.skip(f"there is no Python {version} here")
    home = tmp_path / "venv"
    subprocess.run([interpreter, "-m", "venv", home], check=True)
    python = home / "bin" / "python"
    subprocess.run([python, "-m", "pip", "install", "-q", built[".whl"]], check=True)
    subprocess.run([python, "-m", "pip", "check"], check=True)
    names = {canonicalize_name(Requirement(d).name) for d in project()["project"]["dependencies"]}
    told = subprocess.run([python, "-m", "pip", "list", "--format=json"],
                          check=True, capture_output=True, text=True).stdout  # fmt: skip
    assert names <= {canonicalize_name(one["name"]) for one in json.loads(told)}
    subprocess.run([home / "bin" / "skyview", "demo", "demo"], check=True, cwd=tmp_path)
    out = tmp_path / "demo" / "out"
    assert {file.name for file in out.iterdir()} >= {"paths.csv", "paths.txt", "ridge.png"}
