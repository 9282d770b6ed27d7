"""The verb skyline, and taking what it proposes."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from skyview.cli.mark import mark_command
from skyview.cli.skyline import skyline_command
from skyview.errors import InputError
from skyview.survey.models import validate
from skyview.survey.storage import create, load


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    rgb = np.full((300, 400, 3), (230, 190, 140), np.uint8)
    rgb[200:] = (40, 70, 50)
    rgb[110:220, 150:240] = (90, 100, 130)
    file = tmp_path / "view.png"
    cv2.imwrite(str(file), rgb)
    return file


@pytest.fixture
def survey(tmp_path: Path, photo: Path) -> Path:
    folder = tmp_path / "job"
    view = {
        "id": "v1",
        "photo": "photos/view.png",
        "size_px": [400, 300],
        "camera_enu_m": [0, 0, 6],
        "projection": {"kind": "rectilinear", "focal_px": 400.0},
        "prior": {"yaw_deg": 90.0, "yaw_sigma_deg": 1.0},
    }
    site = {"latitude_deg": -38.6, "longitude_deg": -117.4}
    head = {"format": "skyview-survey", "version": 1, "revision": 0}
    create(folder, validate({**head, "site": site, "views": [view]}))
    (folder / "photos").mkdir()
    (folder / "photos" / "view.png").write_bytes(photo.read_bytes())
    return folder


def run(*arguments: object) -> str:
    result = CliRunner().invoke(
        skyline_command, [str(a) for a in arguments], catch_exceptions=False
    )
    assert result.exit_code == 0, result.output
    return result.stdout


def test_a_mask_of_the_same_size_is_written(photo: Path, tmp_path: Path) -> None:
    mask_file = tmp_path / "mask.png"
    answer = json.loads(run(photo, "-o", mask_file, "--json"))
    mask = cv2.imread(str(mask_file), cv2.IMREAD_UNCHANGED)
    assert mask.shape == (300, 400)
    assert mask[20, 30] == 255
    assert mask[280, 30] == 0
    assert mask[160, 200] == 0
    row = answer["rows"][0]
    assert answer["format"] == "skyview.skyline"
    assert set(row) == {"picture", "mask", "columns", "confidence", "sure", "unsure"}
    assert len(row["columns"]) == 400
    assert row["columns"][30]["x_px"] == 30.5
    assert row["columns"][30]["y_px"] == pytest.approx(200.0, abs=0.6)
    assert row["columns"][200]["y_px"] == pytest.approx(110.0, abs=0.6)


def test_strokes_outside_the_picture_are_refused(photo: Path) -> None:
    with pytest.raises(InputError, match="outside the picture"):
        run(photo, "--sky", "900,10")


def test_a_mask_must_be_a_png(photo: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"end its name in \.png"):
        run(photo, "-o", tmp_path / "mask.jpg")


def test_a_view_gives_directions_and_outlines(survey: Path) -> None:
    answer = json.loads(run(survey, "v1", "--json"))
    lines = (survey / "skyline" / "v1.csv").read_text().splitlines()
    assert lines[0].startswith("x_px,y_px,sigma_px,azimuth_deg,elevation_deg")
    assert len(lines) == 401
    middle = [float(cell) for cell in lines[200].split(",")]
    assert middle[3] == pytest.approx(90.0, abs=0.2)
    assert middle[4] == pytest.approx(np.degrees(np.arctan(40 / 400)), abs=0.2)
    tops = [outline["top_deg"] for outline in answer["rows"][0]["outlines"]]
    assert max(tops) == pytest.approx(np.degrees(np.arctan(40 / 400)), abs=0.3)


def test_proposals_count_only_when_accepted(survey: Path) -> None:
    run(survey, "v1")
    assert load(survey).outlines == []
    result = CliRunner().invoke(mark_command, ["accept", str(survey), "v1"])
    assert result.exit_code == 0, result.output
    accepted = load(survey)
    assert len(accepted.outlines) == len(accepted.obstructions) > 0
    assert {thing.kind_by for thing in accepted.obstructions} == {"guess"}
    assert {outline.by for outline in accepted.outlines} == {"tool"}


def test_the_option_form_accepts_all(survey: Path) -> None:
    run(survey, "v1")
    result = CliRunner().invoke(mark_command, ["--accept", str(survey), "v1"])
    assert result.exit_code == 0, result.output
    assert load(survey).outlines


def test_one_may_be_chosen_but_not_twice(survey: Path) -> None:
    run(survey, "v1")
    CliRunner().invoke(mark_command, ["accept", str(survey), "v1", "v1-1"], catch_exceptions=False)
    assert [thing.id for thing in load(survey).obstructions] == ["v1-1"]
    with pytest.raises(InputError, match="in the survey already"):
        CliRunner().invoke(
            mark_command, ["accept", str(survey), "v1", "v1-1"], catch_exceptions=False
        )


def test_accepting_needs_proposals(survey: Path) -> None:
    with pytest.raises(InputError, match="nothing has been proposed"):
        CliRunner().invoke(mark_command, ["accept", str(survey), "v1"], catch_exceptions=False)
