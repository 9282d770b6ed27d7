"""``spots`` and ``aim``: rows as promised, safety before all else, pictures."""

from __future__ import annotations

import json

import pytest
from cure_case import edited, roof

ROWS = {
    "spot", "antenna_height_m", "sure", "likely", "worst_must_have", "worst_probability", "refused",
}  # fmt: skip
AIM_ROWS = {
    "aim_true_deg", "aim_magnetic_deg", "low_deg", "high_deg", "sure", "likely", "point_at",
}  # fmt: skip
FACE = [[[-2.0, -2.0, 5.0], [2.0, -2.0, 5.0], [2.0, 2.0, 5.0], [-2.0, 2.0, 5.0]]]
LINE = {
    "id": "feeder", "kind": "power_line", "line_enu_m": [[-40.0, 6.0, 9.0], [40.0, 6.0, 9.0]],
}  # fmt: skip


@pytest.fixture
def survey(tmp_path):
    """Writes a survey of plain data."""

    def write(data):
        folder = tmp_path / "s"
        folder.mkdir(exist_ok=True)
        (folder / "survey.json").write_text(json.dumps(data), encoding="utf-8")
        return folder

    return write


def test_rows_of_spots(run, survey) -> None:
    answer = run.ok("spots", survey(roof()), "--height", 1.5, "--height", 2.5, "--json").json
    assert answer["format"] == "skyview.spots"
    assert [(r["spot"], r["antenna_height_m"]) for r in answer["rows"]] == [
        ("ridge", 1.5), ("ridge", 2.5), ("gable", 1.5), ("gable", 2.5)
    ]  # fmt: skip
    for row in answer["rows"]:
        assert row.keys() >= ROWS
        assert row["refused"] is None
        assert row["worst_must_have"] == "QSOU"
        assert 0.0 <= row["worst_probability"] <= 1.0
    assert answer["best"][0] in ("ridge", "gable")


def test_no_spot_is_named_before_lines_were_looked_for(run, survey) -> None:
    folder = survey(edited(roof(), lambda d: d["limits"].update(lines_checked=False)))
    for more in ((), ("--json",), ("--roof",)):
        sentence = run.refused("spots", folder, *more)
        assert "power lines were looked for" in sentence
        assert "limits.lines_checked" in sentence
        assert "ridge" not in sentence


def test_a_refused_spot_defers_to_the_utility_and_promises_nothing(run, survey) -> None:
    folder = survey(edited(roof(), lambda d: d["obstructions"].append(LINE)))
    answer = run.ok("spots", folder, "--json")
    ridge = next(r for r in answer.rows if r["spot"] == "ridge")
    assert "feeder" in ridge["refused"]
    assert "utility" in ridge["refused"]
    assert ridge["sure"] is None
    text = run.ok("spots", folder)
    assert "Refused: ridge at 1.5 m" in text.out
    for words in (answer.out, text.out, text.err):
        assert "safe" not in words.lower().replace("unsafe", "")


def test_spots_are_drawn_and_written(run, survey, tmp_path) -> None:
    folder = survey(roof())
    picture, table = tmp_path / "spots.svg", tmp_path / "spots.csv"
    run.ok("spots", folder, "--height", 1.5, "--height", 2.5, "--draw", picture, "-o", table)
    assert "What comes in, by spot and height" in picture.read_text(encoding="utf-8")
    assert table.read_text(encoding="utf-8").count("\n") == 5
    assert "a picture cannot be written there" in run.refused(
        "spots", folder, "--draw", tmp_path / "x.gif"
    )


def test_the_roof_is_mapped(run, survey, tmp_path) -> None:
    folder = survey(
        edited(
            roof(), lambda d: d["limits"].update(roof_enu_m=FACE) or d["obstructions"].append(LINE)
        )
    )
    picture = tmp_path / "roof.svg"
    answer = run.ok(
        "spots", folder, "--roof", "--step", 1.3, "--height", 1.0, "--draw", picture, "--json"
    )
    rows = answer.rows
    assert len(rows) == 16
    assert all(row.keys() >= ROWS for row in rows)
    assert all(bool(row["refused"]) == (row["sure"] is None) for row in rows)
    assert "keep clear" in picture.read_text(encoding="utf-8")
    no_roof = survey(roof())
    assert "no roof to map" in run.refused("spots", no_roof, "--roof")


def test_rows_of_aim(run, survey) -> None:
    answer = run.ok("aim", survey(roof()), "--json").json
    assert answer["format"] == "skyview.aim"
    assert [row["purpose"] for row in answer["rows"]] == ["must_have", "count", "as_set"]
    for row in answer["rows"]:
        assert row.keys() >= AIM_ROWS
        assert 0.0 <= row["aim_true_deg"] < 360.0
        assert row["point_at"] is None or isinstance(row["point_at"], str)
    assert {extra["code"] for extra in answer["extras"]} >= {"rotator", "second_separate"}
    text = run.ok("aim", survey(roof()))
    assert "by compass" in text.out
    assert "Point it at" in text.out
    assert "no antenna other" in run.refused("aim", survey(roof()), "--antenna", "other")
