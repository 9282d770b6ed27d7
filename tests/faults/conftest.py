"""One forge for all tests of faults."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from forge import Forge
from sample_house import lay_out

from skyview.survey.edit import set_field
from skyview.survey.models import new_survey
from skyview.survey.storage import create, editing

ROOF = "[[[-4,-3,6],[4,-3,6],[4,3,6],[-4,3,6]]]"


@pytest.fixture(scope="session")
def forge() -> Iterator[Forge]:
    """Forks command lines of a product that is loaded already."""
    made = Forge()
    yield made
    made.close()


@pytest.fixture(scope="session")
def sample(tmp_path_factory) -> Path:
    """The sample survey, calibrated, with a roof; to be copied, not changed."""
    folder = lay_out(tmp_path_factory.mktemp("sample") / "survey")
    with editing(folder) as edit:
        edit.survey = set_field(edit.survey, "limits.roof_enu_m", ROOF)
    return folder


@pytest.fixture
def home(sample, tmp_path) -> Path:
    """A folder with the sample survey, a bare one, a photograph and a list of stations."""
    shutil.copytree(sample, tmp_path / "survey")
    create(tmp_path / "bare", new_survey(40.0, -100.0))
    samples = Path(__file__).parents[2] / "sample_images"
    shutil.copy(samples / "ridge_frame_1.jpg", tmp_path / "photo.jpg")
    shutil.copy(samples / "stations.csv", tmp_path / "list.csv")
    for frame in ("turn_1.jpg", "turn_2.jpg"):
        shutil.copy(samples / frame, tmp_path / frame)
    return tmp_path
