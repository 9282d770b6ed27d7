"""Places refused: power lines first, then the user's limits; nothing before lines are checked."""

from __future__ import annotations

import numpy as np
import pytest

from skyview.errors import InputError
from skyview.report.mount_words import refusal_sentence
from skyview.survey.models import validate
from skyview.survey.refusals import antenna_length_m, may_be_proposed, refusals

FOOT = 0.3048


def survey_with(lines=(), **limits):
    return validate(
        {
            "format": "skyview-survey",
            "version": 1,
            "revision": 0,
            "site": {"latitude_deg": 10.0, "longitude_deg": 20.0},
            "limits": {"lines_checked": True, "unguyed_mast_m": 6.0, **limits},
            "obstructions": [
                {"id": f"line{i}", "kind": "power_line", **line} for i, line in enumerate(lines)
            ],
        }
    )


def line_at(distance_m, **more):
    """A line running east at some distance north of the origin."""
    points = [[-50.0, distance_m, 9.0], [50.0, distance_m, 9.0]]
    return {"line_enu_m": points, "line_sigma_m": 0.0, **more}


def one(survey, foot=(0.0, 0.0, 6.0), height=3.0, length=1.5):
    return refusals(survey, np.array([foot]), np.array([height]), np.array([length]))[0]


def test_nothing_is_said_before_lines_were_looked_for():
    survey = survey_with(lines_checked=False)
    with pytest.raises(InputError, match="power lines were looked for") as caught:
        one(survey)
    assert caught.value.field == "limits.lines_checked"
    assert caught.value.exit_code == 2


@pytest.mark.parametrize(
    ("voltage_kv", "feet"),
    [(0.24, 10), (50.0, 10), (69.0, 15), (230.0, 20), (None, 20), (765.0, 45)],
)
def test_the_limit_is_mast_antenna_and_clearance(voltage_kv, feet):
    """29 CFR 1926.1408, Table A, and 20 ft for an unknown voltage."""
    limit = 3.0 + 1.5 + feet * FOOT
    # The place itself is known to 0.3 m: 1.96 sigma of it are kept as well.
    bound = limit + 1.96 * 0.3
    near = one(survey_with([line_at(bound - 0.05, voltage_kv=voltage_kv)]))
    assert near is not None
    assert near.needed_m == pytest.approx(limit)
    assert one(survey_with([line_at(bound + 0.05, voltage_kv=voltage_kv)])) is None


def test_an_uncertain_line_is_kept_farther_from():
    sure, rough = line_at(12.0, voltage_kv=10.0), line_at(12.0, voltage_kv=10.0)
    rough["line_sigma_m"] = 3.0
    assert one(survey_with([sure])) is None
    refused = one(survey_with([rough]))
    assert refused.least_m == pytest.approx(12.0 - 1.96 * np.hypot(3.0, 0.3), abs=0.01)
    unsaid = {k: v for k, v in sure.items() if k != "line_sigma_m"}
    assert one(survey_with([unsaid]), height=5.5).least_m == pytest.approx(
        12.0 - 1.96 * np.hypot(1.0, 0.3), abs=0.01
    )


def test_a_line_of_unknown_course_refuses_every_place():
    refused = one(survey_with([{}]))
    assert (refused.code, refused.thing) == ("line_unknown", "line0")


def test_above_the_table_only_the_owner_can_say():
    refused = one(survey_with([line_at(300.0, voltage_kv=1100.0)]))
    assert refused.code == "line"
    assert "only its owner" in refusal_sentence(refused)


def test_the_line_that_is_worst_is_named():
    lines = [line_at(9.0, voltage_kv=10.0), line_at(8.5, voltage_kv=10.0)]
    assert one(survey_with(lines), height=4.0).thing == "line1"


def test_the_users_limits():
    strip = [[-1.0, -1.0, 0.0], [1.0, -1.0, 0.0], [1.0, 1.0, 0.0], [-1.0, 1.0, 0.0]]
    assert one(survey_with(keep_out_enu_m=strip)).code == "keep_out"
    assert one(survey_with(keep_out_enu_m=[strip]), foot=(2.0, 0.0, 6.0)) is None
    assert one(survey_with(unguyed_mast_m=2.5)).code == "mast"
    assert one(survey_with(unguyed_mast_m=3.0)) is None
    reach = {"ground_point_enu_m": [8.0, 0.0, 0.0], "ground_reach_m": 9.0}
    refused = one(survey_with(**reach))
    assert (refused.code, refused.distance_m) == ("ground", pytest.approx(10.0))
    assert one(survey_with(**{**reach, "ground_reach_m": 10.5})) is None


def test_a_line_comes_before_every_other_reason():
    strip = [[-1.0, -1.0, 0.0], [1.0, -1.0, 0.0], [1.0, 1.0, 0.0], [-1.0, 1.0, 0.0]]
    survey = survey_with([line_at(4.0)], keep_out_enu_m=strip, unguyed_mast_m=1.0)
    assert one(survey).code == "line"


def test_sentences_name_distances_and_defer_and_promise_nothing():
    cases = [
        survey_with([line_at(9.0)]),
        survey_with([{}]),
        survey_with(unguyed_mast_m=1.0),
        survey_with(ground_point_enu_m=[40.0, 0.0, 0.0], ground_reach_m=9.0),
    ]
    for survey in cases:
        text = refusal_sentence(one(survey))
        assert "safe" not in text.lower()
        if survey.obstructions:
            assert "utility" in text
            assert "local code" in text
    assert "9.0 m away" in refusal_sentence(one(cases[0]))


def test_the_longest_antenna_of_a_spot_counts():
    data = survey_with().model_dump(exclude_unset=True)
    data["spots"] = [{"id": s, "enu_m": [0, 0, 5]} for s in ("ridge", "gable")]
    data["antennas"] = [
        {"id": "a", "spot": "ridge", "length_m": 1.2},
        {"id": "b", "spot": "ridge", "length_m": 3.4},
        {"id": "c", "spot": "gable"},
    ]
    survey = validate(data)
    assert antenna_length_m(survey, "ridge") == 3.4
    assert antenna_length_m(survey, "gable") == 2.0
    assert antenna_length_m(survey) == 3.4
    assert antenna_length_m(survey_with()) == 2.0


def test_no_change_is_proposed_that_a_line_forbids_or_before_anybody_looked():
    foot, length = np.array([[0.0, 0.0, 6.0], [0.0, -30.0, 6.0]]), np.full(2, 1.5)

    def proposed(survey, height):
        return may_be_proposed(survey, foot, np.full(2, height), length).tolist()

    assert proposed(survey_with([line_at(8.0)]), 3.0) == [False, True]
    # A mast that guys would hold may be proposed, with that caution.
    assert proposed(survey_with(unguyed_mast_m=2.0), 3.0) == [True, True]
    assert proposed(survey_with(lines_checked=False), 3.0) == [False, False]
