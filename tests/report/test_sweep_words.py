"""Every code of the joining has a sentence."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import skyview.sweep as sweep
from skyview.report.sweep_words import left_out, notice, step

SOURCE = "".join(p.read_text(encoding="utf-8") for p in Path(sweep.__file__).parent.glob("*.py"))
VALUES = {
    "worst_deg": 1.5,
    "step_m": 0.2,
    "deg_at_10_m": 1.1,
    "deg_at_100_m": 0.11,
    "level_sigma_deg": 0.8,
    "focal_px": 1500.0,
    "span_deg": 200.0,
    "points": 5.0,
    "step_deg": 40.0,
    "share": 0.1,
}


def test_every_notice_has_words():
    codes = set(re.findall(r'Notice\(\s*"(\w+)"', SOURCE))
    assert {"moved", "level_rough", "not_closed"} <= codes
    for code in codes:
        assert len(notice(code, VALUES, ["a.jpg", "b.jpg"])) > 20


def test_parallax_is_told_in_degrees_by_distance():
    told = notice("moved", VALUES, [])
    assert "1.10 deg at 10 m" in told
    assert "0.11 deg at 100 m" in told


def test_an_unknown_code_is_no_sentence():
    with pytest.raises(KeyError):
        notice("nothing", VALUES, [])


def test_every_reason_has_words():
    codes = ("textureless", "no_overlap", "unreadable")
    assert set(re.findall(r'"(textureless|no_overlap|unreadable)"', SOURCE)) == set(codes)
    assert len({left_out(c, {"features": 9.0, "matches": 3.0}) for c in codes}) == 3


def test_steps_are_named():
    assert step("read 1", ["a.jpg", "b.jpg"]) == "reading b.jpg (2 of 2)"
    for said in re.findall(r'said\("(\w+)"\)', SOURCE):
        assert step(said, [])
