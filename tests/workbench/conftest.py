"""A survey on the workbench: the sample survey and an empty folder, behind the server's door."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_client import HOME, HOST
from starlette.testclient import TestClient

from skyview.photo.copies import write_copy
from skyview.survey.json_text import load_text
from skyview.survey.samples import samples_folder
from skyview.survey.storage import create, photo_path
from skyview.workbench.app import guarded
from skyview.workbench.bench import Bench
from skyview.workbench.gate import Door
from skyview.workbench.poses import calibrate_stale


@pytest.fixture(scope="session")
def sample_folder(tmp_path_factory) -> Path:
    """The sample survey, calibrated; to be copied, not changed."""
    folder = tmp_path_factory.mktemp("sample") / "survey"
    source = samples_folder() / "demo_survey.json"
    survey = load_text(source.read_text(encoding="utf-8"), source)
    (folder / "photos").mkdir(parents=True)
    for view in survey.views:
        target = photo_path(folder, view)
        write_copy(source.parent / target.name, target)
    calibrate_stale(survey)
    create(folder, survey)
    return folder


@pytest.fixture
def folder(sample_folder, tmp_path) -> Path:
    """A survey's folder that a test may change."""
    return Path(shutil.copytree(sample_folder, tmp_path / "survey"))


@pytest.fixture
def open_door() -> Iterator[Callable[..., Any]]:
    """Opens a client for a folder, as a browser on this computer would be."""
    clients = []

    def open_(folder: Path, door: Door | None = None, **more: Any) -> TestClient:
        bench = Bench(folder)
        app = guarded(bench, door or Door(frozenset({HOST})))
        client = TestClient(app, base_url=HOME, **more)
        client.bench = bench
        client.__enter__()
        clients.append(client)
        return client

    yield open_
    for client in clients:
        client.__exit__(None, None, None)


@pytest.fixture
def client(folder, open_door) -> TestClient:
    """A client of the sample survey."""
    return open_door(folder)


@pytest.fixture
def empty(tmp_path, open_door) -> TestClient:
    """A client of a server without a survey."""
    return open_door(tmp_path / "new")
