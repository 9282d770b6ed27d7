"""Sentences of a calibration: every code has one, and the figures are in it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from skyview.report.pose_words import PARAMETERS, parameter_names, sentence, sentences, suggestion
from skyview.survey.models import Calibration, PoseFinding

CODES = {
    "near": {"sigma_deg": 1.4},
    "swapped": {},
    "magnetic_for_true": {"declination_deg": 21.6},
    "true_for_magnetic": {"declination_deg": 21.6},
    "hour_slip": {"hours": -1.0},
    "mirrored": {},
    "upside_down": {},
    "span_misstated": {"claimed_deg": 360.0, "solved_deg": 350.1},
    "contradict": {"doubt_sigmas": 9.0},
    "probably_wrong": {"doubt_sigmas": 9.0},
    "compass_off": {"off_deg": -24.0},
    "declination": {"declination_deg": 21.6, "declination_sigma_deg": 0.3},
    "declination_year": {"year": 2030.0},
    "elevation_rough": {"elevation_sigma_deg": 2.0},
    "narrow_sector": {"span_deg": 3.0, "edge_sigma_deg": 1.1},
    "next_landmark": {"from_deg": 200.0, "to_deg": 240.0, "now_deg": 1.4, "then_deg": 0.4},
    "next_level": {"from_deg": 0.0, "to_deg": 90.0, "now_deg": 2.0, "then_deg": 0.4},
}
SOURCES = Path(__file__).parents[2] / "skyview" / "survey"


@pytest.mark.parametrize("code", CODES)
def test_every_code_has_a_sentence(code):
    told = sentence(PoseFinding(code=code, marks=["m1", "m2"], values=CODES[code]))
    assert told != code
    assert not told.endswith(".")
    assert "_deg" not in told


def test_no_code_is_missing_here():
    text = "".join((SOURCES / name).read_text() for name in ("solving.py", "doubts.py"))
    written = set(re.findall(r'code="(\w+)"', text)) | set(re.findall(r'Reading\(\s*"(\w+)"', text))
    assert written <= CODES.keys()


def test_the_next_mark_in_one_sentence():
    told = sentence(PoseFinding(code="next_landmark", values=CODES["next_landmark"]))
    assert told == (
        "a landmark between 200 and 240 degrees would cut the error from 1.4 to 0.4 degrees"
    )


def test_a_further_mark_that_gains_little_is_not_told():
    little = {**CODES["next_landmark"], "then_deg": 1.3}
    calibration = Calibration(
        yaw_deg=1.0,
        pitch_deg=0.0,
        roll_deg=0.0,
        findings=[PoseFinding(code="next_landmark", values=little)],
    )
    assert sentences("v", calibration) == []
    assert suggestion(calibration) == {"kind": "landmark", **little}


def test_hours_read_as_people_say_them():
    early = sentence(PoseFinding(code="hour_slip", values={"hours": 1.0}))
    assert early == "the photo's time looks 1 hour too early: 1 hour later the sun agrees"


def test_parameters_as_words():
    assert parameter_names(["yaw", "stretch_2", "stretch_3"]) == "yaw and stretch of order 2 and 3"
    assert parameter_names(list(PARAMETERS)).startswith("yaw, pitch, roll, scale")
