"""A survey on the workbench: the sample survey and an empty folder, behind the server's door."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from bench_client import HOME, HOST
from sample_house import lay_out, trimmed
from starlette.testclient import TestClient

from skyview.workbench.app import guarded
from skyview.workbench.bench import Bench
from skyview.workbench.gate import Door


@pytest.fixture(scope="session")
def sample_folder(tmp_path_factory) -> Path:
    """The sample survey, calibrated; to be copied, not changed."""
    return lay_out(tmp_path_factory.mktemp("sample") / "survey")


@pytest.fixture
def small_folder(sample_folder, tmp_path) -> Path:
    """A survey of one view, four stations and few things in the way, that a test may change."""
    return trimmed(Path(shutil.copytree(sample_folder, tmp_path / "small")))


@pytest.fixture
def folder(sample_folder, tmp_path) -> Path:
    """A survey's folder that a test may change."""
    return Path(shutil.copytree(sample_folder, tmp_path / "survey"))


def client_of(folder: Path, door: Door | None = None, **more: Any) -> TestClient:
    """A client for a folder, as a browser on this computer would be; to be entered."""
    bench = Bench(folder)
    app = guarded(bench, door or Door(frozenset({HOST})))
    client = TestClient(app, base_url=HOME, **more)
    client.bench = bench
    return client


@pytest.fixture
def open_door() -> Iterator[Callable[..., Any]]:
    """Opens a client for a folder."""
    with ExitStack() as opened:

        def open_(folder: Path, door: Door | None = None, **more: Any) -> TestClient:
            return opened.enter_context(client_of(folder, door, **more))

        yield open_


@pytest.fixture(scope="session")
def reader(sample_folder, tmp_path_factory) -> Iterator[TestClient]:
    """A client of the sample survey for tests that change nothing: what one asked, others have."""
    folder = Path(shutil.copytree(sample_folder, tmp_path_factory.mktemp("read") / "survey"))
    with client_of(folder) as client:
        yield client


@pytest.fixture
def client(folder, open_door) -> TestClient:
    """A client of the sample survey."""
    return open_door(folder)


@pytest.fixture
def empty(tmp_path, open_door) -> TestClient:
    """A client of a server without a survey."""
    return open_door(tmp_path / "new")
