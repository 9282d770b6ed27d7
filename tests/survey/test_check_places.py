"""An antenna within reach of a power line is warned of, first of all that is found."""

from __future__ import annotations

from cure_case import edited, roof, survey

from skyview.survey.check import check

LINE = {
    "id": "feeder", "kind": "power_line", "voltage_kv": 10.0,
    "line_enu_m": [[-40.0, 7.0, 9.0], [40.0, 7.0, 9.0]],
}  # fmt: skip


def findings(tmp_path, **limits):
    def edit(data):
        data["obstructions"].append(LINE)
        data["limits"].update(limits)

    return check(survey(edited(roof(), edit)), tmp_path)


def test_the_antenna_and_the_line_are_named(tmp_path):
    first = findings(tmp_path)[0]
    assert (first.severity, first.field) == ("warning", "antennas.main")
    assert "feeder" in first.sentence
    assert "utility" in first.sentence
    assert first.mend.startswith("skyview spots")


def test_looking_for_lines_comes_before(tmp_path):
    found = findings(tmp_path, lines_checked=False)
    assert found[0].field == "limits.lines_checked"
    assert all(f.field != "antennas.main" for f in found)


def test_far_enough_is_nothing(tmp_path):
    far = edited(roof(), lambda d: d["obstructions"].append(
        {**LINE, "line_enu_m": [[-40.0, 20.0, 9.0], [40.0, 20.0, 9.0]]}))  # fmt: skip
    assert all(f.field != "antennas.main" for f in check(survey(far), tmp_path))
